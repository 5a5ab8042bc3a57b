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
		tr := anyTrade(t)
		l := newLedger(trade.Terms{Currency: tr.Currency, Chain: tr.Chain, Parties: tr.Parties, Items: tr.Items, Lapse: tr.Lapse})
		for range rapid.IntRange(0, 40).Draw(t, "length") {
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
			if want := l.trade(); !reflect.DeepEqual(next, want) {
				t.Fatalf("after %T%+v\n%+v, want\n%+v", e, e, next, want)
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
	agreed := tr.State == trade.Agreed || tr.State == trade.Closed || tr.Ending == trade.Broken
	for _, p := range tr.Parties {
		if agreed && !p.Accepted {
			t.Fatalf("agreed without a yes from %s", p.Member)
		}
		if !agreed && (p.Shipped || p.Received) {
			t.Fatalf("%s shipped or received before all agreed", p.Member)
		}
	}
	if (tr.State == trade.Ended) != (tr.Ending != trade.None) {
		t.Fatalf("%v with the ending %q", tr.State, tr.Ending)
	}
	moneyIsEven(t, tr)
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

// tellsWhoMustKnow checks the notices: a change of state tells everyone, a change of terms everyone else, a parcel its
// receiver, and anything else nobody; and nobody is told twice.
func tellsWhoMustKnow(t *rapid.T, before, after trade.Trade, e trade.Event, notices []trade.Notice) {
	want := map[match.Member]trade.NoticeKind{}
	kind, toAll := map[trade.State]trade.NoticeKind{
		trade.Agreed: trade.AgreedNow, trade.Closed: trade.ClosedNow, trade.Ended: trade.EndedNow,
	}[after.State]
	if after.Version != before.Version {
		kind, toAll = trade.AskedAgain, true
	}
	for i, p := range after.Parties {
		if toAll && (after.State != before.State || after.Version != before.Version) {
			want[p.Member] = kind
		}
		if ship, ok := e.(trade.Ship); ok && ship.By == p.Member {
			want[after.Parties[(i+1)%len(after.Parties)].Member] = trade.ShippedToYou
		}
	}
	if counter, ok := e.(trade.LeaveOut); ok {
		delete(want, counter.By)
	}
	got := map[match.Member]trade.NoticeKind{}
	for _, n := range notices {
		got[n.To] = n.Kind
	}
	if !reflect.DeepEqual(got, want) || len(got) != len(notices) {
		t.Fatalf("%T%+v told %v, want %v", e, e, notices, want)
	}
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
	}
	for _, p := range tr.Parties {
		if tr.State == trade.Proposed && !p.Accepted {
			tr = willTake(t, tr, trade.Accept{By: p.Member, Version: tr.Version, At: tr.Deadline.Add(-1)})
		}
	}
	for i, p := range tr.Parties {
		if tr.State == trade.Agreed && !p.Received && !(tr.Chain && i == 0) {
			tr = willTake(t, tr, trade.Receive{By: p.Member})
		}
	}
	if tr.State != trade.Closed && tr.State != trade.Ended {
		t.Fatalf("with everyone's good will it is still %v", tr.State)
	}
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
		tr := anyTrade(t)
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
		tr := anyTrade(t)
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
