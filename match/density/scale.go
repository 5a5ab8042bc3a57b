package density

import (
	"math"
	"slices"
)

// Coin is a coin of everyday money whose mass a law sets.
type Coin struct {
	Name      string
	Mass      float64
	Tolerance float64 // how far one coin may be off when new, in grams
}

// usualTolerance is the share by which a coin may be off when no law that we have seen says: that of the coins of which
// one does.
const usualTolerance = 0.04

// coins. Sources: United States, 31 USC 5112(a) (masses; seen) and 5113(a) (±0.194 g for five cents; seen); euro, Council
// Regulation (EC) No 975/98 as the EU's own summary of it gives the masses (seen; replaced by (EU) No 729/2014).
var coins = []Coin{
	{"US 5 c", 5, 0.194},
	{"US 10 c", 2.268, 0},
	{"US 25 c", 5.67, 0},
	{"US 50 c", 11.34, 0},
	{"50 euro cent", 7.8, 0},
	{"1 euro", 7.5, 0},
	{"2 euro", 8.5, 0},
}

// Coins lists the coins a scale can be held against by name.
func Coins() []Coin { return slices.Clone(coins) }

// tolerance is how far one coin may be off.
func (c Coin) tolerance() float64 {
	if c.Tolerance > 0 {
		return c.Tolerance
	}
	return usualTolerance * c.Mass
}

// ScaleCheck is a number of equal coins weighed together.
type ScaleCheck struct {
	Count   int
	Coin    Coin
	Reading float64
	Step    float64
}

// Legal is what the coins should weigh.
func (c ScaleCheck) Legal() float64 { return float64(c.Count) * c.Coin.Mass }

// Bias is how much the scale reads too high, as a share of the mass; below zero when it reads too low.
func (c ScaleCheck) Bias() float64 { return c.Reading/c.Legal() - 1 }

// U is the standard uncertainty of Bias: the coins', each anywhere within its tolerance and independent of the others
// (GUM 4.3.7: the limit over √3), and one step of the scale. Wear is not in it; it makes coins lighter.
func (c ScaleCheck) U() float64 {
	ofCoins := c.Coin.tolerance() / math.Sqrt(3) * math.Sqrt(float64(c.Count))
	return math.Hypot(ofCoins, c.Step) / c.Legal()
}

// Off reports whether the scale is off by more than the coins can explain at Coverage.
func (c ScaleCheck) Off() bool { return math.Abs(c.Bias()) > Coverage*c.U() }

// Reach is the smallest pieces that a scale can judge by weighing them dry and in water. An error of the scale that grows
// with the weight cancels in a density, so only the step counts.
type Reach struct {
	FromCopper   float64 // grams: from here up, silver is told from copper
	FromLead     float64
	FromSterling float64 // fine silver from sterling
}

// ReachOf works out the reach of a scale with this step.
func ReachOf(step float64) Reach {
	fine, sterling := Silver("", 9990).Range.Middle(), Silver("", 9250).Range.Middle()
	return Reach{Least(fine, copper.Middle(), step), Least(fine, lead.Middle(), step), Least(fine, sterling, step)}
}
