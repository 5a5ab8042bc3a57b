package match

import (
	"math"
)

// master is the linear program over the columns found so far: every spare, want and trade slot that a column uses is a
// row. Its prices guide the search for more columns; with none left to find, its value bounds every plan.
type master struct {
	m     *market
	p     *pricer
	cols  []column
	lp    *program         // for the exact method; nil until it is needed
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
	w := &master{m: m, p: newPricer(m), place: map[string]int32{}, best: math.MaxInt64}
	w.k = w.p.k
	return w
}

// add takes a column, unless it is there. It returns its place and whether it is new.
func (w *master) add(c column) (int32, bool) {
	key := c.key()
	if at, ok := w.place[key]; ok {
		return at, false
	}
	at := int32(len(w.cols))
	w.place[key] = at
	w.cols = append(w.cols, c)
	if w.lp != nil {
		w.enter(at)
	}
	return at, true
}

// exactly sets up the program for the exact method.
func (w *master) exactly() {
	if w.lp != nil {
		return
	}
	w.lp = newProgram()
	w.rowOf = make([]int32, w.m.rows)
	for i := range w.rowOf {
		w.rowOf[i] = -1
	}
	for i := range w.k.cuts {
		w.k.cuts[i].row = w.lp.addRow(float64(w.k.cuts[i].most))
	}
	for at := range w.cols {
		w.enter(int32(at))
	}
}

// enter takes a column into the program of the exact method.
func (w *master) enter(at int32) {
	c := &w.cols[at]
	rows, vals := w.entries(c)
	cost := float64(c.worth) / unit
	if w.adjust != nil {
		cost += w.adjust(c)
	}
	j := w.lp.addColumn(cost, rows, vals)
	for int(j) >= len(w.colAt) {
		w.colAt = append(w.colAt, -1)
	}
	w.colAt[j] = at
	w.lpCol = append(w.lpCol, j)
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

// approachSteps is how many steps a descent takes before its prices are tried.
const approachSteps = 400

// approach finds columns at the prices of a descent while that lowers the bound on what the priced circuits are worth by
// more than a part in so many.
func (w *master) approach(d *descent, part int64, stop func() bool) {
	least := int64(math.MaxInt64)
	for slow := 0; slow < 4 && !stop(); {
		d.run(approachSteps << slow)
		w.extra, d.steps = w.extra+d.steps, 0
		d.prices(w.p.price)
		offers, bound := w.p.run()
		w.prove(bound)
		if bound > least-least/part {
			slow++
		}
		least = min(least, bound)
		if !w.take(d, offers) {
			return
		}
	}
}

// take adds columns to the program and to a descent. It reports whether any is new.
func (w *master) take(d *descent, offers []offer) bool {
	fresh := false
	for _, o := range offers {
		if at, ok := w.add(o.column); ok {
			d.add(&w.cols[at], at, 0)
			fresh = true
		}
	}
	return fresh
}

// prove remembers a bound found at the pricer's prices, if it prices all circuits, and the prices with it.
func (w *master) prove(bound int64) {
	if bound < w.best && w.p.upTo == len(w.m.factor)-1 {
		w.best = bound
		w.stays = append(w.stays[:0], w.p.price...)
	}
}

// generate solves the program, prices all circuits and adds the columns found, until none is left, the pricer and program
// have worked so many steps, or stop says so. It reports whether it came to the end.
func (w *master) generate(steps int, stop func() bool) bool {
	w.exactly()
	until := w.steps() + steps
	raw := make([]int64, len(w.p.price))
	for w.steps() < until && !stop() {
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
			w.prove(bound)
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

func (w *master) steps() int {
	if w.lp == nil {
		return w.p.steps + w.extra
	}
	return w.p.steps + w.lp.steps + w.extra
}

// descentOf is a descent of all columns, which goes on from where another stands.
func (w *master) descentOf(old *descent) *descent {
	d := newDescent(w.m, w.k)
	d.weight, d.scale = old.weight, old.scale
	x := make([]float64, len(w.cols))
	for j, at := range old.cols {
		x[at] = old.x[j]
	}
	for at := range w.cols {
		d.add(&w.cols[at], int32(at), x[at])
	}
	for i, r := range d.rows {
		if int(r) < len(old.rowOf) && old.rowOf[r] >= 0 {
			d.y[i] = old.y[old.rowOf[r]]
		}
	}
	return d
}
