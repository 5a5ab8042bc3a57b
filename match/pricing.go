package match

import (
	"cmp"
	"slices"
)

// triesAtFirst is how many choices of bundles are tried for a circuit before its lists are narrowed, and triesAtLast how
// many after.
const (
	triesAtFirst = 3000
	triesAtLast  = 1_000_000
)

// bundlesNarrow is how many bundles of one arc are weighed for one circuit alone.
const bundlesNarrow = 1 << 16

// A pricer finds, at given prices of spares, wants and trade slots, the circuits whose best bundles are worth more than
// all they use, and a bound on the worth of any plan.
type pricer struct {
	m         *market
	price     []int64 // by row, in units, none below zero
	rings     map[string]int64
	top       []int64  // by arc: no bundle scores more
	net       []int64  // top less the slot of where the arc leads
	most      int      // circuits searched at most; the others are bounded by their arcs alone
	perTrader int      // columns returned for each trader, at most
	kept      []string // circuits with a reward, which rings holds as a cost below zero
	k         *cutting
	cut       bool // some cut has a price
	cutCosts  int
	bonus     []int64 // by candidate, added to its score; nil for none
	steps     int

	lister bundleLister
	score  []int64
	found  []prospect
	widest []int64 // by arc: the most that a circuit of it could be worth above its cost
	listed []listing
	isList []int32 // by arc: the round in which it was listed
	round  int32
	hands  []bundle
	slots  []int64 // by trader: what is to be charged to each of their trade slots
	excess int64   // the sum of all that circuits are worth above their cost
	c      circuit
}

// prospect is a circuit that could be worth more than it costs.
type prospect struct {
	kind Kind
	arcs [3]int32
	long []int32 // instead of arcs, when there are more than three
	size int32
	over int64 // by its arcs' tops
}

func (p *prospect) path() []int32 {
	if p.long != nil {
		return p.long
	}
	return p.arcs[:p.size]
}

// offer is a column and what it is worth above its cost.
type offer struct {
	column
	over int64
}

func newPricer(m *market) *pricer {
	return &pricer{
		m: m, price: make([]int64, m.rows), top: make([]int64, len(m.arcs)), net: make([]int64, len(m.arcs)), most: 1 << 20,
		widest: make([]int64, len(m.arcs)), listed: make([]listing, len(m.arcs)), isList: make([]int32, len(m.arcs)),
		slots: make([]int64, m.n), rings: map[string]int64{}, k: newCutting(m), perTrader: 40,
	}
}

// run prices all circuits. It returns the columns worth most above their cost, and a bound on what any plan is worth,
// in units.
func (p *pricer) run() (offers []offer, bound int64) {
	for i, v := range p.m.capacity {
		bound += p.price[i] * v
	}
	for i, v := range p.price[p.m.rows:] {
		bound += v * p.k.cuts[i].most
	}
	p.enliven()
	clear(p.slots)
	p.excess = 0
	for size := 2; size < len(p.m.factor); size++ {
		p.found = p.found[:0]
		if size <= p.m.b.ring {
			p.tops(size, false)
			p.scan(size)
			p.favour(size, Ring)
		}
		offers = p.search(offers, size, Ring)
	}
	offers = p.chains(offers)
	var slots int64
	for i, v := range p.slots {
		slots += v * int64(p.m.b.traders[i].trades)
	}
	p.steps += p.cutCosts / 3
	p.cutCosts = 0
	return p.choice(offers), bound + min(slots, p.excess)
}

func (p *pricer) trader(i int32) int64 { return p.price[p.m.firstRow.trader+i] }

// scored appends the score of each candidate of an arc in a circuit of so many.
func (p *pricer) scored(e int32, size int) []int64 {
	p.score = p.score[:0]
	f := p.m.factor[size]
	a := &p.m.arcs[e]
	for i := a.lo; i < a.hi; i++ {
		c := &p.m.all[i]
		s := f*(c.gain-c.ship) - p.price[c.spare] - p.price[p.m.firstRow.want+c.want]
		if p.bonus != nil {
			s += p.bonus[i]
		}
		p.score = append(p.score, s)
	}
	return p.score
}

// tops bounds every arc's score in circuits of so many.
func (p *pricer) tops(size int, gifts bool) {
	for e := range p.m.arcs {
		a := &p.m.arcs[e]
		var sum int64
		best := int64(nothing / 64)
		for i, s := range p.scored(int32(e), size) {
			if gifts && !p.m.b.spares[p.m.all[int(a.lo)+i].spare].gift {
				continue
			}
			sum += max(0, s)
			best = max(best, s)
		}
		if best < 0 {
			sum = best
		}
		p.top[e] = sum - p.m.factor[size]*a.parcel
		p.net[e] = p.top[e] - p.trader(a.to)
	}
	p.steps += len(p.m.all) / 100
}

// circuitCost is what a circuit pays on its own account.
func (p *pricer) circuitCost(key string) int64 {
	cost := p.rings[key]
	if at, ok := p.k.once[key]; ok {
		cost += p.price[int(p.m.rows)+int(at)]
	}
	return cost
}

// favour raises what circuits with a reward could be worth; without it the scan may have passed them by.
func (p *pricer) favour(size int, kind Kind) {
	for _, key := range p.kept {
		path := pathOf(key)
		members := len(path)
		if kind == Chain {
			members++
		}
		if circuitKey(kind, path) != key || members != size {
			continue
		}
		p.found = slices.DeleteFunc(p.found, func(f prospect) bool { return slices.Equal(f.path(), path) })
		over := -p.circuitCost(key)
		for _, e := range path {
			over += p.net[e]
		}
		if kind == Chain {
			over -= p.trader(p.m.arcs[path[0]].from)
		}
		if over > 0 {
			p.found = append(p.found, prospect{kind: kind, long: path, size: int32(len(path)), over: over})
		}
	}
}

// scan finds the rings of so many that could be worth more than they cost.
func (p *pricer) scan(size int) {
	switch size {
	case 2:
		for e, b := range p.m.back {
			if b > int32(e) {
				if over := p.net[e] + p.net[b]; over > 0 {
					p.found = append(p.found, prospect{arcs: [3]int32{int32(e), b}, size: 2, over: over})
				}
			}
		}
		p.steps += len(p.m.arcs) / 500
	case 3:
		p.scanThrees()
	default:
		p.scanLong(size)
	}
}

// scanThrees finds rings of three, each from the least of its members on.
func (p *pricer) scanThrees() {
	m := p.m
	gets := make([]int64, m.n) // by trader: the net of their arc to the first
	by := make([]int32, m.n)
	for i := range gets {
		gets[i] = nothing
	}
	for a := range m.n {
		for _, e := range m.into[a] {
			c := m.arcs[e].from
			gets[c], by[c] = p.net[e], e
		}
		for ab := m.start[a]; ab < m.start[a+1]; ab++ {
			b := m.to[ab]
			if b < a {
				continue
			}
			from, _ := slices.BinarySearch(m.to[m.start[b]:m.start[b+1]], a+1)
			lo := m.start[b] + int32(from)
			net, to := p.net[lo:m.start[b+1]], m.to[lo:m.start[b+1]]
			first := p.net[ab]
			for k, c := range to {
				if over := first + net[k] + gets[c]; over > 0 {
					p.found = append(p.found, prospect{arcs: [3]int32{ab, lo + int32(k), by[c]}, size: 3, over: over})
				}
			}
			p.steps += 1 + len(to)/1000
		}
		for _, e := range m.into[a] {
			gets[m.arcs[e].from] = nothing
		}
	}
}

// scanLong finds rings of more than three, by depth-first search from their least member within what the best walk back
// could add.
func (p *pricer) scanLong(size int) {
	m := p.m
	home := make([][]int64, size) // home[l][v]: the best walk of l arcs from v to the first
	for l := range home {
		home[l] = make([]int64, m.n)
	}
	used := make([]bool, m.n)
	path := make([]int32, 0, size)
	for first := range m.n {
		for l := range home {
			for v := first; v < m.n; v++ {
				home[l][v] = nothing
			}
		}
		for _, e := range m.into[first] {
			home[1][m.arcs[e].from] = p.net[e]
		}
		for l := 2; l < size; l++ {
			for v := first + 1; v < m.n; v++ {
				for e := m.start[v]; e < m.start[v+1]; e++ {
					if to := m.to[e]; to > first && home[l-1][to] > nothing {
						home[l][v] = max(home[l][v], p.net[e]+home[l-1][to])
					}
				}
			}
		}
		p.steps += 1 + size*len(m.arcs)/1000
		var walk func(v int32, over int64)
		walk = func(v int32, over int64) {
			left := size - len(path)
			p.steps++
			if left == 1 {
				if e := m.arcBetween(v, first); e >= 0 && over+p.net[e] > 0 {
					long := append(slices.Clone(path), e)
					p.found = append(p.found, prospect{long: long, size: int32(size), over: over + p.net[e]})
				}
				return
			}
			for e := m.start[v]; e < m.start[v+1]; e++ {
				to := m.to[e]
				if to <= first || used[to] || home[left-1][to] == nothing || over+p.net[e]+home[left-1][to] <= 0 {
					continue
				}
				used[to] = true
				path = append(path, e)
				walk(to, over+p.net[e])
				path = path[:len(path)-1]
				used[to] = false
			}
		}
		walk(first, 0)
	}
}

// search finds the best bundles of every circuit found, the most promising first, as far as p.most allows.
func (p *pricer) search(offers []offer, size int, kind Kind) []offer {
	slices.SortFunc(p.found, func(a, b prospect) int {
		return cmp.Or(cmp.Compare(b.over, a.over), slices.Compare(a.path(), b.path()))
	})
	p.round++
	for i := range p.found {
		for _, e := range p.found[i].path() {
			if p.isList[e] != -p.round {
				p.isList[e], p.widest[e] = -p.round, p.found[i].over
			}
		}
	}
	p.hands = p.hands[:0]
	for i := range p.found {
		f := &p.found[i]
		if i >= p.most {
			p.charge(f, f.over)
			continue
		}
		o, over := p.best(f, size, kind)
		if over > 0 {
			p.charge(f, over)
		}
		if o.over > 0 {
			offers = append(offers, o)
		}
	}
	return offers
}

// charge books what a circuit may be worth above its cost.
func (p *pricer) charge(f *prospect, over int64) {
	p.excess = min(p.excess+over, -nothing)
	size := int64(f.size)
	if f.kind == Chain {
		size++
	}
	each := (over + size - 1) / size
	for _, e := range f.path() {
		p.slots[p.m.to[e]] = max(p.slots[p.m.to[e]], each)
		if f.kind == Chain {
			from := p.m.arcs[e].from
			p.slots[from] = max(p.slots[from], each)
		}
	}
}

// best finds the best bundles of one circuit, and a bound on what they are worth above their cost.
func (p *pricer) best(f *prospect, size int, kind Kind) (offer, int64) {
	path := f.path()
	c := &p.c
	c.kind, c.minGain, c.most = kind, p.m.b.minGain, triesAtFirst
	c.legs, c.topUp = c.legs[:0], c.topUp[:0]
	var cost int64
	for k, e := range path {
		c.legs = append(c.legs, p.listing(e, size, kind == Chain && k == 0))
		c.topUp = append(c.topUp, p.m.b.traders[p.m.arcs[e].from].topUp)
		cost += p.trader(p.m.to[e])
	}
	if kind == Chain {
		cost += p.trader(p.m.arcs[path[0]].from)
	}
	if len(p.rings)+len(p.k.once) > 0 {
		cost += p.circuitCost(circuitKey(kind, path))
	}
	c.less = nil
	if p.cut {
		c.less = func(chosen []bundle) int64 { return p.cutCost(path, chosen) }
	}
	before := c.steps
	score, bound := c.search(cost)
	if bound-cost > max(0, score-cost) {
		p.narrow(f, size, kind)
		if c.most = triesAtLast; kind == Ring {
			score, bound = c.searchWide(cost)
		} else {
			score, bound = c.search(cost)
		}
	}
	p.steps += 1 + (c.steps-before)/10
	if score == nothing {
		return offer{}, bound - cost
	}
	o := offer{column{kind: kind, arcs: slices.Clone(path)}, score - cost}
	for i := range path {
		o.items = append(o.items, c.best[i].items)
	}
	p.m.weigh(&o.column)
	return o, bound - cost
}

// scoredFor is scored, with all that is no gift out of reach if only gifts may travel.
func (p *pricer) scoredFor(e int32, size int, gift bool) []int64 {
	scores := p.scored(e, size)
	for i := range scores {
		if gift && !p.m.b.spares[p.m.all[int(p.m.arcs[e].lo)+i].spare].gift {
			scores[i] = nothing / 64
		}
	}
	return scores
}

// listing is the bundles of an arc that a circuit worth its cost could have.
func (p *pricer) listing(e int32, size int, gift bool) listing {
	if p.isList[e] == p.round && !gift {
		return p.listed[e]
	}
	scores := p.scoredFor(e, size, gift)
	a := &p.m.arcs[e]
	fee := p.m.factor[size] * a.parcel
	at := len(p.hands)
	l := p.lister.list(p.hands, p.m.candidates(e), p.m.b.counts, scores, a.parcel, fee, p.widest[e], bundlesListed)
	if over := len(scores) - mostCandidates; over > 0 {
		for _, s := range scores[mostCandidates:] {
			l.top += max(0, s)
		}
		l.rest = l.top
	}
	p.hands = append(p.hands, l.bundles...)
	l.bundles = p.hands[at:len(p.hands):len(p.hands)]
	p.steps += 1 + len(l.bundles)/50
	if !gift {
		p.listed[e], p.isList[e] = l, p.round
	}
	return l
}

// narrow lists the bundles of a circuit's arcs anew where not all that matter were listed: within the values that what
// its members give and get leave open, and for this circuit alone.
func (p *pricer) narrow(f *prospect, size int, kind Kind) {
	path := f.path()
	n := len(path)
	least, most := make([]int64, n), make([]int64, n) // by arc, of the value of a bundle
	for k, e := range path {
		least[k] = -nothing
		for _, one := range p.m.candidates(e) {
			least[k] = min(least[k], one.value)
			most[k] += one.value
		}
	}
	for range n {
		for k := range path {
			next := (k + 1) % n
			switch limit := p.c.topUp[next]; {
			case kind == Ring:
				most[k] = min(most[k], most[next]+limit)
				least[next] = max(least[next], least[k]-limit)
			case next > 0:
				most[next] = min(most[next], most[k])
				least[k] = max(least[k], least[next])
			}
		}
	}
	for k, e := range path {
		l := &p.c.legs[k]
		if l.rest < l.top-f.over { // all that matter are there
			within := make([]bundle, 0, len(l.bundles))
			for _, b := range l.bundles {
				if b.value >= least[k] && b.value <= most[k] {
					within = append(within, b)
				}
			}
			l.bundles = within
			continue
		}
		scores := p.scoredFor(e, size, kind == Chain && k == 0)
		a := &p.m.arcs[e]
		if len(scores) > mostCandidates {
			continue
		}
		*l = p.lister.listWithin(nil, p.m.candidates(e), p.m.b.counts, scores, a.parcel, p.m.factor[size]*a.parcel, f.over,
			bundlesNarrow, least[k], most[k])
		p.steps += 1 + len(l.bundles)/50
	}
}

// choice keeps the best offers, so many for each trader.
func (p *pricer) choice(offers []offer) []offer {
	slices.SortStableFunc(offers, func(a, b offer) int { return cmp.Compare(b.over, a.over) })
	had := make([]int, p.m.n)
	kept := offers[:0]
	for _, o := range offers {
		fresh := false
		for _, e := range o.arcs {
			had[p.m.to[e]]++
			fresh = fresh || had[p.m.to[e]] <= p.perTrader
		}
		if fresh {
			kept = append(kept, o)
		}
	}
	return kept
}
