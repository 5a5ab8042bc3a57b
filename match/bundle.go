package match

import (
	"math/bits"
	"slices"
)

// An arc leads from one trader to another. What may travel along it are its candidates: each a spare of the first for one
// want of the second. A bundle is a choice among them that the spares' counts and the wants allow.

// candidate is a piece that one trader could give another for one of the other's wants.
type candidate struct {
	spare, want int32 // places in the book
	value       int64 // what it counts for when it is given
	gain        int64 // what it is worth to the receiver beyond that
	ship        int64 // what its weight adds to the sender's postage
}

// bundle is a choice of an arc's candidates, with its sums.
type bundle struct {
	score int64 // what is to be made large
	value int64
	gain  int64
	ship  int64  // parcel and weight
	items uint64 // places among the arc's candidates, as bits
}

// mostCandidates is how many candidates of an arc are looked at; bundles are sets of bits.
const mostCandidates = 64

// bundleLister lists the bundles of an arc. It is used again and again to save its memory.
type bundleLister struct {
	arc     []candidate
	order   []int   // candidates by falling score
	score   []int64 // in that order
	rest    []int64 // rest[i]: the positive scores from i on
	rivals  []uint64
	stock   []stock
	clash   bool
	least   int64 // bounds on a bundle's value
	most    int64
	ahead   []int64 // ahead[i]: the value of all candidates from i on
	floor   int64
	room    int
	bundles []bundle
	full    bool
}

// stock is a spare that has more takers among an arc's candidates than there are pieces.
type stock struct {
	takers uint64
	count  int
}

// listing is what a bundleLister found: every bundle that scores more than rest, the best first.
type listing struct {
	bundles []bundle
	top     int64 // no bundle scores more
	rest    int64 // every bundle left out scores at most this
}

// list appends to dst every bundle of arc that scores within slack of what its best candidates come to, best first. A
// bundle's score is the sum of its candidates' scores, which score gives, less fee, the score of the parcel; counts says how many of each spare there are. If there are
// more than room, fewer are listed.
func (l *bundleLister) list(dst []bundle, arc []candidate, counts, score []int64, parcel, fee, slack int64, room int) listing {
	return l.listWithin(dst, arc, counts, score, parcel, fee, slack, room, 0, -nothing)
}

// listWithin is list for bundles whose value is from least to most. Of others nothing is said, not even by rest.
func (l *bundleLister) listWithin(dst []bundle, arc []candidate, counts, score []int64, parcel, fee, slack int64, room int, least, most int64) listing {
	l.least, l.most = least, most
	arc = arc[:min(len(arc), mostCandidates)]
	l.prepare(arc, counts, score)
	top := l.rest[0] - fee
	if l.rest[0] == 0 && len(arc) > 0 {
		top = l.score[0] - fee // a bundle is not empty
	}
	floor := max(nothing, top-slack-1)
	for {
		l.bundles, l.full, l.floor = dst, false, floor
		l.room = len(dst) + room
		if top > floor {
			l.choose(0, bundle{score: -fee, ship: parcel})
		}
		if !l.full {
			break
		}
		floor += (top-floor)/2 + 1
		l.bundles = l.bundles[:len(dst)]
	}
	found := l.bundles[len(dst):]
	slices.SortFunc(found, compareBundles)
	return listing{bundles: found, top: top, rest: floor}
}

func compareBundles(a, b bundle) int {
	switch {
	case a.score != b.score:
		if a.score > b.score {
			return -1
		}
		return 1
	case a.items != b.items:
		if x, y := bits.OnesCount64(a.items), bits.OnesCount64(b.items); x != y {
			return x - y
		}
		if a.items < b.items {
			return -1
		}
		return 1
	}
	return 0
}

// prepare sorts the candidates and finds which exclude each other.
func (l *bundleLister) prepare(arc []candidate, counts []int64, score []int64) {
	n := len(arc)
	l.arc = arc
	l.order, l.score, l.rest = l.order[:0], l.score[:0], slices.Grow(l.rest[:0], n+1)[:n+1]
	for i := range n {
		at := len(l.order)
		l.order = append(l.order, i)
		for ; at > 0 && score[l.order[at-1]] < score[i]; at-- {
			l.order[at] = l.order[at-1]
		}
		l.order[at] = i
	}
	for _, i := range l.order {
		l.score = append(l.score, score[i])
	}
	l.ahead = slices.Grow(l.ahead[:0], n+1)[:n+1]
	l.rest[n], l.ahead[n] = 0, 0
	for i := n - 1; i >= 0; i-- {
		l.ahead[i] = l.ahead[i+1] + arc[l.order[i]].value
		l.rest[i] = l.rest[i+1] + max(0, l.score[i])
	}
	l.rivals, l.stock, l.clash = rivalsIn(l.rivals[:0], l.stock[:0], arc, counts)
}

// rivalsIn finds, for each candidate of an arc, which others fill the same want, and the spares that could run out.
func rivalsIn(rivals []uint64, stocks []stock, arc []candidate, counts []int64) ([]uint64, []stock, bool) {
	clash := false
	for i := range arc {
		var same, takers uint64
		first := true
		for j := range arc {
			if arc[j].want == arc[i].want && j != i {
				same |= 1 << j
			}
			if arc[j].spare == arc[i].spare {
				takers |= 1 << j
				first = first && j >= i
			}
		}
		if first && int64(bits.OnesCount64(takers)) > counts[arc[i].spare] {
			stocks = append(stocks, stock{takers, int(counts[arc[i].spare])})
		}
		rivals = append(rivals, same)
		clash = clash || same != 0
	}
	return rivals, stocks, clash || len(stocks) > 0
}

// choose decides on the candidates from the i-th best on.
func (l *bundleLister) choose(i int, b bundle) {
	if b.score+l.rest[i] <= l.floor || l.full || b.value > l.most || b.value+l.ahead[i] < l.least {
		return
	}
	if i == len(l.order) {
		if b.items != 0 {
			l.full = len(l.bundles) == l.room
			l.bundles = append(l.bundles, b)
		}
		return
	}
	at := l.order[i]
	with := b
	with.items |= 1 << at
	if !l.clash || l.rivals[at]&b.items == 0 && inStock(l.stock, with.items) {
		c := &l.arc[at]
		with.score += l.score[i]
		with.value += c.value
		with.gain += c.gain
		with.ship += c.ship
		l.choose(i+1, with)
	}
	l.choose(i+1, b)
}

func inStock(stocks []stock, items uint64) bool {
	for _, s := range stocks {
		if bits.OnesCount64(s.takers&items) > s.count {
			return false
		}
	}
	return true
}
