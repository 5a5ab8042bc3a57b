package trade_test

import (
	"errors"
	"testing"
	"time"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// start is when the trades here are proposed; their members have three days to answer.
var start = time.Date(2031, time.March, 3, 10, 0, 0, 0, time.UTC)

const lapse = 72 * time.Hour

func after(d time.Duration) time.Time { return start.Add(d) }

// item is a piece of the ring or chain that these tests tell about.
func item(from, to match.Member, piece match.Piece, value melt.Minor) trade.Item {
	return trade.Item{From: from, To: to, Piece: piece, Value: value}
}

// party has a name and a top-up limit.
func party(m match.Member, limit melt.Minor) trade.Party {
	return trade.Party{Member: m, TopUpLimit: limit}
}

// ring is Ann, who gives two pieces to Bea, who gives one to Col, who gives one to Ann: Bea gets 400 more than she gives,
// Ann 100 less, Col 300 less.
func ring() trade.Terms {
	return trade.Terms{
		Currency: "USD", Lapse: lapse,
		Parties: []trade.Party{party("ann", 200), party("bea", 500), party("col", 0)},
		Items: []trade.Item{
			item("ann", "bea", "harbour/84", 3500), item("ann", "bea", "harbour/86", 300),
			item("bea", "col", "lantern/90", 3400), item("col", "ann", "lantern/ND", 3700),
		},
	}
}

// chain is Ann, who gives two pieces away to Bea, who passes one on to Col.
func chain() trade.Terms {
	return trade.Terms{
		Currency: "USD", Lapse: lapse, Chain: true,
		Parties: []trade.Party{party("ann", 0), party("bea", 0), party("col", 0)},
		Items: []trade.Item{
			item("ann", "bea", "harbour/84", 3500), item("ann", "bea", "harbour/86", 300), item("bea", "col", "lantern/90", 3600),
		},
	}
}

func proposed(t testing.TB, terms trade.Terms) trade.Trade {
	t.Helper()
	made, _, err := trade.Propose(terms, start)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// takes applies events that must not be refused.
func takes(t testing.TB, tr trade.Trade, events ...trade.Event) trade.Trade {
	t.Helper()
	for _, e := range events {
		next, _, err := tr.Apply(e)
		if err != nil {
			t.Fatalf("%T%+v: %v", e, e, err)
		}
		tr = next
	}
	return tr
}

// yes is everyone's yes to the first version.
func yes() []trade.Event {
	var events []trade.Event
	for _, m := range []match.Member{"ann", "bea", "col"} {
		events = append(events, trade.Accept{By: m, Version: 1, At: start})
	}
	return events
}

// why is the reason of a refusal, and false for any other error or none.
func why(err error) (trade.Why, bool) {
	refusal, ok := errors.AsType[*trade.Refusal](err)
	if !ok {
		return 0, false
	}
	return refusal.Why, true
}
