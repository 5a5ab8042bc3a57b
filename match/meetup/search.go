package meetup

import "math/bits"

// mostSteps is how many edges the search may look at, some tenths of a second. That decides every small graph and most of
// an evening's size; beyond, one round more than the bound may stay unproved.
const mostSteps = 100_000_000

// search looks for a colouring with a number of colours, at most 64, by trying: the edge with the fewest colours left is
// coloured first. It reports nil and true when there is none, nil and false when it gave up.
func search(places int, edges []edge, colours int) (found []int, proved bool) {
	if colours > 64 {
		return nil, false
	}
	s := &searching{edges: edges, all: 1<<colours - 1, used: make([]uint64, places), colours: make([]int, len(edges))}
	for i := range s.colours {
		s.colours[i] = none
	}
	if s.colour(len(edges), 0) {
		return s.colours, true
	}
	return nil, s.steps < mostSteps
}

type searching struct {
	edges   []edge
	all     uint64   // a bit for each colour
	used    []uint64 // by place
	colours []int
	steps   int
}

// colour colours the edges that are left. Colours that no edge has yet are alike, so only the first of them is tried: known
// is how many have been.
func (s *searching) colour(left, known int) bool {
	if left == 0 {
		return true
	}
	best, fewest := none, 65
	for e, ends := range s.edges {
		if s.colours[e] != none {
			continue
		}
		if n := bits.OnesCount64(s.all &^ (s.used[ends[0]] | s.used[ends[1]])); n < fewest {
			best, fewest = e, n
		}
	}
	a, b := s.edges[best][0], s.edges[best][1]
	for open := s.all &^ (s.used[a] | s.used[b]); open != 0; open &= open - 1 {
		c := bits.TrailingZeros64(open)
		if c > known {
			break
		}
		if s.steps += len(s.edges); s.steps >= mostSteps {
			return false
		}
		bit := uint64(1) << c
		s.used[a], s.used[b], s.colours[best] = s.used[a]|bit, s.used[b]|bit, c
		if s.colour(left-1, max(known, c+1)) {
			return true
		}
		s.used[a], s.used[b], s.colours[best] = s.used[a]&^bit, s.used[b]&^bit, none
	}
	return false
}
