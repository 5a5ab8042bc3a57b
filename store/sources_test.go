package store_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
	"spareounce/store/storetest"
)

// feeds answers for sources by what their description says, and counts who was asked.
type feeds struct {
	unasked
	mu    sync.Mutex
	now   func() time.Time
	price map[string]melt.Price // by description; none when it is down
	held  map[string]melt.Price
	wait  time.Duration
	asked map[string]int
}

func (f *feeds) Read(_ context.Context, _ store.Group, _ store.PriceRules, src store.Source, _ *store.Spot) (store.Reading, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked[src.Feed]++
	spot := func(p melt.Price) *store.Spot {
		return &store.Spot{At: f.now(), Currency: src.Currency, Price: p, Source: src.Feed}
	}
	if p, ok := f.price[src.Feed]; ok {
		return store.Reading{Spot: spot(p), ETag: "mark"}, nil
	}
	if p, ok := f.held[src.Feed]; ok {
		return store.Reading{Held: spot(p), Why: "a jump"}, nil
	}
	return store.Reading{Why: "no answer", Wait: f.wait}, nil
}

func (f *feeds) of(feed string) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.asked[feed]
}

// desk is a group with sources, a clock and one bot at work.
type desk struct {
	*feeds
	*store.Store
	clock *clock
	group store.Group
}

func newDesk(t *testing.T, sources ...string) *desk {
	t.Helper()
	c := &clock{at: monday}
	d := &desk{clock: c, feeds: &feeds{now: c.now, price: map[string]melt.Price{}, held: map[string]melt.Price{}, asked: map[string]int{}}}
	d.Store = storetest.New(t, c.now)
	d.group = zoned(t, d.Store, "desk", "UTC")
	for _, feed := range sources {
		if err := d.AddSource(t.Context(), d.group.ID, feed, "USD", store.Reading{Why: "not yet"}); err != nil {
			t.Fatal(err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	worked := make(chan error, 1)
	go func() { worked <- d.Work(ctx, d.feeds, 1, time.Second) }()
	t.Cleanup(func() {
		stop()
		if err := <-worked; err != nil {
			t.Error(err)
		}
	})
	return d
}

// after lets time pass and waits until what is due is done.
func (d *desk) after(t *testing.T, length time.Duration) {
	t.Helper()
	d.clock.set(d.clock.now().Add(length))
	if err := d.Tick(t.Context()); err != nil {
		t.Fatal(err)
	}
	for since := time.Now(); ; time.Sleep(2 * time.Millisecond) {
		idle, err := d.Idle(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if idle {
			return
		}
		if time.Since(since) > 60*time.Second {
			t.Fatal("the queue does not come to rest")
		}
	}
}

// price is the group's last price, 0 when it has none.
func (d *desk) last(t *testing.T) melt.Price {
	t.Helper()
	spot, err := d.Spot(t.Context(), d.group)
	if err != nil {
		t.Fatal(err)
	}
	if spot == nil {
		return 0
	}
	return spot.Price
}

// Sources are asked in order: the second only when the first has no price, and then again in vain ever less often.
func TestSourcesAreAskedInOrderAndLeftAloneWhenTheyFail(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "first", "second")
	const first, second = 30 * melt.PriceUnit, 31 * melt.PriceUnit
	d.price["first"], d.price["second"] = first, second
	d.after(t, 2*time.Hour)
	if d.last(t) != first || d.of("second") != 0 {
		t.Fatalf("%v, the second asked %d times", d.last(t), d.of("second"))
	}
	d.mu.Lock()
	delete(d.price, "first")
	d.mu.Unlock()
	d.after(t, time.Hour)
	d.after(t, time.Minute)
	if d.last(t) != second {
		t.Fatalf("%v when the first is down", d.last(t))
	}
	before := d.of("first")
	for range 24 {
		d.after(t, time.Hour)
	}
	if n := d.of("first") - before; n < 3 || n > 5 { // after 1, 2, 4, 8 hours
		t.Errorf("a source that fails was asked %d times in a day", n)
	}
	if n := d.of("second"); n < 20 {
		t.Errorf("the second was asked %d times in a day", n)
	}
	d.mu.Lock()
	d.price["first"] = first
	d.mu.Unlock()
	d.after(t, 24*time.Hour)
	if d.last(t) != first {
		t.Errorf("%v when the first is back", d.last(t))
	}
	all, err := d.Sources(t.Context(), d.group.ID)
	if err != nil || all[0].Failures != 0 || all[0].Why != "" || all[0].ETag != "mark" {
		t.Errorf("%+v, %v", all[0], err)
	}
}

// A source that asks us to stay away is left alone for so long.
func TestASourceMayAskForPeace(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "busy")
	d.wait = 10 * time.Hour
	d.after(t, 2*time.Hour)
	for range 9 {
		d.after(t, time.Hour)
	}
	if n := d.of("busy"); n != 1 {
		t.Errorf("asked %d times", n)
	}
	d.after(t, 2*time.Hour)
	if n := d.of("busy"); n != 2 {
		t.Errorf("asked %d times afterwards", n)
	}
}

// A price that waits for a yes is not the group's until it has it; the last good one stays.
func TestAHeldPriceWaits(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "feed")
	d.price["feed"] = 30 * melt.PriceUnit
	d.after(t, 2*time.Hour)
	d.mu.Lock()
	delete(d.price, "feed")
	d.held["feed"] = 45 * melt.PriceUnit
	d.mu.Unlock()
	d.after(t, 2*time.Hour)
	if d.last(t) != 30*melt.PriceUnit {
		t.Fatalf("%v", d.last(t))
	}
	taken, err := d.ConfirmHeld(t.Context(), d.group.ID, func(store.Source) string { return "feed" })
	if err != nil || len(taken) != 1 || d.last(t) != 45*melt.PriceUnit {
		t.Fatalf("%v, %v, %v", taken, err, d.last(t))
	}
	if taken, err = d.ConfirmHeld(t.Context(), d.group.ID, func(store.Source) string { return "feed" }); err != nil || len(taken) != 0 {
		t.Errorf("a second yes takes %v, %v", taken, err)
	}
}

// What a schedule owes when it is changed: a first one begins with the next time that comes, a changed one still owes this
// week's post, and nobody gets a second one in a week by changing the day.
func TestChangingTheWeeklyPost(t *testing.T) {
	t.Parallel()
	c := &clock{at: monday} // Monday 2 March 2026, 10:00: 2026-W10
	s := storetest.New(t, c.now)
	g := zoned(t, s, "group", "UTC")
	set := func(w store.Weekly, want time.Time) {
		t.Helper()
		got, err := s.SetWeekly(t.Context(), g, w)
		if err != nil || !got.NextAt.Equal(want) {
			t.Fatalf("next at %v, %v; want %v", got.NextAt, err, want)
		}
	}
	nine, noon := store.Weekly{Weekday: 1, At: 9 * 60}, store.Weekly{Weekday: 1, At: 12 * 60}
	set(nine, time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC))
	if err := s.StopWeekly(t.Context(), g.ID); err != nil {
		t.Fatal(err)
	}
	set(noon, time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC))
	set(nine, time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)) // owed, and so due at once
	if err := s.Tick(t.Context()); err != nil {
		t.Fatal(err)
	}
	friday := store.Weekly{Weekday: 5, At: 18 * 60}
	set(friday, time.Date(2026, 3, 13, 18, 0, 0, 0, time.UTC)) // this week has its row
	if err := s.StopWeekly(t.Context(), g.ID); err != nil {
		t.Fatal(err)
	}
	set(friday, time.Date(2026, 3, 6, 18, 0, 0, 0, time.UTC)) // its post was never made, and is not owed any more
	g.Zone = "America/New_York"
	if err := s.SaveGroup(t.Context(), g); err != nil {
		t.Fatal(err)
	}
	if w, err := s.Weekly(t.Context(), g.ID); err != nil || !w.NextAt.Equal(time.Date(2026, 3, 6, 23, 0, 0, 0, time.UTC)) {
		t.Errorf("%+v, %v", w, err)
	}
}

// A bot that was away for months makes the last posts only, and says how many fell away.
func TestLongAbsence(t *testing.T) {
	t.Parallel()
	c := &clock{at: monday}
	board := newBoard(c)
	b := &bots{url: storetest.Database(t), clock: c, board: board}
	b.start(t)
	g := zoned(t, b.open[0], "group", "UTC")
	if _, err := b.open[0].SetWeekly(t.Context(), g, store.Weekly{Weekday: 1, At: 12 * 60}); err != nil {
		t.Fatal(err)
	}
	c.set(monday.Add(3 * time.Hour))
	b.tick(t)
	c.set(monday.AddDate(0, 0, 7*20).Add(3 * time.Hour))
	b.tick(t)
	posts := board.posts(g.ID)
	if len(posts) != 1+4 || posts[1].week != "2026-W27" || posts[4].week != "2026-W30" {
		t.Errorf("%v", posts)
	}
	b.kill()
}

// Who asks to be forgotten is no longer named beside the prices they gave, nor counted.
func TestAForgottenKeeperIsNotNamedBesidePrices(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 2)
	m := tb.members[0]
	if err := tb.Count(t.Context(), m.ID, true); err != nil {
		t.Fatal(err)
	}
	for i, source := range []string{m.Name, "a list given by " + m.Name, "prices.example"} {
		spot := store.Spot{At: monday.AddDate(0, 0, -i), Currency: "USD", Price: 30 * melt.PriceUnit, Source: source}
		if err := tb.SaveSpot(t.Context(), tb.group.ID, spot); err != nil {
			t.Fatal(err)
		}
	}
	if err := tb.Forget(t.Context(), m, "somebody"); err != nil {
		t.Fatal(err)
	}
	spots, err := tb.SpotHistory(t.Context(), tb.group, monday.AddDate(0, 0, -9))
	if err != nil || len(spots) != 3 {
		t.Fatal(spots, err)
	}
	for i, want := range []string{"prices.example", "a list given by somebody", "somebody"} {
		if spots[i].Source != want {
			t.Errorf("%q, want %q", spots[i].Source, want)
		}
	}
}
