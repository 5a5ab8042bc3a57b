package match

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// The reasons add up to the trade: nets to its gain, what is paid to nothing; no rest of it gains more than the best
// trade of the same members; and the swap that survives keeps the rules.
func TestReasonsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(6, 40).Draw(t, "pool")
		x := NewIndex(p)
		for _, one := range allTrades(p) {
			r := x.Explain(one)
			var net, paid melt.Minor
			for i, s := range r.Sides {
				net += s.Net
				paid += s.Pays
				if s.Net < p.MinGain && (one.Kind == Ring || i > 0) {
					t.Fatalf("%+v nets too little in %+v", s, one)
				}
			}
			if net != one.Gain || paid != 0 {
				t.Fatalf("nets come to %d of %d, %d is paid", net, one.Gain, paid)
			}
			for _, b := range r.Beats {
				if best, ok := x.along(one.Kind, one.Members(), nil); !ok || b.Possible && b.Gain > best.Gain {
					t.Fatalf("without an item %+v, with all %+v", b, best)
				}
			}
			if r.Survives != nil {
				if broken, _ := referee(p, []Trade{*r.Survives}); len(broken) > 0 || len(r.Survives.Legs) != 2 {
					t.Fatalf("%+v: %q", r.Survives, broken)
				}
			}
		}
	})
}

// A want without a trade has the reason that the pool shows: every trade there is says so.
func TestWhyNotIsTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(6, 40).Draw(t, "pool")
		p.Ring, p.Chain = 2, 0
		all := allTrades(p)
		x := NewIndex(p)
		for w := range p.Wants {
			why := x.WhyNot(w)
			has := slices.ContainsFunc(all, func(t Trade) bool { return fills(t, w) })
			if has != (why.Kind == HasTrade) {
				t.Fatalf("want %d: %+v, trades %v", w, why, all)
			}
			held := slices.ContainsFunc(p.Spares, func(s Spare) bool {
				return s.Member != p.Wants[w].Member && slices.ContainsFunc(p.Wants[w].Fill, func(f Fill) bool { return f.Piece == s.Piece })
			})
			if !has && held != (why.Kind != NobodyHas) {
				t.Fatalf("want %d: %+v", w, why)
			}
			if why.Kind == HoldersNearMiss {
				easesOnce(t, p, w, why)
			}
		}
	})
}

// easesOnce checks that granting what the nearest holder's swap lacks in value opens a trade.
func easesOnce(t *rapid.T, p *Pool, w int, why WhyNot) {
	eased := *p
	eased.Members = slices.Clone(p.Members)
	for _, l := range why.Holders[0].Lacks {
		if l.Kind == LackGain {
			eased.MinGain = min(eased.MinGain, p.MinGain-l.Short)
			continue
		}
		for i := range eased.Members {
			if eased.Members[i].ID == l.Member {
				eased.Members[i].TopUp += l.Short
			}
		}
	}
	if len(NewIndex(&eased).OpenedByWant(w, 1)) == 0 {
		t.Fatalf("want %d: %+v is granted, and there is still no trade", w, why)
	}
}

// An index kept up to date answers as one made anew: there are trades where there were, and the best gains as much. Which
// of several that gain the same are shown depends on the order in which spares and wants came.
func TestIndexKeptUpToDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		p := drawPool(d, 6)
		x := NewIndex(p)
		for range 12 {
			m := p.Members[d.upTo(len(p.Members)-1)].ID
			piece := p.Pieces[d.upTo(len(p.Pieces)-1)].ID
			switch d.upTo(2) {
			case 0:
				s := Spare{m, piece, d.upTo(2), melt.Minor(d.upTo(10)), d.upTo(1) == 0}
				x.SetSpare(s)
				p.Spares = slices.DeleteFunc(p.Spares, func(o Spare) bool { return o.Member == m && o.Piece == piece })
				p.Spares = append(p.Spares, s)
			case 1:
				w := Want{m, []Fill{{piece, melt.Minor(d.upTo(15))}}}
				if at := x.AddWant(w); at != len(p.Wants) {
					t.Fatalf("a want came to place %d of %d", at, len(p.Wants))
				}
				p.Wants = append(p.Wants, w)
			default:
				if len(p.Wants) > 0 {
					at := d.upTo(len(p.Wants) - 1)
					x.RemoveWant(at)
					p.Wants[at].Fill = nil
				}
			}
		}
		anew := NewIndex(p)
		for _, m := range p.Members {
			a, b := x.For(m.ID, 5), anew.For(m.ID, 5)
			if (len(a) > 0) != (len(b) > 0) || len(a) > 0 && a[0].Gain != b[0].Gain {
				t.Fatalf("%s: kept up to date %v, anew %v", m.ID, a, b)
			}
		}
	})
}
