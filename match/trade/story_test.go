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

	// Each ships, and each receiver is told; Col forgets to say so, and it counts as shipped when it arrives. Who gave it is
	// told that it was accepted.
	s.so(trade.Ship{By: "ann", At: hour(150)}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.ShippedToYou, About: "ann"})
	s.so(trade.Ship{By: "bea", At: hour(160)}, trade.Agreed, trade.Notice{To: "col", Kind: trade.ShippedToYou, About: "bea"})
	s.so(trade.Arrive{By: "ann", At: hour(200)}, trade.Agreed)
	s.so(trade.Receive{By: "ann", At: hour(201)}, trade.Agreed, trade.Notice{To: "col", Kind: trade.AcceptedNow, About: "ann"})
	s.but(trade.Ship{By: "col", At: hour(202)}, trade.AlreadyDone)
	s.so(trade.Object{By: "bea", Problem: trade.NotArrived, At: hour(400)}, trade.Agreed,
		trade.Notice{To: "ann", Kind: trade.ProblemSaid, About: "bea"}, trade.Notice{To: trade.Keepers, Kind: trade.ProblemSaid, About: "bea"})
	s.so(trade.Receive{By: "bea", At: hour(420)}, trade.Agreed, trade.Notice{To: "ann", Kind: trade.AcceptedNow, About: "bea"})
	s.but(trade.Object{By: "bea", Problem: trade.WrongPiece, At: hour(421)}, trade.AlreadyAccepted)
	s.so(trade.Receive{By: "col", At: hour(430)}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.AcceptedNow, About: "col"})
	// The last piece has arrived, but money is owed: without the second piece Bea owes Col 100, and Ann 200. Ann says that
	// she paid; Col has both.
	s.so(trade.Pay{By: "ann", At: hour(440)}, trade.Agreed, trade.Notice{To: "col", Kind: trade.PaidToYou, About: "ann"})
	s.so(trade.GetPaid{By: "col", From: "ann", At: hour(450)}, trade.Agreed, trade.Notice{To: "ann", Kind: trade.MoneyCame, About: "col"})
	s.but(trade.Pay{By: "ann", At: hour(451)}, trade.AlreadyDone)
	s.so(trade.GetPaid{By: "col", At: hour(460)}, trade.Closed, all(trade.ClosedNow, "col")...)
	s.but(trade.Receive{By: "col", At: hour(461)}, trade.AlreadyDone)
	s.but(trade.Break{By: "kip"}, trade.NotAgreed)
}

// Somebody vanishes: two reminders, the keepers, and an end; each after its full time.
func TestOnlyTheClockGoesOn(t *testing.T) {
	days := func(n int) time.Time { return after(time.Duration(n) * 24 * time.Hour) }
	terms := chain() // Ann gives to Bea, and then Bea to Col
	terms.Parties[1].Turn, terms.Parties[2].Turn = 1, 2
	s := &story{t, takes(t, proposed(t, terms), yes()...)}
	s.so(trade.Due{At: days(7)}, trade.Agreed, trade.Notice{To: "ann", Kind: trade.SendDue, About: "bea"})
	s.but(trade.Due{At: days(10).Add(-1)}, trade.TooEarly)
	s.so(trade.Ship{By: "ann", At: days(9)}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.ShippedToYou, About: "ann"})
	s.so(trade.Arrive{By: "bea", At: days(12)}, trade.Agreed)
	s.so(trade.Due{At: days(14)}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.CheckDue, About: "ann"})
	// Nobody objects within the time: it counts as accepted, and it is Bea's turn. Col never gets anything.
	s.so(trade.Due{At: days(17)}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.CountedDone, About: "ann"},
		trade.Notice{To: "ann", Kind: trade.AcceptedNow, About: "bea"}, trade.Notice{To: "bea", Kind: trade.YourTurn, About: "col"})
	reminder := trade.Notice{To: "bea", Kind: trade.SendDue, About: "col"}
	s.so(trade.Due{At: days(24)}, trade.Agreed, reminder)
	// The clock stands still for a month: one step, and the next waits its full time.
	s.so(trade.Due{At: days(40)}, trade.Agreed, reminder)
	s.but(trade.Due{At: days(42)}, trade.TooEarly)
	s.so(trade.Due{At: days(43)}, trade.Agreed, append(all(trade.KeeperNeeded, "bea"), trade.Notice{To: trade.Keepers, Kind: trade.KeeperNeeded, About: "bea"})...)
	s.but(trade.Due{At: days(49)}, trade.TooEarly)
	s.so(trade.Due{At: days(50)}, trade.Ended, all(trade.EndedNow, "bea")...)
	if s.trade.Ending != trade.Unfinished || s.trade.Parties[0].Stage != trade.Done || s.trade.Parties[1].Stage != trade.ToSend {
		t.Errorf("the record: %+v", s.trade)
	}
}

// Newer members send first; what comes in the middle is sent on from there.
func TestWhoSendsWhen(t *testing.T) {
	terms := ring()
	terms.Parties[0].Turn, terms.Parties[2].Turn = 1, 1
	s := &story{t, takes(t, proposed(t, terms), yes()...)} // Bea first
	s.but(trade.Ship{By: "ann", At: start}, trade.NotYourTurn)
	s.so(trade.Ship{By: "ann", Anyway: true, At: start}, trade.Agreed, trade.Notice{To: "bea", Kind: trade.ShippedToYou, About: "ann"})
	s.so(trade.Ship{By: "bea", At: start}, trade.Agreed, trade.Notice{To: "col", Kind: trade.ShippedToYou, About: "bea"})
	s.so(trade.Receive{By: "col", At: start}, trade.Agreed,
		trade.Notice{To: "bea", Kind: trade.AcceptedNow, About: "col"}, trade.Notice{To: "col", Kind: trade.YourTurn, About: "ann"})

	terms = ring()
	terms.Middle = "mo"
	s = &story{t, takes(t, proposed(t, terms), yes()...)}
	s.but(trade.Break{By: "mo"}, trade.OwnCase)
	for _, m := range []match.Member{"ann", "bea", "col"} {
		s.but(trade.PassOn{By: "mo", At: start}, trade.NotAllSent)
		s.so(trade.Ship{By: m, At: start}, trade.Agreed, trade.Notice{To: "mo", Kind: trade.ShippedToYou, About: m})
	}
	s.but(trade.PassOn{By: "ann", At: start}, trade.NotTheMiddle)
	s.so(trade.Due{At: s.trade.Deadline}, trade.Agreed, trade.Notice{To: "mo", Kind: trade.PassOnDue, About: "ann"})
	s.so(trade.PassOn{By: "mo", At: start}, trade.Agreed, all(trade.ShippedToYou, "mo")...)
	s.but(trade.PassOn{By: "mo", At: start}, trade.AlreadyDone)
}

// A silent trade tells nobody who said what until all have said yes.
func TestASilentTradeKeepsQuiet(t *testing.T) {
	terms := ring()
	terms.Silent, terms.By = true, "ann"
	tr, asked, err := trade.Propose(terms, start)
	if err != nil {
		t.Fatal(err)
	}
	s := &story{t, tr}
	s.told("the offer", asked, []trade.Notice{{To: "bea", Kind: trade.Asked}, {To: "col", Kind: trade.Asked}})
	s.so(trade.LeaveOut{By: "bea", Piece: "harbour/86", At: start}, trade.Proposed,
		trade.Notice{To: "ann", Kind: trade.AskedAgain}, trade.Notice{To: "col", Kind: trade.AskedAgain})
	declined := *s
	declined.so(trade.Decline{By: "col"}, trade.Ended, all(trade.EndedNow, "")...)
	s.so(trade.Accept{By: "ann", Version: 2, At: start}, trade.Proposed)
	s.so(trade.TakeBack{By: "ann"}, trade.Proposed)
	s.so(trade.Accept{By: "ann", Version: 2, At: start}, trade.Proposed)
	s.so(trade.Accept{By: "col", Version: 2, At: start}, trade.Agreed, all(trade.AgreedNow, "col")...)
}

// Who leaves before anything is on its way ends it; later the others and the keepers are told, and it goes on.
func TestAMemberLeavesMidRing(t *testing.T) {
	agreed := takes(t, proposed(t, ring()), yes()...)
	s := &story{t, agreed}
	s.so(trade.Withdraw{By: "col"}, trade.Ended, all(trade.EndedNow, "col")...)
	s = &story{t, takes(t, agreed, trade.Ship{By: "ann", At: start})}
	s.so(trade.Withdraw{By: "col"}, trade.Agreed, trade.Notice{To: "ann", Kind: trade.PartyLeft, About: "col"},
		trade.Notice{To: "bea", Kind: trade.PartyLeft, About: "col"}, trade.Notice{To: trade.Keepers, Kind: trade.PartyLeft, About: "col"})
	s.but(trade.Withdraw{By: "col"}, trade.AlreadyDone)
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
