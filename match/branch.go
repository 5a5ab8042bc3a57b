package match

import (
	"cmp"
	"container/heap"
	"math"
	"slices"
)

// Branch and price (Barnhart et al. 1998): where the program's best solution is not whole, the search goes on in two
// parts, with a circuit, or a piece for a want, left out of the plan or kept in it. What is kept in earns a reward that
// nothing else could match, which is taken off the bound again; so no solution at hand is ever lost, and prices prove
// bounds as before.

// deepestCuts is how many decisions a part may have for cuts to be sought in it.
const deepestCuts = 4

// decision is what one branch fixes.
type decision struct {
	circuit   string // a circuit's key, or none
	candidate int32  // else a candidate's place
	in        bool
}

// node is a part of the search that is still open.
type node struct {
	decisions []decision
	bound     int64 // on plans in this part, in units
	serial    int
}

type nodes []node

func (q nodes) Len() int { return len(q) }
func (q nodes) Less(i, j int) bool {
	return q[i].bound > q[j].bound || q[i].bound == q[j].bound && q[i].serial > q[j].serial
}
func (q nodes) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *nodes) Push(x any)   { *q = append(*q, x.(node)) }
func (q *nodes) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// tree is a branch-and-price search.
type tree struct {
	w      *master
	open   nodes
	serial int
	stuck  int64 // the greatest bound of parts that could be split no further
	reward float64
}

func newTree(w *master) *tree {
	var most int64
	for i := range w.cols {
		most = max(most, w.cols[i].worth)
	}
	t := &tree{w: w, stuck: nothing, reward: math.Ceil(20 * (1 + float64(most)/unit))}
	t.open = nodes{{bound: w.best}}
	return t
}

// bound is what no plan exceeds, as far as the search has come.
func (t *tree) bound() int64 {
	if len(t.open) == 0 {
		return t.stuck
	}
	return max(t.open[0].bound, t.stuck)
}

// step works on the most promising part. Parts that cannot hold a plan worth more than most are dropped. It returns a plan
// if it meets one.
func (t *tree) step(most int64) []column {
	at := heap.Pop(&t.open).(node)
	if at.bound <= most {
		return nil
	}
	if n := len(at.decisions); n > 0 && at.decisions[n-1].in && at.decisions[n-1].circuit != "" {
		t.w.onlyOnce(at.decisions[n-1].circuit)
	}
	t.apply(at.decisions)
	bound, whole := t.solve(at, most)
	bound = min(bound, at.bound)
	var plan []column
	if whole {
		plan = t.w.whole()
		whole = plan != nil
	}
	if bound > most && !(whole && bound <= worthOf(plan)+unit-1) {
		t.split(at, bound)
	}
	return plan
}

func worthOf(plan []column) (sum int64) {
	for i := range plan {
		sum += plan[i].worth
	}
	return sum
}

// apply sets the program and the pricer to a part of the search.
func (t *tree) apply(decisions []decision) {
	w := t.w
	w.letGo()
	if w.p.bonus == nil {
		w.p.bonus = make([]int64, len(w.m.all))
	}
	clear(w.p.bonus)
	for _, d := range decisions {
		w.decide(d, t.reward)
	}
	w.adjust = func(c *column) float64 {
		var sum float64
		for _, d := range decisions {
			if w.touches(c, d) {
				if d.in {
					sum += t.reward
				} else {
					sum -= 50 * t.reward
				}
			}
		}
		return sum
	}
	for at := range w.cols {
		w.lp.cost[w.lpCol[at]] += w.adjust(&w.cols[at])
	}
	w.extra += len(w.cols) * len(decisions) / 100
}

// onlyOnce adds the cut that a circuit is taken once, so that its reward is earned once.
func (w *master) onlyOnce(circuit string) {
	if _, ok := w.k.once[circuit]; !ok {
		w.addCuts([]cut{{circuit: circuit, most: 1}})
	}
}

// decide makes the pricer keep to a decision.
func (w *master) decide(d decision, reward float64) {
	v := int64(reward) * unit
	if !d.in {
		v = nothing / 64
	}
	if d.circuit != "" {
		w.p.rings[d.circuit] = -v
		if d.in {
			w.p.kept = append(w.p.kept, d.circuit)
		}
	} else {
		w.p.bonus[d.candidate] += v
	}
}

// touches reports whether a column is of the circuit, or has the candidate, that a decision is about.
func (w *master) touches(c *column, d decision) bool {
	if d.circuit != "" {
		return len(d.circuit) == 4*len(c.arcs)+1 && circuitKey(c.kind, c.arcs) == d.circuit
	}
	for k, e := range c.arcs {
		if a := &w.m.arcs[e]; d.candidate >= a.lo && d.candidate < a.hi {
			i := d.candidate - a.lo
			return i < mostCandidates && c.items[k]>>i&1 != 0
		}
	}
	return false
}

// solve finds the best bound of a part, giving up once it is no more than most. It reports whether the solution is whole.
func (t *tree) solve(at node, most int64) (bound int64, whole bool) {
	w := t.w
	var rewards int64
	for _, d := range at.decisions {
		if d.in {
			rewards += int64(t.reward) * unit
		}
	}
	bound = math.MaxInt64
	for range 200 {
		w.lp.solve(math.MaxInt)
		w.prices(w.p.price)
		offers, b := w.p.run()
		if bound = min(bound, b-rewards); bound <= most {
			return bound, false
		}
		fresh := 0
		for _, o := range offers {
			if _, ok := w.add(o.column); ok {
				fresh++
			}
		}
		if fresh == 0 {
			cuts := w.twice(w.solution())
			if len(at.decisions) < deepestCuts {
				cuts = append(cuts, w.broken(w.solution(), 20)...)
			}
			if len(cuts) > 0 {
				w.addCuts(cuts)
				continue
			}
			break
		}
	}
	for k, j := range w.lp.basis {
		if x := w.lp.x[k]; j >= 0 && w.colAt[j] >= 0 && x > 1e-3 && x < 1-1e-3 {
			return bound, false
		}
	}
	return bound, true
}

// whole reads a whole solution. It is nil if what the program says is not a plan.
func (w *master) whole() []column {
	var plan []column
	left := slices.Clone(w.m.capacity)
	circuits := map[string]bool{}
	for at := range w.cols {
		if w.lp.value(w.lpCol[at]) < 0.5 {
			continue
		}
		c := &w.cols[at]
		w.uses = w.m.uses(w.uses[:0], c)
		for _, r := range w.uses {
			if left[r]--; left[r] < 0 {
				return nil
			}
		}
		key := circuitKey(c.kind, c.arcs)
		if circuits[key] {
			return nil
		}
		circuits[key] = true
		plan = append(plan, *c)
	}
	return plan
}

// split opens the two parts that a solution which is not whole leads to.
func (t *tree) split(at node, bound int64) {
	d, ok := t.w.fraction()
	if !ok {
		t.stuck = max(t.stuck, bound)
		return
	}
	for _, in := range []bool{false, true} {
		t.serial++
		d.in = in
		decisions := append(slices.Clone(at.decisions), d)
		heap.Push(&t.open, node{decisions, bound, t.serial})
	}
}

// fraction picks what to decide: the circuit nearest to being half in the solution, or else the candidate.
func (w *master) fraction() (decision, bool) {
	rings, items := map[string]float64{}, map[int32]float64{}
	worth := map[string]float64{}
	for k, j := range w.lp.basis {
		x := w.lp.x[k]
		if j < 0 || w.colAt[j] < 0 || x < 1e-6 {
			continue
		}
		c := &w.cols[w.colAt[j]]
		key := circuitKey(c.kind, c.arcs)
		rings[key] += x
		worth[key] = max(worth[key], float64(c.worth))
		for leg, e := range c.arcs {
			for i := w.m.arcs[e].lo; i < w.m.arcs[e].hi; i++ {
				if n := i - w.m.arcs[e].lo; n < mostCandidates && c.items[leg]>>n&1 != 0 {
					items[i] += x
				}
			}
		}
	}
	best, found := decision{candidate: -1}, false
	score := 0.0
	for key, x := range rings {
		if x < 1e-3 || x > 1-1e-3 {
			continue
		}
		s := min(x, 1-x) * worth[key]
		if s > score || s == score && cmp.Less(key, best.circuit) {
			best, score, found = decision{circuit: key, candidate: -1}, s, true
		}
	}
	if found {
		return best, true
	}
	for i, x := range items {
		s := min(x, 1-x)
		if s > 1e-3 && (s > score || s == score && i < best.candidate) {
			best, score, found = decision{candidate: i}, s, true
		}
	}
	return best, found
}

// letGo gives every column its own worth again.
func (w *master) letGo() {
	for at := range w.cols {
		w.lp.cost[w.lpCol[at]] = float64(w.cols[at].worth) / unit
	}
	clear(w.p.rings)
	w.p.kept = w.p.kept[:0]
	w.adjust = nil
}
