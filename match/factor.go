package match

import (
	"math"
	"slices"
)

// factor is a basis in triangles: LU by columns, left-looking with the reach found by depth-first search (Gilbert and
// Peierls 1988), and the pivots since as a product of elementary matrices. Rows are numbered by the step they are the
// pivot of, which is also the position of that step's column in the basis. Solving with it takes time by the entries that
// come into play, not by the size of the basis.
type factor struct {
	pivotRow []int32 // by step: the row pivoted on
	stepOf   []int32 // by row: the step
	diag     []float64
	l, u     triangle // columns of L, below the diagonal; columns of U, above it
	lt, ut   triangle // the same by rows
	etas     []eta
	etaAt    []int32
	etaVal   []float64

	work  []float64
	seen  []int32
	turn  int32
	stack []int32
	next  []int32
	first []int32
	then  []int32
}

// triangle is a sparse triangular matrix: the entries of vector k are start[k] to start[k+1].
type triangle struct {
	start []int32
	to    []int32
	val   []float64
}

// eta is one pivot since the factorisation: the column that came in, by position.
type eta struct {
	r, from, to int32
	pivot       float64
}

// sparse is a vector that knows which of its entries may differ from zero.
type sparse struct {
	val []float64
	at  []int32
	in  []bool
}

func (v *sparse) clear(n int) {
	for _, i := range v.at {
		v.val[i], v.in[i] = 0, false
	}
	v.at = v.at[:0]
	for len(v.val) < n {
		v.val, v.in = append(v.val, 0), append(v.in, false)
	}
}

func (v *sparse) set(i int32, x float64) {
	if !v.in[i] {
		v.in[i] = true
		v.at = append(v.at, i)
	}
	v.val[i] = x
}

// worn reports that solving anew would cost less than dragging the updates along.
func (f *factor) worn() bool {
	return len(f.etas) >= 100 || len(f.etaAt) > 4*(len(f.l.to)+len(f.u.to)+len(f.diag))
}

func (f *factor) size() int { return len(f.l.to) + len(f.u.to) + len(f.etaAt) }

// transposed turns columns into rows.
func (t *triangle) transposed(into *triangle) {
	n := len(t.start) - 1
	into.start = append(into.start[:0], make([]int32, n+1)...)
	for _, i := range t.to {
		into.start[i+1]++
	}
	for i := range n {
		into.start[i+1] += into.start[i]
	}
	into.to = append(into.to[:0], make([]int32, len(t.to))...)
	into.val = append(into.val[:0], make([]float64, len(t.to))...)
	at := append([]int32(nil), into.start...)
	for k := range n {
		for e := t.start[k]; e < t.start[k+1]; e++ {
			i := t.to[e]
			into.to[at[i]], into.val[at[i]] = int32(k), t.val[e]
			at[i]++
		}
	}
}

// reach appends to order every step that roots lead to in t, each after all that lead to it.
func (f *factor) reach(order, roots []int32, t *triangle) []int32 {
	f.turn++
	from := len(order)
	for _, root := range roots {
		if f.seen[root] == f.turn {
			continue
		}
		f.seen[root] = f.turn
		f.stack, f.next = append(f.stack[:0], root), append(f.next[:0], t.start[root])
		for len(f.stack) > 0 {
			top := len(f.stack) - 1
			k := f.stack[top]
			e, end := f.next[top], t.start[k+1]
			for e < end && f.seen[t.to[e]] == f.turn {
				e++
			}
			if e == end {
				order = append(order, k)
				f.stack, f.next = f.stack[:top], f.next[:top]
				continue
			}
			f.next[top] = e + 1
			f.seen[t.to[e]] = f.turn
			f.stack, f.next = append(f.stack, t.to[e]), append(f.next, t.start[t.to[e]])
		}
	}
	slices.Reverse(order[from:])
	return order
}

// forward solves basis·y = a, where a is given by rows and y is by position.
func (f *factor) forward(rows []int32, vals []float64, y *sparse) {
	y.clear(len(f.diag))
	f.first = f.first[:0]
	for i, r := range rows {
		k := f.stepOf[r]
		f.work[k] += vals[i]
		f.first = append(f.first, k)
	}
	f.then = f.reach(f.then[:0], f.first, &f.l)
	for _, k := range f.then {
		if v := f.work[k]; v != 0 {
			for e := f.l.start[k]; e < f.l.start[k+1]; e++ {
				f.work[f.l.to[e]] -= f.l.val[e] * v
			}
		}
	}
	f.first = f.reach(f.first[:0], f.then, &f.u)
	for _, k := range f.first {
		v := f.work[k]
		f.work[k] = 0
		if v /= f.diag[k]; math.Abs(v) < 1e-13 {
			continue
		}
		y.set(k, v)
		for e := f.u.start[k]; e < f.u.start[k+1]; e++ {
			f.work[f.u.to[e]] -= f.u.val[e] * v
		}
	}
	for i := range f.etas {
		t := &f.etas[i]
		if v := y.val[t.r]; v != 0 {
			v /= t.pivot
			y.val[t.r] = v
			for e := t.from; e < t.to; e++ {
				y.set(f.etaAt[e], y.val[f.etaAt[e]]-f.etaVal[e]*v)
			}
		}
	}
}

// backward solves y·basis = c, where c is by position, and spent, and y is by row.
func (f *factor) backward(c, y *sparse) {
	y.clear(len(f.diag))
	for i := len(f.etas) - 1; i >= 0; i-- {
		t := &f.etas[i]
		v := c.val[t.r]
		for e := t.from; e < t.to; e++ {
			v -= f.etaVal[e] * c.val[f.etaAt[e]]
		}
		if v != 0 || c.in[t.r] {
			c.set(t.r, v/t.pivot)
		}
	}
	f.then = f.reach(f.then[:0], c.at, &f.ut)
	for _, k := range c.at {
		f.work[k] = c.val[k]
	}
	for _, k := range f.then {
		if v := f.work[k]; v != 0 {
			v /= f.diag[k]
			f.work[k] = v
			for e := f.ut.start[k]; e < f.ut.start[k+1]; e++ {
				f.work[f.ut.to[e]] -= f.ut.val[e] * v
			}
		}
	}
	f.first = f.reach(f.first[:0], f.then, &f.lt)
	for _, k := range f.first {
		v := f.work[k]
		f.work[k] = 0
		if math.Abs(v) < 1e-14 {
			continue
		}
		y.set(f.pivotRow[k], v)
		for e := f.lt.start[k]; e < f.lt.start[k+1]; e++ {
			f.work[f.lt.to[e]] -= f.lt.val[e] * v
		}
	}
}

// update records that the column with entries alpha, by position, has taken position r.
func (f *factor) update(r int32, alpha *sparse) {
	t := eta{r: r, from: int32(len(f.etaAt)), pivot: alpha.val[r]}
	for _, k := range alpha.at {
		if a := alpha.val[k]; k != r && math.Abs(a) > 1e-12 {
			f.etaAt = append(f.etaAt, k)
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
	f.pivotRow, f.diag, f.etas, f.etaAt, f.etaVal = f.pivotRow[:0], f.diag[:0], f.etas[:0], f.etaAt[:0], f.etaVal[:0]
	for _, t := range []*triangle{&f.l, &f.u} {
		t.start, t.to, t.val = append(t.start[:0], 0), t.to[:0], t.val[:0]
	}
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
	f.stepOf = w.step
	for e, i := range f.l.to {
		f.l.to[e] = f.stepOf[i]
	}
	f.l.transposed(&f.lt)
	f.u.transposed(&f.ut)
	for len(f.work) < m {
		f.work, f.seen = append(f.work, 0), append(f.seen, 0)
	}
	return true
}
