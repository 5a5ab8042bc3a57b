package match

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Of all chains of single pieces that a gift could start, as they are found by trying every path, HandMeDowns returns the
// longest, and among them the greatest gain; the referee passes each.
func TestHandMeDownsAreTheLongest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(5).Draw(t, "pool")
		p.Chain = rapid.IntRange(2, 5).Draw(t, "most")
		x := NewIndex(p)
		all := allTrades(p)
		for _, s := range p.Spares {
			found := x.HandMeDowns(s.Member, s.Piece, p.Chain, 3)
			var longest []Trade
			for _, one := range all {
				if one.Kind == Chain && startsWith(one, s) && s.Gift && (len(longest) == 0 || len(one.Legs) >= len(longest[0].Legs)) {
					if len(longest) > 0 && len(one.Legs) > len(longest[0].Legs) {
						longest = nil
					}
					longest = append(longest, one)
				}
			}
			if len(longest) == 0 || len(found) == 0 {
				if len(longest) != len(found) {
					t.Fatalf("%s of %s: found %v, there are %v", s.Piece, s.Member, found, longest)
				}
				continue
			}
			best := slices.MaxFunc(longest, func(a, b Trade) int { return int(a.Gain - b.Gain) })
			if len(found[0].Legs) != len(best.Legs) || found[0].Gain != best.Gain {
				t.Fatalf("%s of %s: found %v, the best is %v", s.Piece, s.Member, found[0], best)
			}
			for _, one := range found {
				if broken, _ := referee(p, []Trade{one}); len(broken) > 0 {
					t.Fatalf("%v: %v", one, broken)
				}
			}
		}
	})
}

// startsWith reports whether a chain of single pieces begins with a spare.
func startsWith(t Trade, s Spare) bool {
	one := func(leg Leg) bool { return len(leg.Items) == 1 }
	return t.Legs[0].From == s.Member && t.Legs[0].Items[0].Piece == s.Piece && !slices.ContainsFunc(t.Legs, func(leg Leg) bool { return !one(leg) })
}
