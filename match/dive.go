package match

import (
	"cmp"
	"slices"
)

// A dive rounds the program to a plan: again and again the columns nearest to whole are put in the plan, and the program
// of what they leave is solved anew, with new columns found for it.
type dive struct {
	w     *master
	d     *descent
	p     *planner
	left  []int64 // by row of the market
	price []int64
	taken map[string]bool
	steps int  // of a descent between two roundings
	apart bool // columns of a circuit are not counted together
	share int  // what part of the circuits in the solution is rounded at once at most
}

// dive makes a plan from the columns that the descent d holds, or a part of one when the steps run out. Dives of different
// turns go about it a little differently.
func (c *clearing) dive(d *descent, turn int) {
	if c.done() {
		return
	}
	w := c.w
	c.p.replace(nil)
	v := &dive{w: w, d: d, p: c.p, left: c.p.left, taken: map[string]bool{}, price: make([]int64, len(w.p.price))}
	v.steps, v.share = 160+40*(turn%5), 60+20*(turn%4)
	v.apart = (turn%2 == 0) == (w.p.upTo == 2)
	defer func() {
		clear(w.p.rings)
		w.p.counts = w.m.capacity[:len(w.m.b.spares)]
	}()
	w.p.counts = v.left[:len(w.m.b.spares)]
	v.restart()
	for round := 0; len(v.d.cols) > 0 && !c.spent(); round++ {
		v.d.run(v.steps)
		if round%2 == 1 {
			v.find()
			v.d.run(v.steps)
		}
		v.round()
		w.extra += v.d.steps
		v.restart()
	}
	c.p.keep()
	c.learn()
	c.tell()
}

// restart makes a descent of the columns that still fit.
func (v *dive) restart() {
	w, old := v.w, v.d
	d := newDescent(w.m, w.k)
	d.weight, d.scale = old.weight, old.scale
	for j, at := range old.cols {
		if v.fits(&w.cols[at]) {
			d.add(&w.cols[at], at, old.x[j])
		}
	}
	v.limit(d)
	used := v.used()
	for i, r := range d.rows {
		if r >= w.m.rows {
			d.limit[i] -= float64(used[r-w.m.rows])
		}
		if int(r) < len(old.rowOf) && old.rowOf[r] >= 0 {
			d.y[i] = old.y[old.rowOf[r]]
		}
	}
	v.d = d
}

// limit sets the limits of a descent's rows of the market to what the plan leaves.
func (v *dive) limit(d *descent) {
	for i, r := range d.rows {
		if r < v.w.m.rows {
			d.limit[i] = float64(v.left[r])
		}
	}
}

// used is what the plan uses of each cut.
func (v *dive) used() []int64 {
	used := make([]int64, len(v.w.k.cuts))
	for _, at := range v.p.plan {
		v.w.uses = v.w.m.uses(v.w.uses[:0], &v.p.in[at])
		v.w.k.halves(v.w.uses, func(c int32, n int64) { used[c] += n })
	}
	return used
}

func (v *dive) fits(c *column) bool {
	m := v.w.m
	v.w.uses = m.uses(v.w.uses[:0], c)
	ok := true
	for _, r := range v.w.uses {
		v.left[r]--
		ok = ok && v.left[r] >= 0
	}
	for _, r := range v.w.uses {
		v.left[r]++
	}
	return ok && !v.taken[circuitKey(c.kind, c.arcs)]
}

// held is a circuit and how much of the solution it is, whatever its bundles.
type held struct {
	at   int32 // in the planner
	x    float64
	most int32 // the column with most of it
}

// round puts the circuits nearest to whole in the plan, each with the bundles that are worth most above the prices.
func (v *dive) round() {
	d, p := v.d, v.p
	d.prices(v.price)
	copy(p.guide, v.price)
	place := map[int32]int{}
	var all []held
	for j, x := range d.x {
		if x < 1e-3 {
			continue
		}
		c := &v.w.cols[d.cols[j]]
		at := p.learn(c.kind, c.arcs)
		k, ok := place[at]
		if !ok || v.apart {
			k = len(all)
			place[at] = k
			all = append(all, held{at: at, most: int32(j)})
		}
		all[k].x += x
		if x > d.x[all[k].most] {
			all[k].most = int32(j)
		}
	}
	if len(all) == 0 {
		v.d.cols = nil
		return
	}
	slices.SortFunc(all, func(a, b held) int { return cmp.Or(cmp.Compare(b.x, a.x), cmp.Compare(a.at, b.at)) })
	batch := 1 + len(all)/v.share
	for i, h := range all {
		if i >= batch && h.x < 0.95 {
			break
		}
		if v.apart && v.p.in[h.at].arcs != nil {
			continue
		}
		if c := &v.w.cols[d.cols[h.most]]; c.worth > 0 && v.fits(c) {
			v.take(h.at, *c)
		}
	}
}

func (v *dive) take(at int32, c column) {
	v.p.put(at, c)
	key := circuitKey(c.kind, c.arcs)
	v.taken[key] = true
	v.w.p.rings[key] = -nothing / 64
}

// find adds columns for what the plan leaves.
func (v *dive) find() {
	w := v.w
	v.d.prices(w.p.price)
	for r, n := range v.left {
		if n == 0 {
			w.p.price[r] = -nothing / 1024
		}
	}
	offers, _ := w.p.run()
	for _, o := range offers {
		if at, fresh := w.add(o.column); fresh && v.fits(&o.column) {
			v.d.add(&w.cols[at], at, 0)
		}
	}
	v.limit(v.d)
}
