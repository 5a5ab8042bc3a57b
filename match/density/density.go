// Package density knows what a piece's weight, size and weight in water say about its metal, how surely, and what they
// cannot say.
//
// It is pure: the standard library and match/melt only, no clock, no randomness, no I/O. Masses are grams, lengths
// millimetres, volumes cubic centimetres, densities g/cm³, temperatures °C, all float64: nothing here is money. Every
// density it works out carries a standard uncertainty, and a metal is excluded only when it lies more than two of them
// away. It never says that a piece is what it seems: a density is consistent with some metals and not with others.
package density

import (
	"errors"
	"math"
)

// Coverage is how many standard uncertainties a metal must lie away before it is excluded: two, which leaves about one
// chance in twenty of excluding wrongly (JCGM 100:2008, the "GUM", annex G, for a normal distribution).
const Coverage = 2

// air is the density of conventional air, 0.0012 g/cm³ (OIML D 28; the theory of its buoyancy is NIST SOP 2).
const air = 0.0012

// Errors of a weighing, to be told apart with errors.Is.
var (
	ErrNoWater     = errors.New("the piece displaced no water")
	ErrTemperature = errors.New("water of that temperature cannot be weighed in")
)

// Water returns the density of air-free water at one atmosphere in g/cm³, for 0 to 100 °C.
//
// Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, as quoted in J. Res. NIST 97 (1992) 335. One stored copy of the
// latter prints the denominator as 16.897850E-3; with that the formula misses its own table by 0.3 kg/m³ at 20 °C, and
// with 16.879850E-3 it meets it, which testdata/water.csv holds.
func Water(celsius float64) (float64, error) {
	if !(celsius >= 0 && celsius <= 100) {
		return 0, ErrTemperature
	}
	t := celsius
	above := 999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9+t*-280.54253e-12))))
	return above / (1 + 16.879850e-3*t) / 1000, nil
}

// Measured is a density with its standard uncertainty.
type Measured struct{ Density, U float64 }

// Low and High bound the density at Coverage.
func (m Measured) Low() float64  { return m.Density - Coverage*m.U }
func (m Measured) High() float64 { return m.Density + Coverage*m.U }

// Weighing is a piece weighed dry and under water (Archimedes).
type Weighing struct {
	Dry       float64
	Displaced float64 // what a tared cup of water gains when the piece hangs in it, or dry less the weight under water
	Hung      bool    // Displaced was worked out from the weight under water, so that both readings' errors are in it
	Step      float64 // of the scale; a reading is taken to be sure to one step
	Celsius   float64
	Guessed   bool // nobody measured the temperature
}

// A thermometer in a cup is taken to be sure to 1 °C, and an unmeasured room to 5 °C.
const (
	sureOfRead    = 1.0
	sureOfGuessed = 5.0
)

// Measure works out the density: (dry / displaced) (water - air) + air. The uncertainty is that of the two readings and
// of the water's temperature, combined as independent (GUM 5.1.2).
func (w Weighing) Measure() (Measured, error) {
	water, err := Water(w.Celsius)
	if err != nil {
		return Measured{}, err
	}
	if !(w.Displaced > 0 && w.Dry > 0) {
		return Measured{}, ErrNoWater
	}
	rho := w.Dry/w.Displaced*(water-air) + air
	if math.IsInf(rho, 0) {
		return Measured{}, ErrNoWater
	}
	readings := math.Hypot(w.Step/w.Dry, w.Step/w.Displaced)
	if w.Hung { // displaced = dry - wet, so that dry counts twice, against itself
		readings = math.Hypot(w.Dry, w.Dry-w.Displaced) * w.Step / (w.Dry * w.Displaced)
	}
	return Measured{rho, rho * math.Hypot(readings, w.waterU(water)/water)}, nil
}

// waterU is how much the water's density may be off by its temperature.
func (w Weighing) waterU(water float64) float64 {
	sure := sureOfRead
	if w.Guessed {
		sure = sureOfGuessed
	}
	most := 0.0
	for _, t := range []float64{w.Celsius - sure, w.Celsius + sure} {
		if other, err := Water(min(max(t, 0), 100)); err == nil {
			most = max(most, math.Abs(other-water))
		}
	}
	return most
}

// Spread is the standard uncertainty of the density of a piece of this mass and about this density, weighed dry and by
// the water it displaces at 20 °C on a scale with this step.
func Spread(mass, density, step float64) float64 {
	water, _ := Water(20)
	return step * density / mass * math.Hypot(1, density/water)
}

// Least is the smallest mass at which such a weighing tells two densities apart at Coverage: Spread solved for the mass.
func Least(density, other, step float64) float64 {
	return Coverage * Spread(1, density, step) / math.Abs(density-other)
}

// Mix is the density of metals mixed by mass share, the volumes adding up: 1/ρ = Σ wᵢ/ρᵢ. Shares that do not add up to
// one are scaled.
func Mix(parts ...Part) float64 {
	var mass, volume float64
	for _, p := range parts {
		mass += p.Share
		volume += p.Share / p.Density
	}
	return mass / volume
}

// Part is a metal's share by mass in a mixture.
type Part struct{ Share, Density float64 }

// ShareOf is the share by mass of a metal a that, with b making up the rest, has the density rho; outside 0 to 1 when no
// mixture has.
func ShareOf(rho, a, b float64) float64 { return (1/rho - 1/b) / (1/a - 1/b) }
