package trade_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// However members behave, a trade is where the ledger of what was heard says it is, and every promise holds.
func TestHoweverMembersBehave(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr, terms := anyTrade(t)
		l := newLedger(terms)
		for range rapid.IntRange(0, 60).Draw(t, "length") {
			e := anyEvent(t, tr)
			next, notices, err := tr.Apply(e)
			if heard := err == nil; heard != l.hears(e) {
				t.Fatalf("%T%+v: heard %v (%v), and should be %v", e, e, heard, err, !heard)
			}
			if err != nil {
				refusalIsOnlyThat(t, tr, next, notices, err)
				continue
			}
			l.write(e)
			if got, want := untimed(next), l.trade(); !reflect.DeepEqual(got, want) {
				t.Fatalf("after %T%+v\n%+v, want\n%+v", e, e, got, want)
			}
			keepsPromises(t, next)
			tellsWhoMustKnow(t, tr, next, e, notices)
			tr = next
		}
		theEndIsInReach(t, tr)
	})
}

func refusalIsOnlyThat(t *rapid.T, before, after trade.Trade, notices []trade.Notice, err error) {
	if _, ok := why(err); !ok || notices != nil || !reflect.DeepEqual(after, before) {
		t.Fatalf("refused with %v, told %v, and went from\n%+v to\n%+v", err, notices, before, after)
	}
}

// keepsPromises checks what holds of every trade at every time.
func keepsPromises(t *rapid.T, tr trade.Trade) {
	agreed := tr.State == trade.Agreed || tr.State == trade.Closed || tr.Ending == trade.Broken || tr.Ending == trade.Unfinished
	for _, p := range tr.Parties {
		if agreed && !p.Accepted {
			t.Fatalf("agreed without a yes from %s", p.Member)
		}
		if !agreed && (p.Shipped || p.Arrived || p.Received || p.Problem != trade.NoProblem) {
			t.Fatalf("%s shipped or received before all agreed", p.Member)
		}
	}
	if (tr.State == trade.Ended) != (tr.Ending != trade.None) {
		t.Fatalf("%v with the ending %q", tr.State, tr.Ending)
	}
	if timed := !tr.Deadline.IsZero(); tr.State == trade.Agreed && !timed || tr.State == trade.Closed && timed {
		t.Fatalf("%v, and next due %v", tr.State, tr.Deadline)
	}
	if !tr.Fixed {
		moneyIsEven(t, tr)
	}
}

// moneyIsEven checks the top-ups against the items alone.
func moneyIsEven(t *rapid.T, tr trade.Trade) {
	paid, got := map[match.Member]melt.Minor{}, map[match.Member]melt.Minor{}
	for _, pay := range tr.TopUps {
		if pay.Amount <= 0 {
			t.Fatalf("a payment of %d", pay.Amount)
		}
		paid[pay.From] += pay.Amount
		got[pay.To] += pay.Amount
	}
	if tr.Chain && len(tr.TopUps) > 0 || len(tr.TopUps) >= len(tr.Parties) {
		t.Fatalf("%d payments among %d", len(tr.TopUps), len(tr.Parties))
	}
	for i, p := range tr.Parties {
		in, out := gets(tr.Items, p.Member)+got[p.Member], gives(tr.Items, p.Member)+paid[p.Member]
		switch {
		case !slices.ContainsFunc(tr.Items, func(x trade.Item) bool { return x.From == p.Member }) && !(tr.Chain && i == len(tr.Parties)-1):
			t.Fatalf("%s gives nothing", p.Member)
		case !tr.Chain && in != out:
			t.Fatalf("%s gets %d for %d", p.Member, in, out)
		case tr.Chain && i > 0 && out > in:
			t.Fatalf("%s passes on %d for %d", p.Member, out, in)
		case paid[p.Member] > p.TopUpLimit:
			t.Fatalf("%s pays %d, limit %d", p.Member, paid[p.Member], p.TopUpLimit)
		case paid[p.Member] > 0 && got[p.Member] > 0:
			t.Fatalf("%s pays and is paid", p.Member)
		}
	}
}

// tellsWhoMustKnow checks the notices: a change of state tells everyone, a change of terms everyone else, a deed whom it
// concerns, a new turn whose it is, and anything else nobody; and nobody is told twice.
func tellsWhoMustKnow(t *rapid.T, before, after trade.Trade, e trade.Event, notices []trade.Notice) {
	want := map[trade.Notice]bool{}
	add := func(to match.Member, kind trade.NoticeKind, about match.Member) {
		want[trade.Notice{To: to, Kind: kind, About: about}] = true
	}
	known := func(m match.Member) match.Member {
		if before.Silent && before.State == trade.Proposed && after.State != trade.Agreed {
			return ""
		}
		return m
	}
	by, beside := whose(e), neighbours(after, whose(e))
	everyone := func(kind trade.NoticeKind, but match.Member) {
		for _, p := range after.Parties {
			if p.Member != but || but == "" {
				add(p.Member, kind, known(by))
			}
		}
	}
	switch {
	case after.Version != before.Version:
		everyone(trade.AskedAgain, by)
	case after.State != before.State:
		everyone(map[trade.State]trade.NoticeKind{trade.Agreed: trade.AgreedNow, trade.Closed: trade.ClosedNow, trade.Ended: trade.EndedNow}[after.State], "")
		if after.State == trade.Agreed && after.Middle != "" {
			add(after.Middle, trade.AgreedNow, by)
		}
		if before.State == trade.Agreed && after.State == trade.Ended && after.Middle != "" {
			add(after.Middle, trade.EndedNow, by)
		}
	default:
		switch e := e.(type) {
		case trade.Ship:
			to := beside[1]
			if after.Middle != "" {
				to = after.Middle
			}
			add(to, trade.ShippedToYou, by)
		case trade.PassOn:
			for i, p := range before.Parties {
				if before.Parties[(i+len(before.Parties)-1)%len(before.Parties)].Stage == trade.ToPassOn {
					add(p.Member, trade.ShippedToYou, by)
				}
			}
		case trade.Receive:
			add(beside[0], trade.AcceptedNow, by)
		case trade.Object:
			add(beside[0], trade.ProblemSaid, by)
			add(trade.Keepers, trade.ProblemSaid, by)
		case trade.Withdraw:
			everyone(trade.PartyLeft, by)
			add(trade.Keepers, trade.PartyLeft, by)
		case trade.Pay:
			for i, pay := range after.TopUps {
				if pay.Paid != before.TopUps[i].Paid {
					add(pay.To, trade.PaidToYou, e.By)
				}
			}
		case trade.GetPaid:
			for i, pay := range after.TopUps {
				if pay.Got != before.TopUps[i].Got {
					add(pay.From, trade.MoneyCame, e.By)
				}
			}
		}
		for i, p := range after.Parties {
			if before.State == trade.Agreed && before.Parties[i].Stage == trade.Waiting && p.Stage == trade.ToSend {
				add(p.Member, trade.YourTurn, neighbours(after, p.Member)[1])
			}
		}
	}
	got := map[trade.Notice]bool{}
	for _, n := range notices {
		got[n] = true
	}
	if !reflect.DeepEqual(got, want) || len(got) != len(notices) {
		t.Fatalf("%T%+v told %v, want %v", e, e, notices, want)
	}
}

// whose is who did it, "" for the clock.
func whose(e trade.Event) match.Member {
	if by := reflect.ValueOf(e).FieldByName("By"); by.IsValid() {
		return match.Member(by.String())
	}
	return ""
}

// neighbours are who gives to a member and who is given to.
func neighbours(tr trade.Trade, m match.Member) [2]match.Member {
	n := len(tr.Parties)
	i := slices.IndexFunc(tr.Parties, func(p trade.Party) bool { return p.Member == m })
	if i < 0 {
		return [2]match.Member{}
	}
	return [2]match.Member{tr.Parties[(i+n-1)%n].Member, tr.Parties[(i+1)%n].Member}
}

// theEndIsInReach shows ways to an end from where a trade stands, one of them by good will alone.
func theEndIsInReach(t *rapid.T, tr trade.Trade) {
	switch tr.State {
	case trade.Proposed:
		if lapsed, _, err := tr.Apply(trade.Lapse{At: tr.Deadline}); err != nil || lapsed.State != trade.Ended {
			t.Fatalf("it does not lapse: %v", err)
		}
	case trade.Agreed:
		if broken, _, err := tr.Apply(trade.Break{By: "kip"}); err != nil || broken.State != trade.Ended {
			t.Fatalf("a keeper cannot end it: %v", err)
		}
		theClockEndsIt(t, tr)
	}
	for _, p := range tr.Parties {
		if tr.State == trade.Proposed && !p.Accepted {
			tr = willTake(t, tr, trade.Accept{By: p.Member, Version: tr.Version, At: tr.Deadline.Add(-1)})
		}
	}
	if tr.Waits() {
		tr = willTake(t, tr, trade.Conclude{At: tr.Deadline.Add(-1)})
	}
	for i, p := range tr.Parties {
		if tr.State == trade.Agreed && !p.Received && !(tr.Chain && i == 0) {
			tr = willTake(t, tr, trade.Receive{By: p.Member, At: tr.Deadline})
		}
	}
	for _, p := range tr.Parties {
		if open := func(pay trade.TopUp) bool { return pay.To == p.Member && !pay.Got }; tr.State == trade.Agreed && slices.ContainsFunc(tr.TopUps, open) {
			tr = willTake(t, tr, trade.GetPaid{By: p.Member, At: tr.Deadline})
		}
	}
	if tr.State != trade.Closed && tr.State != trade.Ended {
		t.Fatalf("with everyone's good will it is still %v", tr.State)
	}
}

// theClockEndsIt lets time pass over an agreed trade in which nobody says a word more: reminders, keepers, the end.
func theClockEndsIt(t *rapid.T, tr trade.Trade) {
	asked := map[trade.NoticeKind]bool{}
	for range 100 {
		if _, _, err := tr.Apply(trade.Due{At: tr.Deadline.Add(-1)}); err == nil {
			t.Fatal("the clock comes too early")
		}
		next, notices, err := tr.Apply(trade.Due{At: tr.Deadline})
		if err != nil {
			t.Fatalf("the clock is refused: %v", err)
		}
		for _, n := range notices {
			asked[n.Kind] = true
		}
		if next.State != trade.Agreed {
			if next.Ending == trade.Unfinished && !asked[trade.KeeperNeeded] && !hadKeepers(tr) {
				t.Fatal("it ends before the keepers are told")
			}
			return
		}
		if notices == nil || !next.Deadline.After(tr.Deadline.Add(-1)) {
			t.Fatalf("the clock does nothing: told %v, due %v and then %v", notices, tr.Deadline, next.Deadline)
		}
		tr = next
	}
	t.Fatalf("time does not end it: %+v", tr)
}

// hadKeepers reports whether the keepers have been told already.
func hadKeepers(tr trade.Trade) bool {
	return slices.ContainsFunc(tr.Parties, func(p trade.Party) bool { return p.Nudges > trade.Reminders }) ||
		slices.ContainsFunc(tr.TopUps, func(pay trade.TopUp) bool { return pay.Nudges > trade.Reminders })
}

func willTake(t *rapid.T, tr trade.Trade, e trade.Event) trade.Trade {
	next, _, err := tr.Apply(e)
	if err != nil {
		t.Fatalf("%T%+v: %v", e, e, err)
	}
	return next
}

// What is closed or ended stays so, whatever comes.
func TestWhatIsOverStaysOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr, _ := anyTrade(t)
		for tr.State != trade.Closed && tr.State != trade.Ended {
			if next, _, err := tr.Apply(anyEvent(t, tr)); err == nil {
				tr = next
			}
		}
		for range 10 {
			e := anyEvent(t, tr)
			if next, notices, err := tr.Apply(e); err == nil {
				t.Fatalf("%v, yet %T%+v makes it %v and tells %v", tr.State, e, e, next.State, notices)
			}
		}
	})
}

// Apply gives the same answer twice, leaves its trade alone, and gives back nothing that shares memory with it.
func TestApplyIsPure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr, _ := anyTrade(t)
		for range rapid.IntRange(1, 20).Draw(t, "length") {
			e, before := anyEvent(t, tr), copied(tr)
			next, notices, err := tr.Apply(e)
			again, noticesAgain, errAgain := tr.Apply(e)
			if !reflect.DeepEqual(next, again) || !reflect.DeepEqual(notices, noticesAgain) || !reflect.DeepEqual(err, errAgain) {
				t.Fatalf("%T%+v: two answers", e, e)
			}
			if err == nil {
				scribble(again)
			}
			if !reflect.DeepEqual(tr, before) {
				t.Fatalf("%T%+v changed its trade from\n%+v to\n%+v", e, e, before, tr)
			}
			tr = next
		}
	})
}

// The terms stay the proposer's own: a trade does not share their memory.
func TestProposeIsPure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		terms := anyTerms().Draw(t, "terms")
		tr, _, err := trade.Propose(terms, start)
		if err != nil {
			t.Fatal(err)
		}
		before := copied(tr)
		for i := range terms.Parties {
			terms.Parties[i].Member = "scribbled"
		}
		for i := range terms.Items {
			terms.Items[i].From = "scribbled"
		}
		if !reflect.DeepEqual(tr, before) {
			t.Fatalf("the trade shares memory with its terms: %+v", tr)
		}
	})
}
