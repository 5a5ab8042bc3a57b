package trade_test

import (
	"math"
	"testing"

	"spareounce/match/trade"
)

// R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven methods", Statistics in
// Medicine 17 (1998), 857-872, Table I, the score method without continuity correction (method 3). The four examples and
// their limits are written down from memory.
func TestOnTimeIsThePublishedInterval(t *testing.T) {
	for _, c := range []struct {
		inTime, all int
		low, high   float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		got := trade.OnTime(c.inTime, c.all)
		if math.Abs(got.Low-c.low) > 0.00005 || math.Abs(got.High-c.high) > 0.00005 {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f", c.inTime, c.all, got.Low, got.High, c.low, c.high)
		}
		mirrored := trade.OnTime(c.all-c.inTime, c.all)
		if math.Abs(mirrored.Low-(1-got.High)) > 1e-12 || math.Abs(mirrored.High-(1-got.Low)) > 1e-12 {
			t.Errorf("%d of %d: %v is not the mirror of %v", c.all-c.inTime, c.all, mirrored, got)
		}
	}
	if got := trade.OnTime(0, 0); got != (trade.Interval{Low: 0, High: 1}) {
		t.Errorf("of nothing: %v", got)
	}
}
