package picture

import (
	"bytes"
	"fmt"
	"image"
	"strings"
	"sync"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// weird is text that people type and that breaks drawings: other scripts, emoji, joiners, long words, broken bytes.
var weird = rapid.OneOf(
	rapid.String(),
	rapid.StringMatching(`[A-Za-z0-9 ]{0,200}`),
	rapid.SampledFrom([]string{
		"", " ", "84 gull", "1/10oz", strings.Repeat("W", 200), strings.Repeat("wm ", 80), "שלום עולם", "مرحبا", "銀貨",
		"👩‍👩‍👧‍👦 84", "Z̸a̶l̷g̵o̶ 84", "e\u0301", "a\u202eb\u202c", "a\nb\tc", "\xff\xfe84", "ﬁ\u00a0ﬂ", "½oz €40",
	}),
)

var weirdTile = rapid.Custom(func(t *rapid.T) Tile {
	return Tile{
		Label:      weird.Draw(t, "label"),
		Note:       weird.Draw(t, "note"),
		State:      State(rapid.IntRange(-1, 4).Draw(t, "state")),
		Count:      rapid.IntRange(-5, 5000).Draw(t, "count"),
		Key:        rapid.Bool().Draw(t, "key"),
		SemiKey:    rapid.Bool().Draw(t, "semi-key"),
		Substitute: weird.Draw(t, "substitute"),
	}
})

var weirdCard = rapid.Custom(func(t *rapid.T) SetCard {
	return SetCard{
		Title:   weird.Draw(t, "title"),
		Owner:   weird.Draw(t, "owner"),
		Summary: weird.Draw(t, "summary"),
		AsOf:    weird.Draw(t, "as of"),
		Tiles:   rapid.SliceOfN(weirdTile, 0, 6).Draw(t, "tiles"),
		Dark:    rapid.Bool().Draw(t, "dark"),
	}
})

// No line of a slot is wider than its tile, measured, whatever is typed and however many columns there are.
func TestLinesFitTheirTile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := facesFor(nil)
		g := gridOf(rapid.IntRange(1, 6).Draw(t, "columns"))
		g.place(f, rapid.SliceOfN(weirdTile, 1, 4).Draw(t, "tiles"))
		for _, r := range g.rows {
			for _, s := range r.slots {
				if len(s.label) > labelLines {
					t.Fatalf("%d lines of label", len(s.label))
				}
				for _, line := range s.label {
					if w := f.width(bold, g.label, line); w > g.tileW {
						t.Fatalf("label %q is %.1f wide in a tile of %.1f", line, w, g.tileW)
					}
				}
				for _, line := range s.notes {
					if w := f.width(regular, g.small, line); w > g.tileW {
						t.Fatalf("note %q is %.1f wide in a tile of %.1f", line, w, g.tileW)
					}
				}
			}
		}
	})
}

// The same seen from outside: between tiles, between rows and in the margins there is nothing but paper.
func TestNothingIsDrawnBetweenTiles(t *testing.T) {
	if testing.Short() {
		t.Skip("draws many pictures")
	}
	all := cards()
	for i, label := range []string{strings.Repeat("W", 200), strings.Repeat("wm ", 80)} {
		for _, n := range []int{1, 2, 3, 8, 25, 61} { // one for each number of columns
			c := SetCard{Title: label, Owner: label, Summary: label, AsOf: label, Dark: i%2 == 1}
			for j := range n {
				c.Tiles = append(c.Tiles, Tile{
					Label: label, Note: label, Substitute: label, State: State(j % 4), Count: 5000, Key: j%3 == 0, SemiKey: true,
				})
			}
			all[fmt.Sprintf("%d tiles of label %d", n, i)] = c
		}
	}
	for name, c := range all {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := facesFor(nil)
			shown, _ := c.shown()
			g, picture := arrange(f, shown), c.draw()
			paper := c.palette().paper
			blank := bytes.Repeat([]byte{paper.R, paper.G, paper.B, paper.A}, width)
			empty := func(what string, area image.Rectangle) {
				for y := area.Min.Y; y < area.Max.Y; y++ {
					line := picture.Pix[picture.PixOffset(area.Min.X, y):picture.PixOffset(area.Max.X, y)]
					if !bytes.Equal(line, blank[:len(line)]) {
						t.Fatalf("%s: between %d and %d of line %d there is not only paper", what, area.Min.X, area.Max.X, y)
					}
				}
			}
			const play = 3 // letters may lean a little over their own width
			top, bottom := int(c.heading(f).height), picture.Bounds().Dy()
			empty("left margin", image.Rect(0, 0, margin-play, bottom))
			empty("right margin", image.Rect(width-margin+play, 0, width, bottom))
			y := float64(top)
			for _, r := range g.rows {
				for i := range g.columns - 1 {
					right := margin + float64(i+1)*(g.tileW+g.gap)
					empty("between columns", image.Rect(int(right-g.gap)+play, int(y), int(right)-play, int(y+r.height)))
				}
				y += r.height + g.gapBelow()
				empty("between rows", image.Rect(0, int(y-g.gapBelow())+1, width, int(y)))
			}
		})
	}
}

// A badge is measured too: no wider than its tile, its letters never too small, and in full up to 99 pieces.
func TestBadgesFitTheirTile(t *testing.T) {
	f := facesFor(nil)
	for columns := 1; columns <= 6; columns++ {
		g := gridOf(columns)
		for _, n := range []int{1, 9, 10, 48, 99, 100, 888, 999, 1000, 5000} {
			word, size := g.spareWord(f, n)
			if w := f.width(bold, size, word) + 2*badgePad; w > g.tileW {
				t.Errorf("%d columns: %q is %.1f wide in a tile of %.1f", columns, word, w, g.tileW)
			}
			if size < smallestBadge {
				t.Errorf("%d columns: %q has letters of %.1f", columns, word, size)
			}
			if want := fmt.Sprintf("×%d spare", n); n <= 99 && word != want {
				t.Errorf("%d columns: the badge says %q, want %q", columns, word, want)
			}
		}
	}
}

// A label that would fit with fewer columns is not cut.
func TestLongLabelsGetFewerColumns(t *testing.T) {
	f := facesFor(nil)
	tiles := years(82, 20, Had)
	if g := arrange(f, tiles); g.columns != 4 {
		t.Errorf("twenty years stand in %d columns", g.columns)
	}
	tiles[7].Label = "89 lightship seen from the outer breakwater"
	g := arrange(f, tiles)
	if g.columns >= 4 {
		t.Errorf("the long label stands in %d columns", g.columns)
	}
	if got := strings.Join(g.rows[7/g.columns].slots[7%g.columns].label, " "); got != tiles[7].Label {
		t.Errorf("the long label became %q", got)
	}
}

func TestAnyCardIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := weirdCard.Draw(t, "card")
		if b := c.draw().Bounds(); b.Dx() != width || b.Dy() > 12_000 {
			t.Fatalf("the card is %v", b)
		}
	})
}

func FuzzSetCard(f *testing.F) {
	f.Add("Harbour Lights", "Ann", "84 gull", "1/10oz", 3, 2)
	f.Add("👩‍👩‍👧‍👦", "שלום", "\xff", strings.Repeat("W", 200), 1, -4)
	f.Fuzz(func(t *testing.T, title, owner, label, note string, state, count int) {
		c := SetCard{Title: title, Owner: owner, Summary: "1 of 2", AsOf: "25 Nov 2026", Tiles: []Tile{
			{Label: label, Note: note, State: State(state), Count: count}, {Label: note, State: Had, Substitute: label},
		}}
		if b := c.draw().Bounds(); b.Dx() != width {
			t.Fatalf("the card is %v", b)
		}
		alt := c.Alt()
		if n := utf8.RuneCountInString(alt); n > longestAlt || !utf8.ValidString(alt) || strings.ContainsFunc(alt, unicode.IsControl) {
			t.Fatalf("alternative text of %d characters: %q", n, alt)
		}
	})
}

func TestFiveHundredSlotsAreCountedNotDrawn(t *testing.T) {
	c := SetCard{Title: "Long", Summary: "250 of 500", Tiles: years(0, 500, Had, Missing)}
	shown, beyond := c.shown()
	if len(shown) != mostTiles || facesFor(nil).countBeyond(beyond) != "and 380 more: 190 had, 190 missing" {
		t.Errorf("%d shown, %q", len(shown), facesFor(nil).countBeyond(beyond))
	}
	if h := c.draw().Bounds().Dy(); h > 6000 {
		t.Errorf("%d pixels high", h)
	}
}

func TestCardsAreDrawnSideBySide(t *testing.T) {
	card := cards()["names"]
	want, err := card.PNG()
	if err != nil {
		t.Fatal(err)
	}
	if difference := differ(decode(t, want), card.draw()); difference != "" {
		t.Errorf("the PNG is not what was drawn: %s", difference)
	}
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			if got, err := card.PNG(); err != nil || !bytes.Equal(got, want) {
				t.Errorf("the same card gave another picture (error: %v)", err)
			}
		})
	}
	group.Wait()
}

// What the package itself writes must be in both weights of the font.
func TestOurOwnWordsAreInTheFont(t *testing.T) {
	ours := "… · as of complete filled by " + string(nothingCounts) + facesFor(nil).countBeyond(years(0, 9, Had)) + "×0123456789+ spare"
	for _, e := range legendFor([]Tile{{State: Had}, {State: Spare}, {State: Wanted, Key: true}, {State: Missing, SemiKey: true}}) {
		ours += string(e.word)
	}
	f := facesFor(nil)
	for _, r := range ours {
		if !f.has(regular, r) || !f.has(bold, r) {
			t.Errorf("the font lacks %q", r)
		}
	}
}

func TestLettersTheFontLacksBecomeABox(t *testing.T) {
	f := facesFor(nil)
	for text, want := range map[string]string{
		"Ünal 🦊🦊 x שלום":   "Ünal \uFFFC x \uFFFC",
		"84🦊gull":          "84\uFFFCgull",
		"👩‍👩‍👧‍👦":          "\uFFFC",
		"  a\n\tb  ":       "a b",
		"a\u202eb\u200dc":  "abc",
		"Zoe\u0308 de Wit": "Zoe de Wit",
	} {
		if got := f.drawable(text); got != want {
			t.Errorf("%q is drawn as %q, want %q", text, got, want)
		}
	}
	picture := SetCard{Owner: "🦊"}.draw()
	bare := SetCard{}.draw()
	if bytes.Equal(picture.Pix, bare.Pix) {
		t.Error("a name of emoji leaves no trace")
	}
}
