package picture

import (
	"image/color"
	"math"
	"reflect"
	"testing"
)

// luminance is the relative luminance of WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance.
func luminance(c color.RGBA) float64 {
	channel := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(c.R) + 0.7152*channel(c.G) + 0.0722*channel(c.B)
}

// contrast is the contrast ratio of WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio.
func contrast(a, b color.RGBA) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// Published pairs: black on white is 21:1 (WCAG 2.2, definition of contrast ratio); on white, #767676 is the lightest grey
// that passes 4.5:1, with 4.54:1, and #777777 falls short with 4.48:1 (widely published, here from memory).
func TestContrastFormula(t *testing.T) {
	for grey, want := range map[uint32]float64{0x000000: 21, 0x767676: 4.54, 0x777777: 4.48} {
		if got := contrast(rgb(grey), rgb(0xffffff)); math.Abs(got-want) > 0.005 {
			t.Errorf("%#06x on white: %.3f, want %.2f", grey, got, want)
		}
	}
}

// WCAG 2.2 asks 4.5:1 of words (1.4.3) and 3:1 of shapes that carry meaning (1.4.11).
const (
	words  = 4.5
	shapes = 3.0
	adorns = 1.0 // carries no meaning
)

// pairs names fields of a palette: every colour, and the one it is laid on or stands beside.
var pairs = []struct {
	what, on, behind string
	least            float64
}{
	{"labels, title, owner", "ink", "paper", words},
	{"notes and date", "faint", "paper", words},
	{"summary", "disc", "paper", words},
	{"number of spares", "ink", "plate", words},
	{"full disc", "disc", "paper", shapes},
	{"tick", "tick", "disc", shapes},
	{"dashed ring", "faint", "paper", shapes},
	{"rule as far as the set has come, against the rest of it", "disc", "paper", shapes},
	{"star and diamond", "accent", "paper", shapes},
	{"edge of a badge against the paper around it", "ink", "paper", shapes},
	{"rim of a disc", "rim", "disc", adorns},
}

func TestColoursCanBeToldApart(t *testing.T) {
	for name, p := range map[string]palette{"light": light, "dark": dark} {
		fields := colours(p)
		unused := colours(p)
		for _, pair := range pairs {
			on, behind := fields[pair.on], fields[pair.behind]
			if got := contrast(on, behind); got < pair.least {
				t.Errorf("%s: %s has %.2f:1, at least %v:1 is asked", name, pair.what, got, pair.least)
			}
			delete(unused, pair.on)
			delete(unused, pair.behind)
		}
		for field := range unused {
			t.Errorf("%s: no pair holds the colour %q", name, field)
		}
	}
}

// colours are those of a palette by the names of its fields.
func colours(p palette) map[string]color.RGBA {
	all := map[string]color.RGBA{}
	v := reflect.ValueOf(p)
	for i := range v.NumField() {
		c := v.Field(i)
		all[v.Type().Field(i).Name] = color.RGBA{
			uint8(c.Field(0).Uint()), uint8(c.Field(1).Uint()), uint8(c.Field(2).Uint()), uint8(c.Field(3).Uint()),
		}
	}
	return all
}

// The pairs above are about the colours of the palettes, so no card may have an area of any other.
func TestCardsHaveNoOtherColours(t *testing.T) {
	for name, c := range cards() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ours := map[color.RGBA]bool{}
			for _, colour := range colours(c.palette()) {
				ours[colour] = true
			}
			picture := c.draw()
			area := picture.Bounds().Dx() * picture.Bounds().Dy()
			pixels := map[color.RGBA]int{}
			for i := 0; i < len(picture.Pix); i += 4 {
				p := picture.Pix[i : i+4]
				pixels[color.RGBA{p[0], p[1], p[2], p[3]}]++
			}
			for colour, n := range pixels {
				if !ours[colour] && n > area/500 { // smoothed edges are fewer of any one shade
					t.Errorf("%d pixels are %v", n, colour)
				}
			}
		})
	}
}
