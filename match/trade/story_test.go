package trade_test

import (
	"fmt"
	"testing"
	"time"

	"spareounce/match"
	"spareounce/match/trade"
)

// story follows one trade as its members live through it.
type story struct {
	testing.TB
	trade trade.Trade
}

// so applies an event that must be heard, and checks where it leads and who is told what, nobody else and nothing else.
func (s *story) so(e trade.Event, want trade.State, told ...trade.Notice) {
	s.Helper()
	next, notices, err := s.trade.Apply(e)
	if err != nil {
		s.Fatalf("%T%+v: %v", e, e, err)
	}
	if next.State != want {
		s.Errorf("after %T%+v: %v, want %v", e, e, next.State, want)
	}
	s.told(fmt.Sprintf("%T%+v", e, e), notices, told)
	s.trade = next
}

func (s *story) told(after string, got, want []trade.Notice) {
	s.Helper()
	open := map[trade.Notice]int{}
	for _, n := range want {
		open[n]++
	}
	for _, n := range got {
		open[n]--
	}
	for n, short := range open {
		if short != 0 {
			s.Errorf("after %s: %s is told %q about %q %d times too few", after, n.To, n.Kind, n.About, short)
		}
	}
}

// but applies an event that must be refused.
func (s *story) but(e trade.Event, want trade.Why) {
	s.Helper()
	if _, notices, err := s.trade.Apply(e); err == nil || err.(*trade.Refusal).Why != want || notices != nil {
		s.Errorf("%T%+v: %v, told %v; want it refused, %v", e, e, err, notices, want)
	}
}

// all is the same notice for all three.
func all(kind trade.NoticeKind, about match.Member) []trade.Notice {
	return []trade.Notice{{To: "ann", Kind: kind, About: about}, {To: "bea", Kind: kind, About: about}, {To: "col", Kind: kind, About: about}}
}

func TestARingOfThreeFromTheMatcherToTheLastPiece(t *testing.T) {
	hour := func(n int) time.Time { return after(time.Duration(n) * time.Hour) }

	// The matcher finds it: all three are told.
	tr, asked, err := trade.Propose(ring(), start)
	if err != nil {
		t.Fatal(err)
	}
	s := &story{t, tr}
	s.told("the proposal", asked, all(trade.Asked, ""))

	// Two accept, one of them twice: no one is told. Nobody may ship yet.
	s.so(trade.Accept{By: "ann", Version: 1, At: hour(1)}, trade.Proposed)
	s.so(trade.Accept{By: "col", Version: 1, At: hour(2)}, trade.Proposed)
	s.but(trade.Accept{By: "col", Version: 1, At: hour(2)}, trade.AlreadyDone)
	s.but(trade.Ship{By: "ann"}, trade.NotAgreed)

	// Bea would rather not have the second piece: the other two are asked again, and a yes to what was no longer counts.
	s.so(trade.LeaveOut{By: "bea", Piece: "harbour/86", Version: 1, At: hour(70)}, trade.Proposed,
		trade.Notice{To: "ann", Kind: trade.AskedAgain, About: "bea"}, trade.Notice{To: "col", Kind: trade.AskedAgain, About: "bea"})
	s.but(trade.Accept{By: "ann", Version: 1, At: hour(71)}, trade.StaleVersion)

	// The first deadline passes; the new one holds.
	s.but(trade.Lapse{At: hour(72)}, trade.TooEarly)
	s.so(trade.Accept{By: "ann", Version: 2, At: hour(73)}, trade.Proposed)

	// The third accepts: agreed, and all three learn who sends what to whom.
	s.so(trade.Accept{By: "col", Version: 2, At: hour(141)}, trade.Agreed, all(trade.AgreedNow, "col")...)
	s.but(trade.Lapse{At: hour(200)}, trade.NotOpen)
	s.but(trade.Decline{By: "ann"}, trade.NotOpen)

	// Each ships, and each receiver is told; Col forgets to say so, and it counts as shipped when it arrives.
	s.so(trade.Ship{By: "ann"}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.ShippedToYou, About: "ann"})
	s.so(trade.Ship{By: "bea"}, trade.Agreed, trade.Notice{To: "col", Kind: trade.ShippedToYou, About: "bea"})
	s.so(trade.Receive{By: "ann"}, trade.Agreed)
	s.but(trade.Ship{By: "col"}, trade.AlreadyDone)
	s.so(trade.Receive{By: "bea"}, trade.Agreed)

	// The last piece arrives: closed, all three are told, and nothing moves it again.
	s.so(trade.Receive{By: "col"}, trade.Closed, all(trade.ClosedNow, "col")...)
	s.but(trade.Receive{By: "col"}, trade.NotAgreed)
	s.but(trade.Break{By: "kip"}, trade.NotAgreed)
}

func TestARingOfThreeThatComesToNothing(t *testing.T) {
	for name, c := range map[string]struct {
		before []trade.Event
		last   trade.Event
		ending trade.Ending
		about  match.Member
	}{
		"one declines":                  {yes()[:2], trade.Decline{By: "col"}, trade.Declined, "col"},
		"time runs out":                 {yes()[:2], trade.Lapse{At: after(lapse)}, trade.Lapsed, ""},
		"another agreement takes it":    {yes()[:2], trade.Overtake{}, trade.Overtaken, ""},
		"one leaves the group":          {yes()[:1], trade.Withdraw{By: "ann"}, trade.Withdrawn, "ann"},
		"a spare goes away":             {yes()[:1], trade.Withdraw{}, trade.Withdrawn, ""},
		"a keeper ends what was agreed": {yes(), trade.Break{By: "kip"}, trade.Broken, "kip"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := &story{t, takes(t, proposed(t, ring()), c.before...)}
			s.so(c.last, trade.Ended, all(trade.EndedNow, c.about)...)
			if s.trade.Ending != c.ending {
				t.Errorf("it ended %v, want %v", s.trade.Ending, c.ending)
			}
		})
	}
}
