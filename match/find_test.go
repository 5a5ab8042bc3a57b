package match

import (
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
