// Package melt knows what the metal in a piece is worth: mass, fineness, fine metal, melt value and the premium over it,
// exactly; and it reads these as people type them and writes them so that they read back.
//
// It is pure: standard library only, no clock, no randomness, no I/O. No floating point number stands anywhere near
// money. Every computation is exact until its last step, which rounds once, half away from zero, to the minor unit
// that ISO 4217 gives the currency; what does not fit is an error, never a wrong number. What it cannot read it points
// at with a *SyntaxError, and what has two honest readings ("1 oz") it hands back as an *Ambiguous question.
package melt

import (
	"errors"
	"fmt"
	"math/big"
)

// Weight is a mass in nanograms, the round unit in which the troy ounce, the grain, the gram and the avoirdupois ounce
// are all whole numbers.
type Weight int64

// The units people weigh metal in. Sources: troy and avoirdupois units from the grain of 64.79891 mg, NIST SP 811
// Appendix B.9; the troy ounce of 31.1034768 g also UK Weights and Measures Act 1985, Schedule 1 Part V.
const (
	Microgram        Weight = 1_000
	Milligram        Weight = 1_000 * Microgram
	Gram             Weight = 1_000 * Milligram
	Kilogram         Weight = 1_000 * Gram
	Grain            Weight = 64_798_910
	Pennyweight      Weight = 24 * Grain
	TroyOunce        Weight = 480 * Grain
	TroyPound        Weight = 12 * TroyOunce
	AvoirdupoisOunce Weight = 28_349_523_125
	AvoirdupoisPound Weight = 16 * AvoirdupoisOunce
)

// Fineness is parts of the named metal per ten thousand by mass: 9990 is .999, 9250 sterling, 9584 Britannia silver.
type Fineness int32

// Pure is metal with nothing else in it. No refiner sells it; it is the upper bound of a Fineness.
const Pure Fineness = 10_000

// Metal is what a piece is made of. Gross is never fine: a one-ounce .999 piece holds 0.999 troy ounce of silver unless
// its maker made it heavier and says so.
type Metal struct {
	Gross    Weight   // the whole piece, alloy included; 0 when nobody knows
	Fineness Fineness // parts of metal per ten thousand; 0 when nobody knows
	Fine     Weight   // fine metal as the maker states it; 0 when the maker says nothing
}

// Errors about a Metal and about amounts, to be told apart with errors.Is.
var (
	ErrUnknownMetal    = errors.New("neither the fine weight nor both gross weight and fineness are known")
	ErrImpossibleMetal = errors.New("no piece can be made so")
	ErrTooLarge        = errors.New("amount too large to hold")
)

// Known reports whether there is enough to say how much fine metal the piece holds.
func (m Metal) Known() bool { return m.Fine > 0 || m.Gross > 0 && m.Fineness > 0 }

// Check returns ErrImpossibleMetal, wrapped with the reason, when m contradicts itself or nature. A Metal of which
// little or nothing is known passes.
func (m Metal) Check() error {
	switch {
	case m.Gross < 0 || m.Fine < 0:
		return fmt.Errorf("%w: a weight is below zero", ErrImpossibleMetal)
	case m.Fineness < 0 || m.Fineness > Pure:
		return fmt.Errorf("%w: fineness is not between 0 and 1000 parts per thousand", ErrImpossibleMetal)
	case m.Gross > 0 && m.Fine > m.Gross:
		return fmt.Errorf("%w: more fine metal (%v) than the piece weighs (%v)", ErrImpossibleMetal, m.Fine, m.Gross)
	}
	return nil
}

// FineOunces returns the fine metal in troy ounces, exactly: what the maker states when the maker states it, otherwise
// gross times fineness. It is zero when too little is known; see Known.
func (m Metal) FineOunces() *big.Rat {
	return new(big.Rat).Quo(m.fine(), new(big.Rat).SetInt64(int64(TroyOunce)))
}

// FineWeight is FineOunces as a Weight, rounded half up to the nanogram. It is for showing; Value does not round here.
func (m Metal) FineWeight() Weight {
	n, _ := roundToInt64(m.fine()) // at most Gross or Fine, so it always fits
	return Weight(n)
}

// fine is the fine metal in nanograms.
func (m Metal) fine() *big.Rat {
	if m.Fine != 0 {
		return new(big.Rat).SetInt64(int64(m.Fine))
	}
	r := new(big.Rat).SetInt64(int64(m.Gross))
	return r.Mul(r, big.NewRat(int64(m.Fineness), int64(Pure)))
}

// Times returns the metal in n such pieces taken together, so that a stack is rounded once and not once a piece. It
// fails with ErrTooLarge beyond nine thousand tonnes, and with ErrImpossibleMetal when n is below zero.
func (m Metal) Times(n int) (Metal, error) {
	if n < 0 {
		return Metal{}, fmt.Errorf("%w: %d pieces", ErrImpossibleMetal, n)
	}
	gross, err := multiply(int64(m.Gross), int64(n))
	if err != nil {
		return Metal{}, err
	}
	fine, err := multiply(int64(m.Fine), int64(n))
	if err != nil {
		return Metal{}, err
	}
	return Metal{Gross: Weight(gross), Fineness: m.Fineness, Fine: Weight(fine)}, nil
}
