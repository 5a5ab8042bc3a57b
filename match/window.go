package match

import (
	"cmp"
	"math/bits"
	"slices"
)

// window answers which of a leg's bundles with a value in some range scores most. The bundles are sorted by falling score,
// so that is the least place in a range of them by value: a range minimum, by a sparse table.
type window struct {
	values []int64
	least  [][]int32 // least[l][i]: the least place among 1<<l bundles from the i-th by value on
	place  []int32   // by value
}

func newWindow(bundles []bundle) *window {
	w := &window{place: make([]int32, len(bundles)), values: make([]int64, len(bundles))}
	for i := range w.place {
		w.place[i] = int32(i)
	}
	slices.SortFunc(w.place, func(a, b int32) int {
		return cmp.Or(cmp.Compare(bundles[a].value, bundles[b].value), cmp.Compare(a, b))
	})
	for i, at := range w.place {
		w.values[i] = bundles[at].value
	}
	w.least = [][]int32{w.place}
	for size := 2; size <= len(bundles); size *= 2 {
		last := w.least[len(w.least)-1]
		next := make([]int32, len(bundles)-size+1)
		for i := range next {
			next[i] = min(last[i], last[i+size/2])
		}
		w.least = append(w.least, next)
	}
	return w
}

// span is the range of bundles by value from least to most.
func (w *window) span(least, most int64) (lo, hi int) {
	lo, _ = slices.BinarySearch(w.values, least)
	hi, _ = slices.BinarySearch(w.values, most+1)
	return lo, hi
}

// best is the place of the bundle that scores most in a span that is not empty.
func (w *window) best(lo, hi int) int32 {
	l := bits.Len(uint(hi-lo)) - 1
	return min(w.least[l][lo], w.least[l][hi-1<<l])
}

// searchWide is search for rings with long lists: the longest comes last, and its bundle is looked up by value.
func (c *circuit) searchWide(floor int64) (score, bound int64) {
	n := len(c.legs)
	longest := 0
	for i := range c.legs {
		if len(c.legs[i].bundles) > len(c.legs[longest].bundles) {
			longest = i
		}
	}
	turn := longest + 1
	c.turn(turn)
	c.turned = turn % n
	c.last = newWindow(c.legs[n-1].bundles)
	score, bound = c.search(floor)
	c.last, c.turned = nil, 0
	c.turn(n - turn%n)
	rotate(c.best[:n], n-turn%n)
	return score, bound
}

// turn makes the ring begin some legs later.
func (c *circuit) turn(by int) {
	rotate(c.legs, by)
	rotate(c.topUp, by)
}

func rotate[T any](s []T, by int) {
	by %= len(s)
	slices.Reverse(s[:by])
	slices.Reverse(s[by:])
	slices.Reverse(s)
}

// closing chooses the last leg's bundle by its value, given all others.
func (c *circuit) closing(scored int64) {
	n := len(c.legs)
	leg := c.legs[n-1].bundles
	lo, hi := c.last.span(c.chosen[n-2].value-c.topUp[n-1], c.chosen[0].value+c.topUp[0])
	if lo >= hi {
		return
	}
	first := &leg[c.last.best(lo, hi)]
	if scored+first.score <= c.score {
		return
	}
	if c.less == nil && c.fair(n-1, &c.chosen[n-2], first) && c.fair(0, first, &c.chosen[0]) {
		c.chosen[n-1], c.score = *first, scored+first.score
		copy(c.best, c.chosen)
		return
	}
	for i := range leg { // the best in the window will not do, so all are tried in turn
		b := &leg[i]
		if c.steps++; scored+b.score <= c.score {
			return
		}
		if !c.fair(n-1, &c.chosen[n-2], b) || !c.fair(0, b, &c.chosen[0]) {
			continue
		}
		total := scored + b.score
		c.chosen[n-1] = *b
		if c.less != nil {
			total -= c.less(c.unturned())
		}
		if total > c.score {
			c.score = total
			copy(c.best, c.chosen)
		}
	}
}
