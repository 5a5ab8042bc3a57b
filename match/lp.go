package match

import (
	"math"
)

// program is a linear program in packing form: maximise cost·x where every row's sum stays at or below its limit and no x
// is below zero. It is solved by the revised primal simplex method, with devex pricing (Harris 1973) and a sparse
// factorisation that is mended by product-form updates; rows and columns may be added between solutions, and the next
// starts where the last ended. Its figures are floating point, so nothing is promised on them alone: bounds are taken
// from its dual prices in whole numbers.
type program struct {
	limit    []float64 // by row, moved up by a little so that ties are few
	rowCol   [][]int32 // by row, the columns with an entry in it
	rowVal   [][]float64
	cost     []float64 // by column
	start    []int32   // entries of column j are start[j] to start[j+1]
	row      []int32
	val      []float64
	basis    []int32 // by position: a column, or -1-i for the slack of row i
	at       []int32 // by column: its position in the basis, or -1
	slack    []int32 // by row: its slack's position in the basis, or -1
	x        []float64
	d        []float64 // by column: what one more of it would add
	ds       []float64 // by row: the same of its slack
	weight   []float64 // devex weights, of columns and of slacks
	ws       []float64
	factor   factor
	steps    int    // work done, in about a thousand multiplications
	alpha    sparse // the entering column, by position
	rho      sparse // the leaving row of the basis' inverse
	unit     sparse
	across   []float64 // row r of the tableau, by column
	inRow    []bool
	touch    []int32
	pivots   int
	restarts int
}

const (
	lpTolerance  = 1e-7
	pivotAtLeast = 1e-7
	feasible     = 1e-4
	pivotInDoubt = 1e-5
	lpGive       = 1e-5
)

func newProgram() *program { return &program{start: []int32{0}} }

// addRow adds a row with no entries. Its slack is in the basis.
func (p *program) addRow(limit float64) int32 {
	i := int32(len(p.limit))
	// The golden ratio's multiples spread evenly over the unit interval.
	_, spread := math.Modf(float64(i+1) * 0.6180339887498949)
	p.limit = append(p.limit, limit+lpGive*(1+spread))
	p.rowCol = append(p.rowCol, nil)
	p.rowVal = append(p.rowVal, nil)
	p.slack = append(p.slack, int32(len(p.basis)))
	p.basis = append(p.basis, -1-i)
	p.x = append(p.x, p.limit[i])
	p.ds = append(p.ds, 0)
	p.ws = append(p.ws, 1)
	return i
}

// addColumn adds a column, out of the basis. Entries of the same row must have been added up.
func (p *program) addColumn(cost float64, rows []int32, vals []float64) int32 {
	j := int32(len(p.cost))
	p.cost = append(p.cost, cost)
	for k, i := range rows {
		p.row = append(p.row, i)
		p.val = append(p.val, vals[k])
		p.rowCol[i] = append(p.rowCol[i], j)
		p.rowVal[i] = append(p.rowVal[i], vals[k])
	}
	p.start = append(p.start, int32(len(p.row)))
	p.at = append(p.at, -1)
	p.d = append(p.d, 0)
	p.weight = append(p.weight, 1)
	return j
}

// addCut adds a row over columns that may be broken by the present solution, and with it a column that pays penalty for
// each unit of breach. It returns the row. The columns must be rebuilt before the program is solved.
func (p *program) addCut(limit float64, cols []int32, vals []float64, penalty float64) int32 {
	i := p.addRow(limit)
	used := 0.0
	for k, j := range cols {
		p.rowCol[i] = append(p.rowCol[i], j)
		p.rowVal[i] = append(p.rowVal[i], vals[k])
		used += vals[k] * p.value(j)
	}
	breach := p.addColumn(-penalty, []int32{i}, []float64{-1})
	if left := p.limit[i] - used; left >= 0 {
		p.x[p.slack[i]] = left
	} else {
		at := p.slack[i]
		p.basis[at], p.at[breach], p.slack[i], p.x[at] = breach, at, -1, -left
	}
	return i
}

// rebuildColumns writes the columns anew from the rows.
func (p *program) rebuildColumns() {
	n := len(p.cost)
	next := make([]int32, n+1)
	for _, cols := range p.rowCol {
		for _, j := range cols {
			next[j+1]++
		}
	}
	for j := range n {
		next[j+1] += next[j]
	}
	p.start = append(p.start[:0], next...)
	total := int(next[n])
	p.row, p.val = make([]int32, total), make([]float64, total)
	for i, cols := range p.rowCol {
		for k, j := range cols {
			p.row[next[j]], p.val[next[j]] = int32(i), p.rowVal[i][k]
			next[j]++
		}
	}
}

// value is how much of a column the solution holds.
func (p *program) value(j int32) float64 {
	if p.at[j] < 0 {
		return 0
	}
	return p.x[p.at[j]]
}

// price is the dual price of a row.
func (p *program) price(i int32) float64 { return max(0, -p.ds[i]) }

// solve improves the solution until no column would add to it, or until it has pivoted most times. It reports whether it
// came to the end.
func (p *program) solve(most int) bool {
	if !p.refresh() {
		return false
	}
	for n := 0; n < most; n++ {
		enter, gains := p.entering()
		if !gains {
			if len(p.factor.etas) == 0 {
				return true
			}
			if !p.refresh() { // make sure with a fresh factorisation
				return false
			}
			if enter, gains = p.entering(); !gains {
				return true
			}
		}
		if !p.pivot(enter) {
			return false
		}
		if p.factor.worn() && !p.refresh() {
			return false
		}
	}
	return false
}

// refresh factorises the basis anew and works out the solution and all prices from it.
func (p *program) refresh() bool {
	m := len(p.basis)
	if !p.factorise() {
		return false
	}
	rows := make([]int32, m)
	for i := range rows {
		rows[i] = int32(i)
	}
	p.factor.forward(rows, p.limit, &p.alpha)
	clear(p.x)
	for _, k := range p.alpha.at {
		if v := p.alpha.val[k]; v < -feasible {
			return p.restart()
		} else {
			p.x[k] = max(0, v)
		}
	}
	p.unit.clear(m)
	for k, j := range p.basis {
		if j >= 0 && p.cost[j] != 0 {
			p.unit.set(int32(k), p.cost[j])
		}
	}
	p.factor.backward(&p.unit, &p.rho)
	clear(p.ds)
	for _, i := range p.rho.at {
		if p.slack[i] < 0 {
			p.ds[i] = -p.rho.val[i]
		}
	}
	for j := range p.cost {
		if p.at[j] >= 0 {
			p.d[j] = 0
			continue
		}
		d := p.cost[j]
		for k := p.start[j]; k < p.start[j+1]; k++ {
			d -= p.rho.val[p.row[k]] * p.val[k]
		}
		p.d[j] = d
	}
	p.steps += 1 + (len(p.row)+p.factor.size()*3+m*4)/1000
	return true
}

// restart goes back to the basis of slacks, which every program of this kind allows, after rounding has led astray.
func (p *program) restart() bool {
	p.restarts++
	for i := range p.slack {
		p.slack[i], p.basis[i] = int32(i), int32(-1-i)
	}
	for j := range p.at {
		p.at[j] = -1
	}
	return p.refresh()
}

// entering picks the column or slack that promises most, and reports whether any gains.
func (p *program) entering() (int32, bool) {
	best, pick := 0.0, int32(0)
	for j, d := range p.d {
		if d > lpTolerance {
			if score := d * d / p.weight[j]; score > best && p.at[j] < 0 {
				best, pick = score, int32(j)
			}
		}
	}
	for i, d := range p.ds {
		if d > lpTolerance {
			if score := d * d / p.ws[i]; score > best && p.slack[i] < 0 {
				best, pick = score, int32(-1-i)
			}
		}
	}
	p.steps += (len(p.d) + len(p.ds)) / 4000
	return pick, best > 0
}

// pivot brings a column or slack into the basis, unless the figures are worn and want refreshing first. It reports false
// when the program has no end or the figures fail.
func (p *program) pivot(enter int32) bool {
	var gain float64
	if enter >= 0 {
		gain = p.d[enter]
		p.factor.forward(p.row[p.start[enter]:p.start[enter+1]], p.val[p.start[enter]:p.start[enter+1]], &p.alpha)
	} else {
		gain = p.ds[-1-enter]
		p.factor.forward([]int32{-1 - enter}, []float64{1}, &p.alpha)
	}
	r := p.leaving()
	if len(p.factor.etas) > 0 && (r < 0 || p.alpha.val[r] < pivotInDoubt) {
		return p.refresh() // and choose again on sure ground
	}
	if r < 0 {
		return false
	}
	pivot := p.alpha.val[r]
	step := max(0, p.x[r]/pivot)
	p.unit.clear(len(p.basis))
	p.unit.set(r, 1)
	p.factor.backward(&p.unit, &p.rho)
	p.updatePrices(enter, p.basis[r], gain, pivot)
	for _, k := range p.alpha.at {
		p.x[k] = max(0, p.x[k]-step*p.alpha.val[k])
	}
	p.x[r] = step
	p.enterAt(r, enter)
	p.factor.update(r, &p.alpha)
	p.steps += 1 + (len(p.alpha.at)*3+len(p.rho.at)*3+len(p.factor.etaAt))/1000
	p.pivots++
	return true
}

func (p *program) enterAt(r, enter int32) {
	if old := p.basis[r]; old >= 0 {
		p.at[old] = -1
	} else {
		p.slack[-1-old] = -1
	}
	p.basis[r] = enter
	if enter >= 0 {
		p.at[enter] = r
	} else {
		p.slack[-1-enter] = r
	}
}

// leaving is the ratio test in two passes (Harris): the least ratio with a little give, then the largest pivot within it.
func (p *program) leaving() int32 {
	least := math.Inf(1)
	for _, k := range p.alpha.at {
		if a := p.alpha.val[k]; a > pivotAtLeast {
			least = min(least, (p.x[k]+1e-9)/a)
		}
	}
	pick, size := int32(-1), 0.0
	for _, k := range p.alpha.at {
		if a := p.alpha.val[k]; a > pivotAtLeast && p.x[k]/a <= least && (a > size || a == size && k < pick) {
			pick, size = k, a
		}
	}
	return pick
}

// updatePrices brings the reduced costs and devex weights up to date, given row r of the basis' inverse in rho.
func (p *program) updatePrices(enter, leave int32, gain, pivot float64) {
	ratio := gain / pivot
	var heavy float64
	if enter >= 0 {
		heavy = p.weight[enter]
	} else {
		heavy = p.ws[-1-enter]
	}
	heavy /= pivot * pivot
	for len(p.across) < len(p.cost) {
		p.across = append(p.across, 0)
		p.inRow = append(p.inRow, false)
	}
	p.touch = p.touch[:0]
	for _, i := range p.rho.at {
		rho := p.rho.val[i]
		if math.Abs(rho) < 1e-13 {
			continue
		}
		p.ds[i] -= ratio * rho
		p.ws[i] = max(p.ws[i], rho*rho*heavy)
		vals := p.rowVal[i]
		for k, j := range p.rowCol[i] {
			if !p.inRow[j] {
				p.inRow[j] = true
				p.touch = append(p.touch, j)
			}
			p.across[j] += rho * vals[k]
		}
	}
	for _, j := range p.touch {
		a := p.across[j]
		p.d[j] -= ratio * a
		p.weight[j] = max(p.weight[j], a*a*heavy)
		p.across[j], p.inRow[j] = 0, false
	}
	work := len(p.touch)
	if heavy > 1e8 { // the frame of reference is worn out
		for j := range p.weight {
			p.weight[j] = 1
		}
		for i := range p.ws {
			p.ws[i] = 1
		}
		heavy = 1
	}
	p.steps += work / 500
	if enter >= 0 {
		p.d[enter] = 0
	} else {
		p.ds[-1-enter] = 0
	}
	if leave >= 0 {
		p.d[leave] = -ratio
		p.weight[leave] = max(1, heavy)
	} else {
		p.ds[-1-leave] = -ratio
		p.ws[-1-leave] = max(1, heavy)
	}
}
