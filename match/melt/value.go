package melt

import (
	"errors"
	"fmt"
	"math"
	"math/big"
)

// Minor is an amount of money in its currency's minor unit (ISO 4217): cents for USD, yen for JPY, fils for KWD.
type Minor int64

// Add returns a + b, or ErrTooLarge.
func (a Minor) Add(b Minor) (Minor, error) {
	sum := a + b
	if b > 0 && sum < a || b < 0 && sum > a {
		return 0, ErrTooLarge
	}
	return sum, nil
}

// Times returns n times a, or ErrTooLarge.
func (a Minor) Times(n int) (Minor, error) {
	product, err := multiply(int64(a), int64(n))
	return Minor(product), err
}

// Errors that Value and its kin return besides those about the metal.
var (
	ErrNoPrice     = errors.New("the metal's price is not above zero")
	ErrNoMinorUnit = errors.New("not a currency with a minor unit in ISO 4217")
)

// Value returns the melt value of m: fine troy ounces times spot, exact, rounded once, half away from zero, to c's
// minor unit. It fails when too little is known of the metal (ErrUnknownMetal) or what is known cannot be
// (ErrImpossibleMetal), when spot is not above zero (ErrNoPrice), when c is unknown or has no minor unit, as XAG has
// none (ErrNoMinorUnit), and when the value does not fit a Minor (ErrTooLarge).
func Value(m Metal, spot Price, c Currency) (Minor, error) {
	exact, err := exactValue(m, spot, c)
	if err != nil {
		return 0, fmt.Errorf("melt value: %w", err)
	}
	n, err := roundToInt64(exact)
	if err != nil {
		return 0, fmt.Errorf("melt value in %s: %w", c, err)
	}
	return Minor(n), nil
}

// exactValue is the melt value in minor units of c, not yet rounded.
func exactValue(m Metal, spot Price, c Currency) (*big.Rat, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	if !m.Known() {
		return nil, ErrUnknownMetal
	}
	if spot <= 0 {
		return nil, ErrNoPrice
	}
	perMajor, err := c.minorPerMajor()
	if err != nil {
		return nil, err
	}
	value := m.FineOunces()
	value.Mul(value, spot.Rat())
	return value.Mul(value, new(big.Rat).SetInt64(perMajor)), nil
}

// roundToInt64 rounds half away from zero, and fails with ErrTooLarge when the result does not fit.
func roundToInt64(r *big.Rat) (int64, error) {
	// |r| + 1/2, rounded down, is (2|num| + den) / (2 den).
	twice := new(big.Int).Lsh(new(big.Int).Abs(r.Num()), 1)
	n := twice.Add(twice, r.Denom())
	n.Quo(n, new(big.Int).Lsh(r.Denom(), 1))
	if r.Sign() < 0 {
		n.Neg(n)
	}
	if !n.IsInt64() {
		return 0, ErrTooLarge
	}
	return n.Int64(), nil
}

// multiply returns a times b, or ErrTooLarge.
func multiply(a, b int64) (int64, error) {
	product := a * b
	if a != 0 && (product/a != b || a == -1 && b == math.MinInt64) {
		return 0, ErrTooLarge
	}
	return product, nil
}
