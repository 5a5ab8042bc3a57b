package trade_test

import (
	"fmt"
	"slices"
	"time"

	"pgregory.net/rapid"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// anyTerms are rings of two to five and chains of as many, with one to three pieces on each leg and limits that the
// top-ups keep within, often narrowly.
func anyTerms() *rapid.Generator[trade.Terms] {
	return rapid.Custom(func(t *rapid.T) trade.Terms {
		terms := trade.Terms{Currency: "USD", Lapse: lapse, Chain: rapid.Bool().Draw(t, "chain"), Silent: rapid.Bool().Draw(t, "silent")}
		terms.Together = rapid.IntRange(0, 3).Draw(t, "together") == 0
		if rapid.IntRange(0, 3).Draw(t, "middle") == 0 {
			terms.Middle = "mid"
		}
		for _, m := range []match.Member{"ann", "bea", "col", "dee", "eli"}[:rapid.IntRange(2, 5).Draw(t, "parties")] {
			terms.Parties = append(terms.Parties, party(m, 0))
		}
		legs := len(terms.Parties)
		if terms.Chain {
			legs--
		}
		most := melt.Minor(100) // in a chain, what came in
		for i := range legs {
			from, to := terms.Parties[i].Member, terms.Parties[(i+1)%len(terms.Parties)].Member
			var sum melt.Minor
			for k := range rapid.IntRange(1, 3).Draw(t, "pieces") {
				value := melt.Minor(rapid.Int64Range(0, int64(most-sum)).Draw(t, "value"))
				terms.Items = append(terms.Items, item(from, to, match.Piece(fmt.Sprintf("harbour/%s%d", from, k)), value))
				sum += value
			}
			if terms.Chain {
				most = sum
			}
		}
		for i, p := range terms.Parties {
			owes := max(0, gets(terms.Items, p.Member)-gives(terms.Items, p.Member))
			terms.Parties[i].Turn = rapid.IntRange(0, 2).Draw(t, "turn")
			terms.Parties[i].TopUpLimit = owes + melt.Minor(rapid.Int64Range(0, 60).Draw(t, "to spare"))
		}
		if rapid.IntRange(0, 2).Draw(t, "offered") == 0 {
			terms.By = rapid.SampledFrom(terms.Parties).Draw(t, "by").Member
		}
		return terms
	})
}

func gives(items []trade.Item, m match.Member) (sum melt.Minor) {
	for _, x := range items {
		if x.From == m {
			sum += x.Value
		}
	}
	return sum
}

func gets(items []trade.Item, m match.Member) (sum melt.Minor) {
	for _, x := range items {
		if x.To == m {
			sum += x.Value
		}
	}
	return sum
}

// anyTrade is a new one; its terms are beside it, for the ledger.
func anyTrade(t *rapid.T) (trade.Trade, trade.Terms) {
	terms := anyTerms().Draw(t, "terms")
	tr, _, err := trade.Propose(terms, start)
	if err != nil {
		t.Fatalf("honest terms are refused: %v", err)
	}
	return tr, terms
}

// anyEvent is mostly what members do, and sometimes what nobody should: strangers, old versions, wrong times.
func anyEvent(t *rapid.T, tr trade.Trade) trade.Event {
	members := []match.Member{"kip", "", "mid"}
	for range 4 {
		for _, p := range tr.Parties {
			members = append(members, p.Member)
		}
	}
	by := rapid.SampledFrom(members).Draw(t, "by")
	to := rapid.SampledFrom(append([]match.Member{"", "", "", "", ""}, members...)).Draw(t, "to")
	at := tr.Deadline.Add(-time.Duration(rapid.SampledFrom([]int64{1, 1, 1, 20, 70, 72, 0, -1}).Draw(t, "hours left")) * time.Hour)
	version := tr.Version + rapid.SampledFrom([]int{0, 0, 0, 0, 0, -1, 1}).Draw(t, "version")
	kinds := []string{"accept", "ship", "receive", "accept", "ship", "receive", "accept", "money", "leave out", "counter", "wrong", "odd"}
	if tr.Waits() && rapid.Bool().Draw(t, "the round is whole") {
		return trade.Conclude{At: at}
	}
	switch rapid.SampledFrom(kinds).Draw(t, "event") {
	case "accept":
		return trade.Accept{By: by, Version: version, At: at}
	case "ship":
		return trade.Ship{By: by, At: at, Anyway: rapid.Bool().Draw(t, "anyway")}
	case "receive":
		return rapid.SampledFrom([]trade.Event{trade.Receive{By: by, At: at}, trade.Receive{By: by, At: at}, trade.Arrive{By: by, At: at}}).Draw(t, "came")
	case "money":
		return rapid.SampledFrom([]trade.Event{trade.Pay{By: by, To: to, At: at}, trade.GetPaid{By: by, From: to, At: at}}).Draw(t, "money")
	case "wrong":
		return trade.Object{By: by, Problem: trade.Problem(rapid.IntRange(0, 4).Draw(t, "problem")), At: at}
	case "counter":
		return anyCounter(t, tr, by, rapid.SampledFrom([]int{0, version}).Draw(t, "counter to"), at)
	case "leave out":
		pieces := []match.Piece{"harbour/99"}
		for _, x := range tr.Items {
			pieces = append(pieces, x.Piece)
		}
		version = rapid.SampledFrom([]int{0, version}).Draw(t, "counter to")
		return trade.LeaveOut{By: by, Piece: rapid.SampledFrom(pieces).Draw(t, "piece"), Version: version, At: at}
	}
	return rapid.SampledFrom([]trade.Event{
		trade.Decline{By: by}, trade.Lapse{At: at}, trade.Overtake{}, trade.Withdraw{By: by}, trade.Break{By: by}, trade.TakeBack{By: by},
		trade.PassOn{By: "mid", At: at}, trade.PassOn{By: by, At: at}, trade.Conclude{At: at}, trade.CallOff{},
	}).Draw(t, "odd event")
}

// anyCounter is a counter-offer with one more piece or one fewer, and perhaps a payment, sometimes an impossible one.
func anyCounter(t *rapid.T, tr trade.Trade, by match.Member, version int, at time.Time) trade.Counter {
	e := trade.Counter{By: by, Version: version, At: at, Items: slices.Clone(tr.Items)}
	if i := rapid.IntRange(0, len(e.Items)).Draw(t, "in or out"); i < len(e.Items) && rapid.Bool().Draw(t, "out") {
		e.Items = slices.Delete(e.Items, i, i+1)
	} else if i < len(e.Items) {
		more := e.Items[i]
		more.Piece = "lantern/88"
		e.Items = append(e.Items, more)
	}
	parties := append([]trade.Party{{Member: "kip"}}, tr.Parties...)
	for range rapid.SampledFrom([]int{0, 1, 1, 1, 2}).Draw(t, "payments") {
		e.TopUps = append(e.TopUps, trade.TopUp{
			From:   rapid.SampledFrom(parties[1:]).Draw(t, "pays").Member,
			To:     rapid.SampledFrom(parties).Draw(t, "is paid").Member,
			Amount: melt.Minor(rapid.Int64Range(-1, 50).Draw(t, "amount")),
		})
	}
	return e
}

// copied shares nothing with tr.
func copied(tr trade.Trade) trade.Trade {
	tr.Parties, tr.Items, tr.TopUps = slices.Clone(tr.Parties), slices.Clone(tr.Items), slices.Clone(tr.TopUps)
	return tr
}

// scribble writes over all that tr holds by reference, as far as its memory goes.
func scribble(tr trade.Trade) {
	for i := range tr.Parties[:cap(tr.Parties)] {
		tr.Parties[:cap(tr.Parties)][i] = trade.Party{Member: "scribbled"}
	}
	for i := range tr.Items[:cap(tr.Items)] {
		tr.Items[:cap(tr.Items)][i] = trade.Item{From: "scribbled"}
	}
	for i := range tr.TopUps[:cap(tr.TopUps)] {
		tr.TopUps[:cap(tr.TopUps)][i] = trade.TopUp{From: "scribbled"}
	}
}
