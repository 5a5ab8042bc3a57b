package picture

import (
	"slices"
	"strings"
)

// Sizes in pixels. A phone shows the card at about a third of them, so that letters 36 high are 12 there.
const (
	width      = 1080
	margin     = 48
	inner      = width - 2*margin
	labelLines = 3  // at most
	noteLines  = 2  // at most, of what stands in for another piece
	overhang   = 10 // of marks over the top of a disc

	smallestLabel = 34.0
)

// grid is how the slots stand: as large as their number and the length of their labels let them be.
type grid struct {
	columns      int
	gap, tileW   float64
	label, small float64 // sizes of type
	diameter     float64
	badges       bool // some slot bears one
	rows         []row
}

// row is slots that stand side by side, as high as the highest of them.
type row struct {
	slots  []slot
	height float64
}

// slot is a tile with its words broken into lines.
type slot struct {
	Tile
	label, notes []string
}

// arrange finds the grid for tiles: as many columns as suit their number. When a label is too long to stand whole, it tries
// smaller letters, then up to two columns fewer; when none helps, it takes the last and the label ends in an ellipsis.
func arrange(f *faces, tiles []Tile) grid {
	most := columnsFor(len(tiles))
	least := max(1, most-2)
	for columns := most; ; columns-- {
		for _, smaller := range []float64{1, 0.82, 0.68} {
			g := gridOf(columns)
			g.label = max(g.label*smaller, smallestLabel)
			if last := columns == least && smaller == 0.68; last || g.holds(f, tiles) {
				g.place(f, tiles)
				return g
			}
		}
	}
}

// columnsFor prefers rows that come out even.
func columnsFor(tiles int) int {
	switch {
	case tiles <= 2:
		return max(tiles, 1)
	case tiles == 4:
		return 2
	case tiles == 8 || tiles > 12 && tiles <= 24:
		return 4
	case tiles <= 12:
		return 3
	case tiles <= 60:
		return 5
	}
	return 6
}

func gridOf(columns int) grid {
	g := grid{columns: columns, gap: 24}
	switch columns {
	case 1, 2:
		g.label, g.small, g.diameter = 64, 42, 220
	case 3:
		g.label, g.small, g.diameter = 60, 40, 190
	case 4:
		g.label, g.small, g.diameter = 52, 36, 156
	case 5:
		g.label, g.small, g.diameter = 46, 34, 124
	default:
		g.label, g.small, g.diameter, g.gap = 40, 32, 104, 16
	}
	g.tileW = (inner - float64(columns-1)*g.gap) / float64(columns)
	return g
}

// holds reports whether every label has room in its tile. It stops at the first that has not.
func (g *grid) holds(f *faces, tiles []Tile) bool {
	return !slices.ContainsFunc(tiles, func(t Tile) bool {
		_, whole := f.wrap(bold, g.label, g.tileW, labelLines, f.drawable(t.Label))
		return !whole
	})
}

// place breaks the words of all tiles into lines and the tiles into rows.
func (g *grid) place(f *faces, tiles []Tile) {
	g.badges = slices.ContainsFunc(tiles, func(t Tile) bool { return t.spare() > 0 })
	for i, t := range tiles {
		if i%g.columns == 0 {
			g.rows = append(g.rows, row{})
		}
		s := slot{Tile: t}
		s.label, _ = f.wrap(bold, g.label, g.tileW, labelLines, f.drawable(t.Label))
		s.notes = g.notes(f, t)
		r := &g.rows[len(g.rows)-1]
		r.slots = append(r.slots, s)
		r.height = max(r.height, g.height(s))
	}
}

// notes are the small lines under a label: what sets the slot apart, how rare it is, and what stands in it instead.
func (g *grid) notes(f *faces, t Tile) []string {
	var lines []string
	note, rarity := f.drawable(t.Note), t.rarity(f.in)
	if both := strings.Trim(note+" · "+rarity, " ·"); f.width(regular, g.small, both) <= g.tileW {
		note, rarity = both, ""
	}
	for _, line := range []string{note, rarity} {
		if line != "" {
			lines = append(lines, f.fit(regular, g.small, g.tileW, line))
		}
	}
	if stand := f.drawable(t.Substitute); stand != "" && t.State.had() {
		more, _ := f.wrap(regular, g.small, g.tileW, noteLines, f.in.Say(filledBy, "piece", stand))
		lines = append(lines, more...)
	}
	return lines
}

// Heights of lines, as shares of the size of their type.
const (
	labelLead = 1.1
	noteLead  = 1.2
)

// height is how high a slot is: disc, label, notes.
func (g *grid) height(s slot) float64 {
	return overhang + g.diameter + g.underDisc() + g.label*labelLead*float64(len(s.label)) +
		g.small*noteLead*float64(len(s.notes)) + g.small*0.2
}

// underDisc is the room between a disc and its label, enough for a badge that hangs over when there is one.
func (g *grid) underDisc() float64 {
	if g.badges {
		return 10 + g.badgeHeight()/2
	}
	return 6 + g.small*0.3
}

func (g *grid) badgeHeight() float64 { return g.small * 1.25 }

// gapBelow is the room between rows.
func (g *grid) gapBelow() float64 { return g.gap + 8 }

// countBeyond says what is counted and not drawn, "" when there is nothing.
func (f *faces) countBeyond(beyond []Tile) string {
	if len(beyond) == 0 {
		return ""
	}
	n := had(beyond)
	return f.in.Say(beyondCard, "n", len(beyond), "had", n, "missing", len(beyond)-n)
}
