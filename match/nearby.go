package match

import (
	"cmp"
	"slices"
)

const (
	// takersSeen is how many takers a look for rings of three passes by, and workPerLook how many bundles a look weighs.
	// In a group of a thousand members neither is reached; in one of ten thousand the most promising are tried, so that
	// the answer comes while someone is typing.
	takersSeen  = 2_000_000
	workPerLook = 300_000
	// bundlesAfter is how many bundles of an arc are weighed once a tenth of the work is done.
	bundlesAfter = 512
	// hopesHeld is how many rings of three are held to be tried.
	hopesHeld = 2048
)

// nearby is a swap or ring of three that a look could try: from me to the i-th partner out, to me from the j-th partner in.
type nearby struct {
	over int64 // no bundles gain more
	i, j int32
}

// weighHoods bounds what every arc of mine could gain.
func (l *look) weighHoods() {
	if l.out.most != nil {
		return
	}
	b := l.b
	for _, h := range []*hood{&l.out, &l.in} {
		h.most = make([]int64, len(h.partners))
		for i, arc := range h.arcs {
			h.most[i] = -h.parcels[i]
			for _, c := range arc {
				if !h.part {
					h.most[i] += max(0, c.gain-c.ship)
				}
			}
		}
	}
	for _, s := range b.traders[l.me].spares {
		for _, t := range b.takers[b.spares[s].piece] {
			if i := l.out.at[t.trader]; l.out.part && i >= 0 {
				l.out.most[i] += max(0, t.gain-b.tariff(l.me, t.trader).weightCost(b.micro[b.spares[s].piece]))
			}
		}
	}
	for _, w := range b.traders[l.me].wants {
		for _, f := range b.wants[w].fill {
			for _, s := range b.holders[f.piece] {
				from := b.spares[s].trader
				if j := l.in.at[from]; l.in.part && j >= 0 {
					l.in.most[j] += max(0, f.gain-b.tariff(from, l.me).weightCost(b.micro[f.piece]))
				}
			}
		}
	}
}

// sorted puts the most promising first, and those alike in the order of their members' names.
func (l *look) sorted(all []nearby) {
	slices.SortFunc(all, func(x, y nearby) int {
		if x.over != y.over {
			return cmp.Compare(y.over, x.over)
		}
		return cmp.Or(cmp.Compare(l.b.ids[l.out.partners[x.i]], l.b.ids[l.out.partners[y.i]]),
			cmp.Compare(l.b.ids[l.in.partners[x.j]], l.b.ids[l.in.partners[y.j]]))
	})
}

// hopeless reports whether trades of so many that gain at most over could no longer be among the best.
func (l *look) hopeless(over int64, members int) bool {
	return l.work > workPerLook || l.floor > nothing && over*l.chance[members] < l.floor
}

// swaps tries every swap of mine, the most promising first.
func (l *look) swaps() {
	l.weighHoods()
	var all []nearby
	for i, other := range l.out.partners {
		if j := l.in.at[other]; j >= 0 {
			all = append(all, nearby{l.out.most[i] + l.in.most[j], int32(i), j})
		}
	}
	l.sorted(all)
	for _, n := range all {
		if l.hopeless(n.over, 2) {
			break
		}
		gives, gets := l.giving(n.i), l.receiving(n.j)
		l.try(Ring, []int32{l.me, l.out.partners[n.i]}, [][]candidate{l.out.arcs[n.i], l.in.arcs[n.j]},
			[]int64{l.out.parcels[n.i], l.in.parcels[n.j]}, []listing{gives, gets})
	}
}

// ringsOfThree tries the rings in which me gives to b, b to c and c to me, the most promising first.
func (l *look) ringsOfThree() {
	l.weighHoods()
	l.work = 0
	all := l.hopes()
	for _, n := range all {
		if l.hopeless(n.over, 3) {
			break
		}
		b, c := l.out.partners[n.i], l.in.partners[n.j]
		arc, parcel := l.b.candidates(b, c), l.b.tariff(b, c).parcel
		gives, gets := l.giving(n.i), l.receiving(n.j)
		if gives.top+gets.top+mostGained(arc, parcel) <= l.least(Ring, []int32{l.me, b, c}) {
			continue
		}
		l.try(Ring, []int32{l.me, b, c}, [][]candidate{l.out.arcs[n.i], arc, l.in.arcs[n.j]},
			[]int64{l.out.parcels[n.i], parcel, l.in.parcels[n.j]}, []listing{gives, l.list(arc, parcel), gets})
	}
}

// hopes lists rings of three, the most promising first.
func (l *look) hopes() []nearby {
	b := l.b
	order := make([]int32, len(l.out.partners))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(x, y int32) int {
		if l.out.most[x] != l.out.most[y] {
			return cmp.Compare(l.out.most[y], l.out.most[x])
		}
		return cmp.Compare(b.ids[l.out.partners[x]], b.ids[l.out.partners[y]])
	})
	between := make([]int64, len(l.in.partners)) // what could travel from the partner out at hand to each partner in
	reached := make([]bool, len(l.in.partners))
	var touched []int32
	var all []nearby
	least, seen := int64(nothing), 0
	for _, i := range order {
		if seen > takersSeen {
			break
		}
		from := l.out.partners[i]
		touched = touched[:0]
		for _, s := range b.traders[from].spares {
			piece := b.spares[s].piece
			seen += len(b.takers[piece])
			for _, t := range b.takers[piece] {
				j := l.in.at[t.trader]
				if j < 0 || t.trader == from {
					continue
				}
				if !reached[j] {
					reached[j] = true
					touched = append(touched, j)
				}
				between[j] += t.gain // its part of the postage is counted when the ring is tried
			}
		}
		for _, j := range touched {
			over := l.out.most[i] + between[j] - b.tariff(from, l.in.partners[j]).parcel + l.in.most[j]
			if over > least {
				all = append(all, nearby{over, i, j})
			}
			between[j], reached[j] = 0, false
		}
		if len(all) > 2*hopesHeld && seen > takersSeen/8 {
			l.sorted(all)
			all = all[:hopesHeld]
			least = all[hopesHeld-1].over
		}
	}
	l.sorted(all)
	return all
}

// mostGained bounds what a parcel could gain.
func mostGained(arc []candidate, parcel int64) int64 {
	gained := -parcel
	for _, c := range arc {
		gained += max(0, c.gain-c.ship)
	}
	return gained
}
