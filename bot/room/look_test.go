package room

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The ratios are those of WCAG 2.2, success criteria 1.4.3 (text: 4.5) and 1.4.11 (edges and focus: 3), with relative
// luminance as defined there.
func TestContrast(t *testing.T) {
	t.Parallel()
	light, dark := palettes(t)
	for name, colours := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, c := range []struct {
			front, backs string
			least        float64
		}{
			{"ink", "paper desk slip", 4.5},
			{"soft", "paper desk slip", 4.5},
			{"press", "paper slip", 4.5},
			{"red", "paper desk slip", 4.5},
			{"on-press", "press", 4.5},
			{"edge", "paper desk slip", 3},
			{"press", "desk", 3},
		} {
			for back := range strings.FieldsSeq(c.backs) {
				if got := contrast(t, colours[c.front], colours[back]); got < c.least {
					t.Errorf("%s: %s on %s has contrast %.2f, want %.1f", name, c.front, back, got, c.least)
				}
			}
		}
	}
}

// The formula gives the known ends of the scale: 21 for black on white, 1 for a colour on itself. #767676 is the
// lightest grey that passes 4.5 on white (common knowledge among accessibility testers).
func TestContrastFormula(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		want float64
	}{{"#000000", "#ffffff", 21}, {"#123456", "#123456", 1}, {"#767676", "#ffffff", 4.54}} {
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("contrast of %s on %s is %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// palettes reads the colours of the style sheet, which names every colour once, at its top.
func palettes(t *testing.T) (light, dark map[string]string) {
	t.Helper()
	css, err := files.ReadFile("page/room.css")
	if err != nil {
		t.Fatal(err)
	}
	top, rest, ok := strings.Cut(string(css), "\n@supports")
	first, second, both := strings.Cut(top, "@media (prefers-color-scheme: dark)")
	if !ok || !both {
		t.Fatal("the style sheet does not begin with its two palettes")
	}
	if stray := regexp.MustCompile(`#[0-9a-f]{3,8}\b|rgba?\(|hsla?\(`).FindString(strings.NewReplacer("#end", "", "#say", "", "#offers", "").Replace(rest)); stray != "" {
		t.Errorf("%s is used outside the palettes", stray)
	}
	colour := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6,8});`)
	read := func(block string) map[string]string {
		found := map[string]string{}
		for _, m := range colour.FindAllStringSubmatch(block, -1) {
			found[m[1]] = m[2]
		}
		return found
	}
	light, dark = read(first), read(second)
	if len(light) < 10 || len(light) != len(dark) {
		t.Fatalf("%d colours in light, %d in dark", len(light), len(dark))
	}
	return light, dark
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	lighter, darker := luminance(t, a), luminance(t, b)
	if lighter < darker {
		lighter, darker = darker, lighter
	}
	return (lighter + 0.05) / (darker + 0.05)
}

func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	if len(colour) != 7 {
		t.Fatalf("%q is no opaque colour", colour)
	}
	var sum float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}
