package match

import (
	"fmt"
	"os"
	"testing"
	"time"
)

func readPoolFile(t testing.TB, name string) *Pool {
	dir := os.Getenv("SPAREOUNCE_MATCHING_DATA")
	if dir == "" {
		t.Skip("SKIPPED: SPAREOUNCE_MATCHING_DATA names no folder of pools")
	}
	f, err := os.Open(dir + "/pools/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := ReadPool(f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestTry(t *testing.T) {
	p := readPoolFile(t, os.Getenv("POOL"))
	if os.Getenv("RING") != "" {
		fmt.Sscan(os.Getenv("RING"), &p.Ring)
	}
	fmt.Sscan(os.Getenv("GIVE"), &lpGive)
	t0 := time.Now()
	m := newMarket(newBook(p), func(int) int64 { return unit })
	w := newMaster(m)
	n := 0
	fmt.Println("market", time.Since(t0), len(m.arcs), len(m.all))
	w.generate(1<<60, func() {
		n++
		v := 0.0
		for k, j := range w.lp.basis {
			if j >= 0 {
				v += w.lp.x[k] * w.lp.cost[j]
			}
		}
		if n%10 == 1 || len(w.p.found) < 0 {
			fmt.Printf("%d %v cols %d rows %d found %d lp %.1f bound %.1f best %.1f steps %d %d\n", n, time.Since(t0).Round(time.Millisecond), len(w.cols), len(w.lp.limit), len(w.p.found), v, 0.0, float64(w.best)/unit, w.p.steps, w.lp.steps)
		}
	})
	v := 0.0
	frac := 0
	for k, j := range w.lp.basis {
		if j >= 0 {
			v += w.lp.x[k] * w.lp.cost[j]
			if w.lp.x[k] > 0.001 && w.lp.x[k] < 0.999 {
				frac++
			}
		}
	}
	fmt.Printf("pivots %d size %d  end %d %v cols %d rows %d lp %.1f best %.1f frac %d\n", w.lp.pivots, w.lp.factor.size(), n, time.Since(t0).Round(time.Millisecond), len(w.cols), len(w.lp.limit), v, float64(w.best)/unit, frac)
}
