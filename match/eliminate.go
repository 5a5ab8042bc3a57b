package match

import (
	"math"
	"slices"
)

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
	left := make([]int32, len(p.cost)) // rows not taken, by column
	in := make([][]int32, len(taken))  // columns by row
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
	done := make([]bool, len(p.cost))
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
	return w.peelRows(order, rest, taken, done, in, left)
}

// peelRows goes on where no column has a single row left: a row with one column left has that column go next, pivoted on
// the row, which no later column then touches. What is left after that comes last, the shortest columns first.
func (w *elimination) peelRows(order, rest []int32, taken, done []bool, in [][]int32, left []int32) []int32 {
	p := w.p
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
				for e := f.l.start[k]; e < f.l.start[k+1]; e++ {
					w.work[f.l.to[e]] -= f.l.val[e] * v
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
	k := int32(len(f.diag))
	diag := w.work[pivot]
	for _, i := range w.reach {
		v := w.work[i]
		w.work[i] = 0
		if i == pivot || v == 0 || math.Abs(v) < 1e-14 {
			continue
		}
		if s := w.step[i]; s >= 0 {
			f.u.to = append(f.u.to, s)
			f.u.val = append(f.u.val, v)
		} else {
			f.l.to = append(f.l.to, i)
			f.l.val = append(f.l.val, v/diag)
		}
	}
	f.l.start = append(f.l.start, int32(len(f.l.to)))
	f.u.start = append(f.u.start, int32(len(f.u.to)))
	f.diag = append(f.diag, diag)
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
			for e := f.l.start[k] + w.next[top]; e < f.l.start[k+1]; e++ {
				w.next[top]++
				if to := f.l.to[e]; w.seen[to] != w.turn {
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
