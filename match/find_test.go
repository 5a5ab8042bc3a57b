package match

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// What one member is shown keeps every rule, and the first of it gains as much as any trade of theirs can.
func TestForFindsTheBestTradeOfAMember(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(6, 40).Draw(t, "pool")
		p.Ring, p.Chain = min(p.Ring, 3), min(p.Chain, 3)
		all := allTrades(p)
		x := NewIndex(p)
		for _, m := range p.Members {
			mine := func(t Trade) bool { return slices.Contains(t.Members(), m.ID) }
			checkFound(t, p, x.For(m.ID, 3), all, mine)
			for _, s := range p.Spares {
				if s.Member == m.ID {
					checkFound(t, p, x.OpenedBySpare(m.ID, s.Piece, 3), all, func(t Trade) bool { return gives(t, s) })
				}
			}
		}
		for w := range p.Wants {
			checkFound(t, p, x.OpenedByWant(w, 3), all, func(t Trade) bool { return fills(t, w) })
		}
	})
}

func checkFound(t *rapid.T, p *Pool, found, all []Trade, wanted func(Trade) bool) {
	best := melt.Minor(nothing)
	for _, one := range all {
		if wanted(one) {
			best = max(best, one.Gain)
		}
	}
	if (len(found) > 0) != (best > nothing) || len(found) > 0 && found[0].Gain != best {
		t.Fatalf("found %v, the best gains %d", found, best)
	}
	for i, one := range found {
		if broken, _ := referee(p, []Trade{one}); len(broken) > 0 {
			t.Fatalf("%+v: %q", one, broken)
		}
		if !wanted(one) || i > 0 && found[i-1].Gain < one.Gain {
			t.Fatalf("%+v is out of place", one)
		}
	}
}

func gives(t Trade, s Spare) bool {
	for _, leg := range t.Legs {
		for _, item := range leg.Items {
			if leg.From == s.Member && item.Piece == s.Piece {
				return true
			}
		}
	}
	return false
}

func fills(t Trade, want int) bool {
	for _, leg := range t.Legs {
		for _, item := range leg.Items {
			if item.Want == want {
				return true
			}
		}
	}
	return false
}

// With a chance of yes the first trade found is the one that gains most on average: no longer one comes before a shorter
// one that its members are likelier to agree on.
func TestForRanksByAcceptance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(6, 40).Draw(t, "pool")
		p.Ring, p.Chain = min(p.Ring, 3), min(p.Chain, 3)
		accept := float64(rapid.IntRange(1, 20).Draw(t, "twentieths")) / 20
		all := allTrades(p)
		x := NewIndex(p)
		x.SetAcceptance(accept)
		average := func(one Trade) melt.Minor {
			return one.Gain * melt.Minor(max(1, math.Round(unit*math.Pow(accept, float64(len(one.Members()))))))
		}
		for _, m := range p.Members {
			best := melt.Minor(math.MinInt64)
			for _, one := range all {
				if slices.Contains(one.Members(), m.ID) {
					best = max(best, average(one))
				}
			}
			found := x.For(m.ID, 3)
			if len(found) > 0 && average(found[0]) != best { // another test sees to it that there is one
				t.Fatalf("%v gains %v on average, the best %v", found[0], average(found[0]), best)
			}
		}
	})
}
