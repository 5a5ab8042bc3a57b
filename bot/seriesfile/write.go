package seriesfile

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Write writes a series in one fixed form: the head, then pieces, slots and checklists, each in catalogue order, with
// nothing said that Read would supply.
func Write(s series.Series) []byte {
	var w writer
	w.text("code", s.Code)
	w.text("name", s.Name)
	w.text("maker", s.Maker)
	w.text("country", s.Country)
	w.texts("aliases", s.Aliases)
	w.text("metal", s.MetalName)
	w.metal(s.Metal, melt.Metal{})
	w.percent(s.PremiumPercent)
	w.number("declared", int64(s.Declared))
	w.texts("sources", s.Sources)
	for _, p := range s.Pieces {
		w.piece(s, p)
	}
	for _, slot := range s.Slots {
		if p, ok := s.Piece(slot.Code); ok && slot.Label == p.Label && len(slot.Fill) == 1 && slot.Fill[0] == p.Code {
			continue // every piece has its own slot unless a file says otherwise
		}
		w.head("slot")
		w.text("code", slot.Code)
		w.text("label", slot.Label)
		w.texts("fill", slot.Fill)
	}
	for _, c := range s.Checklists {
		w.head("checklist")
		w.text("code", c.Code)
		w.text("name", c.Name)
		w.texts("slots", c.Slots)
	}
	return w.Bytes()
}

type writer struct{ bytes.Buffer }

func (w *writer) head(name string) { fmt.Fprintf(w, "\n[[%s]]\n", name) }

func (w *writer) text(key, text string) {
	if text != "" {
		fmt.Fprintf(w, "%s = %s\n", key, quoted(text))
	}
}

func (w *writer) texts(key string, texts []string) {
	if len(texts) == 0 {
		return
	}
	all := make([]string, len(texts))
	for i, text := range texts {
		all[i] = quoted(text)
	}
	fmt.Fprintf(w, "%s = [%s]\n", key, strings.Join(all, ", "))
}

// quoted is a TOML basic string: Go's quoting agrees with it for all that needs none but quotes and backslashes, and
// other control characters are written as \u.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (w *writer) number(key string, n int64) {
	if n != 0 {
		fmt.Fprintf(w, "%s = %d\n", key, n)
	}
}

func (w *writer) percent(n int) {
	if n != 0 {
		w.text("premium", strconv.Itoa(n)+"%")
	}
}

// metal writes what a piece is made of, but for the fineness when it is the series'.
func (w *writer) metal(m, of melt.Metal) {
	if m.Gross != 0 {
		w.text("gross", m.Gross.String())
	}
	if m.Fineness != 0 && m.Fineness != of.Fineness {
		w.text("fineness", m.Fineness.String())
	}
	if m.Fine != 0 {
		w.text("fine", m.Fine.String())
	}
}

func (w *writer) piece(s series.Series, p series.Piece) {
	w.head("piece")
	w.text("code", p.Code)
	w.text("label", p.Label)
	w.number("year", int64(p.Year))
	w.text("variety", p.Variety)
	w.text("motif", p.Motif)
	w.text("size", p.Size)
	w.metal(p.Metal, s.Metal)
	w.number("mintage", p.Mintage)
	if p.Scarcity != series.Common {
		w.text("scarcity", p.Scarcity.String())
	}
	w.percent(p.PremiumPercent)
	w.text("tell_apart", p.TellApart)
	w.texts("aliases", p.Aliases)
}
