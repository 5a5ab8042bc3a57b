package density

import "math"

// Size is a piece as calipers find it. A round has a diameter, a bar a length and a width. The thickness is at the thickest
// place, which on a round is the rim: calipers reach no further in.
type Size struct {
	Diameter      float64
	Length, Width float64
	Thickness     float64
	Step          float64 // of the calipers
}

// sureOfCalipers is what hand-held calipers are taken to be sure to, however fine their display: 0.03 mm (common practice).
const sureOfCalipers = 0.03

// Area is the face in mm². A bar's corners are taken as square, so that it can only be too large.
func (s Size) Area() float64 {
	if s.Diameter > 0 {
		return math.Pi / 4 * s.Diameter * s.Diameter
	}
	return s.Length * s.Width
}

// MeanThickness is how thick a solid piece of this mass and density is on average over its face, in mm.
func MeanThickness(mass, density, area float64) float64 { return mass / density * 1000 / area }

// usualShare is the least share of the thickness at the rim that the mean of a struck round is taken to be: an assumption
// of ours, with room below the one-ounce coin of 40.6 mm, whose mean is 2.29 mm under a rim of 2.98 mm, or 77 %.
const usualShare = 0.65

// Fit is how a solid piece of a material would sit in the size that was measured.
type Fit int

const (
	Usual   Fit = iota // as struck rounds are
	Sunken             // much thinner than its rim: unusual, and no more than that
	NoRoom             // it would be larger than it is, which cannot be
	Unsized            // nothing to hold it against
)

// Sized is a material with the thickness it would have.
type Sized struct {
	Material
	Mean float64 // mm
	Fit  Fit
}

// Fits says of every material how a solid piece of this mass would sit in the size. The mean thickness can never be more
// than what calipers find at the thickest place, so a material too light for its mass is excluded; one that is dense only
// leaves the piece more sunken than rounds usually are, which excludes nothing.
func (s Size) Fits(mass, massStep float64) []Sized {
	list := make([]Sized, 0, len(materials))
	for _, one := range materials {
		list = append(list, s.Seat(one, mass, massStep))
	}
	return list
}

// Seat says how a solid piece of one material and this mass would sit in the size.
func (s Size) Seat(one Material, mass, massStep float64) Sized {
	area := s.Area()
	if !(area > 0 && s.Thickness > 0 && mass > 0) {
		return Sized{one, 0, Unsized}
	}
	z := Sized{Material: one, Mean: MeanThickness(mass, one.Range.Middle(), area)}
	thinnest := MeanThickness(mass-massStep, one.Range.High, s.slack(Coverage).Area())
	thickest := MeanThickness(mass+massStep, one.Range.Low, s.slack(-Coverage).Area())
	switch {
	case thinnest > s.slack(Coverage).Thickness:
		z.Fit = NoRoom
	case thickest < usualShare*s.slack(-Coverage).Thickness:
		z.Fit = Sunken
	}
	return z
}

// slack is the size with every length so many uncertainties larger.
func (s Size) slack(n float64) Size {
	by := n * max(s.Step, sureOfCalipers)
	if s.Diameter > 0 {
		s.Diameter = max(s.Diameter+by, 0)
	}
	s.Length, s.Width, s.Thickness = max(s.Length+by, 0), max(s.Width+by, 0), max(s.Thickness+by, 0)
	return s
}
