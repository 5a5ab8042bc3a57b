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

// bundlesAtFirst is how many bundles of an arc are listed for all circuits, and bundlesNarrow how many are weighed for one
// circuit alone.
const (
	bundlesAtFirst = 512
	bundlesNarrow  = 1 << 16
)

// A pricer finds, at given prices of spares, wants and trade slots, the circuits whose best bundles are worth more than
// all they use, and a bound on the worth of any plan.
type pricer struct {
	m         *market
	price     []int64 // by row, in units, none below zero
	rings     map[string]int64
	top       []int64  // by arc: no bundle scores more
	net       []int64  // top less the slot of where the arc leads
	upTo      int      // members of the circuits priced
	most      int      // circuits searched at most; the others are bounded by their arcs alone
	perTrader int      // columns returned for each trader, at most
	kept      []string // circuits with a reward, which rings holds as a cost below zero
	k         *cutting
	cut       bool // some cut has a price
	cutCosts  int
	bonus     []int64 // by candidate, added to its score; nil for none
	steps     int
	work      int // in a thirtieth of a step

	counts  []int64 // by spare, how many there are
	lister  bundleLister
	score   []int64
	found   []prospect
	byNet   []int32 // arcs of each trader, by falling net
	widest  []int64 // by arc: the most that a circuit of it could be worth above its cost
	listed  []listing
	isList  []int32 // by arc: the round in which it was listed
	isWide  []int32 // by arc: the round in which its widest was found
	helpers [searchers]*pricer
	round   int32
	hands   []bundle // listed for all circuits
	anew    []bundle // listed for one
	slots   []int64  // by trader: what is to be charged to each of their trade slots
	excess  int64    // the sum of all that circuits are worth above their cost
	c       circuit
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
		m: m, price: make([]int64, m.rows), top: make([]int64, len(m.arcs)), net: make([]int64, len(m.arcs)), most: mostFound,
		widest: make([]int64, len(m.arcs)), listed: make([]listing, len(m.arcs)), isList: make([]int32, len(m.arcs)), isWide: make([]int32, len(m.arcs)),
		slots: make([]int64, m.n), rings: map[string]int64{}, k: newCutting(m), perTrader: 40, counts: m.capacity[:len(m.b.spares)], upTo: len(m.factor) - 1,
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
	for size := 2; size <= p.upTo; size++ {
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
		slots += v * p.m.capacity[int(p.m.firstRow.trader)+i]
	}
	p.steps += p.cutCosts/3 + p.work/30
	p.cutCosts, p.work = 0, 0
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
					p.note(prospect{arcs: [3]int32{int32(e), b}, size: 2, over: over})
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

// scanThrees finds rings of three. Of a ring whose arcs come to more than nothing some rotation has all its partial sums
// above nothing, so each search starts at an arc above nothing and stays there; with the arcs of each trader in falling
// order it ends early.
func (p *pricer) scanThrees() {
	m := p.m
	p.sortArcs()
	gets := make([]int64, m.n) // by trader: the net of their arc to the first
	by := make([]int32, m.n)
	for i := range gets {
		gets[i] = nothing
	}
	for a := range m.n {
		most := int64(nothing)
		for _, e := range m.into[a] {
			c := m.arcs[e].from
			gets[c], by[c] = p.net[e], e
			most = max(most, p.net[e])
		}
		for _, ab := range p.byNet[m.start[a]:m.start[a+1]] {
			first, b := p.net[ab], m.to[ab]
			if first <= 0 {
				break
			}
			least := max(-first, -first-most)
			out := p.byNet[m.start[b]:m.start[b+1]]
			for k, bc := range out {
				net := p.net[bc]
				if net <= least {
					out = out[:k]
					break
				}
				c := m.to[bc]
				over := first + net + gets[c]
				if over > 0 && c != a && !startsBefore(a, b, c, first, net, gets[c]) {
					p.note(prospect{arcs: [3]int32{ab, bc, by[c]}, size: 3, over: over})
				}
			}
			p.steps += 1 + len(out)/500
		}
		for _, e := range m.into[a] {
			gets[m.arcs[e].from] = nothing
		}
	}
}

// startsBefore reports whether the ring a, b, c with nets ab, bc and ca is found from b or c as well, and that comes first.
func startsBefore(a, b, c int32, ab, bc, ca int64) bool {
	return b < a && bc > 0 && bc+ca > 0 || c < a && ca > 0 && ca+ab > 0
}

// sortArcs puts the arcs of each trader in falling order of what they net.
func (p *pricer) sortArcs() {
	m := p.m
	if p.byNet == nil {
		p.byNet = make([]int32, len(m.arcs))
		for e := range p.byNet {
			p.byNet[e] = int32(e)
		}
	}
	for a := range m.n {
		slices.SortFunc(p.byNet[m.start[a]:m.start[a+1]], func(x, y int32) int {
			return cmp.Or(cmp.Compare(p.net[y], p.net[x]), cmp.Compare(x, y))
		})
	}
	p.steps += len(m.arcs) / 50
}

// mostFound is how many circuits are held at once; the least promising beyond are charged by their arcs alone.
const mostFound = 1 << 19

// note holds a circuit that could be worth more than it costs.
func (p *pricer) note(f prospect) {
	p.found = append(p.found, f)
	if len(p.found) < 2*mostFound {
		return
	}
	p.sortFound()
	for i := range p.found[mostFound:] {
		p.charge(&p.found[mostFound+i], p.found[mostFound+i].over)
	}
	p.found = p.found[:mostFound]
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
					p.note(prospect{long: long, size: int32(size), over: over + p.net[e]})
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
