package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/fogleman/gg"
	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
)

// PNG draws the card, 1080 pixels wide and as high as it takes.
func (c SetCard) PNG() ([]byte, error) {
	var out bytes.Buffer
	if err := gg.NewContextForRGBA(c.draw()).EncodePNG(&out); err != nil {
		return nil, fmt.Errorf("encode the set card: %w", err)
	}
	return out.Bytes(), nil
}

// pen draws with the faces and the colours of one card.
type pen struct {
	*gg.Context
	palette
	faces *faces
	image *image.RGBA
}

func (c SetCard) draw() *image.RGBA {
	f := facesFor(c.In)
	shown, beyond := c.shown()
	h, g, l := c.heading(f), arrange(f, shown), legendFor(shown)
	below := f.countBeyond(beyond)
	if len(shown) == 0 {
		below = f.in.Say(nothingCounts)
	}

	height := h.height + l.height()
	for _, r := range g.rows {
		height += r.height + g.gapBelow()
	}
	if below != "" {
		height += belowHeight
	}
	canvas := image.NewRGBA(image.Rect(0, 0, width, int(math.Ceil(height))))
	p := pen{Context: gg.NewContextForRGBA(canvas), palette: c.palette(), faces: f, image: canvas}
	p.SetColor(p.paper)
	p.Clear()

	p.heading(h)
	y := h.height
	for _, r := range g.rows {
		for i, s := range r.slots {
			p.slot(g, s, margin+float64(i)*(g.tileW+g.gap), y)
		}
		y += r.height + g.gapBelow()
	}
	if below != "" {
		p.write(regular, 40, p.ink, p.faces.fit(regular, 40, inner, below), margin, y+40, 0)
		y += belowHeight
	}
	p.legend(l, y)
	return canvas
}

// belowHeight is the room for the line below the slots.
const belowHeight = 80

// write puts text with its baseline at y: right of x for align 0, around it for 0.5, left of it for 1.
func (p pen) write(w weight, size float64, c color.Color, text string, x, y, align float64) {
	face := p.faces.face(w, size)
	x -= align * p.faces.width(w, size, text)
	d := font.Drawer{Dst: p.image, Src: image.NewUniform(c), Face: face, Dot: fixed.Point26_6{
		X: fixed.Int26_6(math.Round(x * 64)), Y: fixed.I(int(math.Round(y))),
	}}
	d.DrawString(text)
}

// heading is the words at the head of a card, each cut to its room.
type heading struct {
	title           []string
	titleSize       float64
	summary, aside  string // aside stands beside the summary
	owner, asOf     string
	share           float64 // of the slots, from 0 to 1
	baseline, ruleY float64 // of the summary; of the rule below it
	height          float64
}

const (
	summarySize = 96.0
	asideSize   = 46.0
	ownerSize   = 44.0
	asOfSize    = 36.0
)

func (c SetCard) heading(f *faces) heading {
	h := heading{titleSize: 68}
	title := f.drawable(c.Title)
	if f.width(bold, h.titleSize, title) > inner {
		h.titleSize = 54
	}
	h.title, _ = f.wrap(bold, h.titleSize, inner, 2, title)
	h.summary = f.fit(bold, summarySize, inner/2, f.drawable(c.Summary))
	right := inner - f.width(bold, summarySize, h.summary) - 40
	if c.complete() {
		h.aside = f.in.Say(complete)
		right -= f.width(bold, asideSize, h.aside) + 28
	}
	h.owner = f.fit(bold, ownerSize, right, f.drawable(c.Owner))
	if day := f.drawable(c.AsOf); day != "" {
		h.asOf = f.fit(regular, asOfSize, right, f.in.Say(asOf, "day", day))
	}
	if len(c.Tiles) > 0 {
		h.share = float64(had(c.Tiles)) / float64(len(c.Tiles))
	}
	h.baseline = 36 + float64(len(h.title))*h.titleSize*labelLead + summarySize*1.02
	h.ruleY = h.baseline + 44
	h.height = h.ruleY + 40
	return h
}

// heading draws the head; its rule is heavy as far as the set has come.
func (p pen) heading(h heading) {
	y := 36.0
	for _, line := range h.title {
		y += h.titleSize * labelLead
		p.write(bold, h.titleSize, p.ink, line, margin, y-h.titleSize*0.18, 0)
	}
	p.write(bold, summarySize, p.disc, h.summary, margin, h.baseline, 0)
	p.write(bold, asideSize, p.disc, h.aside, margin+p.faces.width(bold, summarySize, h.summary)+28, h.baseline, 0)
	p.write(bold, ownerSize, p.ink, h.owner, width-margin, h.baseline-asOfSize*1.35, 1)
	p.write(regular, asOfSize, p.faint, h.asOf, width-margin, h.baseline, 1)
	p.SetLineCapRound()
	p.line(p.faint, 4, h.ruleY, 1)
	if h.share > 0 {
		p.line(p.disc, 16, h.ruleY, h.share)
	}
}

// line is a level line from the left margin over a share of the card.
func (p pen) line(c color.Color, thick, y, share float64) {
	p.SetColor(c)
	p.SetLineWidth(thick)
	p.DrawLine(margin+thick/2, y, margin+max(share*inner-thick/2, thick/2), y)
	p.Stroke()
}

// slot draws one slot with its top left corner at x, y.
func (p pen) slot(g grid, s slot, x, y float64) {
	r := g.diameter / 2
	cx, cy := x+g.tileW/2, y+overhang+r
	p.state(s.State, cx, cy, r)
	if n := s.spare(); n > 0 {
		p.badge(n, g, cx, cy+r)
	}
	if s.rare() {
		p.diamond(cx-r*0.78, cy-r*0.72, 12+r*0.14, s.Key)
	}
	baseline := y + overhang + g.diameter + g.underDisc() + g.label*0.9
	for _, line := range s.label {
		p.write(bold, g.label, p.ink, line, cx, baseline, 0.5)
		baseline += g.label * labelLead
	}
	baseline += g.small*noteLead - g.label*labelLead
	for _, line := range s.notes {
		p.write(regular, g.small, p.faint, line, cx, baseline, 0.5)
		baseline += g.small * noteLead
	}
}
