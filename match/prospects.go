package match

import (
	"cmp"
	"slices"
	"sync"
)

// worth is what a search found of a circuit: what it may be worth above its cost, and its best bundles if they are.
type worth struct {
	at   int
	over int64
	offer
}

// searchers is how many search at once, each on a processor of its own if there are so many, and searchAlone how many
// circuits one searches alone. Both are the same everywhere, for they bear on the steps counted.
const (
	searchers   = 2
	searchAlone = 200
)

// mostHands is how many listed bundles are kept at once.
const mostHands = 1 << 19

// search finds the best bundles of every circuit found, the most promising first, as far as p.most allows.
func (p *pricer) search(offers []offer, size int, kind Kind) []offer {
	p.sortFound()
	p.round++
	for i := range p.found {
		for _, e := range p.found[i].path() {
			if p.isWide[e] != p.round {
				p.isWide[e], p.widest[e] = p.round, p.found[i].over
			}
		}
	}
	found := p.found[:min(len(p.found), p.most)]
	var all [searchers][]worth
	n := searchers
	if len(found) < searchAlone {
		n = 1
	}
	var wait sync.WaitGroup
	for k := 1; k < n; k++ {
		other := p.helper(k)
		wait.Go(func() { all[k] = other.worths(found, k, n, size, kind) })
	}
	all[0] = p.worths(found, 0, n, size, kind)
	wait.Wait()
	for k := 1; k < n; k++ {
		p.work += p.helpers[k].work
		p.cutCosts += p.helpers[k].cutCosts
	}
	offers = p.gather(offers, found, all)
	for i := range p.found[len(found):] {
		f := &p.found[len(found)+i]
		p.charge(f, f.over)
	}
	return offers
}

// worths searches every n-th circuit from the k-th on.
func (p *pricer) worths(found []prospect, k, n, size int, kind Kind) []worth {
	p.hands = p.hands[:0]
	var all []worth
	for i := k; i < len(found); i += n {
		if len(p.hands) > mostHands { // list them anew, in the same room
			p.hands = p.hands[:0]
			p.round++
		}
		if o, over := p.best(&found[i], size, kind); over > 0 || o.over > 0 {
			all = append(all, worth{i, over, o})
		}
	}
	return all
}

// gather charges what was found, in the order of the circuits, and appends what is on offer.
func (p *pricer) gather(offers []offer, found []prospect, all [searchers][]worth) []offer {
	for {
		next := -1
		for k, list := range all {
			if len(list) > 0 && (next < 0 || list[0].at < all[next][0].at) {
				next = k
			}
		}
		if next < 0 {
			return offers
		}
		w := &all[next][0]
		all[next] = all[next][1:]
		if w.over > 0 {
			p.charge(&found[w.at], w.over)
		}
		if w.offer.over > 0 {
			offers = append(offers, w.offer)
		}
	}
}

// helper is a pricer that reads what p reads and writes elsewhere.
func (p *pricer) helper(k int) *pricer {
	if p.helpers[k] == nil {
		p.helpers[k] = &pricer{listed: make([]listing, len(p.m.arcs)), isList: make([]int32, len(p.m.arcs))}
	}
	old := p.helpers[k]
	h := *p
	h.lister, h.score, h.hands, h.anew, h.listed, h.isList, h.c = old.lister, old.score, old.hands, old.anew, old.listed, old.isList, old.c
	h.work, h.cutCosts = 0, 0
	cuts := *p.k
	cuts.count, cuts.touch = make([]int8, len(p.k.count)), nil
	h.k = &cuts
	p.helpers[k] = &h
	return &h
}

// sortFound puts the most promising circuits first.
func (p *pricer) sortFound() {
	slices.SortFunc(p.found, func(a, b prospect) int {
		return cmp.Or(cmp.Compare(b.over, a.over), slices.Compare(a.path(), b.path()))
	})
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
	p.work += 10 + c.steps - before
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
	l := p.lister.list(p.hands, p.m.candidates(e), p.counts, scores, a.parcel, fee, p.widest[e], bundlesAtFirst)
	if over := len(scores) - mostCandidates; over > 0 {
		for _, s := range scores[mostCandidates:] {
			l.top += max(0, s)
		}
		l.rest = l.top
	}
	p.hands = append(p.hands, l.bundles...)
	l.bundles = p.hands[at:len(p.hands):len(p.hands)]
	p.work += 10 + len(l.bundles)/5
	if !gift {
		p.listed[e], p.isList[e] = l, p.round
	}
	return l
}

// narrow lists the bundles of a circuit's arcs anew where not all that matter were listed: within the values that what
// its members give and get leave open, and for this circuit alone.
func (p *pricer) narrow(f *prospect, size int, kind Kind) {
	p.anew = p.anew[:0]
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
		at := len(p.anew)
		*l = p.lister.listWithin(p.anew, p.m.candidates(e), p.counts, scores, a.parcel, p.m.factor[size]*a.parcel, f.over,
			bundlesNarrow, least[k], most[k])
		p.anew = append(p.anew, l.bundles...)
		l.bundles = p.anew[at:len(p.anew):len(p.anew)]
		p.work += 10 + len(l.bundles)/5
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
