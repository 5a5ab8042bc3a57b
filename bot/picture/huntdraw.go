package picture

import (
	"bytes"
	"fmt"
	"image"
	"math"

	"github.com/fogleman/gg"
)

// Sizes of the phone's hunt list, in pixels of a picture 1080 wide.
const (
	huntTitle   = 76.0
	huntOwner   = 44.0
	huntSmall   = 38.0
	huntSection = 50.0
	huntLabel   = 54.0

	huntSectionHead = huntSection * 2.2
	huntTell        = 40.0
	huntFacts       = 37.0
	huntBox         = 52.0
	huntIndent      = huntBox + 30
	huntPad         = 26.0
	huntRight       = 350.0 // for the most to pay
	tellLines       = 4
	smallLead       = 1.24
)

// PNG draws the list, 1080 pixels wide and as high as it takes.
func (h HuntList) PNG() ([]byte, error) {
	var out bytes.Buffer
	if err := gg.NewContextForRGBA(h.draw()).EncodePNG(&out); err != nil {
		return nil, fmt.Errorf("encode the hunt list: %w", err)
	}
	return out.Bytes(), nil
}

// huntRow is a line with its words broken.
type huntRow struct {
	HuntLine
	label, tell, facts []string
	most               string
	mostSize           float64
	height             float64
}

func (h HuntList) draw() *image.RGBA {
	f := facesFor(h.In)
	sections, beyond := h.shown()
	rows := make([][]huntRow, len(sections))
	price, _ := f.wrap(regular, huntSmall, inner, 3, f.drawable(h.Price))
	caution, _ := f.wrap(regular, huntSmall, inner, 4, f.drawable(h.Caution))
	head := 36 + huntTitle*1.1 + huntSmall*smallLead*float64(len(price)) + 40
	height := head
	for i, s := range sections {
		height += huntSectionHead
		for _, l := range s.Lines {
			row := layHuntRow(f, l)
			height += row.height
			rows[i] = append(rows[i], row)
		}
	}
	below := ""
	switch {
	case beyond > 0:
		below = f.fit(regular, huntTell, inner, f.in.Say(moreToPrint, "n", beyond))
	case len(sections) == 0:
		below = f.in.Say(nothingLacked)
	}
	if below != "" {
		height += belowHeight
	}
	height += huntSmall*smallLead*float64(len(caution)) + margin + 20

	canvas := image.NewRGBA(image.Rect(0, 0, width, int(math.Ceil(height))))
	p := pen{Context: gg.NewContextForRGBA(canvas), palette: light, faces: f, image: canvas}
	p.SetColor(p.paper)
	p.Clear()
	p.huntHead(h, price)
	y := head
	for i, s := range sections {
		y = p.huntSectionHead(s, y)
		for _, row := range rows[i] {
			p.huntRow(row, y)
			y += row.height
		}
	}
	if below != "" {
		p.write(regular, huntTell, p.ink, below, margin, y+huntTell*1.3, 0)
		y += belowHeight
	}
	y += 10
	for _, line := range caution {
		y += huntSmall * smallLead
		p.write(regular, huntSmall, p.faint, line, margin, y, 0)
	}
	return canvas
}

// layHuntRow breaks a line's words and finds its height.
func layHuntRow(f *faces, l HuntLine) huntRow {
	r := huntRow{HuntLine: l, most: f.drawable(l.Most), mostSize: huntLabel}
	left := inner - huntIndent - huntRight - 20
	if r.most == "" {
		left = inner - huntIndent
	}
	for f.width(bold, r.mostSize, r.most) > huntRight && r.mostSize > smallestLabel {
		r.mostSize--
	}
	r.most = f.fit(bold, r.mostSize, huntRight, r.most)
	r.label, _ = f.wrap(bold, huntLabel, left, labelLines, f.drawable(l.Label))
	r.tell, _ = f.wrap(regular, huntTell, left, tellLines, f.drawable(l.TellApart))
	if len(r.label)+len(r.tell) > 1 { // below the amount
		left = inner - huntIndent
	}
	r.facts, _ = f.wrap(regular, huntFacts, left, 3, f.drawable(l.facts(f.in)))
	r.height = 2*huntPad + huntLabel*labelLead*float64(max(len(r.label), 1)) +
		huntTell*smallLead*float64(len(r.tell)) + huntFacts*smallLead*float64(len(r.facts))
	r.height = max(r.height, 2*huntPad+huntLabel*labelLead+huntFacts*smallLead)
	return r
}

// huntHead draws the title, whose it is, and the silver price it counts with.
func (p pen) huntHead(h HuntList, price []string) {
	y := 36 + huntTitle
	title := p.faces.in.Say(huntList)
	p.write(bold, huntTitle, p.ink, title, margin, y-huntTitle*0.12, 0)
	room := inner - p.faces.width(bold, huntTitle, title) - 40
	p.write(bold, huntOwner, p.ink, p.faces.fit(bold, huntOwner, room, p.faces.drawable(h.Owner)), width-margin, y-huntSmall*1.25, 1)
	if day := p.faces.drawable(h.AsOf); day != "" {
		p.write(regular, huntSmall, p.faint, p.faces.fit(regular, huntSmall, room, p.faces.in.Say(asOf, "day", day)), width-margin, y, 1)
	}
	y += huntTitle*0.1 + 10
	for _, line := range price {
		y += huntSmall * smallLead
		p.write(regular, huntSmall, p.faint, line, margin, y, 0)
	}
}

// huntSectionHead draws a series' name over a rule, and returns where its lines begin.
func (p pen) huntSectionHead(s HuntSection, y float64) float64 {
	base := y + huntSectionHead - huntSection*0.75
	summary := p.faces.drawable(s.Summary)
	p.write(bold, huntSection, p.disc, summary, width-margin, base, 1)
	room := inner - p.faces.width(bold, huntSection, summary) - 30
	p.write(bold, huntSection, p.disc, p.faces.fit(bold, huntSection, room, p.faces.drawable(s.Name)), margin, base, 0)
	p.SetLineCapRound()
	p.line(p.disc, 6, base+22, 1)
	return y + huntSectionHead
}

// huntRow draws one line with its top at y: a box to tick, what it is, how to know it, and the most to pay.
func (p pen) huntRow(r huntRow, y float64) {
	top := y + huntPad
	p.SetColor(p.faint)
	p.SetLineWidth(5)
	p.SetLineCapRound()
	p.DrawRoundedRectangle(margin+3, top+4, huntBox, huntBox, 8)
	p.Stroke()
	x := margin + huntIndent
	base := top + huntLabel*0.86
	end := x
	for i, line := range r.label {
		p.write(bold, huntLabel, p.ink, line, x, base+float64(i)*huntLabel*labelLead, 0)
		end = x + p.faces.width(bold, huntLabel, line)
	}
	last := base + float64(max(len(r.label)-1, 0))*huntLabel*labelLead
	if r.Key || r.SemiKey {
		p.diamond(end+34, last-huntLabel*0.32, 18, r.Key)
		end += 60
	}
	if r.Soon {
		p.star(end+34, last-huntLabel*0.32, 24)
	}
	at := last + huntLabel*0.24
	for _, line := range r.tell {
		at += huntTell * smallLead
		p.write(regular, huntTell, p.ink, line, x, at-huntTell*0.16, 0)
	}
	for _, line := range r.facts {
		at += huntFacts * smallLead
		p.write(regular, huntFacts, p.faint, line, x, at-huntFacts*0.16, 0)
	}
	p.write(bold, r.mostSize, p.ink, r.most, width-margin, base, 1)
	p.write(regular, huntFacts, p.faint, p.faces.fit(regular, huntFacts, huntRight, r.limit(p.faces.in)), width-margin, base+huntFacts*1.32, 1)
	p.line(p.faint, 2, y+r.height-1, 1)
}
