package match

import "math"

// nothing is a score below all others.
const nothing = math.MinInt64 / 4

// A circuit is one ring or chain of traders with the listed bundles of each of its arcs. It is searched for the choice
// of one bundle an arc that scores most while every member keeps the rules.
type circuit struct {
	kind    Kind
	minGain int64
	topUp   []int64   // by member of the circuit, in a ring
	legs    []listing // legs[i] leads from member i
	less    func(chosen []bundle) int64
	steps   int // bundles tried, over all searches

	most   int // steps one search may take
	until  int
	room   []int64 // room[i]: what legs from i on score at most
	chosen []bundle
	best   []bundle
	score  int64
	halted bool
	turned int     // how many legs on from the first the search begins
	last   *window // the last leg's bundles by value, if they are looked up so
	spare  []bundle
}

// search finds the best choice that scores more than floor. It returns what that scores, or nothing, and a bound that no
// choice exceeds unless it scores floor or less. The choice itself is in c.best.
func (c *circuit) search(floor int64) (score, bound int64) {
	n := len(c.legs)
	c.room = append(c.room[:0], make([]int64, n+1)...)
	var top, left int64 = 0, nothing
	for _, l := range c.legs {
		top += l.top
	}
	for _, l := range c.legs {
		left = max(left, top-l.top+l.rest)
	}
	for i := n - 1; i >= 0; i-- {
		if len(c.legs[i].bundles) == 0 {
			return nothing, max(floor, min(left, top))
		}
		c.room[i] = c.room[i+1] + c.legs[i].bundles[0].score
	}
	if cap(c.chosen) < n {
		c.chosen, c.best = make([]bundle, n), make([]bundle, n)
	}
	c.chosen, c.best = c.chosen[:n], c.best[:n]
	c.score, c.halted, c.until = floor, false, math.MaxInt
	if c.most > 0 {
		c.until = c.steps + c.most
	}
	c.from(0, 0)
	bound = max(c.score, left)
	if c.halted {
		bound = max(bound, c.room[0])
	}
	if c.score == floor {
		return nothing, bound
	}
	return c.score, bound
}

// from chooses a bundle for leg i and on.
func (c *circuit) from(i int, scored int64) {
	n := len(c.legs)
	for j := range c.legs[i].bundles {
		b := &c.legs[i].bundles[j]
		if scored+b.score+c.room[i+1] <= c.score {
			return // bundles come best first
		}
		if c.steps++; c.steps > c.until {
			c.halted = true
			return
		}
		if i > 0 && !c.fair(i, &c.chosen[i-1], b) {
			continue
		}
		c.chosen[i] = *b
		if i == n-2 && c.last != nil {
			c.closing(scored + b.score)
			continue
		}
		if i+1 < n {
			c.from(i+1, scored+b.score)
			continue
		}
		if c.kind == Ring && !c.fair(0, b, &c.chosen[0]) || c.kind == Chain && b.gain < c.minGain {
			continue
		}
		total := scored + b.score
		if c.less != nil {
			total -= c.less(c.unturned())
		}
		if total > c.score {
			c.score = total
			copy(c.best, c.chosen)
		}
	}
}

// unturned is what is chosen, from the first leg on.
func (c *circuit) unturned() []bundle {
	if c.turned == 0 {
		return c.chosen
	}
	c.spare = append(c.spare[:0], c.chosen...)
	rotate(c.spare, len(c.spare)-c.turned)
	return c.spare
}

// fair reports whether member i, who gets one bundle and gives another, keeps the rules.
func (c *circuit) fair(i int, gets, gives *bundle) bool {
	if gets.gain-gives.ship < c.minGain {
		return false
	}
	if c.kind == Chain {
		return gives.value <= gets.value
	}
	return gets.value-gives.value <= c.topUp[i]
}
