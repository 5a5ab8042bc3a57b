package trade

import "math"

// Interval is a range of shares, from 0 to 1.
type Interval struct{ Low, High float64 }

// z95 is the 97.5th percentile of the standard normal distribution, for an interval that is right 95 times in a hundred.
const z95 = 1.959963984540054

// OnTime is what so many parcels sent in time out of all say of the share a member sends in time: the score interval at 95%
// of E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the American
// Statistical Association 22 (1927), 209-212. It is wide where there is little to go by: of none it is everything.
func OnTime(inTime, all int) Interval {
	if all <= 0 {
		return Interval{0, 1}
	}
	n := float64(all)
	share := float64(inTime) / n
	middle := share + z95*z95/(2*n)
	spread := z95 * math.Sqrt(share*(1-share)/n+z95*z95/(4*n*n))
	whole := 1 + z95*z95/n
	return Interval{max(0, (middle-spread)/whole), min(1, (middle+spread)/whole)}
}
