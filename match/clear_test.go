package match

import (
	"testing"
)

// A plan keeps every rule, gains no more than the best plan that an exhaustive search finds, and its bound no less.
func TestClearAgainstExhaustiveSearch(t *testing.T) {
	pools := 3000
	if testing.Short() {
		pools = 300
	}
	optimal, traded := 0, 0
	for seed := range pools {
		p := thin(drawPool(dice(seed), 7), 40)
		best, _ := bestPlan(p, allTrades(p))
		plan, bound := Clear(p, Options{Steps: 20_000})
		broken, gain := referee(p, plan.Trades)
		if len(broken) > 0 || gain != plan.Gain {
			t.Fatalf("seed %d: %q, gains %d, says %d", seed, broken, gain, plan.Gain)
		}
		if plan.Gain > best || bound.Gain < best || bound.Optimal && plan.Gain != best {
			t.Fatalf("seed %d: gains %d, bound %d, optimal %t; the best gains %d", seed, plan.Gain, bound.Gain, bound.Optimal, best)
		}
		if best > 0 {
			traded++
			if bound.Optimal {
				optimal++
			}
		}
	}
	t.Logf("%d pools with trades, %d proved", traded, optimal)
	if traded < pools/3 || optimal < traded*9/10 {
		t.Errorf("of %d pools %d have trades, %d are proved", pools, traded, optimal)
	}
}
