package discord

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"spareounce/bot/chattest"
	"spareounce/store"
	"spareounce/store/storetest"
)

// TestSoak has members speak all the time while everything that can go wrong does: nobody who was heard goes unanswered,
// nothing is told twice or lost, no request is beyond a limit, and nothing is left behind.
//
// It lasts a few seconds; SPAREOUNCE_SOAK=10m makes it last. SPAREOUNCE_SOAK_RATE says how many commands members use in a
// second of ours (50), and SPAREOUNCE_SOAK_SPEED how fast time passes (12): for the bot and for the service, with its
// limits, heartbeats and pauses, but not for members, who get three seconds of ours for an answer.
func TestSoak(t *testing.T) {
	storetest.Database(t) // what this starts stays for other tests
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	t.Run("life", func(t *testing.T) {
		length, rate, speed, patience := 5*time.Second, 8, 12.0, 4*answerWithin // a busy machine is no fault of the bot's
		if text := os.Getenv("SPAREOUNCE_SOAK"); text != "" {
			given, err := time.ParseDuration(text)
			if err != nil {
				t.Fatal(err)
			}
			length, rate, patience = given, 50, answerWithin
		}
		for name, value := range map[string]any{"SPAREOUNCE_SOAK_RATE": &rate, "SPAREOUNCE_SOAK_SPEED": &speed} {
			if text := os.Getenv(name); text != "" {
				if _, err := fmt.Sscan(text, value); err != nil {
					t.Fatal(err)
				}
			}
		}
		newLife(t, speed, patience).live(length, rate)
	})
}

// life is a group that speaks, in a service in which time passes fast.
type life struct {
	*table
	*books
	speed    float64
	patience time.Duration // of members
	begin    time.Time
	members  []*chattest.Member
	shy      []*chattest.Member // whose private messages are closed now and then
	posts    *chattest.Channel
	random   *rand.Rand

	troubles *troubles
	pending  []*asked // younger than settledAfter
	outcome  outcome

	mu     sync.Mutex
	heard  map[string]time.Time // by the bot, and when
	trades map[string]int       // by private channel, the newest trade told there

	before, quarter footprint
}

func newLife(t *testing.T, speed float64, patience time.Duration) *life {
	l := &life{
		books: newBooks(), speed: speed, patience: patience, begin: time.Now(), random: rand.New(rand.NewPCG(1, 2)), heard: map[string]time.Time{}, trades: map[string]int{},
	}
	l.table = prepare(t, 4,
		chattest.Lenient(), chattest.HandWritten(), chattest.Strict(), chattest.WithSpeed(speed), chattest.Keep(150), chattest.Patience(2*time.Minute), chattest.Watch(l.saw),
		chattest.Acknowledge(times(patience, speed)), chattest.NonceMemory(times(3*time.Minute, speed)), // the queue tries again in our time
	)
	l.quiet, l.within, l.table.beside, l.counts = true, 4*time.Second, l.books.beside, l.count
	l.timing = func(tm *timing) {
		*tm = usualTiming
		for _, d := range []*time.Duration{&tm.open, &tm.identify, &tm.first, &tm.most, &tm.lease, &tm.look, &tm.heartbeat} {
			*d = time.Duration(float64(*d) / speed)
		}
		tm.dead, tm.answer, tm.ignoreSkew = patience, usualTiming.answer*patience/answerWithin, time.Hour
	}
	l.hurry = func(s *Service) {
		s.door.limits.now = l.clock
		s.door.limits.sleep = func(ctx context.Context, d time.Duration, woken <-chan struct{}) error {
			return sleep(ctx, time.Duration(float64(d)/speed), woken)
		}
	}
	morning := l.now
	l.runs = func() time.Time { return morning.Add(times(time.Since(l.begin), speed)) }
	l.open().connected()
	l.people(24)
	l.troubles = newTroubles(l)
	return l
}

func times(d time.Duration, speed float64) time.Duration { return time.Duration(float64(d) * speed) }

// people come, want to be written to in private, and have a weekly post and private threads for their trades.
func (l *life) people(n int) {
	t := l.t
	l.posts = l.guild.Channel("posts")
	g, err := l.store.Group(t.Context(), l.guild.ID, l.guild.ID)
	if err == nil {
		g.Channel, g.Threads = l.posts.ID, true
		err = l.store.SaveGroup(t.Context(), g)
	}
	if err == nil {
		due := l.clock().Add(2 * time.Minute)
		_, err = l.store.SetWeekly(t.Context(), g, store.Weekly{Weekday: 1, At: store.Clock(due.Hour()*60 + due.Minute())})
	}
	if err != nil {
		t.Fatal(err)
	}
	for i := range n + 2 {
		m := l.guild.Member(fmt.Sprintf("member%d", i))
		if err := l.store.SaveAccount(t.Context(), m.ID, store.Account{Reach: store.ReachMessage}); err != nil {
			t.Fatal(err)
		}
		if l.members = append(l.members, m); i >= n {
			l.shy = append(l.shy, m)
			l.excuse(m.ID)
		}
	}
}

// live has members speak and things go wrong for a while, lets all come to rest, and reports.
func (l *life) live(length time.Duration, rate int) {
	for _, m := range l.members { // so that what is begun once is not taken for growth
		m.Slash(l.channel, "gaps", nil).Answer()
	}
	l.before = l.footprint()
	from := time.Now()
	speak := time.NewTicker(time.Second / time.Duration(rate))
	defer speak.Stop()
	trouble := time.NewTicker(max(length/200, 500*time.Millisecond, time.Duration(float64(6*time.Second)/l.speed)))
	defer trouble.Stop()
	for time.Since(from) < length && !l.t.Failed() {
		select {
		case <-speak.C:
			l.speak()
		case <-trouble.C:
			l.troubles.next()
			l.judge(settledAfter)
		}
		if l.quarter.heap == 0 && time.Since(from) > length/4 {
			l.quarter = l.footprint()
		}
	}
	spoken := time.Since(from)
	l.troubles.end()
	l.rest()
	l.judge(0)
	l.report(spoken, time.Since(from)-spoken)
}

// rest waits until nothing is left to do: what failed is tried again by the queue, later each time.
func (l *life) rest() {
	l.connected()
	for end := time.Now().Add(6 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
		if err := l.store.Tick(l.t.Context()); err != nil {
			l.t.Fatal(err)
		}
		idle, err := l.store.Idle(l.t.Context())
		if err != nil || time.Now().After(end) {
			l.t.Fatal("it does not come to rest", err)
		}
		if idle && l.chat.work.count() == 0 {
			return
		}
	}
}

// speak has a member say or press one of the things that members do.
func (l *life) speak() {
	m := l.members[l.random.IntN(len(l.members))]
	pieces := chattest.Values{"pieces": fmt.Sprintf("lantern %d", 82+l.random.IntN(8))}
	switch l.random.IntN(12) {
	case 0:
		l.asks("have", m.Slash(l.channel, "have", pieces))
	case 1:
		l.asks("spare", m.Slash(l.channel, "spare", pieces))
	case 2, 3:
		l.asks("want", m.Slash(l.channel, "want", pieces))
	case 4:
		l.asks("who", m.Slash(l.channel, "who", pieces))
	case 5:
		l.asks("gaps", m.Slash(l.channel, "gaps", nil))
	case 6:
		l.asks("trades", m.Slash(l.channel, "trades", nil))
	case 7:
		l.asks("complete", m.Complete(l.channel, "want", "pieces", "lantern 8", nil))
	case 8:
		l.asks("undo", m.Slash(m.DM(), "undo", nil))
	case 9, 10:
		l.presses(m)
	case 11:
		place := m.DM().ID
		l.mu.Lock()
		n := l.trades[place]
		l.mu.Unlock()
		line := []string{"accept", "decline", "sent", "received", "trade"}[l.random.IntN(5)]
		l.asks(line, m.Slash(m.DM(), "say", chattest.Values{"line": fmt.Sprintf("%s %d", line, max(n, 1))}))
	}
}

// presses has a member press a button of one of the last messages that they can see.
func (l *life) presses(m *chattest.Member) {
	screen := m.Screen([]*chattest.Channel{m.DM(), l.channel}[l.random.IntN(2)])
	for _, msg := range screen[max(len(screen)-5, 0):] {
		buttons := msg.Buttons()
		if len(buttons) == 0 || msg.Author.ID != l.ApplicationID() {
			continue
		}
		b := buttons[l.random.IntN(len(buttons))]
		if i, ok := m.TryPress(msg, b.CustomID); ok {
			l.asks("press", i)
			return
		}
	}
	l.asks("trades", m.Slash(m.DM(), "trades", nil))
}

// saw notes what appears: it goes into the books, and tells which trades there are.
func (l *life) saw(x chattest.Sighting) {
	l.see(x)
	rest, ok := strings.CutPrefix(x.Message.Content[max(strings.Index(x.Message.Content, "Trade "), 0):], "Trade ")
	var n int
	if _, err := fmt.Sscan(rest, &n); ok && err == nil {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.trades[x.Message.Channel.ID] = n
	}
}

// count notes what the bot has heard.
func (l *life) count(kind, id string, _ time.Duration) {
	if kind != "heard" {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.heard[id].IsZero() {
		l.heard[id] = time.Now()
	}
}

// footprint is what the whole test takes up.
type footprint struct {
	heap       uint64
	goroutines int
	limits     int
}

func (l *life) footprint() footprint {
	l.chat.door.client.CloseIdleConnections()
	time.Sleep(200 * time.Millisecond) // for them to close
	runtime.GC()
	runtime.GC() // what the first has let go of
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	limits := l.chat.door.limits
	limits.mu.Lock()
	defer limits.mu.Unlock()
	return footprint{m.HeapAlloc, runtime.NumGoroutine(), len(limits.buckets) + len(limits.named)}
}
