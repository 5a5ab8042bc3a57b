package match

import (
	"slices"
	"sync"
)

// A corner is a part of a market: some of its traders, with what a plan leaves of what they have and want. It is cleared
// like a market of its own.
type corner struct {
	market
	arcOf []int32 // by arc, the arc of the whole market
	spot  []int8  // by candidate, its place among those of that arc
}

// newCorner cuts out the traders listed; left is what may be used, by row.
func newCorner(m *market, traders []int32, left []int64) *corner {
	c := &corner{market: *m}
	c.arcs, c.to, c.start, c.back, c.all = nil, nil, nil, nil, nil
	c.into = make([][]int32, m.n)
	c.capacity = left
	in := make([]bool, m.n)
	for _, t := range traders {
		in[t] = left[m.firstRow.trader+t] > 0
	}
	c.start = make([]int32, 1, m.n+1)
	for from := range m.n {
		if in[from] {
			for e := m.start[from]; e < m.start[from+1]; e++ {
				if in[m.to[e]] {
					c.keep(m, e)
				}
			}
		}
		c.start = append(c.start, int32(len(c.arcs)))
	}
	for e := range c.arcs {
		a := &c.arcs[e]
		c.into[a.to] = append(c.into[a.to], int32(e))
		c.back = append(c.back, c.arcBetween(a.to, a.from))
	}
	return c
}

// keep takes over an arc with what can still travel along it.
func (c *corner) keep(m *market, e int32) {
	a := m.arcs[e]
	kept := arc{from: a.from, to: a.to, parcel: a.parcel, lo: int32(len(c.all))}
	for i, one := range m.candidates(e) {
		if i < mostCandidates && c.capacity[one.spare] > 0 && c.capacity[m.firstRow.want+one.want] > 0 {
			c.all = append(c.all, one)
			c.spot = append(c.spot, int8(i))
		}
	}
	if kept.hi = int32(len(c.all)); kept.hi > kept.lo {
		c.arcs = append(c.arcs, kept)
		c.to = append(c.to, kept.to)
		c.arcOf = append(c.arcOf, e)
	}
}

// outward writes a column of the corner as one of the whole market.
func (c *corner) outward(one *column) column {
	made := column{kind: one.kind, gain: one.gain, worth: one.worth}
	for k, e := range one.arcs {
		var items uint64
		for i := range c.candidates(e) {
			if one.items[k]>>i&1 != 0 {
				items |= 1 << c.spot[int(c.arcs[e].lo)+i]
			}
		}
		made.arcs = append(made.arcs, c.arcOf[e])
		made.items = append(made.items, items)
	}
	return made
}

// inward writes a column of the whole market as one of the corner.
func (c *corner) inward(m *market, one *column) column {
	made := column{kind: one.kind, gain: one.gain, worth: one.worth}
	for k, e := range one.arcs {
		at := c.arcBetween(m.arcs[e].from, m.to[e])
		var items uint64
		for i := range c.candidates(at) {
			if one.items[k]>>c.spot[int(c.arcs[at].lo)+i]&1 != 0 {
				items |= 1 << i
			}
		}
		made.arcs = append(made.arcs, at)
		made.items = append(made.items, items)
	}
	return made
}

// atOnce is how many corners are cleared at the same time, each on a processor of its own if there are so many. It is the
// same everywhere, for what is found depends on it.
const atOnce = 2

// rework clears a few corners of the market anew, which have no trader in common, and puts what it finds in the plan. It
// never makes the plan worth less.
func (p *planner) rework(prices []int64) {
	loss := p.losses(prices)
	taken := make([]bool, p.m.n)
	var all []*reworked
	for range atOnce {
		traders := p.nearby(loss, taken, p.size)
		for _, t := range traders {
			taken[t] = true
		}
		if r := p.lift(traders); len(r.out) > 0 {
			all = append(all, r)
		}
	}
	var wait sync.WaitGroup
	for _, r := range all {
		wait.Go(r.clear)
	}
	wait.Wait()
	for _, r := range all {
		p.steps += 1 + r.steps
		if r.gained {
			p.fruitless = 0
		} else if p.fruitless++; p.fruitless%8 == 0 {
			p.size++
		}
		if !r.proved {
			p.size = max(leastCorner, p.size-2)
		}
		for _, one := range r.out {
			p.put(p.learn(one.kind, one.arcs), one)
		}
	}
	p.keep()
}

// leastCorner is how many traders a corner has at first, and cornerSteps how much work may be done in one.
const (
	leastCorner = 20
	cornerSteps = 2_000_000
)

// reworked is a corner and the trades within it.
type reworked struct {
	whole          *market
	corner         *corner
	out            []column
	steps          int
	gained, proved bool
}

// lift takes the trades among some traders out of the plan.
func (p *planner) lift(traders []int32) *reworked {
	r := &reworked{whole: p.m}
	for _, at := range slices.Clone(p.plan) {
		if !slices.ContainsFunc(p.members(at), func(t int32) bool { return !slices.Contains(traders, t) }) {
			r.out = append(r.out, p.take(at))
		}
	}
	r.corner = newCorner(p.m, traders, slices.Clone(p.left))
	return r
}

// clear finds a plan for the corner that is at least as good as the trades that were there.
func (r *reworked) clear() {
	sub := clearingOf(&r.corner.market, Options{Steps: cornerSteps})
	sub.part = true
	var old []column
	for i := range r.out {
		old = append(old, r.corner.inward(r.whole, &r.out[i]))
	}
	sub.p.replace(old)
	before := sub.p.most
	sub.run()
	r.steps, r.proved, r.gained = sub.steps(), sub.proved(), sub.p.most > before
	if r.gained {
		r.out = r.out[:0]
		for i := range sub.p.best {
			r.out = append(r.out, r.corner.outward(&sub.p.best[i]))
		}
	}
}

// losses says, for each trader, how much of the gap between the plan and what the prices are worth lies with them: the
// price of what they leave unused, and of what their trades use beyond their worth. By duality the losses come to the
// whole gap.
func (p *planner) losses(prices []int64) []int64 {
	m := p.m
	loss := make([]int64, m.n)
	for t := range loss {
		r := int(m.firstRow.trader) + t
		loss[t] = prices[r] * p.left[r]
		for _, s := range m.b.traders[t].spares {
			loss[t] += prices[s] * p.left[s]
		}
		for _, w := range m.b.traders[t].wants {
			loss[t] += prices[m.firstRow.want+w] * p.left[m.firstRow.want+w]
		}
	}
	for _, at := range p.plan {
		over := -p.in[at].worth
		p.uses = m.uses(p.uses[:0], &p.in[at])
		for _, r := range p.uses {
			over += prices[r]
		}
		for _, t := range p.members(at) {
			loss[t] += max(0, over) / int64(len(p.members(at)))
		}
	}
	return loss
}

// nearby picks about so many traders, of those not taken, who could trade with each other, where much is lost.
func (p *planner) nearby(loss []int64, taken []bool, size int) []int32 {
	var traders []int32
	add := func(t int32) {
		if !taken[t] && !slices.Contains(traders, t) {
			traders = append(traders, t)
		}
	}
	addAll := func(at int32) {
		for _, t := range p.members(at) {
			add(t)
		}
	}
	lossOf := func(at int32) (sum int64) {
		for _, t := range p.members(at) {
			if !slices.Contains(traders, t) {
				sum += loss[t]
			}
		}
		return sum
	}
	first := int32(p.draw(len(loss)))
	for range 4 {
		if t := int32(p.draw(len(loss))); loss[t] > loss[first] {
			first = t
		}
	}
	add(first)
	for tries := 0; len(traders) > 0 && len(traders) < size && tries < 20*size; tries++ {
		t := traders[p.draw(len(traders))]
		if p.draw(3) == 0 && len(p.crowd[t]) > 0 {
			addAll(p.crowd[t][p.draw(len(p.crowd[t]))])
			continue
		}
		if len(p.of[t]) == 0 {
			continue
		}
		best := p.of[t][p.draw(len(p.of[t]))]
		for range 3 {
			if one := p.of[t][p.draw(len(p.of[t]))]; lossOf(one) > lossOf(best) {
				best = one
			}
		}
		for _, o := range p.members(best) {
			add(o)
			if len(p.crowd[o]) > 0 && p.draw(2) == 0 {
				addAll(p.crowd[o][p.draw(len(p.crowd[o]))])
			}
		}
	}
	return traders
}
