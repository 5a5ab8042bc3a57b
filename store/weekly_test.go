package store_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
	"spareounce/store/storetest"
)

// unasked does the duties that a test has no interest in.
type unasked struct{}

func (unasked) PostWeek(context.Context, store.Week) error { return nil }

func (unasked) Read(context.Context, store.Group, store.PriceRules, store.Source, *store.Spot) (store.Reading, error) {
	return store.Reading{Why: "nobody asked"}, nil
}

func (unasked) Share(context.Context, store.Group, store.Trade) error { return nil }

func (unasked) Tell(context.Context, store.Group, store.Member, []store.Notice) error { return nil }

// clock is a clock that a test moves.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

// board is a chat as a group sees it: it says a post of a week once, however often it is asked to, as bot.Chat promises for
// a reply with a key.
type board struct {
	unasked
	clock *clock

	mu    sync.Mutex
	down  bool              // the chat cannot be reached
	crash func() bool       // the process dies after the chat has said it, before anybody could note so
	feed  func() melt.Price // 0 when it is down
	said  map[int64][]post
	asked map[int64]int
}

type post struct {
	week  string
	at    time.Time
	due   time.Time
	stale bool
}

func newBoard(c *clock) *board {
	return &board{clock: c, said: map[int64][]post{}, asked: map[int64]int{}, crash: func() bool { return false }, feed: func() melt.Price { return 0 }}
}

var errCrash = errors.New("killed")

func (b *board) PostWeek(_ context.Context, w store.Week) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.asked[w.Group.ID]++
	if b.down {
		return errors.New("the chat cannot be reached")
	}
	if !slices.ContainsFunc(b.said[w.Group.ID], func(p post) bool { return p.week == w.Name }) {
		now := b.clock.now()
		b.said[w.Group.ID] = append(b.said[w.Group.ID], post{w.Name, now, w.Due, w.Spot == nil || w.Rules.Stale(w.Spot.At, now)})
	}
	if b.crash() {
		return errCrash
	}
	return nil
}

func (b *board) Read(_ context.Context, g store.Group, _ store.PriceRules, _ store.Source, _ *store.Spot) (store.Reading, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	price := b.feed()
	if price == 0 {
		return store.Reading{Why: "no answer"}, nil
	}
	return store.Reading{Spot: &store.Spot{At: b.clock.now(), Currency: "USD", Price: price, Source: "prices.example"}}, nil
}

func (b *board) posts(group int64) []post {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.said[group])
}

// bots are some processes on one database, which can be stopped and started.
type bots struct {
	url   string
	clock *clock
	board *board
	open  []*store.Store
	stop  []func()
}

func (b *bots) start(t *testing.T) {
	t.Helper()
	s, err := store.Open(t.Context(), b.url, b.clock.now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	worked := make(chan error, 1)
	go func() { worked <- s.Work(ctx, b.board, 2, 5*time.Second) }()
	b.open = append(b.open, s)
	b.stop = append(b.stop, func() {
		cancel()
		if err := <-worked; err != nil {
			t.Error(err)
		}
		s.Close()
	})
}

// kill stops the bot that was started first.
func (b *bots) kill() {
	b.stop[0]()
	b.open, b.stop = b.open[1:], b.stop[1:]
}

// tick has every bot look at the clock at once, and waits until all is done that follows.
func (b *bots) tick(t *testing.T) {
	t.Helper()
	var all sync.WaitGroup
	for _, s := range b.open {
		all.Go(func() {
			if err := s.Tick(context.Background()); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	for since := time.Now(); len(b.open) > 0; time.Sleep(2 * time.Millisecond) {
		idle, err := b.open[0].Idle(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if idle {
			return
		}
		if time.Since(since) > 30*time.Second {
			t.Fatal("the queue does not come to rest")
		}
	}
}

func zoned(t *testing.T, s *store.Store, name, zone string) store.Group {
	t.Helper()
	g, err := s.Group(t.Context(), name, name)
	if err != nil {
		t.Fatal(err)
	}
	g.Zone = zone
	if err := s.SaveGroup(t.Context(), g); err != nil {
		t.Fatal(err)
	}
	return g
}

// TestAYearOfWeeklyPosts lives through 2026, a year of 53 ISO weeks, with two groups whose posts are due at the very times
// that their clocks skip and repeat, two bots on one database that are stopped and started, one of which dies between saying
// a post and noting it, a chat that cannot be reached for hours, feeds that are down for days, and ten days without any bot.
// Each group gets every week's post, none twice, none early, and in order.
func TestAYearOfWeeklyPosts(t *testing.T) {
	t.Parallel()
	begin := time.Date(2025, 12, 29, 0, 0, 0, 0, time.UTC) // the Monday on which 2026-W01 begins
	clock := &clock{at: begin}
	board := newBoard(clock)
	b := &bots{url: storetest.Database(t), clock: clock, board: board}
	b.start(t)
	b.start(t)
	chance := rand.New(rand.NewPCG(53, 2026))
	board.crash = func() bool { return chance.IntN(6) == 0 }
	s := b.open[0]
	// Sundays at 2:30 in New York and at 1:45 on Lord Howe: each comes never on one Sunday of the year and twice on another.
	schedules := map[string]store.Weekly{
		"America/New_York":    {Weekday: 7, At: 2*60 + 30},
		"Australia/Lord_Howe": {Weekday: 7, At: 1*60 + 45, Waits: true},
	}
	groups := map[string]store.Group{}
	for zone, w := range schedules {
		g := zoned(t, s, zone, zone)
		if _, err := s.SetWeekly(t.Context(), g, w); err != nil {
			t.Fatal(err)
		}
		if err := s.AddSource(t.Context(), g.ID, "https://prices.example at /p in USD", "USD", store.Reading{Why: "not yet"}); err != nil {
			t.Fatal(err)
		}
		if err := s.SavePriceRules(t.Context(), g.ID, store.PriceRules{StaleAfter: 36 * time.Hour, Jump: 20, Every: 24 * time.Hour}); err != nil {
			t.Fatal(err)
		}
		groups[zone] = g
	}
	end := time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC).Add(11 * time.Hour) // the week is over in New York too
	for at := clock.now(); at.Before(end); at = at.Add(time.Duration(20+chance.IntN(1400)) * time.Minute) {
		clock.set(at)
		board.mu.Lock()
		board.down = chance.IntN(4) == 0
		board.mu.Unlock()
		day := at.YearDay()
		board.feed = func() melt.Price { return 0 }
		if day%30 > 4 { // down for days around every new month
			price := melt.Price(3000+chance.IntN(500)) * (melt.PriceUnit / 100)
			board.feed = func() melt.Price { return price }
		}
		switch {
		case day >= 150 && day < 160:
			for len(b.open) > 0 {
				b.kill()
			}
			continue
		case len(b.open) == 0:
			b.start(t)
			b.start(t)
		case chance.IntN(80) == 0:
			b.start(t)
			b.kill()
		}
		b.tick(t)
	}
	board.mu.Lock()
	board.down, board.crash = false, func() bool { return false }
	board.mu.Unlock()
	for range 30 { // whatever was put off
		clock.set(clock.now().Add(3 * time.Hour))
		b.tick(t)
	}
	for len(b.open) > 0 {
		b.kill()
	}
	for zone, g := range groups {
		posts := board.posts(g.ID)
		late := 0
		for i, p := range posts {
			if want := fmt.Sprintf("2026-W%02d", i+1); i < 53 && p.week != want {
				t.Fatalf("%s: the post %d is of %s, want %s", zone, i+1, p.week, want)
			}
			if p.at.Before(p.due) {
				t.Errorf("%s: %s was early", zone, p.week)
			}
			local := p.due.In(g.Location())
			switch due := local.Format("Mon 15:04"); {
			case p.week == "2026-W10" && zone == "America/New_York" && due != "Sun 03:30": // 8 March, skipped
				t.Errorf("%s: %s was due %s", zone, p.week, local)
			case p.week == "2026-W14" && zone == "Australia/Lord_Howe" && !p.due.Equal(time.Date(2026, 4, 4, 14, 45, 0, 0, time.UTC)): // twice
				t.Errorf("%s: %s was due %s", zone, p.week, p.due)
			case p.week != "2026-W10" && due != "Sun 02:30" && due != "Sun 01:45":
				t.Errorf("%s: %s was due %s", zone, p.week, local)
			}
			if p.at.Sub(p.due) > 24*time.Hour {
				late++
			}
		}
		if len(posts) != 53 && len(posts) != 54 { // the week after has begun, and its Sunday may be over
			t.Errorf("%s: %d posts", zone, len(posts))
		}
		t.Logf("%s: %d posts, asked %d times, %d more than a day late", zone, len(posts), board.asked[g.ID], late)
	}
}
