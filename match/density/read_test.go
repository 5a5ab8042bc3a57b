package density

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestReadings(t *testing.T) {
	round := Readings{Mass: 31.1, Size: Size{Diameter: 40.6, Thickness: 2.98, Step: 0.01}, Step: 0.1}
	water := Readings{Mass: 31.10, Wet: 28.14, Celsius: 21, Warm: true, Step: 0.01}
	for text, want := range map[string]Readings{
		"31.1g 40.6mm 2.98mm":                round,
		"31.1 g, 2.98 mm, 40.6 mm":           round,
		"31.1g 40.6x2.98mm":                  round,
		"31.1g diameter 40.6 rim 2.98":       {}, // a unit, then words that stand before: not both
		"dry 31.1 diameter 40.6 rim 2.98":    round,
		"31.1g 40.6 wide 2.98 thick":         round,
		"31.10 dry 28.14 wet 21C":            water,
		"31.10g dry, 28.14g in water, 21 °C": water,
		"dry 31.10 wet 28.14 water 21C":      water,
		"31,10 dry 28,14 wet 21C":            water,
		"31.10 dry 2.96 displaced":           {Mass: 31.1, Displaced: 2.96, Step: 0.01},
		"31.10g 2.96g displaced 70F":         {Mass: 31.1, Displaced: 2.96, Step: 0.01, Celsius: 190.0 / 9, Warm: true},
		"31.1 g scale 0.01":                  {Mass: 31.1, Step: 0.01},
		"1.002 kg 118x52x18mm":               {Mass: 1002, Step: 1, Size: Size{Length: 118, Width: 52, Thickness: 18, Step: 1}},
		"31.1g 50 x 28 x 2.1 mm":             {Mass: 31.1, Step: 0.1, Size: Size{Length: 50, Width: 28, Thickness: 2.1, Step: 0.1}},
		"1.000 ozt":                          {Mass: 31.1034768, Step: 0.0311034768},
		"":                                   {},
	} {
		got, err := Read(text)
		if text != "" && want == (Readings{}) {
			if err == nil {
				t.Errorf("%q was read as %+v", text, got)
			}
			continue
		}
		if err != nil || !alike(got, want) {
			t.Errorf("%q\n got %+v, %v\nwant %+v", text, got, err, want)
		}
	}
}

func alike(a, b Readings) bool {
	for _, pair := range [][2]float64{
		{a.Mass, b.Mass},
		{a.Wet, b.Wet},
		{a.Displaced, b.Displaced},
		{a.Celsius, b.Celsius},
		{a.Step, b.Step},
		{a.Size.Diameter, b.Size.Diameter},
		{a.Size.Length, b.Size.Length},
		{a.Size.Width, b.Size.Width},
		{a.Size.Thickness, b.Size.Thickness},
		{a.Size.Step, b.Size.Step},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-9 {
			return false
		}
	}
	return a.Warm == b.Warm
}

func TestRefusedReadingsArePointedAt(t *testing.T) {
	for text, word := range map[string]string{
		"31.1":                   "31.1",
		"31.1 smells odd":        "smells",
		"31.1 dry 30 dry":        "30",
		"31.1g 28 wet 90C":       "90",
		"0 g":                    "0",
		"200000 g":               "200000",
		"31.1g 5000mm":           "5000",
		"31.1g 40mm 3mm 2mm 1mm": "2",
		"31.1 C dry":             "dry",
		"dry":                    "dry",
		"dry wet 28":             "dry",
		"31.1g (40mm)":           "(",
		"31.12345678 g":          "31.12345678",
	} {
		_, err := Read(text)
		bad, ok := errors.AsType[*SyntaxError](err)
		if !ok || bad.Word != word {
			t.Errorf("%q: %v, want %q pointed at", text, err, word)
		}
	}
}

func TestCoinsOnAScale(t *testing.T) {
	for text, want := range map[string]ScaleCheck{
		"50 x US 5c 249.8":       {50, coins[0], 249.8, 0.1},
		"50 nickels 249.80 g":    {50, coins[0], 249.8, 0.01},
		"40 x 2 euro 340.1":      {40, coins[6], 340.1, 0.1},
		"40 2 euros reads 340.1": {40, coins[6], 340.1, 0.1},
		"20 of 5g 100":           {20, Coin{Name: "5 g", Mass: 5}, 100, 1},
		"30 us quarters 170,12":  {30, coins[2], 170.12, 0.01},
	} {
		if got, err := ReadScale(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for text, word := range map[string]string{
		"": "", "50": "", "50 nickels": "", "0 nickels 3": "0", "2.5 nickels 3": "2.5", "5000 nickels 9": "5000",
		"20 doubloons 100": "doubloons", "20 x 100": "x", "20 of 500g 100": "500", "20 nickels 0": "0",
	} {
		_, err := ReadScale(text)
		if bad, ok := errors.AsType[*SyntaxError](err); !ok || bad.Word != word {
			t.Errorf("%q: %v, want %q pointed at", text, err, word)
		}
	}
}

// What is refused is pointed at where it stands; what is read is finite, in bounds and can be judged without panic.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"31.1g 40.6mm 2.98mm", "31.10 dry 28.14 wet 21C", "dry 31.10 displaced 2.96", "1.002 kg 118x52x18mm", "31.1 g scale 0.1",
		"50 x US 5c 249.8", "40 x 2 euro 340.1 g", "x x x", "1x", "°", `1.54"`, "dry dry dry", "31,1,1g", "scale 0.1 dry 3", "5c 5g",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !strings.Contains(text, "\x00") && len(text) > 2*longestText {
			t.Skip()
		}
		pointed := func(err error) {
			bad, ok := errors.AsType[*SyntaxError](err)
			if !ok || bad.Reason == "" || bad.Col < 0 || bad.Col+len(bad.Word) > len(text) || text[bad.Col:bad.Col+len(bad.Word)] != bad.Word {
				t.Fatalf("%q points astray: %#v", text, err)
			}
		}
		r, err := Read(text)
		if err != nil {
			pointed(err)
		} else {
			for _, v := range []float64{r.Mass, r.Wet, r.Displaced, r.Celsius, r.Step, r.Size.Area(), r.Size.Thickness} {
				if !(v >= 0 && v <= mostLength*mostLength) {
					t.Fatalf("%q gives %v in %+v", text, v, r)
				}
			}
			for _, z := range r.Size.Fits(r.Mass, r.Step) {
				if math.IsNaN(z.Mean) {
					t.Fatalf("%q: %+v", text, z)
				}
			}
			for _, w := range []Weighing{{Dry: r.Mass, Displaced: r.Displaced, Step: r.Step, Celsius: r.Celsius}, {Dry: r.Mass, Displaced: r.Mass - r.Wet, Hung: true, Step: r.Step, Celsius: r.Celsius}} {
				if m, err := w.Measure(); err == nil && (!(m.Density > 0) || !(m.U > 0) || len(Judge(m).Fits)+len(Judge(m).Excluded) != len(materials)) {
					t.Fatalf("%q: %+v weighs %+v", text, w, m)
				}
			}
		}
		c, err := ReadScale(text)
		if err != nil {
			pointed(err)
		} else if !(c.U() > 0) || math.IsNaN(c.Bias()) || c.Legal() <= 0 {
			t.Fatalf("%q: %+v", text, c)
		}
	})
}
