package density

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// One coin is a poor scale check, fifty are a good one: the tolerance of one five-cent piece is 0.194 g on 5 g (31 USC
// 5113(a)), near 4 %.
func TestManyCoinsTellMore(t *testing.T) {
	nickel := coins[0]
	one := ScaleCheck{1, nickel, 5, 0.01}
	fifty := ScaleCheck{50, nickel, 250, 0.01}
	if Coverage*one.U() < 0.04 || Coverage*fifty.U() > 0.0065 {
		t.Errorf("one coin is sure to %.2f %%, fifty to %.2f %%", 200*one.U(), 200*fifty.U())
	}
	for reading, off := range map[float64]bool{250: false, 251.2: false, 248.8: false, 253: true, 247: true} {
		fifty.Reading = reading
		if fifty.Off() != off {
			t.Errorf("fifty read %v g, off: %v", reading, fifty.Off())
		}
	}
	if got := (ScaleCheck{50, nickel, 252.5, 0.01}).Bias(); math.Abs(got-0.01) > 1e-12 {
		t.Errorf("252.5 g for 250 is %v", got)
	}
}

// The reach agrees with the uncertainty rows: a scale of 0.01 g tells sterling from fine on an ounce (3.7 sigma) and not
// on a half (1.9), copper on a tenth (4.3) and not on a twentieth of a gram.
func TestReach(t *testing.T) {
	r := ReachOf(0.01)
	if r.FromSterling < 15.55 || r.FromSterling > 31.1 || r.FromCopper > 3.11 || r.FromLead > 7.78 || r.FromLead < r.FromCopper {
		t.Errorf("%+v", r)
	}
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.Float64Range(0.001, 1).Draw(t, "step")
		a, b := ReachOf(step), ReachOf(2*step)
		if math.Abs(b.FromSterling/a.FromSterling-2) > 1e-9 {
			t.Fatalf("twice the step, %v and %v", a, b)
		}
	})
}
