// Package melt knows what the metal in a piece is worth: mass, fineness, fine metal and melt value, exactly.
//
// It is pure: standard library only, no clock, no randomness, no I/O. No floating point number stands anywhere near
// money. Every computation is exact until its last step, which rounds once, half away from zero, to the minor unit
// that ISO 4217 gives the currency.
package melt

// Minor is an amount of money in its currency's minor unit (ISO 4217): cents for USD, yen for JPY, fils for KWD.
type Minor int64

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
	AvoirdupoisOunce Weight = 28_349_523_125
)

// Fineness is parts of the named metal per ten thousand by mass: 9990 is .999, 9250 sterling, 9584 Britannia silver.
type Fineness int32

// Metal is what a piece is made of. Gross is never fine: a one-ounce .999 piece holds 0.999 troy ounce of silver unless
// its maker made it heavier and says so.
type Metal struct {
	Gross    Weight   // the whole piece, alloy included; 0 when nobody knows
	Fineness Fineness // parts of metal per ten thousand
	Fine     Weight   // fine metal as the maker states it; 0 when the maker says nothing
}
