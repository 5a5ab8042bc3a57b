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

// spareWord is the number on a badge.
func spareWord(n int) string {
	if n > 999 {
		return "×999+"
	}
	return "×" + strconv.Itoa(n)
}

// badge says how many pieces there are to spare, around cx, cy, but left of limit.
func (p pen) badge(n int, size, cx, cy, limit float64) {
	word := spareWord(n)
	w := p.faces.width(bold, size, word) + size*0.6
	h := size * 1.3
	cx = min(cx, limit-w/2)
	around := func(by float64) { p.DrawRoundedRectangle(cx-w/2-by, cy-h/2-by, w+2*by, h+2*by, h*0.3+by) }
	p.SetColor(p.paper)
	around(halo)
	p.Fill()
	p.SetColor(p.ink)
	around(0)
	p.Fill()
	p.SetColor(p.plate)
	around(-4)
	p.Fill()
	p.write(bold, size, p.ink, word, cx, cy+size*0.35, 0.5)
}
