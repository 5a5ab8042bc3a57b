package match

import (
	"math"
	"slices"
)

// factor is a basis in triangles: LU by columns, left-looking with the reach found by depth-first search (Gilbert and
// Peierls 1988), and the pivots since as a product of elementary matrices.
type factor struct {
	pivotRow []int32 // by step: the row pivoted on
	lStart   []int32
	lRow     []int32
	lVal     []float64
	lSteps   []int32 // the steps with entries in L
	uStart   []int32
	uStep    []int32
	uVal     []float64
	uDiag    []float64
	etas     []eta
	etaAt    []int32
	etaVal   []float64
}

// eta is one pivot since the factorisation: the column that came in, by position.
type eta struct {
	r, from, to int32
	pivot       float64
}

func (f *factor) size() int { return len(f.lRow) + len(f.uStep) + len(f.etaAt) + len(f.uDiag) }

// forward solves basis·y = a. The vector a, by row, is spent.
func (f *factor) forward(a, y []float64) {
	for _, k := range f.lSteps {
		if v := a[f.pivotRow[k]]; v != 0 {
			for e := f.lStart[k]; e < f.lStart[k+1]; e++ {
				a[f.lRow[e]] -= f.lVal[e] * v
			}
		}
	}
	for k := len(f.uDiag) - 1; k >= 0; k-- {
		v := a[f.pivotRow[k]]
		if v == 0 {
			y[k] = 0
			continue
		}
		v /= f.uDiag[k]
		if math.Abs(v) < 1e-13 {
			v = 0
		}
		y[k] = v
		for e := f.uStart[k]; e < f.uStart[k+1]; e++ {
			a[f.pivotRow[f.uStep[e]]] -= f.uVal[e] * v
		}
	}
	for i := range f.etas {
		t := &f.etas[i]
		if v := y[t.r]; v != 0 {
			v /= t.pivot
			y[t.r] = v
			for e := t.from; e < t.to; e++ {
				y[f.etaAt[e]] -= f.etaVal[e] * v
			}
		}
	}
}

// backward solves y·basis = c. The vector c, by position, is spent; y is by row.
func (f *factor) backward(c, y []float64) {
	for i := len(f.etas) - 1; i >= 0; i-- {
		t := &f.etas[i]
		v := c[t.r]
		for e := t.from; e < t.to; e++ {
			v -= f.etaVal[e] * c[f.etaAt[e]]
		}
		c[t.r] = v / t.pivot
	}
	for k := range f.uDiag {
		v := c[k]
		for e := f.uStart[k]; e < f.uStart[k+1]; e++ {
			v -= f.uVal[e] * c[f.uStep[e]]
		}
		v /= f.uDiag[k]
		c[k] = v
		y[f.pivotRow[k]] = v
	}
	for i := len(f.lSteps) - 1; i >= 0; i-- {
		k := f.lSteps[i]
		v := y[f.pivotRow[k]]
		for e := f.lStart[k]; e < f.lStart[k+1]; e++ {
			v -= f.lVal[e] * y[f.lRow[e]]
		}
		y[f.pivotRow[k]] = v
	}
}

// update records that the column with entries alpha, by position, has taken position r.
func (f *factor) update(r int32, alpha []float64) {
	t := eta{r: r, from: int32(len(f.etaAt)), pivot: alpha[r]}
	for k, a := range alpha {
		if a != 0 && int32(k) != r && math.Abs(a) > 1e-12 {
			f.etaAt = append(f.etaAt, int32(k))
			f.etaVal = append(f.etaVal, a)
		}
	}
	t.to = int32(len(f.etaAt))
	f.etas = append(f.etas, t)
}

// factorise makes the triangles of the basis, and reorders it by the steps. Where the basis has become singular by
// rounding, slacks take the place of the columns that depend on others.
func (p *program) factorise() bool {
	m := len(p.basis)
	f := &p.factor
	f.pivotRow, f.lSteps, f.etas, f.etaAt, f.etaVal = f.pivotRow[:0], f.lSteps[:0], f.etas[:0], f.etaAt[:0], f.etaVal[:0]
	f.lStart, f.uStart = append(f.lStart[:0], 0), append(f.uStart[:0], 0)
	f.lRow, f.lVal, f.uStep, f.uVal, f.uDiag = f.lRow[:0], f.lVal[:0], f.uStep[:0], f.uVal[:0], f.uDiag[:0]
	w := &elimination{p: p, f: f, step: make([]int32, m), work: make([]float64, m), seen: make([]int32, m), count: make([]int32, m)}
	for i := range m {
		w.step[i] = -1
	}
	made := make([]int32, 0, m)
	order := w.order()
	var lost int
	for _, j := range order {
		if w.column(j) {
			made = append(made, j)
		} else {
			lost++
			p.at[j] = -1
		}
	}
	for i := int32(0); i < int32(m) && lost > 0; i++ {
		if w.step[i] < 0 {
			if !w.column(-1 - i) {
				return false
			}
			made = append(made, -1-i)
			lost--
		}
	}
	for i := range p.slack {
		p.slack[i] = -1
	}
	for k, j := range made {
		p.basis[k] = j
		if j >= 0 {
			p.at[j] = int32(k)
		} else {
			p.slack[-1-j] = int32(k)
		}
	}
	p.stale = false
	return true
}

// elimination is the making of a factor.
type elimination struct {
	p     *program
	f     *factor
	step  []int32 // by row: the step it is the pivot of, or -1
	work  []float64
	seen  []int32 // by row: the last column, counted from 1, that reached it
	count []int32 // by row: columns of the basis, slacks aside, with an entry in it
	turn  int32
	reach []int32
	stack []int32
	next  []int32
}

// order puts slacks first, then columns with one row left, then rows with one column left, then the rest by length.
func (w *elimination) order() []int32 {
	p := w.p
	var order, rest []int32
	taken := make([]bool, len(p.basis)) // rows
	for _, j := range p.basis {
		if j < 0 {
			order = append(order, j)
			taken[-1-j] = true
		} else {
			rest = append(rest, j)
		}
	}
	slices.Sort(rest)
	order = w.peelColumns(order, rest, taken)
	return order
}

// peelColumns orders columns so that each of the first has a single row not taken by those before it.
func (w *elimination) peelColumns(order, rest []int32, taken []bool) []int32 {
	p := w.p
	left := make(map[int32]int32, len(rest)) // rows not taken, by column
	in := make([][]int32, len(taken))        // columns by row
	var queue []int32
	for _, j := range rest {
		n := int32(0)
		for k := p.start[j]; k < p.start[j+1]; k++ {
			if i := p.row[k]; !taken[i] {
				n++
				in[i] = append(in[i], j)
			}
		}
		left[j] = n
		if n == 1 {
			queue = append(queue, j)
		}
	}
	done := make(map[int32]bool, len(rest))
	for len(queue) > 0 {
		j := queue[0]
		queue = queue[1:]
		if done[j] || left[j] != 1 {
			continue
		}
		done[j] = true
		order = append(order, j)
		for k := p.start[j]; k < p.start[j+1]; k++ {
			if i := p.row[k]; !taken[i] {
				taken[i] = true
				for _, other := range in[i] {
					if left[other]--; left[other] == 1 && !done[other] {
						queue = append(queue, other)
					}
				}
			}
		}
	}
	// Rows with one column left: that column goes next, pivoted on the row, which no later column then touches.
	var nucleus []int32
	for _, j := range rest {
		if !done[j] {
			nucleus = append(nucleus, j)
			for k := p.start[j]; k < p.start[j+1]; k++ {
				if !taken[p.row[k]] {
					w.count[p.row[k]]++
				}
			}
		}
	}
	var rows []int32
	for i, n := range w.count {
		if n == 1 {
			rows = append(rows, int32(i))
		}
	}
	for len(rows) > 0 {
		i := rows[0]
		rows = rows[1:]
		if w.count[i] != 1 || taken[i] {
			continue
		}
		for _, j := range in[i] {
			if done[j] {
				continue
			}
			done[j] = true
			taken[i] = true
			order = append(order, j)
			for k := p.start[j]; k < p.start[j+1]; k++ {
				if r := p.row[k]; !taken[r] {
					if w.count[r]--; w.count[r] == 1 {
						rows = append(rows, r)
					}
				}
			}
		}
	}
	at := len(order)
	for _, j := range nucleus {
		if !done[j] {
			order = append(order, j)
		}
	}
	slices.SortStableFunc(order[at:], func(a, b int32) int { return int(left[a] - left[b]) })
	return order
}

// column eliminates one column with all before it. It reports false when nothing is left to pivot on.
func (w *elimination) column(j int32) bool {
	w.turn++
	w.reach = w.reach[:0]
	p, f := w.p, w.f
	if j < 0 {
		w.visit(-1 - j)
		w.work[-1-j] = 1
	} else {
		for k := p.start[j]; k < p.start[j+1]; k++ {
			w.visit(p.row[k])
		}
		for k := p.start[j]; k < p.start[j+1]; k++ {
			w.work[p.row[k]] += p.val[k]
		}
	}
	pick, size := int32(-1), 0.0
	for n := len(w.reach) - 1; n >= 0; n-- {
		i := w.reach[n]
		v := w.work[i]
		if k := w.step[i]; k >= 0 {
			if v != 0 {
				for e := f.lStart[k]; e < f.lStart[k+1]; e++ {
					w.work[f.lRow[e]] -= f.lVal[e] * v
				}
			}
			continue
		}
		size = max(size, math.Abs(v))
	}
	if size > 1e-9 {
		for _, i := range w.reach {
			if w.step[i] < 0 && math.Abs(w.work[i]) >= 0.1*size &&
				(pick < 0 || w.count[i] < w.count[pick] || w.count[i] == w.count[pick] && i < pick) {
				pick = i
			}
		}
	}
	if pick < 0 {
		for _, i := range w.reach {
			w.work[i] = 0
		}
		return false
	}
	w.store(pick)
	return true
}

// store writes the column in work as the next step, pivoted on a row.
func (w *elimination) store(pivot int32) {
	f := w.f
	k := int32(len(f.uDiag))
	diag := w.work[pivot]
	for _, i := range w.reach {
		v := w.work[i]
		w.work[i] = 0
		if i == pivot || v == 0 || math.Abs(v) < 1e-14 {
			continue
		}
		if s := w.step[i]; s >= 0 {
			f.uStep = append(f.uStep, s)
			f.uVal = append(f.uVal, v)
		} else {
			f.lRow = append(f.lRow, i)
			f.lVal = append(f.lVal, v/diag)
		}
	}
	if int(f.lStart[k]) < len(f.lRow) {
		f.lSteps = append(f.lSteps, k)
	}
	f.lStart = append(f.lStart, int32(len(f.lRow)))
	f.uStart = append(f.uStart, int32(len(f.uStep)))
	f.uDiag = append(f.uDiag, diag)
	f.pivotRow = append(f.pivotRow, pivot)
	w.step[pivot] = k
}

// visit appends to reach, in reverse order of need, the rows that an entry in row i leads to.
func (w *elimination) visit(i int32) {
	if w.seen[i] == w.turn {
		return
	}
	f := w.f
	w.stack, w.next = append(w.stack[:0], i), append(w.next[:0], 0)
	w.seen[i] = w.turn
	for len(w.stack) > 0 {
		top := len(w.stack) - 1
		r := w.stack[top]
		k := w.step[r]
		went := false
		if k >= 0 {
			for e := f.lStart[k] + w.next[top]; e < f.lStart[k+1]; e++ {
				w.next[top]++
				if to := f.lRow[e]; w.seen[to] != w.turn {
					w.seen[to] = w.turn
					w.stack, w.next = append(w.stack, to), append(w.next, 0)
					went = true
					break
				}
			}
		}
		if !went {
			w.reach = append(w.reach, r)
			w.stack, w.next = w.stack[:top], w.next[:top]
		}
	}
}
