package store_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"spareounce/match/trade"
	"spareounce/store"
)

// sharing is a chat that has places for parties. It loses the answer the first few times.
type sharing struct {
	unasked
	mu     sync.Mutex
	losses int
	inside int      // how many are asked at this moment
	shown  []string // a line for each time it was asked
	parcel bool     // a parcel could be followed by what it was shown
}

func (s *sharing) Share(_ context.Context, _ store.Group, t store.Trade) error {
	s.mu.Lock()
	s.inside++
	crowded := s.inside > 1
	s.mu.Unlock()
	time.Sleep(5 * time.Millisecond)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.inside--
	s.parcel = s.parcel || len(t.Parcels) > 0
	s.shown = append(s.shown, fmt.Sprintf("%d %s %d", t.Number, t.State, t.Deeds))
	switch {
	case crowded:
		return errors.New("two share one trade at a time")
	case s.losses > 0:
		s.losses--
		return errors.New("the answer was lost")
	}
	return nil
}

func (s *sharing) last() (times int, last string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.shown) == 0 {
		return 0, ""
	}
	return len(s.shown), s.shown[len(s.shown)-1]
}

// TestATradeIsSharedWhereTheGroupAllowsIt has a trade agreed, moved on and closed while two processes work: each move is shown
// as the trade stands, again after a lost answer, by one at a time, and without what follows a parcel.
func TestATradeIsSharedWhereTheGroupAllowsIt(t *testing.T) {
	t.Parallel()
	for _, allowed := range []bool{true, false} {
		t.Run(fmt.Sprint(allowed), func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, 2)
			tb.group.Threads = allowed
			if err := tb.SaveGroup(t.Context(), tb.group); err != nil {
				t.Fatal(err)
			}
			d := &sharing{losses: 1}
			ctx, stop := context.WithCancel(t.Context())
			worked := make(chan error, 2)
			for range 2 {
				go func() { worked <- tb.Work(ctx, d, 4, time.Second) }()
			}
			number := tb.swap(t, 0, 1, "1980", "1981")
			ann, bo := tb.members[0], tb.members[1]
			for _, m := range []store.Member{ann, bo} {
				made(tb.MoveTrade(ctx, m, number, trade.Accept{By: m.Identity(), Version: 1, At: still()}))(t)
			}
			made(tb.SendTrade(ctx, ann, number, trade.Ship{By: ann.Identity(), At: still()}, "Northpost AB 123"))(t)
			for _, m := range []store.Member{bo, ann} {
				made(tb.MoveTrade(ctx, m, number, trade.Receive{By: m.Identity(), At: still()}))(t)
			}
			idle := func() bool { return made(tb.Idle(ctx))(t) }
			for since := time.Now(); !idle() && time.Since(since) < 30*time.Second; {
				time.Sleep(10 * time.Millisecond)
			}
			stop()
			for range 2 {
				if err := <-worked; err != nil {
					t.Error(err)
				}
			}
			times, last := d.last()
			if !allowed {
				if times != 0 {
					t.Errorf("shown %d times where the group allows it not", times)
				}
				return
			}
			one := made(tb.TradeOf(t.Context(), ann, number))(t)
			if one.State != trade.Closed || !slices.Contains(d.shown, fmt.Sprintf("%d closed %d", number, one.Deeds)) || d.losses != 0 {
				t.Errorf("the end was not shown, but last %s", last)
			}
			if d.parcel {
				t.Error("what follows a parcel was shown to all")
			}
		})
	}
}

// TestWhatIsKnownOfAPlace writes and reads it, with a request whose fate is unknown.
func TestWhatIsKnownOfAPlace(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	ctx, group := t.Context(), tb.group.ID
	read := func() store.Place { t.Helper(); return made(tb.PlaceOf(ctx, group, "trade 1"))(t) }
	if p := read(); p.Channel != "" || p.Asked != nil || p.Over || len(p.Invited) != 0 {
		t.Errorf("%+v is known of nothing", p)
	}
	if err := tb.AskPlace(ctx, group, "trade 1"); err != nil {
		t.Fatal(err)
	}
	if p := read(); p.Asked == nil || *p.Asked < 0 || *p.Asked > time.Minute {
		t.Errorf("%+v", p)
	}
	if err := tb.SavePlace(ctx, group, "trade 1", store.Place{Channel: "7", Message: "8", Shown: "a", Invited: []string{"1", "2"}}); err != nil {
		t.Fatal(err)
	}
	if p := read(); p.Asked != nil || p.Channel != "7" || p.Message != "8" || p.Shown != "a" || !slices.Equal(p.Invited, []string{"1", "2"}) {
		t.Errorf("%+v", p)
	}
}

// TestKeepersAreToldOnce tells the keepers of a group the same twice, and then something else.
func TestKeepersAreToldOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 2)
	made(tb.Join(t.Context(), tb.group.ID, "kim", "Kim", true, ""))(t)
	for _, key := range []string{"place a", "place a", "place b"} {
		if err := tb.TellKeepers(t.Context(), tb.group, store.PlaceLacks, key, store.NoticeBody{Trade: 1}); err != nil {
			t.Fatal(err)
		}
	}
	u := &unlucky{}
	tb.work(t, u, func() bool { return u.count("Kim") == 2 })
	if n := u.count("Member"); n != 0 {
		t.Errorf("%d were told who keep nothing", n)
	}
}
