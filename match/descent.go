package match

import "math"

// A descent solves a packing program roughly and fast: the most worth that columns come to while no row is used beyond
// its limit. It is the primal-dual hybrid gradient method with steps by the size of rows and columns (Chambolle and Pock
// 2011; Pock and Chambolle 2011), begun anew from its averages (Applegate et al. 2021). Its prices are good enough to find
// columns and to prove a bound near the best long before the exact method's are.
type descent struct {
	m     *market
	k     *cutting
	rowOf []int32 // by row of the market, or of a cut after them: its place here, or -1
	rows  []int32 // by place, the row of the market or cut
	limit []float64
	cols  []int32 // by place, the column
	cost  []float64
	start []int32 // entries of column j are start[j] to start[j+1]
	row   []int32
	val   []float64

	x, y         []float64
	sumX, sumY   []float64 // since the descent last began
	fromX, fromY []float64 // where it began
	overCol      []float64 // by column: the sum of its entries
	overRow      []float64
	ahead        []float64 // by row: what the columns would use a step on
	weight       float64   // how much longer dual steps are than primal ones
	scale        float64   // a typical cost; prices are in it
	averaged     int
	steps        int
	uses         []int32
}

func newDescent(m *market, k *cutting) *descent {
	return &descent{m: m, k: k, weight: 1, start: []int32{0}}
}

// add takes in a column of a place among others, used x.
func (d *descent) add(c *column, at int32, x float64) {
	d.cols = append(d.cols, at)
	d.cost = append(d.cost, float64(c.worth))
	d.x = append(d.x, x)
	from := len(d.row)
	entry := func(r int32, n float64) {
		i := d.place(r)
		for k := from; k < len(d.row); k++ {
			if d.row[k] == i {
				d.val[k] += n
				return
			}
		}
		d.row, d.val = append(d.row, i), append(d.val, n)
	}
	d.uses = d.m.uses(d.uses[:0], c)
	for _, r := range d.uses {
		entry(r, 1)
	}
	d.k.halves(d.uses, func(c int32, n int64) { entry(d.m.rows+c, float64(n)) })
	if len(d.k.once) > 0 {
		if cut, ok := d.k.once[circuitKey(c.kind, c.arcs)]; ok {
			entry(d.m.rows+cut, 1)
		}
	}
	d.start = append(d.start, int32(len(d.row)))
}

// place is where a row of the market, or of a cut, stands; it is added if need be.
func (d *descent) place(r int32) int32 {
	for int(r) >= len(d.rowOf) {
		d.rowOf = append(d.rowOf, -1)
	}
	i := d.rowOf[r]
	if i < 0 {
		i = int32(len(d.rows))
		d.rowOf[r] = i
		d.rows = append(d.rows, r)
		if r < d.m.rows {
			d.limit = append(d.limit, float64(d.m.capacity[r]))
		} else {
			d.limit = append(d.limit, float64(d.k.cuts[r-d.m.rows].most))
		}
		d.y = append(d.y, 0)
	}
	return i
}

// run takes so many steps, and leaves in x and y averages.
func (d *descent) run(steps int) {
	d.prepare()
	for n := 1; n <= steps; n++ {
		d.step()
		if d.averaged >= max(stretch, n*36/100) || n == steps {
			d.toAverage()
			d.begin()
		}
	}
	d.steps += 1 + steps*(len(d.row)+len(d.rows))/700
}

// stretch is how many steps are averaged, at least, before the descent begins anew.
const stretch = 40

func (d *descent) prepare() {
	n, m := len(d.cost), len(d.rows)
	if d.scale == 0 {
		sum := 0.0
		for _, c := range d.cost {
			sum += c
		}
		d.scale = max(1, sum/float64(max(1, n)))
	}
	for _, v := range []*[]float64{&d.sumX, &d.fromX, &d.overCol} {
		*v = append(*v, make([]float64, n-len(*v))...)
	}
	for _, v := range []*[]float64{&d.sumY, &d.fromY, &d.overRow, &d.ahead} {
		*v = append(*v, make([]float64, m-len(*v))...)
	}
	clear(d.overRow)
	for j := range d.cost {
		d.overCol[j] = 0
		for k := d.start[j]; k < d.start[j+1]; k++ {
			d.overCol[j] += d.val[k]
			d.overRow[d.row[k]] += d.val[k]
		}
	}
	d.begin()
}

func (d *descent) begin() {
	clear(d.sumX)
	clear(d.sumY)
	copy(d.fromX, d.x)
	copy(d.fromY, d.y)
	d.averaged = 0
}

// step moves x along its gain at the prices, and the prices along what the new x, and as much again, uses beyond the
// limits.
func (d *descent) step() {
	clear(d.ahead)
	for j, c := range d.cost {
		gain := c / d.scale
		from, to := d.start[j], d.start[j+1]
		for k := from; k < to; k++ {
			gain -= d.y[d.row[k]] * d.val[k]
		}
		old := d.x[j]
		next := max(0, old+gain/(d.weight*d.overCol[j]))
		d.x[j] = next
		d.sumX[j] += next
		if ahead := 2*next - old; ahead != 0 {
			for k := from; k < to; k++ {
				d.ahead[d.row[k]] += d.val[k] * ahead
			}
		}
	}
	for i, limit := range d.limit {
		v := 0.0
		if d.overRow[i] > 0 {
			v = max(0, d.y[i]+d.weight*(d.ahead[i]-limit)/d.overRow[i])
		}
		d.y[i] = v
		d.sumY[i] += v
	}
	d.averaged++
}

// toAverage goes to the averages, and sets the weight by how far either side has moved.
func (d *descent) toAverage() {
	var movedX, movedY float64
	for j := range d.x {
		d.x[j] = d.sumX[j] / float64(d.averaged)
		movedX += (d.x[j] - d.fromX[j]) * (d.x[j] - d.fromX[j])
	}
	for i := range d.y {
		d.y[i] = d.sumY[i] / float64(d.averaged)
		movedY += (d.y[i] - d.fromY[i]) * (d.y[i] - d.fromY[i])
	}
	if movedX > 1e-12 && movedY > 1e-12 {
		d.weight = math.Sqrt(d.weight * math.Sqrt(movedY/movedX))
	}
}

// prices writes the prices of rows and cuts, in units.
func (d *descent) prices(into []int64) {
	clear(into)
	for i, r := range d.rows {
		into[r] = int64(math.Round(d.y[i] * d.scale))
	}
}

// solution is what the descent holds.
func (d *descent) solution() []share {
	var all []share
	for j, x := range d.x {
		if x > 1e-3 {
			all = append(all, share{d.cols[j], x})
		}
	}
	return all
}
