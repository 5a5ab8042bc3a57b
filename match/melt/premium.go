package melt

import (
	"errors"
	"fmt"
	"math/big"
)

// A Premium is what a price is above the melt value of the metal in it; below it when negative, as is usual for common
// scrap. PremiumOf measures one.
type Premium struct {
	Money    Minor    // price less melt value, so that the three always add up as shown
	PerOunce Minor    // per troy ounce of fine metal, rounded half away from zero
	Percent  *big.Rat // of the melt value, exact
}

// PremiumOf returns the premium in price for m at that spot. Percent and PerOunce are computed from the melt value
// before it is rounded: on a tenth of an ounce the rounded one would shift them. It fails as Value does.
func PremiumOf(price Minor, m Metal, spot Price, c Currency) (Premium, error) {
	exact, err := exactValue(m, spot, c)
	if err != nil {
		return Premium{}, fmt.Errorf("premium: %w", err)
	}
	value, err := roundToInt64(exact)
	if err != nil {
		return Premium{}, fmt.Errorf("premium: %w", err)
	}
	money, err := price.Add(-Minor(value))
	if err != nil {
		return Premium{}, fmt.Errorf("premium: %w", err)
	}
	over := new(big.Rat).Sub(new(big.Rat).SetInt64(int64(price)), exact)
	perOunce, err := roundToInt64(new(big.Rat).Quo(over, m.FineOunces()))
	if err != nil {
		return Premium{}, fmt.Errorf("premium per ounce: %w", err)
	}
	percent := over.Quo(over, exact)
	return Premium{
		Money:    money,
		PerOunce: Minor(perOunce),
		Percent:  percent.Mul(percent, big.NewRat(100, 1)),
	}, nil
}

// PercentString writes the percentage to one decimal, rounded half away from zero: "4.3%", "-0.9%".
func (p Premium) PercentString() string {
	if p.Percent == nil {
		return "0.0%"
	}
	text := p.Percent.FloatString(1)
	if text == "-0.0" {
		text = "0.0"
	}
	return text + "%"
}

// A Markup is what is asked above melt value, in any of the three ways it is asked; those that are not zero add up. The
// zero Markup asks melt value itself. Each may be negative: a discount.
type Markup struct {
	BasisPoints int   // of the melt value, in hundredths of a percent: 250 is 2.5 %
	PerOunce    Minor // for each troy ounce of fine metal
	PerPiece    Minor
}

// ErrBelowZero is returned when a discount is larger than the value it is taken off.
var ErrBelowZero = errors.New("the discount is larger than the value")

// ValueWith is Value with a markup upon it: exact, rounded once. It fails as Value does, and with ErrBelowZero.
func ValueWith(m Metal, spot Price, c Currency, k Markup) (Minor, error) {
	base, err := exactValue(m, spot, c)
	if err != nil {
		return 0, fmt.Errorf("value: %w", err)
	}
	total := new(big.Rat).Set(base)
	total.Add(total, base.Mul(base, big.NewRat(int64(k.BasisPoints), 10_000)))
	total.Add(total, new(big.Rat).Mul(m.FineOunces(), new(big.Rat).SetInt64(int64(k.PerOunce))))
	total.Add(total, new(big.Rat).SetInt64(int64(k.PerPiece)))
	if total.Sign() < 0 {
		return 0, fmt.Errorf("value: %w", ErrBelowZero)
	}
	n, err := roundToInt64(total)
	if err != nil {
		return 0, fmt.Errorf("value in %s: %w", c, err)
	}
	return Minor(n), nil
}
