package density

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestDiscs(t *testing.T) {
	of := map[string]float64{"silver": 10.49, "copper": 8.96, "brass": 8.5, "lead": 11.34, "stainless": 7.9}
	for _, row := range table(t, "discs.csv") {
		disc := Size{Diameter: float(t, row["diameter"])}
		for metal, rho := range of {
			if got := MeanThickness(float(t, row["mass"]), rho, disc.Area()); !printed(t, got, row[metal], 0) {
				t.Errorf("%s mm of %s: %.4f mm, want %s", row["diameter"], metal, got, row[metal])
			}
		}
	}
}

func fitOf(t *testing.T, s Size, mass float64, name string) Sized {
	t.Helper()
	for _, z := range s.Fits(mass, 0.01) {
		if z.Name == name {
			return z
		}
	}
	t.Fatalf("nothing said of %s", name)
	return Sized{}
}

// Trap: calipers find the rim. The one-ounce coin of 40.6 mm has a mean of 2.29 mm under a rim of 2.98 mm; taken as its
// thickness, the rim would make silver look like steel.
func TestTheRimIsNotTheMean(t *testing.T) {
	coin := Size{Diameter: 40.6, Thickness: 2.98, Step: 0.01}
	if naive := 31.103 / (coin.Area() * coin.Thickness / 1000); naive > 8.1 {
		t.Fatalf("the rim as thickness gives %.2f", naive)
	}
	silver := fitOf(t, coin, 31.103, "fine silver (.999)")
	if silver.Fit != Usual || math.Abs(silver.Mean/2.98-0.77) > 0.005 {
		t.Errorf("silver: %+v", silver)
	}
	for name, want := range map[string]Fit{"copper": Usual, "brass": Usual, "lead": Usual, "tungsten": Sunken, "zinc": NoRoom} {
		if z := fitOf(t, coin, 31.103, name); z.Fit != want {
			t.Errorf("%+v, want fit %d", z, want)
		}
	}
	flat := Size{Diameter: 39, Thickness: 2.3, Step: 0.01} // an ounce of silver needs 2.48 mm
	if z := fitOf(t, flat, 31.1, "fine silver (.999)"); z.Fit != NoRoom {
		t.Errorf("no ounce of silver is 39 by 2.3 mm: %+v", z)
	}
	if z := fitOf(t, Size{Diameter: 39}, 31.1, "copper"); z.Fit != Unsized {
		t.Errorf("no thickness, yet %+v", z)
	}
}

// A solid piece has room for what it is made of, however it was measured within the calipers' error.
func TestASolidPieceHasRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := rapid.SampledFrom(Materials()).Draw(t, "material")
		s := Size{Diameter: rapid.Float64Range(10, 90).Draw(t, "diameter"), Step: 0.01}
		if rapid.Bool().Draw(t, "bar") {
			s = Size{Length: s.Diameter, Width: rapid.Float64Range(10, 90).Draw(t, "width"), Step: 0.01}
		}
		mean := rapid.Float64Range(1, 20).Draw(t, "mean")
		mass := one.Range.Middle() * s.Area() * mean / 1000
		s.Thickness = mean + rapid.Float64Range(0, mean/2).Draw(t, "rim")
		off := func(name string) float64 { return rapid.Float64Range(-sureOfCalipers, sureOfCalipers).Draw(t, name) }
		s.Thickness += off("off")
		if z := s.Seat(one, mass, 0.01); z.Fit == NoRoom {
			t.Fatalf("%.3f g in %+v has no room for %+v", mass, s, z)
		}
	})
}
