package series

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"spareounce/match/melt"
)

// ounce is a one-ounce piece of .999 silver.
var ounce = melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}

// aSeries gives every piece its own slot, then adds slots and checklists; the first piece of a slot is its place.
func aSeries(code string, aliases []string, pieces []Piece, slots []Slot, lists ...Checklist) Series {
	s := Series{Code: code, Name: "The " + code + " series", Aliases: aliases, Metal: ounce, Pieces: pieces, Checklists: lists}
	for i, p := range s.Pieces {
		if p.Label == "" {
			s.Pieces[i].Label = p.Code
		}
		s.Slots = append(s.Slots, Slot{p.Code, s.Pieces[i].Label, []string{p.Code}})
	}
	s.Slots = append(s.Slots, slots...)
	return s
}

func dated(from, to int) []Piece {
	var pieces []Piece
	for y := from; y <= to; y++ {
		pieces = append(pieces, Piece{Code: fmt.Sprintf("%02d", y%100), Year: y})
	}
	return pieces
}

// shapes are series of the shapes that are common practice in the trade.
func shapes() []Series {
	pier := slices.Concat(dated(1982, 1983), []Piece{
		{Code: "84g", Label: "84 gull", Year: 1984, Variety: "gull", Motif: "pier head"},
		{Code: "84h", Label: "84 heron", Year: 1984, Variety: "heron", Motif: "pier head"},
	}, dated(1985, 1986), []Piece{
		{Code: "86-tenth", Label: "1/10oz 86", Year: 1986, Size: "1/10oz", Aliases: []string{"tenth"}},
		{Code: "86-half", Label: "1/2oz 86", Year: 1986, Size: "1/2oz", Aliases: []string{"half"}},
	}, dated(1987, 1987))
	pier[0].Motif, pier[1].Motif = "lightship", "breakwater"
	wick := append(dated(1982, 1989), Piece{Code: "nd", Label: "ND", Motif: "open door", Aliases: []string{"no date"}})
	hedge := []Piece{
		{Code: "wren", Motif: "wren", Variety: "bird"},
		{Code: "linnet", Motif: "linnet", Variety: "bird"},
		{Code: "sloe", Motif: "sloe", Variety: "berry"},
		{Code: "hip", Motif: "hip", Variety: "berry", Aliases: []string{"rose hip"}},
	}
	needle := []Piece{
		{Code: "91s", Label: "91 star", Year: 1991, Variety: "star"},
		{Code: "91c", Label: "91 crescent", Year: 1991, Variety: "crescent"},
		{Code: "92s", Label: "92 star", Year: 1992, Variety: "star"},
		{Code: "92c", Label: "92 crescent", Year: 1992, Variety: "crescent"},
		{Code: "tide", Label: "tide table", Motif: "tide table"},
	}
	ingots := []Piece{{Code: "1oz"}, {Code: "2oz"}, {Code: "5oz"}, {Code: "10oz"}}
	for i, n := range []melt.Weight{1, 2, 5, 10} {
		ingots[i].Size, ingots[i].Metal = ingots[i].Code, melt.Metal{Gross: n * melt.TroyOunce, Fineness: 9990}
	}
	century := append(dated(1911, 1914), dated(2010, 2014)...)
	for i := range century {
		century[i].Code = strconv.Itoa(century[i].Year)
	}
	return []Series{
		aSeries("pier", []string{"the old pier"}, pier, []Slot{{"84", "84", []string{"84g", "84h"}}},
			Checklist{"varieties", "every variety", []string{"82", "83", "84g", "84h", "85", "86", "87"}},
			Checklist{"years", "by year", []string{"82", "83", "84", "85", "86", "87"}},
			Checklist{"fractionals", "with fractionals", []string{"82", "83", "84g", "84h", "85", "86", "86-tenth", "86-half", "87"}}),
		aSeries("wick", nil, wick, nil),
		aSeries("hedge", nil, hedge, nil),
		aSeries("needle", nil, needle, []Slot{{"91", "91", []string{"91s", "91c"}}, {"92", "92", []string{"92s", "92c"}}},
			Checklist{"years", "by year", []string{"91", "92"}}, Checklist{"marks", "every mark", []string{"91s", "91c", "92s", "92c"}}),
		aSeries("yearbook", nil, dated(1984, 2013), nil),
		aSeries("ingots", []string{"ingot"}, ingots, nil),
		aSeries("century", nil, century, nil),
	}
}

// brief writes a reading on one line: "pier 82 84g|84h*2; wick nd". A slot is written with an equals sign, "84=84g|84h".
func brief(r Reading) string {
	var b strings.Builder
	last := ""
	for _, p := range r.Picks {
		switch {
		case p.Series != last && last != "":
			b.WriteString("; " + p.Series + " ")
		case last == "":
			b.WriteString(p.Series + " ")
		default:
			b.WriteByte(' ')
		}
		last = p.Series
		if p.Slot != "" {
			b.WriteString(p.Slot + "=")
		}
		b.WriteString(strings.Join(p.Pieces, "|"))
		if p.Counted {
			b.WriteString("*" + strconv.Itoa(p.Quantity))
		}
	}
	return b.String()
}

// outcome is a reading, or what was said instead: "?word: choice / choice", "!word" for what is no shorthand, "~word:
// near, near" for what a series does not know.
func outcome(r Reading, err error) string {
	switch e := err.(type) {
	case nil:
		return brief(r)
	case *Question:
		labels := make([]string, len(e.Choices))
		for i, c := range e.Choices {
			labels[i] = c.Label.String()
		}
		return "?" + e.Word + ": " + strings.Join(labels, " / ")
	case *SyntaxError:
		return "!" + e.Word
	case *UnknownWord:
		return "~" + e.Word + ": " + strings.Join(e.Near, ", ")
	}
	return err.Error()
}

// line is what someone types, and what it should come to.
type typed struct{ text, want string }

func readAll(t *testing.T, f For, m Mine, lines []typed) {
	t.Helper()
	c := NewCatalogue(shapes())
	for _, l := range lines {
		if got := outcome(c.Read(l.text, f, m)); got != l.want {
			t.Errorf("%q\n got %s\nwant %s", l.text, got, l.want)
		}
	}
}
