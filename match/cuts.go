package match

import (
	"cmp"
	"math/bits"
	"slices"
)

// cut is a row that every plan keeps and the linear program may not: of rows whose limits come to an odd number, a column
// that uses two counts one, four counts two, and all columns of a plan together half that number, rounded down (the
// subset-row inequalities of Jepsen, Petersen, Spoorendonk and Pisinger 2008; Chvátal 1973 at multipliers of a half).
//
// Another kind says that a circuit is in a plan at most once; it has no rows of the market.
type cut struct {
	circuit string
	rows    []int32 // of the market
	most    int64
	row     int32 // of the exact method's program
}

// cutPenalty is what the program pays for a unit above a cut; no price is as high.
const cutPenalty = 1e7

// cutting is what the master and the pricer know about cuts.
type cutting struct {
	cuts   []cut
	of     [][]int32 // by row of the market, cuts with it
	count  []int8    // by cut, scratch
	touch  []int32
	live   [][]int32 // by row of the market, cuts that have a price now
	lively []int32   // rows with such cuts
	known  map[[3]int32]bool
	once   map[string]int32 // circuits that have a cut of their own
}

func newCutting(m *market) *cutting {
	return &cutting{of: make([][]int32, m.rows), live: make([][]int32, m.rows), known: map[[3]int32]bool{}, once: map[string]int32{}}
}

// halves calls each for every cut that a column, given by the rows it uses, counts in.
func (k *cutting) halves(uses []int32, each func(cut int32, n int64)) {
	k.touch = k.touch[:0]
	for _, r := range uses {
		for _, c := range k.of[r] {
			if k.count[c]++; k.count[c] == 2 {
				k.touch = append(k.touch, c)
			}
		}
	}
	for _, c := range k.touch {
		each(c, int64(k.count[c]/2))
	}
	for _, r := range uses {
		for _, c := range k.of[r] {
			k.count[c] = 0
		}
	}
}

// part is a column in the program's solution.
type part struct {
	rows []int32 // of the market, those alone that are tight or may be taken more than once
	x    float64
}

// share is how much of a column a solution holds.
type share struct {
	at int32
	x  float64
}

// broken finds the cuts of three rows that a solution breaks most, at most so many.
func (w *master) broken(solution []share, most int) []cut {
	parts, within := w.parts(solution)
	rows := make([]int32, 0, len(within))
	for r := range within {
		rows = append(rows, r)
	}
	slices.Sort(rows)
	type scored struct {
		rows [3]int32
		most int64
		by   float64
	}
	var found []scored
	shared := map[int32]float64{}
	for _, a := range rows {
		clear(shared)
		var near []int32 // rows beyond a that share a column with it
		for _, p := range within[a] {
			for _, b := range parts[p].rows {
				if b > a {
					near = append(near, b)
					shared[b] += parts[p].x
				}
			}
		}
		slices.Sort(near)
		near = slices.Compact(near)
		for i, b := range near {
			for _, c := range near[:i] {
				limit := w.m.capacity[a] + w.m.capacity[b] + w.m.capacity[c]
				key := [3]int32{a, c, b}
				if limit%2 == 0 || w.k.known[key] {
					continue
				}
				used := usedTwice(parts, within[a], key, -1) + usedTwice(parts, within[b], key, a)
				if by := used - float64(limit/2); by > 0.02 {
					found = append(found, scored{key, limit / 2, by})
				}
			}
			w.extra += len(near) / 10
		}
	}
	slices.SortStableFunc(found, func(x, y scored) int { return cmp.Compare(y.by, x.by) })
	var cuts []cut
	for _, f := range found[:min(len(found), most)] {
		w.k.known[f.rows] = true
		cuts = append(cuts, cut{rows: slices.Clone(f.rows[:]), most: f.most})
	}
	return cuts
}

// parts lists the columns in a solution, and where each row stands among them.
func (w *master) parts(solution []share) ([]part, map[int32][]int32) {
	used := make([]float64, w.m.rows)
	for _, s := range solution {
		w.uses = w.m.uses(w.uses[:0], &w.cols[s.at])
		for _, r := range w.uses {
			used[r] += s.x
		}
	}
	var parts []part
	within := map[int32][]int32{}
	for _, s := range solution {
		rows := w.m.uses(nil, &w.cols[s.at])
		rows = slices.DeleteFunc(rows, func(r int32) bool { return used[r] < float64(w.m.capacity[r])-0.5 })
		for i, r := range rows {
			if !slices.Contains(rows[:i], r) {
				within[r] = append(within[r], int32(len(parts)))
			}
		}
		parts = append(parts, part{rows, s.x})
	}
	return parts, within
}

// solution is what the exact program holds.
func (w *master) solution() []share {
	var all []share
	for k, j := range w.lp.basis {
		if j >= 0 && int(j) < len(w.colAt) && w.colAt[j] >= 0 && w.lp.x[k] >= 1e-4 {
			all = append(all, share{w.colAt[j], w.lp.x[k]})
		}
	}
	return all
}

// usedTwice sums, over columns that use no row skip, half of what they use of three rows, rounded down each.
func usedTwice(parts []part, list []int32, of [3]int32, skip int32) float64 {
	used := 0.0
	for _, p := range list {
		n := 0
		for _, r := range parts[p].rows {
			if r == skip {
				n = 0
				break
			}
			if r == of[0] || r == of[1] || r == of[2] {
				n++
			}
		}
		used += parts[p].x * float64(n/2)
	}
	return used
}

// addCuts adds rows for cuts to the program.
func (w *master) addCuts(cuts []cut) {
	for _, c := range cuts {
		at := int32(len(w.k.cuts))
		w.k.cuts = append(w.k.cuts, c)
		w.k.count = append(w.k.count, 0)
		w.p.price = append(w.p.price, 0)
		if w.stays != nil {
			w.stays = append(w.stays, 0)
		}
		for _, r := range c.rows {
			w.k.of[r] = append(w.k.of[r], at)
		}
		if c.circuit != "" {
			w.k.once[c.circuit] = at
		}
	}
	if w.lp != nil {
		w.enterCuts(len(w.k.cuts) - len(cuts))
	}
	w.extra += len(w.cols) / 20
}

// enterCuts takes the cuts from the first on into the program of the exact method.
func (w *master) enterCuts(first int) {
	cuts := w.k.cuts[first:]
	cols, vals := make([][]int32, len(cuts)), make([][]float64, len(cuts))
	for i := range w.cols {
		w.uses = w.m.uses(w.uses[:0], &w.cols[i])
		w.k.halves(w.uses, func(c int32, n int64) {
			if k := int(c) - first; k >= 0 {
				cols[k], vals[k] = append(cols[k], w.lpCol[i]), append(vals[k], float64(n))
			}
		})
		if at, ok := w.k.once[circuitKey(w.cols[i].kind, w.cols[i].arcs)]; ok && int(at) >= first {
			k := int(at) - first
			cols[k], vals[k] = append(cols[k], w.lpCol[i]), append(vals[k], 1)
		}
	}
	for k := range cuts {
		cuts[k].row = w.lp.addCut(float64(cuts[k].most), cols[k], vals[k], cutPenalty)
	}
	w.lp.rebuildColumns()
	for len(w.colAt) < len(w.lp.cost) {
		w.colAt = append(w.colAt, -1)
	}
}

// twice lists circuits that a solution holds more than once and that no cut bars yet, in order.
func (w *master) twice(solution []share) []cut {
	held := map[string]float64{}
	for _, s := range solution {
		c := &w.cols[s.at]
		held[circuitKey(c.kind, c.arcs)] += s.x
	}
	var cuts []cut
	for key, x := range held {
		if _, ok := w.k.once[key]; !ok && x > 1.02 {
			cuts = append(cuts, cut{circuit: key, most: 1})
		}
	}
	slices.SortFunc(cuts, func(a, b cut) int { return cmp.Compare(a.circuit, b.circuit) })
	return cuts
}

// enliven prepares the pricer for the cuts that have a price at present.
func (p *pricer) enliven() {
	k := p.k
	for _, r := range k.lively {
		k.live[r] = k.live[r][:0]
	}
	k.lively = k.lively[:0]
	for c, v := range p.price[p.m.rows:] {
		if v == 0 {
			continue
		}
		for _, r := range k.cuts[c].rows {
			if len(k.live[r]) == 0 {
				k.lively = append(k.lively, r)
			}
			k.live[r] = append(k.live[r], int32(c))
		}
	}
	p.cut = len(k.lively) > 0
}

// cutCost is what a choice of bundles pays for the cuts it counts in, at the pricer's prices.
func (p *pricer) cutCost(arcs []int32, chosen []bundle) (cost int64) {
	k, m := p.k, p.m
	p.cutCosts++
	k.touch = k.touch[:0]
	take := func(r int32) {
		for _, c := range k.live[r] {
			if k.count[c]++; k.count[c] == 1 {
				k.touch = append(k.touch, c)
			}
		}
	}
	for i, e := range arcs {
		a := &m.arcs[e]
		for items := chosen[i].items; items != 0; items &= items - 1 {
			one := &m.all[a.lo+int32(bits.TrailingZeros64(items))]
			take(one.spare)
			take(m.firstRow.want + one.want)
		}
		take(m.firstRow.trader + a.from)
	}
	if p.c.kind == Chain {
		take(m.firstRow.trader + m.to[arcs[len(arcs)-1]])
	}
	for _, c := range k.touch {
		cost += p.price[int(m.rows)+int(c)] * int64(k.count[c]/2)
		k.count[c] = 0
	}
	return cost
}
