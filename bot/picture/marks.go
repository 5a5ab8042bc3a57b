package picture

import (
	"math"
	"strconv"
)

// halo is the band of paper around a mark that lies on another.
const halo = 7

// state draws a slot's disc: full with a tick when had, else a dashed ring, with a star in it when wanted.
func (p pen) state(s State, cx, cy, r float64) {
	switch s {
	case Had, Spare:
		p.full(cx, cy, r)
	case Wanted:
		p.ring(cx, cy, r)
		p.star(cx, cy, r*0.56)
	default:
		p.ring(cx, cy, r)
	}
}

// full is a disc with the raised rim of a round, and a tick.
func (p pen) full(cx, cy, r float64) {
	p.SetColor(p.disc)
	p.DrawCircle(cx, cy, r)
	p.Fill()
	p.SetColor(p.rim)
	p.SetLineWidth(max(r*0.03, 1.5))
	p.DrawCircle(cx, cy, r*0.88)
	p.Stroke()
	p.SetColor(p.tick)
	p.SetLineWidth(r * 0.18)
	p.SetLineCapRound()
	p.SetLineJoinRound()
	p.MoveTo(cx-r*0.42, cy+r*0.03)
	p.LineTo(cx-r*0.1, cy+r*0.35)
	p.LineTo(cx+r*0.46, cy-r*0.33)
	p.Stroke()
}

// ring is dashed; larger rings have more dashes, so that a dash looks the same on all.
func (p pen) ring(cx, cy, r float64) {
	stroke := 3 + r*0.035
	r -= stroke / 2
	dashes := math.Round(12 + r/8)
	dash := 2 * math.Pi * r / dashes
	p.SetColor(p.faint)
	p.SetLineWidth(stroke)
	p.SetLineCapButt()
	p.SetDash(dash*0.6, dash*0.4)
	p.DrawCircle(cx, cy, r)
	p.Stroke()
	p.SetDash()
}

// star has five points.
func (p pen) star(cx, cy, r float64) {
	p.SetColor(p.accent)
	for i := range 10 {
		angle := float64(i)*math.Pi/5 - math.Pi/2
		length := r
		if i%2 == 1 {
			length = r * 0.45
		}
		p.LineTo(cx+length*math.Cos(angle), cy+length*math.Sin(angle))
	}
	p.ClosePath()
	p.Fill()
}

// diamond marks a key piece, hollow for a semi-key.
func (p pen) diamond(cx, cy, r float64, full bool) {
	path := func(r float64) {
		p.MoveTo(cx, cy-r)
		p.LineTo(cx+r, cy)
		p.LineTo(cx, cy+r)
		p.LineTo(cx-r, cy)
		p.ClosePath()
	}
	p.SetColor(p.paper)
	path(r + halo*math.Sqrt2)
	p.Fill()
	p.SetColor(p.accent)
	path(r)
	p.Fill()
	if !full {
		p.SetColor(p.paper)
		path(r * 0.55)
		p.Fill()
	}
}

// spareWord is what a badge says and how large: smaller letters when the tile is narrow, and when those would be too small to
// read, the number alone, which the legend explains.
func (g *grid) spareWord(f *faces, n int) (word string, size float64) {
	number := strconv.Itoa(n)
	if n > 999 {
		number = "999+"
	}
	word = f.in.Say(spareBadge, "n", number)
	room := g.tileW - 2*badgePad
	size = math.Floor(g.small * min(1, room/f.width(bold, g.small, word))) // widths are rounded letter by letter: keep some play
	if size < smallestBadge {
		return "×" + number, g.small
	}
	return word, size
}

const (
	badgePad      = 11.0 // left and right of a badge's word
	smallestBadge = 26.0
)

// badge says how many pieces there are to spare. It hangs on the lower edge of a disc, around cx, edge, clear of the tick.
func (p pen) badge(n int, g grid, cx, edge float64) {
	word, size := g.spareWord(p.faces, n)
	cy := edge - 2
	p.plateAt(cx, cy, p.faces.width(bold, size, word)+2*badgePad, g.badgeHeight())
	p.write(bold, size, p.ink, word, cx, cy+size*0.35, 0.5)
}

// plateAt is a badge without its word.
func (p pen) plateAt(cx, cy, w, h float64) {
	edge := max(h*0.08, 2.5)
	around := func(by float64) { p.DrawRoundedRectangle(cx-w/2-by, cy-h/2-by, w+2*by, h+2*by, h*0.3+by) }
	p.SetColor(p.paper)
	around(min(halo-2, h*0.15))
	p.Fill()
	p.SetColor(p.ink)
	around(0)
	p.Fill()
	p.SetColor(p.plate)
	around(-edge)
	p.Fill()
}
