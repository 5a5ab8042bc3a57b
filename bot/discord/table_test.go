package discord

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot"
	"spareounce/bot/chattest"
	"spareounce/bot/seriesfile"
	"spareounce/store"
	"spareounce/store/storetest"
	"spareounce/testdata"
)

// table is a group in a stand-in for the service, with the whole program behind the chat.
type table struct {
	*chattest.Server
	t       *testing.T
	url     string // of the database
	store   *store.Store
	bot     *bot.Bot
	chat    *Service
	guild   *chattest.Guild
	channel *chattest.Channel
	log     *loud
	stop    func() error // stops the chat and returns why it ended
	mu      sync.Mutex
	now     time.Time
	workers int
	quiet   bool         // logs errors only
	watch   *store.Store // is there even when no process is
	token   string
	timing  func(*timing)    // changes what is hasty already
	within  time.Duration    // how long one attempt at a request may take; 0 for the usual
	hurry   func(*Service)   // changes the chat before it runs; nil leaves it
	runs    func() time.Time // the bot's clock, if it runs by itself
	counts  func(kind, id string, d time.Duration)
	beside  func(bot.Chat) bot.Chat // hears what the bot wants said; nil when nobody does
	wait    func() error            // waits until the chat ends by itself
}

// loud keeps what is logged, to look for what must not stand in it.
type loud struct {
	mu sync.Mutex
	b  strings.Builder
}

func (l *loud) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *loud) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// slow is a clock for the service at which time passes at a quarter of its speed, so that three seconds are enough for an
// answer on a machine that does much else.
func slow() func() time.Time {
	begin := time.Now()
	return func() time.Time { return begin.Add(time.Since(begin) / 4) }
}

// hasty are the timings of tests.
func hasty() timing {
	quick := usualTiming
	quick.first, quick.most, quick.identify, quick.lease = 20*time.Millisecond, 200*time.Millisecond, 10*time.Millisecond, 10*time.Second
	quick.dead, quick.answer, quick.ignoreSkew = 4*answerWithin, 4*usualTiming.answer, time.Hour // the service's clock is slow
	quick.settle = 100 * time.Millisecond
	quick.resume, quick.look = 2*time.Second, 200*time.Millisecond
	return quick
}

func newTable(t *testing.T, options ...chattest.Option) *table {
	t.Helper()
	return newTableWith(t, 4, options...)
}

// newTableWith lets so many jobs run at once; one makes their order the order in which they were enqueued.
func newTableWith(t *testing.T, workers int, options ...chattest.Option) *table {
	t.Helper()
	return prepare(t, workers, options...).open()
}

// prepare makes a table at which the bot does not sit yet.
func prepare(t *testing.T, workers int, options ...chattest.Option) *table {
	t.Helper()
	srv := chattest.New(t, append([]chattest.Option{chattest.WithClock(slow()), chattest.Patience(40 * time.Second)}, options...)...)
	tb := &table{
		Server: srv, t: t, url: storetest.Database(t), workers: workers, log: &loud{}, token: chattest.Token,
		now: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC), timing: func(*timing) {},
	}
	tb.guild = srv.Guild("Larch Lane Collectors")
	tb.channel = tb.guild.Channel("general")
	return tb
}

// open seats the bot, and gives the group our series.
func (tb *table) open() *table {
	t := tb.t
	t.Helper()
	tb.store, tb.bot, tb.chat, tb.stop = tb.serve(Config{})
	t.Cleanup(func() {
		if err := tb.stop(); err != nil && !t.Failed() {
			t.Error(err)
		}
		if strings.Contains(tb.log.String(), chattest.Token) {
			t.Error("the token is in the log")
		}
		if t.Failed() {
			t.Log(tb.log.String())
		}
	})
	g, err := tb.store.Group(t.Context(), tb.guild.ID, tb.guild.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range shipped(t) {
		if err := tb.store.SaveSeries(t.Context(), g.ID, one); err != nil {
			t.Fatal(err)
		}
	}
	return tb
}

// clock is the bot's; the chat and the stand-in keep real time.
func (tb *table) clock() time.Time {
	if tb.runs != nil {
		return tb.runs()
	}
	tb.mu.Lock()
	defer tb.mu.Unlock()
	return tb.now
}

// serve runs one more process on the table's database, with its queue.
func (tb *table) serve(c Config) (*store.Store, *bot.Bot, *Service, func() error) {
	tb.t.Helper()
	level := slog.LevelDebug
	if tb.quiet {
		level = slog.LevelError
	}
	log := slog.New(slog.NewTextHandler(tb.log, &slog.HandlerOptions{Level: level}))
	st, err := store.Open(context.Background(), tb.url, tb.clock, log)
	if err != nil {
		tb.t.Fatal(err)
	}
	c.Token, c.API, c.Log = tb.token, tb.URL()+"/api/v10", log
	chat := New(c)
	chat.timing = hasty()
	tb.timing(&chat.timing)
	chat.stats = tb.counts
	chat.door.client.Transport = tb.Transport()
	if tb.within > 0 {
		chat.door.within = tb.within
	}
	if tb.hurry != nil {
		tb.hurry(chat)
	}
	var mouth bot.Chat = chat
	if tb.beside != nil {
		mouth = tb.beside(chat)
	}
	b := bot.New(st, mouth, tb.clock, log)
	ctx, cancel := context.WithCancel(context.Background())
	served, worked := make(chan error, 1), make(chan error, 1)
	go func() { served <- chat.Run(ctx, b) }()
	go func() { worked <- st.Work(ctx, b, tb.workers, 5*time.Second) }()
	tb.wait = sync.OnceValue(func() error {
		err := <-served
		cancel()
		err = errors.Join(err, <-worked)
		st.Close()
		return err
	})
	wait := tb.wait
	stop := func() error { cancel(); return wait() }
	return st, b, chat, stop
}

// leases lists the leases that are held.
func (tb *table) leases() map[string]string {
	tb.t.Helper()
	if tb.watch == nil {
		st, err := store.Open(context.Background(), tb.url, tb.clock, slog.New(slog.DiscardHandler))
		if err != nil {
			tb.t.Fatal(err)
		}
		tb.t.Cleanup(st.Close)
		tb.watch = st
	}
	held, err := tb.watch.Leases(context.Background(), "")
	if err != nil {
		tb.t.Fatal(err)
	}
	return held
}

// connected waits until the bot is there.
func (tb *table) connected() *table {
	tb.t.Helper()
	if !tb.Connected() {
		tb.t.Fatalf("the bot never came\n%s", tb.log)
	}
	return tb
}

func shipped(t testing.TB) []seriesOf {
	t.Helper()
	names, err := fs.Glob(testdata.Series, "series/*.toml")
	if err != nil {
		t.Fatal(err)
	}
	var all []seriesOf
	for _, name := range names {
		text, err := testdata.Series.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		one, _ := seriesfile.Read(name, text)
		all = append(all, one)
	}
	return all
}
