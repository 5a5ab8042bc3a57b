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
		terms := trade.Terms{Currency: "USD", Lapse: lapse, Chain: rapid.Bool().Draw(t, "chain")}
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
			terms.Parties[i].TopUpLimit = owes + melt.Minor(rapid.Int64Range(0, 60).Draw(t, "to spare"))
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

func anyTrade(t *rapid.T) trade.Trade {
	tr, _, err := trade.Propose(anyTerms().Draw(t, "terms"), start)
	if err != nil {
		t.Fatalf("honest terms are refused: %v", err)
	}
	return tr
}

// anyEvent is mostly what members do, and sometimes what nobody should: strangers, old versions, wrong times.
func anyEvent(t *rapid.T, tr trade.Trade) trade.Event {
	members := []match.Member{"kip", ""}
	for range 4 {
		for _, p := range tr.Parties {
			members = append(members, p.Member)
		}
	}
	by := rapid.SampledFrom(members).Draw(t, "by")
	at := tr.Deadline.Add(-time.Duration(rapid.SampledFrom([]int64{1, 1, 1, 20, 70, 72, 0, -1}).Draw(t, "hours left")) * time.Hour)
	version := tr.Version + rapid.SampledFrom([]int{0, 0, 0, 0, 0, -1, 1}).Draw(t, "version")
	kinds := []string{"accept", "ship", "receive", "accept", "ship", "receive", "accept", "receive", "leave out", "odd"}
	switch rapid.SampledFrom(kinds).Draw(t, "event") {
	case "accept":
		return trade.Accept{By: by, Version: version, At: at}
	case "ship":
		return trade.Ship{By: by}
	case "receive":
		return trade.Receive{By: by}
	case "leave out":
		pieces := []match.Piece{"harbour/99"}
		for _, x := range tr.Items {
			pieces = append(pieces, x.Piece)
		}
		version = rapid.SampledFrom([]int{0, version}).Draw(t, "counter to")
		return trade.LeaveOut{By: by, Piece: rapid.SampledFrom(pieces).Draw(t, "piece"), Version: version, At: at}
	}
	return rapid.SampledFrom([]trade.Event{
		trade.Decline{By: by}, trade.Lapse{At: at}, trade.Overtake{}, trade.Withdraw{By: by}, trade.Break{By: by},
	}).Draw(t, "odd event")
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
