package match

import (
	"container/heap"
	"slices"
)

// A planner holds a plan, and betters it by ruin and recreation (Schrimpf et al. 2000): a few trades near each other are
// taken out, then circuits are put in, the most promising first, where what they use is weighed at guiding prices.
type planner struct {
	m     *market
	left  []int64 // by row, what no trade of the plan uses
	guide []int64 // by row, in units
	none  []int64 // no prices
	plan  []int32 // circuits in the plan
	worth int64   // of the plan, in units

	paths           [][]int32 // by circuit, its arcs
	kinds           []Kind
	in              []column  // by circuit, what it does in the plan; no arcs if it is not in
	of              [][]int32 // by trader, circuits they are in
	known           map[string]int32
	crowd           [][]int32 // by trader, circuits of the plan they are in
	best            []column
	most            int64
	random          uint64
	seen            int // columns of the program already learnt
	steps           int
	size, fruitless int // of corners, and how many in a row gained nothing

	lister bundleLister
	arc    [][]candidate // scratch, by leg
	which  [][]int8
	score  []int64
	hands  []bundle
	c      circuit
	uses   []int32
	queue  queue
	queued []int32 // by circuit: the recreation in which it was queued
	turn   int32
}

func newPlanner(m *market) *planner {
	return &planner{
		m: m, left: slices.Clone(m.capacity), guide: make([]int64, m.rows), none: make([]int64, m.rows), of: make([][]int32, m.n), crowd: make([][]int32, m.n),
		known: map[string]int32{}, arc: make([][]candidate, len(m.factor)), which: make([][]int8, len(m.factor)), size: leastCorner,
	}
}

// draw is the next of a fixed run of even numbers below n: splitmix64 (Steele, Lea and Flood 2014).
func (p *planner) draw(n int) int {
	p.random += 0x9e3779b97f4a7c15
	z := p.random
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return int((z ^ z>>31) % uint64(n))
}

// learn takes a circuit into account from now on.
func (p *planner) learn(kind Kind, path []int32) int32 {
	key := circuitKey(kind, path)
	if at, ok := p.known[key]; ok {
		return at
	}
	at := int32(len(p.paths))
	p.known[key] = at
	p.paths = append(p.paths, slices.Clone(path))
	p.kinds = append(p.kinds, kind)
	p.in = append(p.in, column{})
	p.queued = append(p.queued, 0)
	for _, t := range p.members(at) {
		p.of[t] = append(p.of[t], at)
	}
	return at
}

func (p *planner) members(at int32) []int32 {
	return p.m.members(&column{kind: p.kinds[at], arcs: p.paths[at]})
}

// put adds a circuit's column to the plan, and take takes it out.
func (p *planner) put(at int32, c column) {
	p.uses = p.m.uses(p.uses[:0], &c)
	for _, r := range p.uses {
		p.left[r]--
	}
	for _, t := range p.members(at) {
		p.crowd[t] = append(p.crowd[t], at)
	}
	p.worth += c.worth
	p.in[at] = c
	p.plan = append(p.plan, at)
}

func (p *planner) take(at int32) column {
	c := p.in[at]
	p.uses = p.m.uses(p.uses[:0], &c)
	for _, r := range p.uses {
		p.left[r]++
	}
	for _, t := range p.members(at) {
		p.crowd[t] = without(p.crowd[t], at)
	}
	p.worth -= c.worth
	p.in[at] = column{}
	p.plan = without(p.plan, at)
	return c
}

func without(list []int32, one int32) []int32 {
	i := slices.Index(list, one)
	list[i] = list[len(list)-1]
	return list[:len(list)-1]
}

// weigh finds the best bundles of a circuit that the rest of the plan leaves open. It returns what they are worth above
// the guiding prices.
func (p *planner) weigh(at int32) (column, int64) {
	path, kind := p.paths[at], p.kinds[at]
	m := p.m
	var cost int64
	for _, t := range p.members(at) {
		if p.left[m.firstRow.trader+t] == 0 {
			return column{}, nothing
		}
		cost += p.guide[m.firstRow.trader+t]
	}
	c := &p.c
	c.kind, c.minGain, c.most = kind, m.b.minGain, triesAtFirst
	c.legs, c.topUp = c.legs[:0], c.topUp[:0]
	over := -cost
	f := m.factor[len(p.members(at))]
	for k, e := range path {
		over += p.open(k, e, f, kind == Chain && k == 0)
	}
	p.steps++
	if over <= 0 {
		return column{}, nothing
	}
	p.hands = p.hands[:0]
	for k, e := range path {
		if len(p.arc[k]) == 0 {
			return column{}, nothing
		}
		a := &m.arcs[e]
		p.score = p.score[:0]
		for _, one := range p.arc[k] {
			p.score = append(p.score, f*(one.gain-one.ship)-p.guide[one.spare]-p.guide[m.firstRow.want+one.want])
		}
		from := len(p.hands)
		l := p.lister.list(p.hands, p.arc[k], p.left, p.score, a.parcel, f*a.parcel, over, 512)
		p.hands = append(p.hands, l.bundles...)
		l.bundles = p.hands[from:len(p.hands):len(p.hands)]
		c.legs = append(c.legs, l)
		c.topUp = append(c.topUp, m.b.traders[a.from].topUp)
	}
	c.less = nil
	before := c.steps
	score, _ := c.search(cost)
	p.steps += (c.steps-before)/20 + len(p.hands)/50
	if score == nothing {
		return column{}, nothing
	}
	made := column{kind: kind, arcs: path}
	for k := range path {
		var items uint64
		for j, i := range p.which[k] {
			if c.best[k].items>>j&1 != 0 {
				items |= 1 << i
			}
		}
		made.items = append(made.items, items)
	}
	m.weigh(&made)
	return made, score - cost
}

// open gathers what is still to be had on leg k, along arc e, and bounds what it scores.
func (p *planner) open(k int, e int32, f int64, gift bool) int64 {
	m := p.m
	p.arc[k], p.which[k] = p.arc[k][:0], p.which[k][:0]
	var sum int64
	best := int64(nothing / 64)
	for i, one := range m.candidates(e) {
		if i == mostCandidates {
			break
		}
		if p.left[one.spare] == 0 || p.left[m.firstRow.want+one.want] == 0 || gift && !m.b.spares[one.spare].gift {
			continue
		}
		p.arc[k] = append(p.arc[k], one)
		p.which[k] = append(p.which[k], int8(i))
		s := f*(one.gain-one.ship) - p.guide[one.spare] - p.guide[m.firstRow.want+one.want]
		sum += max(0, s)
		best = max(best, s)
	}
	if best < 0 {
		sum = best
	}
	return sum - f*m.arcs[e].parcel
}

// pending is a circuit that may go into the plan, and what it was last found to be worth above the guiding prices.
type pending struct {
	at    int32
	over  int64
	made  column
	since int // how many circuits had gone in when it was weighed
}

type queue []pending

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	return q[i].over > q[j].over || q[i].over == q[j].over && q[i].at < q[j].at
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(pending)) }
func (q *queue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// recreate puts circuits of some traders into the plan while any is worth more than the guiding prices, the best first.
// What a circuit is worth only falls as others go in, so it is weighed again only when it comes to the front.
func (p *planner) recreate(traders []int32) {
	p.turn++
	p.queue = p.queue[:0]
	for _, t := range traders {
		if p.left[p.m.firstRow.trader+t] == 0 {
			continue
		}
		for _, at := range p.of[t] {
			if p.queued[at] == p.turn || p.in[at].arcs != nil {
				continue
			}
			p.queued[at] = p.turn
			if made, over := p.weigh(at); over > 0 {
				p.queue = append(p.queue, pending{at, over, made, 0})
			}
		}
	}
	heap.Init(&p.queue)
	in := 0
	for len(p.queue) > 0 {
		one := heap.Pop(&p.queue).(pending)
		if one.since < in {
			if one.made, one.over = p.weigh(one.at); one.over > 0 {
				one.since = in
				heap.Push(&p.queue, one)
			}
			continue
		}
		if one.made.worth > 0 {
			p.put(one.at, one.made)
			in++
		}
	}
}

// keep remembers the plan if it is the best so far.
func (p *planner) keep() bool {
	if p.worth <= p.most {
		return false
	}
	p.most = p.worth
	p.best = p.best[:0]
	for _, at := range p.plan {
		p.best = append(p.best, p.in[at])
	}
	return true
}

// again goes back to the best plan.
func (p *planner) again() {
	if p.worth < p.most {
		p.replace(slices.Clone(p.best))
	}
}

// replace puts another plan in the place of the present one.
func (p *planner) replace(plan []column) {
	for len(p.plan) > 0 {
		p.take(p.plan[len(p.plan)-1])
	}
	for _, c := range plan {
		p.put(p.learn(c.kind, c.arcs), c)
	}
	p.keep()
}

// better ruins and recreates for so many steps, or until stop says so. The prices are those of the linear program; they guide, shrunk and
// shaken a little each time.
func (p *planner) better(prices []int64, steps int, stop func() bool) {
	until := p.steps + steps
	p.guideBy(prices, 0)
	if len(p.plan) == 0 {
		all := make([]int32, p.m.n)
		for i := range all {
			all[i] = int32(i)
		}
		p.recreate(all)
		p.fill(all)
		p.keep()
	}
	heat := p.most / 20 / int64(max(1, len(p.plan)))
	for p.steps < until && len(p.plan) > 0 && !stop() {
		traders, ruined := p.ruin()
		before := p.worth
		for _, r := range ruined {
			before += r.worth
		}
		mark := len(p.plan)
		p.guideNear(traders, prices)
		p.recreate(traders)
		p.fill(traders)
		p.steps += 2
		fresh := slices.Clone(p.plan[min(mark, len(p.plan)):])
		u := int64(p.draw(1000))
		if p.worth+heat*u/1000*u/1000*u/1000 < before { // not good enough: as it was
			for _, at := range fresh {
				p.take(at)
			}
			for _, r := range ruined {
				p.put(p.known[circuitKey(r.kind, r.arcs)], r)
			}
			continue
		}
		p.keep()
	}
}

// guideBy sets the guiding prices to a share of prices.
func (p *planner) guideBy(prices []int64, shake int) {
	for r, v := range prices {
		p.guide[r] = v * int64(900+p.draw(shake+1)) / 1024
	}
}

// guideNear shakes the guiding prices of all that some traders have and want.
func (p *planner) guideNear(traders []int32, prices []int64) {
	base := 500 + p.draw(500)
	for _, t := range traders {
		shake := func(r int32) { p.guide[r] = prices[r] * int64(base+p.draw(200)) / 1024 }
		shake(p.m.firstRow.trader + t)
		for _, s := range p.m.b.traders[t].spares {
			shake(s)
		}
		for _, w := range p.m.b.traders[t].wants {
			shake(p.m.firstRow.want + w)
		}
	}
}

// fill recreates once more at no prices at all, so that nothing of worth is left lying.
func (p *planner) fill(traders []int32) {
	p.guide, p.none = p.none, p.guide
	p.recreate(traders)
	p.guide, p.none = p.none, p.guide
}

// ruin takes a few trades near each other out of the plan, and returns who was in them.
func (p *planner) ruin() (traders []int32, ruined []column) {
	want := 2 + p.draw(5)
	at := p.plan[p.draw(len(p.plan))]
	for {
		for _, t := range p.members(at) {
			if !slices.Contains(traders, t) {
				traders = append(traders, t)
			}
		}
		ruined = append(ruined, p.take(at))
		if len(ruined) == want || len(p.plan) == 0 {
			return traders, ruined
		}
		at = p.near(traders)
	}
}

// near picks a trade of the plan that shares a trader, or could share one, with those already out.
func (p *planner) near(traders []int32) int32 {
	for range 8 {
		t := traders[p.draw(len(traders))]
		if p.draw(2) == 0 && len(p.crowd[t]) > 0 {
			return p.crowd[t][p.draw(len(p.crowd[t]))]
		}
		if len(p.of[t]) == 0 {
			continue
		}
		others := p.members(p.of[t][p.draw(len(p.of[t]))])
		if o := others[p.draw(len(others))]; len(p.crowd[o]) > 0 {
			return p.crowd[o][p.draw(len(p.crowd[o]))]
		}
	}
	return p.plan[p.draw(len(p.plan))]
}
