package picture

const (
	legendSize = 40.0
	legendLine = 76.0
	legendIcon = 28.0 // radius
	legendHead = 36.0 // from the line above to the top of the first entry
)

// entry is a mark and what it means.
type entry struct {
	word phrase
	draw func(p pen, cx, cy float64)
}

// legend explains the marks that a card has, and no others, in two columns.
type legend []entry

func legendFor(tiles []Tile) legend {
	var states [Spare + 1]bool
	var keys, semiKeys bool
	for _, t := range tiles {
		if t.State < Missing || t.State > Spare {
			t.State = Missing
		}
		states[t.State] = true
		keys = keys || t.Key
		semiKeys = semiKeys || t.SemiKey && !t.Key
	}
	disc := func(s State) func(pen, float64, float64) {
		return func(p pen, cx, cy float64) { p.state(s, cx, cy, legendIcon) }
	}
	var l legend
	for _, e := range []struct {
		used bool
		entry
	}{
		{states[Had], entry{legendHad, disc(Had)}},
		{states[Spare], entry{legendSpare, func(p pen, cx, cy float64) {
			p.full(cx, cy-6, legendIcon-2)
			p.plateAt(cx, cy+legendIcon-8, legendIcon*1.8, 17)
		}}},
		{states[Missing], entry{legendMissing, disc(Missing)}},
		{states[Wanted], entry{legendWanted, disc(Wanted)}},
		{keys, entry{keyPiece, func(p pen, cx, cy float64) { p.diamond(cx, cy, 20, true) }}},
		{semiKeys, entry{semiKeyPiece, func(p pen, cx, cy float64) { p.diamond(cx, cy, 20, false) }}},
	} {
		if e.used {
			l = append(l, e.entry)
		}
	}
	return l
}

func (l legend) height() float64 {
	lines := (len(l) + 1) / 2
	if lines == 0 {
		return margin / 2
	}
	return legendHead + float64(lines)*legendLine + margin/2
}

func (p pen) legend(l legend, top float64) {
	if len(l) == 0 {
		return
	}
	p.SetLineCapRound()
	p.line(p.faint, 4, top+2, 1)
	for i, e := range l {
		x := margin + float64(i%2)*(inner/2+12)
		y := top + legendHead + (float64(i/2)+0.5)*legendLine
		e.draw(p, x+legendIcon+4, y)
		p.write(regular, legendSize, p.ink, p.faces.fit(regular, legendSize, inner/2-2*legendIcon-48, p.faces.in.Say(e.word)), x+2*legendIcon+36, y+legendSize*0.34, 0)
	}
}
