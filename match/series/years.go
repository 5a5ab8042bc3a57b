package series

import (
	"slices"
	"strconv"
	"strings"
)

// years says which years of the series a term names; none when it is a name with a slash, such as an overdate's.
func (w *within) years(t Term) ([]int, error) {
	word := w.text[t.Col:t.End]
	if t.Slash {
		if len(w.x.names[fold(t.From+"/"+t.To)]) > 0 {
			return nil, nil
		}
		return nil, w.slashed(t)
	}
	from := w.x.year(t.From)
	if from < 0 {
		return nil, w.noYear(t, t.From)
	}
	switch {
	case t.Open:
		last := w.yearWord(w.x.years[len(w.x.years)-1])
		return nil, w.ask(t, q(word)+": up to when?", Choice{t.From + " alone", t.From}, Choice{"up to " + last, t.From + "-" + last})
	case t.To == "":
		return []int{from}, nil
	}
	to := w.x.rangeEnd(from, t.To)
	switch {
	case to < 0:
		return nil, w.noYear(t, t.To)
	case to < from:
		turned := t.To + "-" + t.From
		return nil, w.ask(t, q(word)+" runs backwards.", Choice{turned, turned}, Choice{"just those two", t.From + ", " + t.To})
	}
	return slices.DeleteFunc(slices.Clone(w.x.years), func(y int) bool { return y < from || y > to }), nil
}

// slashed asks what two years with a slash are: two years, or one piece with an overdate that the series does not list.
func (w *within) slashed(t Term) error {
	from := w.x.year(t.From)
	if from < 0 {
		return w.noYear(t, t.From)
	}
	to := w.x.rangeEnd(from, t.To)
	if to < 0 {
		return w.noYear(t, t.To)
	}
	first, second := w.yearWord(from), w.yearWord(to)
	return w.ask(t, q(w.text[t.Col:t.End])+": two years, or one date cut over another? "+w.s.Code+" lists no overdate.",
		Choice{first + " and " + second, first + ", " + second}, Choice{"just " + first, first}, Choice{"just " + second, second})
}

// ask puts a question about a term; a choice's text stands in for the term's year, with what else was said of it.
func (w *within) ask(t Term, ask string, choices ...Choice) error {
	question := &Question{Col: t.Col, Word: w.text[t.Col:t.End], Ask: ask}
	for _, c := range choices {
		said := t
		said.Kind, said.Words = Named, append([]string{c.Text}, t.Words...)
		if strings.Contains(c.Text, ", ") {
			said.Words = said.Words[:1]
		}
		question.Choices = append(question.Choices, Choice{c.Label, w.text[:t.Col] + said.String() + w.text[t.End:]})
	}
	return question
}

// noYear points at a year that the series does not have.
func (w *within) noYear(t Term, typed string) error {
	col := strings.Index(w.text[t.Col:t.End], typed)
	unknown := &UnknownWord{t.Col + max(col, 0), typed, w.s.Code, nil}
	if col < 0 { // typed with wide digits
		unknown.Word = w.text[t.Col:t.End]
	}
	if len(w.x.years) > 0 {
		unknown.Near = []string{w.yearWord(w.x.years[0]) + "-" + w.yearWord(w.x.years[len(w.x.years)-1])}
	}
	return unknown
}

// year says what some years mean, 0 for the undated, narrowed by size and by words after them.
func (w *within) year(n int, t Term, years []int) ([]unit, error) {
	var pieces []int
	for p, piece := range w.s.Pieces {
		if slices.Contains(years, piece.Year) {
			pieces = append(pieces, p)
		}
	}
	sized := w.ofSize(pieces, t.Size)
	if len(sized) == 0 {
		return nil, w.nothingOf(t, pieces)
	}
	if len(t.Words) == 0 {
		return w.byYear(n, t, years, sized), nil
	}
	fitting, used := w.narrowed(pieces, t)
	if used == 0 {
		return w.afterYear(n, t, years, sized)
	}
	units := []unit{}
	for _, year := range years {
		if one := w.inYear(fitting, year); len(one) > 0 {
			units = append(units, w.one(n, t, one)...)
		}
	}
	return w.following(n, t, used, units)
}

// nothingOf says that there is no such size, or nothing undated.
func (w *within) nothingOf(t Term, ofYears []int) error {
	word := w.text[t.Col:t.End]
	if len(ofYears) == 0 {
		return &UnknownWord{t.Col, word, w.s.Code, nil}
	}
	var near []string
	for _, p := range ofYears[:min(len(ofYears), 4)] {
		near = append(near, w.s.Pieces[p].Label)
	}
	return &UnknownWord{t.Col, word, w.s.Code, near}
}

func (w *within) inYear(pieces []int, year int) []int {
	return slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return w.s.Pieces[p].Year != year })
}

// byYear means bare years. Of a year with several pieces a want means the speaker's own slots: their only one, all of
// them in a range, and when a single year is several slots it asks. A holding is one piece, so it asks.
func (w *within) byYear(n int, t Term, years, pieces []int) []unit {
	var units []unit
	for _, year := range years {
		one := w.inYear(pieces, year)
		if len(one) == 0 {
			continue
		}
		if w.purpose == ForHoldings || t.Size != "" || t.Any && len(one) > 1 {
			units = append(units, w.one(n, t, one)...)
			continue
		}
		mine := w.slotsOver(one)
		switch {
		case len(mine) == 1 || len(mine) > 1 && len(years) > 1:
			for _, slot := range mine {
				units = append(units, unit{term: n, slot: slot.Code, pieces: w.placesOf(slot)})
			}
		default:
			units = append(units, w.one(n, t, one)...)
		}
	}
	return units
}

// slotsOver lists the speaker's slots that are filled first by one of some pieces.
func (w *within) slotsOver(pieces []int) []Slot {
	var over []Slot
	for _, slot := range w.mySlots() {
		if p, ok := w.x.place[slot.Fill[0]]; ok && slices.Contains(pieces, p) {
			over = append(over, slot)
		}
	}
	return over
}

func (w *within) placesOf(slot Slot) []int {
	var places []int
	for _, code := range slot.Fill {
		if p, ok := w.x.place[code]; ok {
			places = append(places, p)
		}
	}
	return places
}

// fillers are words before a variety that say nothing of their own.
var fillers = []string{"reverse", "rev", "rev.", "variety", "var", "var.", "mark", "motif", "with", "the"}

// narrowed keeps the pieces that the words after a year name, and says how many of the words did: as many as can.
func (w *within) narrowed(pieces []int, t Term) (fitting []int, used int) {
	for n := len(t.Words); n > 0; n-- {
		words := t.Words[:n]
		for {
			said := fold(strings.Join(words, " "))
			for _, p := range pieces {
				if w.isCalled(p, said) && (t.Size == "" || w.sizeOf(p) == t.Size) {
					fitting = append(fitting, p)
				}
			}
			if len(fitting) > 0 {
				return fitting, n
			}
			if len(words) < 2 || !slices.Contains(fillers, strings.ToLower(words[0])) {
				break
			}
			words = words[1:]
		}
	}
	return nil, 0
}

// isCalled reports whether a piece goes by some words when its year has been said already.
func (w *within) isCalled(p int, said string) bool {
	piece := w.s.Pieces[p]
	for _, name := range append([]string{piece.Variety, piece.Motif, piece.Label, piece.Code, "variety " + piece.Variety}, piece.Aliases...) {
		name = fold(name)
		if name == said {
			return true
		}
		for _, year := range []string{w.yearWord(piece.Year), strconv.Itoa(piece.Year)} {
			if after, ok := strings.CutPrefix(name, year); ok && strings.TrimSpace(after) == said && piece.Year != 0 {
				return true
			}
		}
	}
	return false
}

// afterYear reads a year whose words are no variety of it as a year and a name of its own, if they are one.
func (w *within) afterYear(n int, t Term, years, pieces []int) ([]unit, error) {
	return w.following(n, t, 0, w.byYear(n, t, years, pieces))
}

// following adds what the words from the i-th on name to what has been named before them.
func (w *within) following(n int, t Term, i int, units []unit) ([]unit, error) {
	if i == len(t.Words) {
		return units, nil
	}
	more, err := w.named(n, w.rest(t, i))
	return append(units, more...), err
}

// named says what words on their own mean: a piece by its whole name, then what the words after it mean.
func (w *within) named(n int, t Term) ([]unit, error) {
	for k := len(t.Words); k > 0; k-- {
		said := fold(strings.Join(t.Words[:k], " "))
		if pieces := w.x.names[said]; len(pieces) > 0 {
			if sized := w.ofSize(pieces, t.Size); len(sized) > 0 {
				return w.following(n, t, k, w.one(n, t, sized))
			}
		}
		if w.purpose == ForWants {
			for _, slot := range w.mySlots() {
				if fold(slot.Label) == said && t.Size == "" {
					return w.following(n, t, k, []unit{{term: n, slot: slot.Code, pieces: w.placesOf(slot)}})
				}
			}
		}
	}
	if len(t.Words) > 1 && slices.Contains(fillers, strings.ToLower(t.Words[0])) {
		return w.named(n, w.rest(t, 1))
	}
	col, word := w.word(t, 0)
	if noughts := strings.ReplaceAll(plain(word), "o", "0"); letterO(plain(word)) && w.x.year(noughts) > 0 {
		return nil, w.ask(Term{Kind: Named, Quantity: t.Quantity, Counted: t.Counted, Col: col, End: col + len(word)},
			q(word)+" has a letter O. Is it "+noughts+"?", Choice{noughts, noughts})
	}
	return nil, &UnknownWord{col, word, w.s.Code, w.near(word)}
}

// near lists labels of pieces whose names are close to a word.
func (w *within) near(word string) []string {
	var names []string
	for name := range w.x.names {
		names = append(names, name)
	}
	slices.Sort(names)
	var labels []string
	for _, name := range nearest(fold(word), names) {
		for _, p := range w.x.names[name] {
			if label := w.s.Pieces[p].Label; !slices.Contains(labels, label) && len(labels) < 4 {
				labels = append(labels, label)
			}
		}
	}
	return labels
}
