package melt

import (
	"math/big"
	"strconv"
)

// Price is the price of one troy ounce of fine metal in hundred-millionths (1e-8) of the currency's major unit, which
// is exact for what feeds publish. The currency travels beside it.
type Price int64

// PriceUnit is a Price of one major unit: one dollar an ounce, one yen an ounce.
const PriceUnit Price = 100_000_000

const (
	priceDecimals   = 8
	longestExponent = 30
)

// ParsePrice reads a price per troy ounce, a number and nothing else: "31.20", "31,20", "1,234.50", and as some feeds
// write it "6.0617e1". It must be above zero and have no digit beyond the eighth decimal; PriceOf takes what was computed
// and has more. A comma before three digits ("31,205") is refused, since it may be either separator. Errors are
// *SyntaxError.
func ParsePrice(text string) (Price, error) {
	r, err := newReader(text)
	if err != nil {
		return 0, err
	}
	n, err := r.number(priceDecimals)
	if err != nil {
		return 0, err
	}
	units := n.value.Mul(n.value, big.NewRat(int64(PriceUnit), 1))
	if r.takeAny("e", "E") {
		if err := r.scale(units); err != nil {
			return 0, err
		}
	}
	whole := word{text[n.col:r.at], n.col}
	if rest := r.rest(); rest.text != "" {
		return 0, rest.wrong("a price is a number only, like 31.20")
	}
	switch {
	case units.Sign() <= 0:
		return 0, whole.wrong("a price is above zero")
	case !units.IsInt():
		return 0, whole.wrong("a price has at most %d decimals", priceDecimals)
	case !units.Num().IsInt64():
		return 0, whole.wrong("the price is too large")
	}
	return Price(units.Num().Int64()), nil
}

// scale reads an exponent and multiplies value by that power of ten. It refuses one that no price has before raising
// anything to it.
func (r *reader) scale(value *big.Rat) error {
	w := r.take(func(c rune) bool { return isDigit(c) || c == '-' || c == '+' })
	exponent, err := strconv.Atoi(w.text)
	if err != nil || exponent < -longestExponent || exponent > longestExponent {
		return w.wrong("this is no exponent of a price")
	}
	power := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(exponent, -exponent))), nil))
	if exponent < 0 {
		power.Inv(power)
	}
	value.Mul(value, power)
	return nil
}

// PriceOf returns the Price nearest to an exact price per troy ounce in major units, rounded half away from zero: for
// a price computed from one per gram or from ounces per dollar. It fails with ErrNoPrice when nothing above zero is
// left and with ErrTooLarge beyond ninety thousand million.
func PriceOf(perOunce *big.Rat) (Price, error) {
	units, err := roundToInt64(new(big.Rat).Mul(perOunce, big.NewRat(int64(PriceUnit), 1)))
	if err != nil {
		return 0, err
	}
	if units <= 0 {
		return 0, ErrNoPrice
	}
	return Price(units), nil
}

// Rat returns p in major units, exactly.
func (p Price) Rat() *big.Rat { return big.NewRat(int64(p), int64(PriceUnit)) }

// String writes p exactly, with two decimals or as many more as it takes: "31.20", "60.61747286". It reads back.
func (p Price) String() string { return formatDecimal(int64(p), priceDecimals, 2) }
