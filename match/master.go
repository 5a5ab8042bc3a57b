package match

import (
	"math"
)

// master is the linear program over the columns found so far: every spare, want and trade slot that a column uses is a
// row. Its prices guide the search for more columns; with none left to find, its value bounds every plan.
type master struct {
	m     *market
	p     *pricer
	lp    *program
	cols  []column
	lpCol []int32          // by column, its place in the program
	colAt []int32          // by place in the program, the column, or -1
	place map[string]int32 // columns by key
	rowOf []int32          // by row of the market, its row in the program, or -1
	uses  []int32
	k     *cutting
	extra int // steps besides the pricer's and the program's

	adjust func(*column) float64 // what is added to a column's worth in a part of a search; nil for nothing

	best  int64   // the least bound proved, in units
	stays []int64 // the prices that proved it
}

func newMaster(m *market) *master {
	w := &master{m: m, p: newPricer(m), lp: newProgram(), place: map[string]int32{}, rowOf: make([]int32, m.rows), best: math.MaxInt64}
	for i := range w.rowOf {
		w.rowOf[i] = -1
	}
	w.k = w.p.k
	return w
}

// add takes a column into the program, unless it is there. It returns its place and whether it is new.
func (w *master) add(c column) (int32, bool) {
	key := c.key()
	if at, ok := w.place[key]; ok {
		return at, false
	}
	at := int32(len(w.cols))
	w.place[key] = at
	w.cols = append(w.cols, c)
	rows, vals := w.entries(&c)
	cost := float64(c.worth) / unit
	if w.adjust != nil {
		cost += w.adjust(&c)
	}
	j := w.lp.addColumn(cost, rows, vals)
	for int(j) >= len(w.colAt) {
		w.colAt = append(w.colAt, -1)
	}
	w.colAt[j] = at
	w.lpCol = append(w.lpCol, j)
	return at, true
}

// entries is a column in the program's rows, which are added as they are first used.
func (w *master) entries(c *column) (rows []int32, vals []float64) {
	w.uses = w.m.uses(w.uses[:0], c)
	for _, r := range w.uses {
		i := w.rowOf[r]
		if i < 0 {
			i = w.lp.addRow(float64(w.m.capacity[r]))
			w.rowOf[r] = i
		}
		again := false
		for k, had := range rows {
			if had == i {
				vals[k]++
				again = true
			}
		}
		if !again {
			rows, vals = append(rows, i), append(vals, 1)
		}
	}
	w.k.halves(w.uses, func(c int32, n int64) { rows, vals = append(rows, w.k.cuts[c].row), append(vals, float64(n)) })
	if len(w.k.once) > 0 {
		if at, ok := w.k.once[circuitKey(c.kind, c.arcs)]; ok {
			rows, vals = append(rows, w.k.cuts[at].row), append(vals, 1)
		}
	}
	return rows, vals
}

// prices reads the program's prices in units.
func (w *master) prices(into []int64) {
	for r, i := range w.rowOf {
		into[r] = 0
		if i >= 0 {
			into[r] = int64(math.Round(w.lp.price(i) * unit))
		}
	}
	for c := range w.k.cuts {
		into[int(w.m.rows)+c] = int64(math.Round(w.lp.price(w.k.cuts[c].row) * unit))
	}
}

// generate solves the program, prices all circuits and adds the columns found, until none is left, the pricer and program
// have worked so many steps, or stop says so. It reports whether it came to the end.
func (w *master) generate(steps int, stop func() bool) bool {
	until := w.steps() + steps
	raw := make([]int64, len(w.p.price))
	for w.steps() < until && (stop == nil || !stop()) {
		w.lp.solve(math.MaxInt)
		w.prices(raw)
		// Prices between the last and the best so far jump less from round to round (Wentges 1997).
		near := w.stays != nil
		for try := 0; ; try++ {
			for r, v := range raw {
				w.p.price[r] = v
				if near && try == 0 {
					w.p.price[r] = (v + w.stays[r]) / 2
				}
			}
			offers, bound := w.p.run()
			if bound < w.best {
				w.best = bound
				w.stays = append(w.stays[:0], w.p.price...)
			}
			fresh := 0
			for _, o := range offers {
				if _, ok := w.add(o.column); ok {
					fresh++
				}
			}
			if fresh > 0 {
				break
			}
			if !near || try > 0 {
				return true
			}
		}
	}
	return false
}

func (w *master) steps() int { return w.p.steps + w.lp.steps + w.extra }
