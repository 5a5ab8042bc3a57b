package match

import (
	"slices"

	"spareounce/match/melt"
)

// allTrades lists every trade there is in a small pool, by trying every circuit of members and every set of pieces on
// each leg and asking the referee.
func allTrades(p *Pool) []Trade {
	var found []Trade
	var path []int
	var extend func()
	extend = func() {
		if n := len(path); n >= 2 {
			if n <= p.Ring && path[0] == slices.Min(path) {
				found = append(found, tradesAlong(p, Ring, path)...)
			}
			if n <= p.Chain {
				found = append(found, tradesAlong(p, Chain, path)...)
			}
		}
		if len(path) == max(p.Ring, p.Chain) {
			return
		}
		for i := range p.Members {
			if !slices.Contains(path, i) {
				path = append(path, i)
				extend()
				path = path[:len(path)-1]
			}
		}
	}
	extend()
	return found
}

func tradesAlong(p *Pool, kind Kind, path []int) []Trade {
	legs := len(path)
	if kind == Chain {
		legs--
	}
	var found []Trade
	chosen := make([]Leg, legs)
	var fill func(i int)
	fill = func(i int) {
		if i == legs {
			t := Trade{Kind: kind, Legs: slices.Clone(chosen)}
			if finish(p, &t) {
				found = append(found, t)
			}
			return
		}
		from, to := p.Members[path[i]].ID, p.Members[path[(i+1)%len(path)]].ID
		for _, items := range parcels(p, from, to) {
			chosen[i] = Leg{from, to, items}
			fill(i + 1)
		}
	}
	fill(0)
	return found
}

// parcels lists every set of pieces that one member could send another, the empty one left out.
func parcels(p *Pool, from, to Member) [][]Item {
	all := [][]Item{nil}
	for want, w := range p.Wants {
		if w.Member != to {
			continue
		}
		for _, items := range slices.Clone(all) {
			for _, f := range w.Fill {
				for _, s := range p.Spares {
					if s.Member != from || s.Piece != f.Piece {
						continue
					}
					given := 0
					for _, item := range items {
						if item.Piece == s.Piece {
							given++
						}
					}
					if given < s.Count {
						all = append(all, append(slices.Clone(items), Item{f.Piece, want}))
					}
				}
			}
		}
	}
	return all[1:]
}

// finish evens up a trade and works out its gain, and reports whether it keeps the rules on its own.
func finish(p *Pool, t *Trade) bool {
	one := *p
	one.Members = slices.Clone(p.Members)
	for i := range one.Members {
		one.Members[i].Trades = 1
	}
	if t.Kind == Ring {
		ids := t.Members()
		owes := make([]melt.Minor, len(ids))
		for i, leg := range t.Legs {
			for _, item := range leg.Items {
				for _, s := range p.Spares {
					if s.Member == leg.From && s.Piece == item.Piece {
						owes[(i+1)%len(ids)] += s.Value
						owes[i] -= s.Value
					}
				}
			}
		}
		t.TopUps = settle(owes, ids)
	}
	_, t.Gain = referee(&one, []Trade{*t})
	broken, _ := referee(&one, []Trade{*t})
	return len(broken) == 0
}

// bestPlan tries every set of trades and returns the greatest gain of one that keeps the rules.
func bestPlan(p *Pool, all []Trade) (melt.Minor, []Trade) {
	spare, trades := map[[2]string]int{}, map[Member]int{}
	for _, s := range p.Spares {
		spare[[2]string{string(s.Member), string(s.Piece)}] = s.Count
	}
	for _, m := range p.Members {
		trades[m.ID] = m.Trades
	}
	filled := map[int]bool{}
	rings := map[string]bool{}
	var best melt.Minor
	var bestSet, set []Trade
	// rest[i] is what trades from i on gain at most
	rest := make([]melt.Minor, len(all)+1)
	slices.SortStableFunc(all, func(a, b Trade) int { return int(b.Gain - a.Gain) })
	for i := len(all) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + max(0, all[i].Gain)
	}
	var choose func(i int, gain melt.Minor)
	choose = func(i int, gain melt.Minor) {
		if gain > best {
			best, bestSet = gain, slices.Clone(set)
		}
		if i == len(all) || gain+rest[i] <= best {
			return
		}
		t := all[i]
		key := t.Kind.String() + string(t.Legs[0].From)
		for _, leg := range t.Legs {
			key += ">" + string(leg.To)
		}
		ok := !rings[key]
		for _, m := range t.Members() {
			ok = ok && trades[m] > 0
		}
		need := map[[2]string]int{}
		for _, leg := range t.Legs {
			for _, item := range leg.Items {
				need[[2]string{string(leg.From), string(item.Piece)}]++
				ok = ok && !filled[item.Want]
			}
		}
		for k, n := range need {
			ok = ok && spare[k] >= n
		}
		if ok {
			move := func(by int, in bool) {
				rings[key] = in
				for _, m := range t.Members() {
					trades[m] -= by
				}
				for k, n := range need {
					spare[k] -= by * n
				}
				for _, leg := range t.Legs {
					for _, item := range leg.Items {
						filled[item.Want] = in
					}
				}
			}
			move(1, true)
			set = append(set, t)
			choose(i+1, gain+t.Gain)
			set = set[:len(set)-1]
			move(-1, false)
		}
		choose(i+1, gain)
	}
	choose(0, 0)
	return best, bestSet
}
