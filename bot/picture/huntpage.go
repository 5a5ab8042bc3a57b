package picture

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// A page is A4, and its margins leave what is on it within a Letter sheet as well, so that either can be printed at full
// size. Lengths are millimetres, sizes of type points.
const (
	pageWidth   = 210.0
	pageHeight  = 297.0
	pageMargin  = 17.0
	pageInner   = pageWidth - 2*pageMargin
	pageTop     = 18.0
	pageBottom  = 38.0 // Letter is 17.6 shorter
	columnMelt  = 30.0
	columnMost  = 34.0
	columnWant  = 17.0
	columnBox   = 9.0
	columnPiece = pageInner - columnBox - columnMelt - columnMost - columnWant
	rowPad      = 1.7
	lineBody    = 4.3 // of 9.5 points
	lineLabel   = 5.2 // of 11.5 points
	lineOwn     = 2.4 // "your limit", below an amount
)

// page writes a hunt list to print. The words are text, not shapes, in the font that the pictures have, which is embedded.
type page struct {
	*fpdf.Fpdf
	faces *faces
}

// PDF is the list as a page to print and tick; more pages when it is long. The same list gives the same bytes.
func (h HuntList) PDF() ([]byte, error) {
	p := page{fpdf.New("P", "mm", "A4", ""), facesFor(h.In)}
	p.AddUTF8FontFromBytes("text", "", p.faces.data[regular])
	p.AddUTF8FontFromBytes("text", "B", p.faces.data[bold])
	p.SetCatalogSort(true)
	p.SetCreationDate(h.At)
	p.SetModificationDate(h.At)
	p.SetProducer("Spareounce", true)
	p.SetTitle(h.In.Say(huntTitleOf, "owner", p.words(h.Owner), "day", p.words(h.AsOf)), true)
	p.SetLang(h.In.Tag())
	p.SetMargins(pageMargin, pageTop, pageMargin)
	p.SetAutoPageBreak(false, 0)
	p.AliasNbPages("{pages}")
	p.SetFooterFunc(func() { p.foot(h) })
	p.AddPage()
	p.head(h)
	for _, s := range h.Sections {
		p.section(s)
	}
	if h.total() == 0 {
		p.text("", 12, p.GetY()+10, pageMargin, pageInner, h.In.Say(nothingLacked), "L")
	}
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("write the hunt list: %w", err)
	}
	return out.Bytes(), nil
}

// words is a text as the font can write it. A run of letters that it lacks becomes [?].
func (p page) words(text string) string {
	return strings.ReplaceAll(p.faces.drawable(text), string(unseen), "[?]")
}

// text writes one line with its baseline at y, cut to its room.
func (p page) text(style string, size, y, x, room float64, text, align string) {
	p.SetFont("text", style, size)
	text = p.fit(room, p.words(text))
	w := p.GetStringWidth(text)
	switch align {
	case "R":
		x += room - w
	case "C":
		x += (room - w) / 2
	}
	p.Text(x, y, text)
}

// fit shortens a text with an ellipsis until it has room. The font is set.
func (p page) fit(room float64, text string) string {
	if p.GetStringWidth(text) <= room {
		return text
	}
	letters := []rune(text)
	for len(letters) > 0 && p.GetStringWidth(string(letters)+"…") > room {
		letters = letters[:len(letters)-1]
	}
	return strings.TrimRight(string(letters), " ") + "…"
}

// wrap breaks a text into lines that have room, at most so many.
func (p page) wrap(style string, size, room float64, most int, text string) []string {
	p.SetFont("text", style, size)
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(p.words(text)) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && p.GetStringWidth(longer) > room && p.GetStringWidth(word) <= room {
			lines, longer = append(lines, line), word
		}
		for p.GetStringWidth(longer) > room { // Japanese has no spaces to break at
			front := p.front(room, longer)
			lines, longer = append(lines, front), strings.TrimSpace(longer[len(front):])
		}
		line = longer
	}
	if line != "" {
		lines = append(lines, line)
	}
	if len(lines) > most {
		lines[most-1] = strings.Join(lines[most-1:], " ")
		lines = lines[:most]
	}
	for i := range lines {
		lines[i] = p.fit(room, lines[i])
	}
	return lines
}

// front is as much of the beginning of a text as has room, at least one letter, so that what follows may begin a line.
func (p page) front(room float64, text string) string {
	letters := []rune(text)
	n := 1
	for n < len(letters) && p.GetStringWidth(string(letters[:n+1])) <= room {
		n++
	}
	if n > 1 && n < len(letters) && strings.ContainsRune(neverFirst, letters[n]) {
		n--
	}
	return string(letters[:n])
}

func (p page) head(h HuntList) {
	p.SetTextColor(0, 0, 0)
	p.text("B", 22, pageTop+7, pageMargin, pageInner/2, h.In.Say(huntList), "L")
	p.text("B", 12, pageTop+2, pageMargin+pageInner/3, pageInner*2/3, h.Owner, "R")
	if h.AsOf != "" {
		p.text("", 10, pageTop+7, pageMargin+pageInner/2, pageInner/2, h.In.Say(asOf, "day", h.AsOf), "R")
	}
	y := pageTop + 13
	for _, line := range p.wrap("", 9.5, pageInner, 3, h.Price) {
		p.text("", 9.5, y, pageMargin, pageInner, line, "L")
		y += lineBody
	}
	p.SetY(y)
}

// columns are the heads of the table's columns.
func (p page) columns(y float64) {
	x := pageMargin + columnBox + columnPiece
	for _, c := range []struct {
		room float64
		head phrase
	}{{columnMelt, columnOfMelt}, {columnMost, mostToPay}, {columnWant, columnOfOthers}} {
		p.text("", 8.5, y, x, c.room-2, p.faces.in.Say(c.head), "R")
		x += c.room
	}
}

// section is one series: its name, then a line for each piece. A name never stands alone at the foot of a page.
func (p page) section(s HuntSection) {
	p.room(20)
	p.sectionHead(s, s.Name)
	for _, l := range s.Lines {
		tell := p.wrap("", 9.5, columnPiece-2, tellLines, l.TellApart)
		height := 2*rowPad + lineLabel + lineBody*float64(len(tell))
		if l.Own {
			height = max(height, 2*rowPad+lineLabel+lineOwn)
		}
		if p.room(height) {
			p.sectionHead(s, p.faces.in.Say(continued, "series", s.Name))
		}
		p.row(l, tell, height)
	}
}

func (p page) sectionHead(s HuntSection, name string) {
	y := p.GetY() + 8
	p.SetFont("text", "B", 13)
	name = p.fit(columnPiece+columnBox-24, p.words(name))
	p.text("B", 13, y, pageMargin, columnPiece+columnBox-20, name, "L")
	if s.Summary != "" {
		p.SetFont("text", "B", 13)
		p.text("", 10, y, pageMargin+p.GetStringWidth(name)+4, 24, s.Summary, "L")
	}
	p.columns(y)
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.5)
	p.Line(pageMargin, y+1.8, pageWidth-pageMargin, y+1.8)
	p.SetY(y + 1.8)
}

// room begins a new page when less than so much is left on this one, and reports whether it did.
func (p page) room(height float64) bool {
	if p.GetY()+height <= pageHeight-pageBottom {
		return false
	}
	p.AddPage()
	p.SetY(pageTop - 6)
	return true
}

// row is one piece: a box to tick, its label with the mark of a key piece, how to know it, and what it may cost.
func (p page) row(l HuntLine, tell []string, height float64) {
	top := p.GetY()
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(0.35)
	p.Rect(pageMargin+0.5, top+rowPad+0.2, 4.6, 4.6, "D")
	x, y := pageMargin+columnBox, top+rowPad+4.1
	label := l.Label
	if word := l.rarity(p.faces.in); word != "" {
		label += " (" + word + ")"
	}
	p.text("B", 11.5, y, x, columnPiece-2, label, "L")
	amounts := x + columnPiece
	p.text("", 10.5, y, amounts, columnMelt-2, l.Melt, "R")
	most := l.Most
	p.text("B", 11.5, y, amounts+columnMelt, columnMost-2, most, "R")
	if l.Own && most != "" {
		p.text("", 8, y+3.6, amounts+columnMelt, columnMost-2, p.faces.in.Say(yourLimit), "R")
	}
	if l.Others > 0 {
		p.text("", 10.5, y, amounts+columnMelt+columnMost, columnWant-2, fmt.Sprint(l.Others), "R")
	}
	for i, line := range tell {
		p.text("", 9.5, y+lineBody*float64(i+1)+0.4, x, columnPiece-2, line, "L")
	}
	bottom := top + height
	p.SetDrawColor(150, 150, 150)
	p.SetLineWidth(0.15)
	p.Line(pageMargin, bottom, pageWidth-pageMargin, bottom)
	p.SetY(bottom)
}

// foot is the caution and the number of the page.
func (p page) foot(h HuntList) {
	y := pageHeight - pageBottom + 8
	p.SetTextColor(0, 0, 0)
	for _, line := range p.wrap("", 8.5, pageInner-26, 2, h.In.Say(othersMean, "caution", h.Caution)) {
		p.text("", 8.5, y, pageMargin, pageInner-26, line, "L")
		y += 3.8
	}
	p.SetFont("text", "", 8.5)
	number := h.In.Say(pageOf, "n", p.PageNo(), "pages", "{pages}")
	p.Text(pageWidth-pageMargin-16, pageHeight-pageBottom+8, number)
}
