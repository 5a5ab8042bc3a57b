package match

import (
	"fmt"
	"strings"
	"testing"

	"spareounce/match/melt"
)

// optima are those of the five given pools of 30 members, proved by a general solver: by swaps alone and with rings of
// three. Open is one of which only a plan is known, which the optimum is not below.
var optima = []struct {
	pool         string
	swaps, rings melt.Minor
	open         bool
}{
	{"m30.json", 138_534, 180_483, false},
	{"m30-2.json", 231_894, 282_795, false},
	{"m30-3.json", 117_161, 139_834, true},
	{"m30-4.json", 46_474, 57_235, false},
	{"m30-5.json", 111_090, 128_391, false},
}

// Swaps come to the proved optimum. With rings of three, what is proved is the optimum, and otherwise the plan stays
// below it and the bound above, and near.
func TestGivenPoolsOfThirtyMembers(t *testing.T) {
	for _, c := range optima {
		t.Run(strings.TrimSuffix(c.pool, ".json"), func(t *testing.T) {
			p := givenPool(t, c.pool)
			p.Ring = 2
			if plan := proved(t, p, 20_000_000); plan.Gain != c.swaps {
				t.Errorf("swaps gain %d, proved is %d", plan.Gain, c.swaps)
			}
			if testing.Short() {
				return
			}
			p.Ring = 3
			plan, bound := Clear(p, Options{Steps: 2_000_000})
			if broken, gain := referee(p, plan.Trades); len(broken) > 0 || gain != plan.Gain {
				t.Errorf("%q: gains %d, says %d", broken, gain, plan.Gain)
			}
			if plan.Gain > c.rings && !c.open || bound.Gain < c.rings || plan.Gain*100 < c.rings*97 || bound.Gain*100 > c.rings*103 ||
				bound.Optimal != (bound.Gain == plan.Gain) {
				t.Errorf("rings to three: gains %d, bound %d, known is %d", plan.Gain, bound.Gain, c.rings)
			}
		})
	}
}

// However the work is divided and however often it is done, the same pool gives the same plan, to the byte.
func TestGivenPoolsGiveTheSameBytes(t *testing.T) {
	p := givenPool(t, "m30-4.json")
	first := planBytes(t, p, 1_000_000)
	for range 2 {
		if again := planBytes(t, p, 1_000_000); again != first {
			t.Fatalf("two runs differ:\n%s\n%s", first, again)
		}
	}
}

func planBytes(t fataler, p *Pool, steps int) string {
	var text strings.Builder
	plan, bound := Clear(p, Options{Steps: steps})
	if err := WritePlan(&text, plan, bound); err != nil {
		t.Fatalf("%v", err)
	}
	return fmt.Sprintf("%s%+v", &text, bound)
}
