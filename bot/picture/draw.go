package picture

import (
	"bytes"
	"fmt"
	"image/color"
	"math"

	"github.com/fogleman/gg"
)

// The colours, each with the one behind it: a test holds every pair to WCAG 2.2.
var (
	paper  = color.RGBA{0xfb, 0xf7, 0xee, 0xff}
	ink    = color.RGBA{0x22, 0x24, 0x2a, 0xff}
	faint  = color.RGBA{0x5c, 0x5e, 0x66, 0xff} // words of less weight, outlines of what is missing
	metal  = color.RGBA{0x2f, 0x4f, 0x57, 0xff} // what is had
	onIt   = color.RGBA{0xff, 0xff, 0xff, 0xff} // words on metal
	accent = color.RGBA{0x9a, 0x3c, 0x16, 0xff} // marks: wanted, key
	plate  = color.RGBA{0xf2, 0xe3, 0xc4, 0xff} // the badge of spares
)

// Sizes in pixels. At 1080 wide a phone shows the card at a third, so 42 here is 14 there.
const (
	width      = 1080
	margin     = 48
	gap        = 24
	headHeight = 270
	legendLine = 64
	mostTiles  = 160 // what lies beyond is counted in a last tile
)

// layout is how many tiles stand in a row, and how large.
type layout struct {
	columns          int
	tileW            float64
	label, small     float64 // type sizes
	diameter, stroke float64
}

// layoutFor makes tiles as large as their number lets them be.
func layoutFor(tiles int) layout {
	columns := 3
	switch {
	case tiles > 60:
		columns = 6
	case tiles > 24:
		columns = 5
	case tiles > 12:
		columns = 4
	}
	w := (width - 2*margin - float64(columns-1)*gap) / float64(columns)
	l := layout{columns: columns, tileW: w, stroke: 6}
	l.label, l.small = 52, 36
	switch columns {
	case 4:
		l.label, l.small = 46, 34
	case 5:
		l.label, l.small = 40, 30
	case 6:
		l.label, l.small = 34, 28
	}
	l.diameter = math.Min(w*0.62, 170)
	return l
}

// PNG draws the card, 1080 pixels wide.
func (c SetCard) PNG() ([]byte, error) {
	tiles := c.Tiles
	if len(tiles) > mostTiles {
		rest := Tile{Label: fmt.Sprintf("and %d more", len(tiles)-mostTiles+1), State: Missing}
		tiles = append(append([]Tile(nil), tiles[:mostTiles-1]...), rest)
	}
	p := pen{faces: newFaces(), layout: layoutFor(len(tiles))}
	rows := p.rows(tiles)
	height := float64(headHeight + 3*legendLine + margin)
	for _, row := range rows {
		height += row.height + gap
	}
	p.Context = gg.NewContext(width, int(height))
	p.SetColor(paper)
	p.Clear()
	p.heading(c)
	y := float64(headHeight)
	for _, row := range rows {
		for i, t := range row.tiles {
			p.tile(t, margin+float64(i)*(p.tileW+gap), y)
		}
		y += row.height + gap
	}
	p.legend(height - 3*legendLine - margin/2)
	var out bytes.Buffer
	if err := p.EncodePNG(&out); err != nil {
		return nil, fmt.Errorf("encode the set card: %w", err)
	}
	return out.Bytes(), nil
}

// row is tiles that stand side by side, as high as the highest of them.
type row struct {
	tiles  []Tile
	height float64
}

func (p pen) rows(tiles []Tile) []row {
	var rows []row
	for len(tiles) > 0 {
		r := row{tiles: tiles[:min(p.columns, len(tiles))]}
		for _, t := range r.tiles {
			r.height = max(r.height, p.tileHeight(t))
		}
		rows, tiles = append(rows, r), tiles[len(r.tiles):]
	}
	return rows
}

func (p pen) tileHeight(t Tile) float64 {
	h := p.diameter + 26 + p.label*1.1*float64(len(p.labelLines(t))) + p.label*0.3
	if t.note() != "" {
		h += p.small * 1.2
	}
	return h
}

func (p pen) labelLines(t Tile) []string {
	return p.faces.wrap(bold, p.label, p.tileW, 2, p.faces.drawable(t.Label))
}

// pen draws with the faces and the layout of one card.
type pen struct {
	*gg.Context
	faces *faces
	layout
}

// write puts text with its baseline at y: left of x for align 1, around it for 0.5, right of it for 0.
func (p pen) write(w weight, size float64, c color.Color, text string, x, y, align float64) {
	p.SetFontFace(p.faces.face(w, size))
	p.SetColor(c)
	p.DrawString(text, x-align*p.faces.width(w, size, text), y)
}

func (p pen) heading(c SetCard) {
	title, size := p.faces.drawable(c.Title), 64.0
	for size > 40 && p.faces.width(bold, size, title) > width-2*margin {
		size -= 4
	}
	p.write(bold, size, ink, p.faces.fit(bold, size, width-2*margin, title), margin, 96, 0)
	p.write(bold, 84, metal, p.faces.fit(bold, 84, width/2, c.Summary), margin, 196, 0)
	const wide = width/2 - margin
	p.write(regular, 40, faint, p.faces.fit(regular, 40, wide, p.faces.drawable(c.Owner)), width-margin, 160, 1)
	p.write(regular, 34, faint, p.faces.fit(regular, 34, wide, c.AsOf), width-margin, 206, 1)
	p.SetColor(ink)
	p.SetLineWidth(4)
	p.DrawLine(margin, 232, width-margin, 232)
	p.Stroke()
}

// tile draws one slot: a disc that is full or only an outline, its marks, and its label.
func (p pen) tile(t Tile, x, y float64) {
	cx, cy, r := x+p.tileW/2, y+p.diameter/2+8, p.diameter/2
	p.disc(t.State, cx, cy, r)
	if t.State == Spare && t.Count > 0 {
		p.badge(fmt.Sprintf("+%d", min(t.Count, 999)), cx+r*0.72, cy+r*0.66)
	}
	if t.Key || t.SemiKey {
		p.diamond(cx-r*0.9, cy-r*0.72, p.small*0.62, t.Key)
	}
	baseline := y + p.diameter + 18 + p.label
	for _, line := range p.labelLines(t) {
		p.write(bold, p.label, ink, line, cx, baseline, 0.5)
		baseline += p.label * 1.1
	}
	note := t.note()
	p.write(regular, p.small, faint, p.faces.fit(regular, p.small, p.tileW, p.faces.drawable(note)), cx, baseline-p.label*1.1+p.small*1.25, 0.5)
}

// note is the small line under a label.
func (t Tile) note() string {
	switch {
	case t.Substitute != "":
		return t.Substitute
	case t.Key:
		return "key"
	case t.SemiKey:
		return "semi-key"
	}
	return ""
}

// disc draws the state: full with a tick when had, a dashed ring when missing, with a star in it when wanted.
func (p pen) disc(s State, cx, cy, r float64) {
	p.SetLineWidth(p.stroke)
	switch s {
	case Had, Spare:
		p.SetColor(metal)
		p.DrawCircle(cx, cy, r)
		p.Fill()
		p.SetColor(onIt)
		p.SetLineWidth(r * 0.17)
		p.SetLineCapRound()
		p.SetLineJoinRound()
		p.MoveTo(cx-r*0.42, cy+r*0.03)
		p.LineTo(cx-r*0.1, cy+r*0.35)
		p.LineTo(cx+r*0.46, cy-r*0.33)
		p.Stroke()
	default:
		c := faint
		if s == Wanted {
			c = accent
		}
		p.SetColor(c)
		p.SetLineCapButt()
		dash := 2 * math.Pi * r / 24
		p.SetDash(dash*0.62, dash*0.38)
		p.DrawCircle(cx, cy, r-p.stroke/2)
		p.Stroke()
		p.SetDash()
		if s == Wanted {
			p.star(cx, cy, r*0.5)
		}
	}
}

func (p pen) star(cx, cy, r float64) {
	p.SetColor(accent)
	for i := range 10 {
		angle := float64(i)*math.Pi/5 - math.Pi/2
		length := r
		if i%2 == 1 {
			length = r * 0.42
		}
		p.LineTo(cx+length*math.Cos(angle), cy+length*math.Sin(angle))
	}
	p.ClosePath()
	p.Fill()
}

// diamond marks a key piece, hollow for a semi-key.
func (p pen) diamond(cx, cy, r float64, full bool) {
	p.SetColor(accent)
	p.SetLineWidth(5)
	p.MoveTo(cx, cy-r)
	p.LineTo(cx+r, cy)
	p.LineTo(cx, cy+r)
	p.LineTo(cx-r, cy)
	p.ClosePath()
	if full {
		p.Fill()
	} else {
		p.Stroke()
	}
}

// badge says how many there are to spare.
func (p pen) badge(text string, cx, cy float64) {
	size := p.small * 1.1
	w := math.Max(p.faces.width(bold, size, text)+size*0.7, size*1.5)
	h := size * 1.4
	p.SetColor(plate)
	p.DrawRoundedRectangle(cx-w/2, cy-h/2, w, h, h*0.28)
	p.FillPreserve()
	p.SetColor(ink)
	p.SetLineWidth(4)
	p.Stroke()
	p.write(bold, size, ink, text, cx, cy+size*0.36, 0.5)
}

// legend says what the shapes mean, in two columns.
func (p pen) legend(top float64) {
	p.SetColor(ink)
	p.SetLineWidth(4)
	p.DrawLine(margin, top-16, width-margin, top-16)
	p.Stroke()
	const r = 22.0
	p.stroke, p.small = 4, 24
	column := (width - 2*margin) / 2.0
	entries := []struct {
		word string
		draw func(cx, cy float64)
	}{
		{"had", func(cx, cy float64) { p.disc(Had, cx, cy, r) }},
		{"missing", func(cx, cy float64) { p.disc(Missing, cx, cy, r) }},
		{"can be spared, how many", func(cx, cy float64) { p.badge("+1", cx, cy) }},
		{"missing and wanted", func(cx, cy float64) { p.disc(Wanted, cx, cy, r) }},
		{"key piece", func(cx, cy float64) { p.diamond(cx, cy, 20, true) }},
		{"semi-key", func(cx, cy float64) { p.diamond(cx, cy, 18, false) }},
	}
	for i, e := range entries {
		x := margin + float64(i%2)*column
		y := top + float64(i/2)*legendLine + 28
		e.draw(x+30, y)
		p.write(regular, 36, ink, e.word, x+72, y+12, 0)
	}
}
