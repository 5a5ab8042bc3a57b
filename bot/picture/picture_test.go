package picture

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

// golden compares pixels, not bytes: encoders change, and processors that fuse multiply and add round a little
// differently, so no channel may be more than 2 of 255 off.
func golden(t *testing.T, name string, c SetCard) {
	t.Helper()
	data, err := c.PNG()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join("..", "..", "testdata", "picture", name+".png")
	if *update {
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	old, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if difference := differ(decode(t, old), decode(t, data)); difference != "" {
		kept := filepath.Join(t.ArtifactDir(), name+".png")
		_ = os.WriteFile(kept, data, 0o644)
		t.Errorf("%s; the new picture is %s", difference, kept)
	}
}

func decode(t *testing.T, data []byte) image.Image {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func differ(a, b image.Image) string {
	if a.Bounds() != b.Bounds() {
		return fmt.Sprintf("size %v became %v", a.Bounds(), b.Bounds())
	}
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			ar, ag, ab, _ := a.At(x, y).RGBA()
			br, bg, bb, _ := b.At(x, y).RGBA()
			for _, d := range []int{int(ar) - int(br), int(ag) - int(bg), int(ab) - int(bb)} {
				if d > 2*257 || d < -2*257 {
					return fmt.Sprintf("pixel %d,%d differs", x, y)
				}
			}
		}
	}
	return ""
}

func years(from, n int, state func(i int) State) []Tile {
	var tiles []Tile
	for i := range n {
		tiles = append(tiles, Tile{Label: fmt.Sprintf("%02d", (from+i)%100), State: state(i)})
	}
	return tiles
}

func TestSetCards(t *testing.T) {
	half := years(82, 8, func(i int) State { return []State{Had, Missing, Spare, Wanted}[i%4] })
	half[2].Count, half[6].Count, half[5].Key, half[0].SemiKey = 1, 12, true, true
	half = append(half, Tile{Label: "ND", State: Wanted})
	bars := []Tile{
		{Label: "1oz", State: Spare, Count: 3},
		{Label: "2oz with the old foundry mark", State: Had},
		{Label: "5oz", State: Had, Substitute: "5oz second pour"},
		{Label: "10oz", State: Missing, SemiKey: true},
	}
	for name, c := range map[string]SetCard{
		"half-complete": {Title: "Night Watch Lanterns", Owner: "Ann", Summary: "4 of 9", AsOf: "25 Nov 2026", Tiles: half},
		"all-had":       {Title: "Orchard Almanac", Owner: "Bo", Summary: "6 of 6", AsOf: "25 Nov 2026", Tiles: years(98, 6, func(int) State { return Had })},
		"none-had":      {Title: "Compass Rose", Owner: "Cy", Summary: "0 of 4", AsOf: "25 Nov 2026", Tiles: years(91, 4, func(int) State { return Missing })},
		"thirty-years":  {Title: "Orchard Almanac", Owner: "Di", Summary: "15 of 30", AsOf: "25 Nov 2026", Tiles: years(84, 30, func(i int) State { return State(i * 7 % 3) })},
		"bars":          {Title: "Kiln Street Poured Bars, the whole series by weight", Owner: "Ünal 🦊 שלום", Summary: "3 of 4", AsOf: "25 Nov 2026", Tiles: bars},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name, c)
		})
	}
}

// luminance and contrast are those of WCAG 2.2, "relative luminance" and "contrast ratio".
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

func contrast(a, b color.RGBA) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// Published pairs: black on white is 21:1 (WCAG 2.2, definition of contrast ratio); #767676 on white is the lightest grey
// that passes 4.5:1 and #777777 just fails (W3C, Understanding Success Criterion 1.4.3).
func TestContrastFormula(t *testing.T) {
	white := color.RGBA{0xff, 0xff, 0xff, 0xff}
	for grey, want := range map[uint8]float64{0x00: 21, 0x76: 4.54, 0x77: 4.48} {
		if got := contrast(color.RGBA{grey, grey, grey, 0xff}, white); math.Abs(got-want) > 0.005 {
			t.Errorf("grey %#x on white: %.3f, want %.2f", grey, got, want)
		}
	}
}

// WCAG 2.2: 1.4.3 asks 4.5:1 of text, 1.4.11 asks 3:1 of graphics that carry meaning.
func TestColoursCanBeToldApart(t *testing.T) {
	for _, p := range []struct {
		what  string
		a, b  color.RGBA
		least float64
	}{
		{"words", ink, paper, 4.5},
		{"small words", faint, paper, 4.5},
		{"summary", metal, paper, 4.5},
		{"count in its badge", ink, plate, 4.5},
		{"full disc", metal, paper, 3},
		{"tick", onIt, metal, 3},
		{"dashed ring of what is missing", faint, paper, 3},
		{"star and diamond", accent, paper, 3},
		{"badge's edge", ink, metal, 1}, // told by its plate, not its edge
		{"badge's plate", plate, metal, 3},
	} {
		if got := contrast(p.a, p.b); got < p.least {
			t.Errorf("%s: %.2f:1, at least %v:1 is asked", p.what, got, p.least)
		}
	}
}

func TestTextStaysInItsTile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := pen{faces: newFaces(), layout: layoutFor(rapid.IntRange(0, 130).Draw(t, "tiles"))}
		label := rapid.OneOf(rapid.String(), rapid.StringMatching(`[A-Za-z0-9 ]{0,200}`)).Draw(t, "label")
		for _, line := range p.labelLines(Tile{Label: label}) {
			if w := p.faces.width(bold, p.label, line); w > p.tileW {
				t.Fatalf("%q is %.0f wide in a tile of %.0f", line, w, p.tileW)
			}
		}
	})
}

func TestAnyCardIsDrawn(t *testing.T) {
	if *update {
		t.Skip("only goldens are rewritten")
	}
	rapid.Check(t, func(t *rapid.T) {
		c := SetCard{Title: rapid.String().Draw(t, "title"), Owner: rapid.String().Draw(t, "owner"), Summary: "1 of 2"}
		for range rapid.IntRange(0, 9).Draw(t, "tiles") {
			c.Tiles = append(c.Tiles, Tile{
				Label: rapid.String().Draw(t, "label"), State: State(rapid.IntRange(0, 3).Draw(t, "state")),
				Count: rapid.IntRange(0, 5000).Draw(t, "count"), Key: rapid.Bool().Draw(t, "key"), Substitute: rapid.String().Draw(t, "substitute"),
			})
		}
		data, err := c.PNG()
		if err != nil || len(data) == 0 {
			t.Fatal(err)
		}
		if alt := c.Alt(); utf8.RuneCountInString(alt) > longestAlt {
			t.Fatalf("alt text of %d", len(alt))
		}
	})
}

func TestFiveHundredSlotsAreCountedNotDrawn(t *testing.T) {
	data, err := SetCard{Title: "Long", Summary: "0 of 500", Tiles: years(0, 500, func(int) State { return Missing })}.PNG()
	if err != nil {
		t.Fatal(err)
	}
	if h := decode(t, data).Bounds().Dy(); h > 10_000 {
		t.Fatalf("%d pixels high", h)
	}
}

func TestSubstituteIsInTheFont(t *testing.T) {
	f := newFaces()
	if got := f.drawable("Ünal 🦊🦊 x שלום"); got != "Ünal * x *" {
		t.Fatal(got)
	}
}

func TestAltSaysWhatThePictureShows(t *testing.T) {
	got := SetCard{Title: "Harbour Lights", Owner: "Ann", Summary: "2 of 4", AsOf: "25 Nov 2026", Tiles: []Tile{
		{Label: "82", Key: true}, {Label: "83", State: Wanted}, {Label: "84", State: Spare, Count: 2}, {Label: "85", State: Had},
	}}.Alt()
	want := "Set card of Ann, Harbour Lights: 2 of 4. Missing: 82 (key). Missing and wanted: 83. Had with spares: 84 x2. Had: 85. As of 25 Nov 2026."
	if got != want {
		t.Fatalf("%s\nwant %s", got, want)
	}
	if strings.Contains(got, "\n") {
		t.Fatal("more than a line")
	}
}

func BenchmarkSetCardOfThirty(b *testing.B) {
	c := SetCard{Title: "Orchard Almanac", Owner: "Di", Summary: "15 of 30", Tiles: years(84, 30, func(i int) State { return State(i % 3) })}
	for b.Loop() {
		if _, err := c.PNG(); err != nil {
			b.Fatal(err)
		}
	}
}
