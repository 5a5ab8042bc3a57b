package picture

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spareounce/bot/tongue"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

const goldens = "../../testdata/picture"

// cards are the golden pictures: name of the file, and what is drawn.
func cards() map[string]SetCard {
	half := years(82, 8, Had, Missing, Spare, Wanted)
	half[2].Count, half[6].Count, half[5].Key, half[0].SemiKey = 1, 2, true, true
	half = append(half, Tile{Label: "ND", State: Wanted})

	night := SetCard{Title: "Night Watch Lanterns", Owner: "Ann", Summary: "4 of 9", AsOf: "25 Nov 2026", Tiles: half}
	darkNight := night
	darkNight.Dark = true
	german, japanese := night, night
	german.In, german.Summary, german.AsOf = spoken("de"), "4 von 9", "25. Nov. 2026"
	japanese.In, japanese.Owner, japanese.Summary, japanese.AsOf = spoken("ja"), "佐藤 健", "9品中4品", "2026年11月25日"

	return map[string]SetCard{
		"half-complete": night,
		"dark":          darkNight,
		"in-german":     german,
		"in-japanese":   japanese,
		"all-had": {
			Title: "Orchard Almanac", Owner: "Bo", Summary: "6 of 6", AsOf: "25 Nov 2026", Tiles: years(98, 6, Had),
		},
		"none-had": {
			Title: "Compass Rose", Owner: "Cy", Summary: "0 of 4", AsOf: "25 Nov 2026", Tiles: years(91, 4, Missing),
		},
		"thirty-years": {
			Title: "Orchard Almanac", Owner: "Di", Summary: "13 of 30", AsOf: "25 Nov 2026",
			Tiles: years(84, 30, Had, Missing, Spare, Missing, Wanted, Had, Missing),
		},
		"hundred-and-thirty": {
			Title: "Tidewater Monthly", Owner: "Edda", Summary: "87 of 130", AsOf: "25 Nov 2026", Tiles: months(130),
		},
		"bars": {
			Title: "Kiln Street Poured Bars, the whole series by weight", Owner: "Fen of the Lower Marsh",
			Summary: "4 of 6", AsOf: "25 Nov 2026", Tiles: []Tile{
				{Label: "1oz", State: Spare, Count: 3},
				{Label: "2oz with the old foundry mark", State: Had},
				{Label: "5oz", State: Had, Substitute: "5oz second pour"},
				{Label: "5oz unnumbered trial pour", State: Wanted, Key: true},
				{Label: "10oz", State: Missing, SemiKey: true},
				{Label: "1000g loaf", State: Had, Note: "odd weight"},
			},
		},
		"key-and-spares": {
			Title: "Harbour Lights", Owner: "Gil", Summary: "5 of 7", AsOf: "25 Nov 2026", Tiles: []Tile{
				{Label: "82", State: Spare, Count: 1, Key: true},
				{Label: "83", State: Spare, Count: 12},
				{Label: "84 gull", State: Had, Substitute: "84 heron"},
				{Label: "84 heron", State: Wanted, SemiKey: true},
				{Label: "85", State: Had, Note: "1/10oz"},
				{Label: "85", State: Missing, Note: "1/4oz", SemiKey: true},
				{Label: "86", State: Spare, Count: 4000},
			},
		},
		"names": {
			Title: "Hedgerow Birds 鳥", Owner: "Ünal 🦊 שלום", Summary: "1 of 3", AsOf: "25 Nov 2026", Tiles: []Tile{
				{Label: "91 žuvėdra", State: Had}, {Label: "92 чайка", State: Missing}, {Label: "93 🐦 wren", State: Wanted},
			},
		},
	}
}

func spoken(tag string) *tongue.Tongue {
	in, known := tongue.In(tag)
	if !known {
		panic(tag + " is not spoken")
	}
	return in
}

// years are slots labelled with years of two digits, whose states repeat.
func years(from, n int, states ...State) []Tile {
	var tiles []Tile
	for i := range n {
		tiles = append(tiles, Tile{Label: fmt.Sprintf("%02d", (from+i)%100), State: states[i%len(states)], Count: 1})
	}
	return tiles
}

// months are slots labelled "11/05" and so on, in a mix of states.
func months(n int) []Tile {
	var tiles []Tile
	for i := range n {
		tiles = append(tiles, Tile{Label: fmt.Sprintf("%02d/%02d", 11+i/12, 1+i%12), State: []State{Had, Missing, Had}[i%3]})
	}
	return tiles
}

func TestGoldenPictures(t *testing.T) {
	pictures := map[string]picture{}
	for name, c := range cards() {
		pictures[name] = c
	}
	for name, h := range hunts() {
		pictures[name] = h
	}
	for name, c := range charts() {
		pictures[name] = c
	}
	for name, c := range pictures {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name, c)
		})
	}
	files, err := filepath.Glob(filepath.Join(goldens, "*.png"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".png")
		if _, ok := pictures[name]; !ok && !strings.HasSuffix(name, "-page") { // pages have a test of their own
			t.Errorf("no test draws %s", file)
		}
	}
}

// golden compares pixels, not bytes: encoders change, and processors that fuse multiply and add round a little
// differently, so no channel may be more than 2 of 255 off.
func golden(t *testing.T, name string, c picture) {
	t.Helper()
	file := filepath.Join(goldens, name+".png")
	drawn := c.draw()
	if *update {
		keep(t, file, c)
	}
	old, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; \"go test ./bot/picture -update\" draws it", err)
	}
	if difference := differ(decode(t, old), drawn); difference != "" {
		file := filepath.Join(t.ArtifactDir(), name+".png")
		keep(t, file, c)
		t.Errorf("%s; the new picture is %s", difference, file)
	}
}

// picture is anything that draws itself.
type picture interface {
	draw() *image.RGBA
	PNG() ([]byte, error)
}

// keep writes a picture to a file.
func keep(t *testing.T, file string, c picture) {
	t.Helper()
	data, err := c.PNG()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

func decode(t *testing.T, data []byte) *image.RGBA {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	plain := image.NewRGBA(img.Bounds())
	draw.Draw(plain, plain.Bounds(), img, img.Bounds().Min, draw.Src)
	return plain
}

// differ says where two pictures differ by more than 2 of 255 in a channel, "" when they do not.
func differ(a, b *image.RGBA) string {
	if a.Bounds() != b.Bounds() {
		return fmt.Sprintf("size %v became %v", a.Bounds(), b.Bounds())
	}
	for i := range a.Pix {
		if x, y := a.Pix[i], b.Pix[i]; max(x, y)-min(x, y) > 2 {
			at := image.Pt(i%a.Stride/4, i/a.Stride)
			return fmt.Sprintf("pixel %v was %v and is %v", at, a.At(at.X, at.Y), b.At(at.X, at.Y))
		}
	}
	return ""
}

// The comparison itself: two steps are let pass, three and another size are not.
func TestDifferSeesThreeSteps(t *testing.T) {
	stripe := func(w int, green uint8) *image.RGBA {
		m := image.NewRGBA(image.Rect(0, 0, w, 2))
		m.SetRGBA(1, 1, color.RGBA{G: green, A: 0xff})
		return m
	}
	if d := differ(stripe(2, 100), stripe(2, 102)); d != "" {
		t.Errorf("two steps: %s", d)
	}
	if differ(stripe(2, 100), stripe(2, 103)) == "" || differ(stripe(2, 103), stripe(2, 100)) == "" {
		t.Error("three steps pass")
	}
	if differ(stripe(2, 0), stripe(3, 0)) == "" {
		t.Error("another size passes")
	}
}

func BenchmarkSetCard(b *testing.B) {
	for _, name := range []string{"half-complete", "thirty-years", "hundred-and-thirty"} {
		c := cards()[name]
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := c.PNG(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
