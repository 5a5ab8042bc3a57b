package match

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The solution keeps every row, the prices are at or above zero and leave no column worth more than it uses, and both
// come to the same value: which proves the solution best (duality; Gale, Kuhn and Tucker 1951).
func TestProgramIsSolvedAsDualityProves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		p := newProgram()
		rows := 1 + d.upTo(60)
		for range rows {
			p.addRow(float64(1 + d.upTo(2)))
		}
		for range 3 {
			for range 1 + d.upTo(80) {
				var in []int32
				var vals []float64
				for i := range rows {
					if d.upTo(rows) < 4 {
						in, vals = append(in, int32(i)), append(vals, float64(1+d.upTo(1)))
					}
				}
				if len(in) > 0 {
					p.addColumn(float64(d.upTo(1000)), in, vals)
				}
			}
			if !p.solve(math.MaxInt) {
				t.Fatal("not solved")
			}
			checkDuality(t, p)
		}
		var cols []int32
		var vals []float64
		for j := range p.cost {
			if p.value(int32(j)) > 0.3 && len(cols) < 5 {
				cols, vals = append(cols, int32(j)), append(vals, 1)
			}
		}
		p.addCut(1, cols, vals, 1e6)
		p.rebuildColumns()
		if !p.solve(math.MaxInt) {
			t.Fatal("not solved")
		}
		checkDuality(t, p)
	})
}

type fataler interface{ Fatalf(string, ...any) }

func checkDuality(t fataler, p *program) {
	var value, priced float64
	for i, limit := range p.limit {
		used := 0.0
		for k, j := range p.rowCol[i] {
			used += p.rowVal[i][k] * p.value(j)
		}
		if used > limit+1e-6 {
			t.Fatalf("row %d holds %g of %g", i, used, limit)
		}
		priced += p.price(int32(i)) * limit
	}
	for j, c := range p.cost {
		value += c * p.value(int32(j))
		for k := p.start[j]; k < p.start[j+1]; k++ {
			c -= p.price(p.row[k]) * p.val[k]
		}
		if c > 1e-4 {
			t.Fatalf("column %d is worth %g more than it uses", j, c)
		}
	}
	if math.Abs(value-priced) > 1e-6*(1+value) {
		t.Fatalf("the solution is worth %g, the prices say %g", value, priced)
	}
}
