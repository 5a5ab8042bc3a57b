package series

// Luck is what finishing a set by chance takes: pieces come up one by one, each of Kinds equally often and independent of
// the last, and Lacking of the kinds are still wanted. Real pieces are not equally common, so it is the least that chance
// takes, not a forecast.
type Luck struct {
	Kinds   int // in the set, at most 5000
	Lacking int // of them, from 0 to Kinds
}

// mostKinds bounds the work; no series is so long.
const mostKinds = 5000

// valid is l within its bounds.
func (l Luck) valid() Luck {
	l.Kinds = min(max(l.Kinds, 0), mostKinds)
	l.Lacking = min(max(l.Lacking, 0), l.Kinds)
	return l
}

// Mean is the expected number of further draws: n·H(k), the coupon collector's sum n/k + … + n/1.
func (l Luck) Mean() float64 {
	l = l.valid()
	mean := 0.0
	for k := 1; k <= l.Lacking; k++ {
		mean += float64(l.Kinds) / float64(k)
	}
	return mean
}

// Median is the least number of further draws after which the set is as likely finished as not. It lies below the mean,
// which a few very unlucky collectors pull up.
func (l Luck) Median() int {
	l = l.valid()
	n := float64(l.Kinds)
	chance := make([]float64, l.Lacking+1) // by how many are lacking still
	chance[l.Lacking] = 1
	draws := 0
	for ; chance[0] < 0.5; draws++ {
		for k := 1; k <= l.Lacking; k++ { // upwards, so that one draw moves each at most once
			found := chance[k] * float64(k) / n
			chance[k-1] += found
			chance[k] -= found
		}
	}
	return draws
}

// MeanWithSwaps is Mean when some of the lacking kinds are to be had by swapping: every draw that finds none of the others
// is swapped for one of those, one for one, until all of them have come in. Swappable is how many of the lacking kinds
// can be swapped for. It holds at best, as when each partner takes whatever was drawn.
func (l Luck) MeanWithSwaps(swappable int) float64 {
	l = l.valid()
	swappable = min(max(swappable, 0), l.Lacking)
	byLuck := l.Lacking - swappable
	n := float64(l.Kinds)
	// mean[s] is the expected draws with k kinds to be found by luck and s swaps to be made.
	mean := make([]float64, swappable+1)
	for s := range mean {
		mean[s] = float64(s)
	}
	for k := 1; k <= byLuck; k++ {
		p := float64(k) / n // finds one of the k
		next := make([]float64, swappable+1)
		next[0] = 1/p + mean[0]
		for s := 1; s <= swappable; s++ {
			next[s] = 1 + p*mean[s] + (1-p)*next[s-1]
		}
		mean = next
	}
	return mean[swappable]
}
