package match

import (
	"cmp"
	"math"
	"slices"
)

// dive rounds the linear program to a plan: again and again the columns nearest to whole are held in, and the program is
// solved anew, with new columns found for what is left. A column is held in by a reward no other columns could match, and
// so the solution at hand stays a solution all along. It returns the columns held, or nothing if stop said so
// before the end.
func (w *master) dive(stop func() bool) []column {
	var most int64
	for i := range w.cols {
		most = max(most, w.cols[i].worth)
	}
	reward := 40 * (1 + float64(most)/unit)
	held := map[int32]bool{}
	taken := map[string]bool{}
	defer w.letGo()
	for {
		if stop() {
			return nil
		}
		if !w.lp.solve(math.MaxInt) {
			return nil
		}
		open := w.partly(held)
		if len(open) == 0 {
			break
		}
		batch := max(1, len(open)/40)
		for i, at := range open {
			x := w.lp.value(w.lpCol[at])
			key := circuitKey(w.cols[at].kind, w.cols[at].arcs)
			if taken[key] || i >= batch && x < 0.99 {
				continue
			}
			held[at], taken[key] = true, true
			w.p.rings[key] = -nothing / 64
			w.lp.cost[w.lpCol[at]] += reward
			w.barTwins(key, at, reward)
		}
		if !w.lp.solve(math.MaxInt) {
			return nil
		}
		w.refine(1)
	}
	var plan []column
	for at := range w.cols {
		if held[int32(at)] && w.lp.value(w.lpCol[at]) > 0.5 {
			plan = append(plan, w.cols[at])
		}
	}
	return plan
}

// partly lists the columns in the solution that are not held, the nearest to whole first.
func (w *master) partly(held map[int32]bool) []int32 {
	var open []int32
	for k, j := range w.lp.basis {
		if j < 0 || w.colAt[j] < 0 || w.lp.x[k] < 1e-3 || held[w.colAt[j]] || w.lp.cost[j] < 0 {
			continue
		}
		open = append(open, w.colAt[j])
	}
	slices.SortFunc(open, func(a, b int32) int {
		return cmp.Or(cmp.Compare(w.lp.value(w.lpCol[b]), w.lp.value(w.lpCol[a])), cmp.Compare(a, b))
	})
	return open
}

// barTwins keeps out all other columns of a circuit of which one is held in.
func (w *master) barTwins(key string, held int32, reward float64) {
	for at := range w.cols {
		c := &w.cols[at]
		if int32(at) != held && len(c.arcs) == (len(key)-1)/4 && circuitKey(c.kind, c.arcs) == key {
			w.lp.cost[w.lpCol[at]] = -reward
		}
	}
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

// refine adds columns found at the program's own prices, so many times.
func (w *master) refine(times int) {
	for range times {
		w.prices(w.p.price)
		offers, _ := w.p.run()
		fresh := 0
		for _, o := range offers {
			if _, ok := w.add(o.column); ok {
				fresh++
			}
		}
		if fresh == 0 {
			return
		}
		w.lp.solve(math.MaxInt)
	}
}
