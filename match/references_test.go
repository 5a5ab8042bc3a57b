package match

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// Where everyone has one thing, wants one thing and no money changes hands, clearing is a problem with a textbook answer
// (Abraham, Blum and Sandholm, EC 2007, 295-304): with swaps alone a matching of greatest weight, with rings of any
// length an assignment. The answers are found here in the plainest way there is.

// someGains draws what everyone gains by the things of everyone else, most of it nothing.
func someGains(t *rapid.T, n, most, oneIn int) [][]melt.Minor {
	d := dice(rapid.Uint64().Draw(t, "seed"))
	gains := make([][]melt.Minor, n)
	for i := range gains {
		gains[i] = make([]melt.Minor, n)
		for j := range gains[i] {
			if i != j && d.upTo(oneIn-1) == 0 {
				gains[i][j] = melt.Minor(1 + d.upTo(most-1))
			}
		}
	}
	return gains
}

// heaviestMatching tries all sets of members, each either alone or paired with another of the set.
func heaviestMatching(gains [][]melt.Minor) melt.Minor {
	n := len(gains)
	best := make([]melt.Minor, 1<<n)
	for set := 1; set < 1<<n; set++ {
		first := 0
		for set>>first&1 == 0 {
			first++
		}
		rest := set &^ (1 << first)
		best[set] = best[rest]
		for other := range n {
			if rest>>other&1 != 0 && gains[first][other] > 0 && gains[other][first] > 0 {
				best[set] = max(best[set], best[rest&^(1<<other)]+gains[first][other]+gains[other][first])
			}
		}
	}
	return best[1<<n-1]
}

func TestSwapsAreAMatchingOfGreatestWeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gains := someGains(t, rapid.IntRange(2, 14).Draw(t, "members"), 100, 2)
		p := giversAndTakers(len(gains), 2, func(giver, taker int) melt.Minor { return gains[giver][taker] })
		if plan, want := proved(t, p, 2_000_000), heaviestMatching(gains); plan.Gain != want {
			t.Fatalf("gains %d, the heaviest matching %d", plan.Gain, want)
		}
	})
}

// blossoms finds how many pairs a largest matching of a graph has, by Edmonds' algorithm (Canadian Journal of Mathematics
// 17 (1965), 449-467): breadth-first search for alternating paths, in which odd cycles shrink to their base.
type blossoms struct {
	edge         [][]bool
	mate, parent []int
	base         []int
	outer        []bool
	queue        []int
}

func largestMatching(edge [][]bool) int {
	n := len(edge)
	b := &blossoms{edge: edge, mate: slices.Repeat([]int{-1}, n)}
	pairs := 0
	for v := range n {
		if b.mate[v] < 0 && b.augment(v) {
			pairs++
		}
	}
	return pairs
}

func (b *blossoms) augment(root int) bool {
	n := len(b.edge)
	b.parent, b.outer = slices.Repeat([]int{-1}, n), make([]bool, n)
	b.base = make([]int, n)
	for i := range n {
		b.base[i] = i
	}
	b.outer[root], b.queue = true, []int{root}
	for len(b.queue) > 0 {
		v := b.queue[0]
		b.queue = b.queue[1:]
		for w := range n {
			switch {
			case !b.edge[v][w] || b.base[v] == b.base[w] || b.mate[v] == w:
			case w == root || b.mate[w] >= 0 && b.parent[b.mate[w]] >= 0:
				b.shrink(v, w)
			case b.parent[w] < 0:
				b.parent[w] = v
				if b.mate[w] < 0 {
					b.flip(w)
					return true
				}
				b.outer[b.mate[w]] = true
				b.queue = append(b.queue, b.mate[w])
			}
		}
	}
	return false
}

// flip swaps matched and unmatched along the path to w.
func (b *blossoms) flip(w int) {
	for w >= 0 {
		v := b.parent[w]
		w, b.mate[v], b.mate[w] = b.mate[v], w, v
	}
}

// shrink makes one vertex of the odd cycle that the edge from v to w closes.
func (b *blossoms) shrink(v, w int) {
	onPath := make([]bool, len(b.edge))
	for a := v; ; a = b.parent[b.mate[a]] {
		a = b.base[a]
		onPath[a] = true
		if b.mate[a] < 0 {
			break
		}
	}
	top := b.base[w]
	for !onPath[top] {
		top = b.base[b.parent[b.mate[top]]]
	}
	within := make([]bool, len(b.edge))
	mark := func(a, child int) {
		for b.base[a] != top {
			within[b.base[a]], within[b.base[b.mate[a]]] = true, true
			b.parent[a] = child
			child = b.mate[a]
			a = b.parent[b.mate[a]]
		}
	}
	mark(v, w)
	mark(w, v)
	for a := range b.edge {
		if within[b.base[a]] {
			b.base[a] = top
			if !b.outer[a] {
				b.outer[a] = true
				b.queue = append(b.queue, a)
			}
		}
	}
}

func TestSwapsAreALargestMatching(t *testing.T) {
	odd, all, proofs := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "members")
		gains := someGains(t, n, 1, rapid.IntRange(2, 5).Draw(t, "density"))
		edge := make([][]bool, n)
		for i := range edge {
			edge[i] = make([]bool, n)
			for j := range edge[i] {
				edge[i][j] = gains[i][j] > 0 && gains[j][i] > 0
			}
		}
		want := largestMatching(edge)
		if n <= 14 && 2*want != int(heaviestMatching(gains)) {
			t.Fatalf("the referees differ: %d pairs, %d members", want, heaviestMatching(gains))
		}
		p := giversAndTakers(n, 2, func(giver, taker int) melt.Minor { return gains[giver][taker] })
		// An odd number of members of whom any two can swap is hard to prove: the program matches them all by halves.
		plan, bound := Clear(p, Options{Steps: 100_000})
		if broken, _ := referee(p, plan.Trades); len(broken) > 0 || int(plan.Gain) != 2*want || plan.Gain > bound.Gain || int(bound.Gain) > 2*want+1 {
			t.Fatalf("%d are matched, bound %d, in a largest matching %d; %q", plan.Gain, bound.Gain, 2*want, broken)
		}
		all++
		if bound.Optimal {
			proofs++
		}
		if 2*want < n-1 {
			odd++
		}
	})
	t.Logf("%d of %d proved; in %d more than one is left over", proofs, all, odd)
	if odd == 0 || proofs < all/2 {
		t.Errorf("of %d graphs %d are proved, in %d more than one is left over", all, proofs, odd)
	}
}

// bestAssignment is Kuhn's Hungarian method with potentials (Naval Research Logistics Quarterly 2 (1955), 83-97), by rows:
// everyone gets one thing, their own for nothing.
func bestAssignment(gains [][]melt.Minor) melt.Minor {
	n := len(gains)
	const never = melt.Minor(1 << 40)
	cost := func(giver, taker int) melt.Minor {
		switch {
		case giver == taker:
			return 0
		case gains[giver][taker] == 0:
			return never
		}
		return -gains[giver][taker]
	}
	u, v := make([]melt.Minor, n+1), make([]melt.Minor, n+1)
	taken := make([]int, n+1) // by taker, from 1: the giver, from 1
	for i := 1; i <= n; i++ {
		taken[0] = i
		least, way, done := slices.Repeat([]melt.Minor{never * 4}, n+1), make([]int, n+1), make([]bool, n+1)
		at := 0
		for taken[at] != 0 {
			done[at] = true
			row, step, next := taken[at], never*4, 0
			for j := 1; j <= n; j++ {
				if done[j] {
					continue
				}
				if c := cost(row-1, j-1) - u[row] - v[j]; c < least[j] {
					least[j], way[j] = c, at
				}
				if least[j] < step {
					step, next = least[j], j
				}
			}
			for j := range n + 1 {
				if done[j] {
					u[taken[j]] += step
					v[j] -= step
				} else {
					least[j] -= step
				}
			}
			at = next
		}
		for at != 0 {
			taken[at] = taken[way[at]]
			at = way[at]
		}
	}
	var sum melt.Minor
	for j := 1; j <= n; j++ {
		sum -= cost(taken[j]-1, j-1)
	}
	return sum
}

func TestRingsOfAnyLengthAreAnAssignment(t *testing.T) {
	longer := 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "members")
		gains := someGains(t, n, 50, 2)
		p := giversAndTakers(n, n, func(giver, taker int) melt.Minor { return gains[giver][taker] })
		plan, want := proved(t, p, 5_000_000), bestAssignment(gains)
		if plan.Gain != want {
			t.Fatalf("gains %d, the best assignment %d", plan.Gain, want)
		}
		if slices.ContainsFunc(plan.Trades, func(t Trade) bool { return len(t.Legs) > 3 }) {
			longer++
		}
	})
	if longer == 0 {
		t.Error("no ring of more than three was needed")
	}
}
