package match

import (
	"cmp"
	"slices"
)

// promise says, at given prices, what one more spare could be worth. The plan that gains most with it has at most one
// trade that gives it; without that trade it is a plan of the pool as it is. So the best plan gains at most the bound at
// these prices and what such a trade is worth above the prices of all else that it uses; at no prices at all, at most
// what such a trade is worth more than the best plan without.
type promise struct {
	m     *market
	price []int64   // by row, in units
	value []int64   // by piece, of one that nobody has yet
	count []int64   // by spare, and at last of one that nobody has yet
	sizes []sizing  // by members of a trade
	back  [][]int64 // of the trader last asked about: by members of a ring, the best walk from each trader back to them
	owner int32

	lister bundleLister
	score  []int64
	c      circuit
	hopes  []hope
}

// sizing is what arcs are worth in trades of so many members.
type sizing struct {
	net  []int64   // by arc, less the slot of where it leads
	top  []int64   // by arc, of all it could carry, postage apart; never below zero
	to   [][]int64 // to[l][v]: the best walk of l arcs to trader v begun by a gift, with all its slots; nil without gifts
	from [][]int64 // from[l][v]: the best walk of l arcs from trader v
	list []listing // by arc, made when first needed
}

// hope is a ring that could give one more of a piece, from its giver to a taker, and by a third if there is one.
type hope struct {
	giver int32
	to    taker
	size  int
	path  [2]int32 // the arcs from the taker back to the giver
	over  int64    // by its arcs alone, what it is worth at most
}

func newPromise(m *market, prices, values []int64) *promise {
	a := &promise{m: m, price: prices, value: values, owner: -1, sizes: make([]sizing, len(m.factor))}
	a.count = append(slices.Clone(m.b.counts), 1)
	gifts := m.b.chain >= 2 && slices.ContainsFunc(m.b.spares, func(s spare) bool { return s.gift && s.trader >= 0 && s.count > 0 })
	for size := 2; size < len(m.factor); size++ {
		s := &a.sizes[size]
		s.list = make([]listing, len(m.arcs))
		for e := range m.arcs {
			sum, best := a.carries(int32(e), size, false)
			s.top = append(s.top, sum)
			s.net = append(s.net, a.after(int32(e), size, sum, best))
		}
		if gifts && size <= m.b.chain {
			a.walks(size)
		}
	}
	return a
}

func (a *promise) slot(trader int32) int64 { return a.price[a.m.firstRow.trader+trader] }

// worth is what a candidate scores in trades of so many.
func (a *promise) worth(c *candidate, size int) int64 {
	w := a.m.factor[size]*(c.gain-c.ship) - a.price[a.m.firstRow.want+c.want]
	if int(c.spare) < len(a.m.b.counts) {
		w -= a.price[c.spare]
	}
	return w
}

// carries adds up all that is worth more than its price along an arc, and finds the best of it.
func (a *promise) carries(e int32, size int, gifts bool) (sum, best int64) {
	best = nothing
	for _, c := range a.m.candidates(e) {
		if gifts && !a.m.b.spares[c.spare].gift {
			continue
		}
		w := a.worth(&c, size)
		sum += max(0, w)
		best = max(best, w)
	}
	return sum, best
}

// after is what an arc is worth at most once its parcel and the slot of its receiver are paid.
func (a *promise) after(e int32, size int, sum, best int64) int64 {
	if best < 0 {
		sum = best // a parcel is not empty
	}
	arc := &a.m.arcs[e]
	return plus(sum, -a.m.factor[size]*arc.parcel-a.slot(arc.to))
}

// walks finds the best walks of chains, from their gifts on and to their ends.
func (a *promise) walks(size int) {
	m, s := a.m, &a.sizes[size]
	s.to, s.from = blank(size, int(m.n)), blank(size, int(m.n))
	clear(s.from[0])
	for v := range m.n {
		s.to[0][v] = -a.slot(v)
	}
	for l := 1; l < size; l++ {
		for e := range m.arcs {
			v, w, net := m.arcs[e].from, m.arcs[e].to, s.net[e]
			s.from[l][v] = max(s.from[l][v], plus(net, s.from[l-1][w]))
			if l == 1 {
				sum, best := a.carries(int32(e), size, true)
				net = a.after(int32(e), size, sum, best)
			}
			s.to[l][w] = max(s.to[l][w], plus(net, s.to[l-1][v]))
		}
	}
}

// blank is a table of nothing.
func blank(rows, columns int) [][]int64 {
	table := make([][]int64, rows)
	for i := range table {
		table[i] = slices.Repeat([]int64{nothing}, columns)
	}
	return table
}

// plus adds scores of which either may be nothing.
func plus(a, b int64) int64 {
	if a <= nothing/2 || b <= nothing/2 {
		return nothing
	}
	return a + b
}

// ways finds the best walks from every trader back to one.
func (a *promise) ways(home int32) {
	m := a.m
	a.owner, a.back = home, blank(len(m.factor), int(m.n))
	for size := 2; size <= m.b.ring && size < len(m.factor); size++ {
		last := slices.Repeat([]int64{nothing}, int(m.n))
		for _, e := range m.into[home] {
			last[m.arcs[e].from] = a.sizes[size].net[e]
		}
		for range size - 2 {
			next := slices.Repeat([]int64{nothing}, int(m.n))
			for e := range m.arcs {
				from, to := m.arcs[e].from, m.arcs[e].to
				if from != home && to != home {
					next[from] = max(next[from], plus(a.sizes[size].net[e], last[to]))
				}
			}
			last = next
		}
		a.back[size] = last
	}
}

// gives is what giving one more of a piece to a taker is worth at most, with all else that can travel along.
func (a *promise) gives(giver, piece int32, t taker, size int) int64 {
	m := a.m
	by := m.b.tariff(giver, t.trader)
	score := m.factor[size]*(t.gain-by.weightCost(m.b.micro[piece])-by.parcel) - a.price[m.firstRow.want+t.want] - a.slot(t.trader)
	if e := m.arcBetween(giver, t.trader); e >= 0 {
		score += a.sizes[size].top[e]
	}
	return score
}

// atMost bounds what a trade is worth in which a trader gives one more of a piece: nothing or below if there is none.
// Longer is the part of trades that look does not search.
func (a *promise) atMost(giver, piece int32) (most, longer int64) {
	b := a.m.b
	if a.owner != giver {
		a.ways(giver)
	}
	gift := slices.ContainsFunc(b.traders[giver].spares, func(s int32) bool { return b.spares[s].piece == piece && b.spares[s].gift })
	most, longer = nothing, nothing
	for _, t := range b.takers[piece] {
		if t.trader == giver || b.traders[t.trader].trades <= 0 {
			continue
		}
		for size := 2; size < len(a.m.factor); size++ {
			s := &a.sizes[size]
			score := a.gives(giver, piece, t, size)
			if size <= b.ring {
				ring := plus(score, a.back[size][t.trader])
				if most = max(most, ring); size > 3 {
					longer = max(longer, ring)
				}
			}
			for l := 0; s.to != nil && l <= size-2; l++ {
				if l > 0 || gift {
					longer = max(longer, plus(score, plus(s.to[l][giver], s.from[size-2-l][t.trader])))
				}
			}
		}
	}
	return max(most, longer), longer
}

// searchesPerPiece is how many rings are searched for the best bundles with one more of a piece.
const searchesPerPiece = 300

// promised is what one more of a piece with one giver is worth.
type promised struct {
	found int64 // the best trade found; nothing if there is none
	most  int64 // no trade is worth more
}

// look searches the swaps and rings of three that would give one more of a piece, by any of some givers, the most
// promising first.
func (a *promise) look(piece int32, givers []int32) []promised {
	a.hopes = a.hopes[:0]
	all := make([]promised, len(a.m.b.traders))
	for _, h := range givers {
		_, longer := a.atMost(h, piece)
		all[h] = promised{nothing, longer}
		for _, t := range a.m.b.takers[piece] {
			if t.trader != h && a.m.b.traders[t.trader].trades > 0 {
				a.rings(h, piece, t)
			}
		}
	}
	slices.SortFunc(a.hopes, func(x, y hope) int {
		return cmp.Or(cmp.Compare(y.over, x.over), cmp.Compare(x.giver, y.giver), cmp.Compare(x.to.want, y.to.want), slices.Compare(x.path[:], y.path[:]))
	})
	best := int64(0)
	for i := range a.hopes {
		n := &a.hopes[i]
		one := &all[n.giver]
		if i >= searchesPerPiece || n.over <= best {
			one.most = max(one.most, n.over)
			continue
		}
		found, most := a.search(n, piece)
		one.found, one.most = max(one.found, found), max(one.most, most)
		best = max(best, found)
	}
	return all
}

// rings lists the swaps and rings of three in which a giver gives to a taker.
func (a *promise) rings(giver, piece int32, t taker) {
	m := a.m
	if m.b.ring >= 2 {
		if e := m.arcBetween(t.trader, giver); e >= 0 {
			if over := plus(a.gives(giver, piece, t, 2), a.sizes[2].net[e]); over > 0 {
				a.hopes = append(a.hopes, hope{giver, t, 2, [2]int32{e, -1}, over})
			}
		}
	}
	if m.b.ring < 3 || len(m.factor) <= 3 {
		return
	}
	first := a.gives(giver, piece, t, 3)
	if plus(first, a.back[3][t.trader]) <= 0 {
		return
	}
	net := a.sizes[3].net
	for e := m.start[t.trader]; e < m.start[t.trader+1]; e++ {
		if m.to[e] == giver || plus(first, net[e]) <= nothing/2 {
			continue
		}
		if last := m.arcBetween(m.to[e], giver); last >= 0 {
			if over := plus(first+net[e], net[last]); over > 0 {
				a.hopes = append(a.hopes, hope{giver, t, 3, [2]int32{e, last}, over})
			}
		}
	}
}

// search finds the best bundles of a ring that gives one more of a piece, and a bound on what they are worth.
func (a *promise) search(n *hope, piece int32) (found, most int64) {
	m := a.m
	c := &a.c
	c.kind, c.minGain, c.most = Ring, m.b.minGain, triesPerRing
	c.legs, c.topUp = c.legs[:0], c.topUp[:0]
	paid := a.slot(n.giver)
	c.legs = append(c.legs, a.withMore(n, piece))
	c.topUp = append(c.topUp, m.b.traders[n.giver].topUp)
	for _, e := range n.path[:n.size-1] {
		l := &a.sizes[n.size].list[e]
		if l.bundles == nil {
			*l = a.listed(m.candidates(e), m.arcs[e].parcel, n.size)
		}
		c.legs = append(c.legs, *l)
		c.topUp = append(c.topUp, m.b.traders[m.arcs[e].from].topUp)
		paid += a.slot(m.arcs[e].from)
	}
	found, most = c.search(paid)
	if found == nothing {
		return nothing, max(0, most-paid)
	}
	return found - paid, most - paid
}

// withMore lists the bundles of a ring's first arc that hold the one more.
func (a *promise) withMore(n *hope, piece int32) listing {
	m := a.m
	b := m.b
	by := b.tariff(n.giver, n.to.trader)
	more := candidate{int32(len(b.counts)), n.to.want, a.valueOf(n.giver, piece), n.to.gain, by.weightCost(b.micro[piece])}
	arc := []candidate{more}
	if e := m.arcBetween(n.giver, n.to.trader); e >= 0 {
		for _, one := range m.candidates(e) {
			if one.want != more.want {
				arc = append(arc, one)
			}
		}
	}
	l := a.listed(arc, by.parcel, n.size)
	l.bundles = slices.DeleteFunc(l.bundles, func(b bundle) bool { return b.items&1 == 0 })
	return l
}

// valueOf is what one more of a piece counts for when a trader gives it.
func (a *promise) valueOf(trader, piece int32) int64 {
	for _, s := range a.m.b.traders[trader].spares {
		if a.m.b.spares[s].piece == piece {
			return a.m.b.spares[s].value
		}
	}
	return a.value[piece]
}

// listed lists the bundles of an arc.
func (a *promise) listed(arc []candidate, parcel int64, size int) listing {
	a.score = a.score[:0]
	for i := range arc {
		a.score = append(a.score, a.worth(&arc[i], size))
	}
	fee := a.m.factor[size] * parcel
	l := a.lister.list(nil, arc, a.count, a.score, parcel, fee, -nothing, bundlesListed)
	for i := mostCandidates; i < len(arc); i++ { // what is not looked at
		l.top += max(0, a.score[i])
		l.rest = l.top
	}
	return l
}
