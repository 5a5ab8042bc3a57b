package series

import (
	"slices"
	"strconv"
)

// years says what a year or a range of years means.
func (w *within) years(t *Term) ([]unit, error) {
	if !t.Cross && len(w.x.year(t.From)) == 0 {
		return nil, w.noYear(t, t.From)
	}
	decade := t.Letters == "s" && len(t.parts) == 1
	var pieces []int
	named := false
	if !decade {
		var err error
		if pieces, named, err = w.described(t); err != nil {
			return nil, err
		}
	}
	if t.Cross {
		if err := w.uncross(t); err != nil {
			return nil, err
		}
	}
	if t.Slash {
		return nil, w.slashed(t)
	}
	from, err := w.oneYear(t, t.From)
	if err != nil {
		return nil, err
	}
	if decade {
		return nil, w.decade(t, from)
	}
	years := []int{from}
	if t.To != "" || t.Open {
		if years, err = w.span(t, from); err != nil {
			return nil, err
		}
	}
	if !named {
		return w.bareYears(t, years)
	}
	var units []unit
	for _, year := range years {
		if one := w.preferUsual(w.ofSize(w.inYear(pieces, year), t.Size), t.Size); len(one) > 0 {
			units = append(units, w.oneOf(t, one, unit{text: w.x.yearWord(year) + " " + t.Words[len(t.Words)-1]})...)
		}
	}
	if len(units) == 0 {
		return nil, w.notOf(t, from)
	}
	return units, nil
}

// oneYear is the year of the series that digits mean. When there are several it asks.
func (w *within) oneYear(t *Term, digits string) (int, error) {
	years := w.x.year(digits)
	switch len(years) {
	case 0:
		return 0, w.noYear(t, digits)
	case 1:
		return years[0], nil
	}
	var choices []Choice
	for _, year := range years {
		word := strconv.Itoa(year)
		to := t.To
		if to == digits && t.From != digits {
			choices = append(choices, w.retyped(t, plain(word), t.From, word))
			continue
		}
		choices = append(choices, w.retyped(t, plain(word), word, to))
	}
	return 0, w.ask(t, say("“{word}” in {series}: of which century?", "word", digits, "series", w.s.Code), choices...)
}

// noYear points at a year that the series does not have.
func (w *within) noYear(t *Term, digits string) error {
	all := tokens(w.text[t.Col:t.End])
	i := slices.IndexFunc(all, func(a token) bool { return a.from == digits || a.to == digits && a.kind != tokenGlued })
	col, end := t.Col, t.End
	if i >= 0 {
		col, end = t.Col+all[i].col, t.Col+all[i].end
		if at := col + end - col - len(digits); all[i].to == digits && at > col && w.text[at:end] == digits {
			col = at
		}
	}
	if len(w.x.years) == 0 {
		return w.unknown(col, end, w.sizes())
	}
	return w.unknown(col, end, []string{w.x.yearWord(w.x.years[0]) + "-" + w.x.yearWord(w.x.years[len(w.x.years)-1])})
}

// span lists the years of the series from the first of a range to its end. Missing digits of the end are those of the
// start; two digits are the first year after the start that ends in them.
func (w *within) span(t *Term, from int) ([]int, error) {
	first := w.x.yearWord(from)
	if t.Open {
		last := w.x.yearWord(w.x.years[len(w.x.years)-1])
		return nil, w.ask(t, say("“{word}”: up to when?", "word", w.text[t.Col:t.End]),
			w.retyped(t, say("up to {year}", "year", last), first, last), w.retyped(t, say("{year} alone", "year", first), first, ""))
	}
	digits := t.To
	if len(digits) == 1 {
		digits = strconv.Itoa(from)[:3] + digits
	}
	ends := w.x.year(digits)
	if len(ends) == 0 {
		return nil, w.noYear(t, t.To)
	}
	to := ends[len(ends)-1]
	for _, end := range slices.Backward(ends) {
		if end >= from {
			to = end
		}
	}
	if to < from {
		last := w.x.yearWord(to)
		return nil, w.ask(t, say("“{word}” runs backwards.", "word", w.text[t.Col:t.End]),
			w.retyped(t, plain(last+"-"+first), last, first), w.both(t, say("just those two"), first, last))
	}
	return slices.DeleteFunc(slices.Clone(w.x.years), func(y int) bool { return y < from || y > to }), nil
}

// uncross decides which of two numbers with an x is the year.
func (w *within) uncross(t *Term) error {
	left, right := len(w.x.year(t.From)) > 0, len(w.x.year(t.To)) > 0
	times := func(year, count string) Choice {
		said := *t
		said.Cross, said.From, said.To, said.Quantity, said.Counted = false, year, "", number(count), true
		return Choice{say("{n} of {year}", "n", said.Quantity, "year", year), w.instead(t, said.String())}
	}
	switch {
	case left && right:
		return w.ask(t, say("“{word}”: which is the year?", "word", w.text[t.Col:t.End]), times(t.To, t.From), times(t.From, t.To))
	case !left && !right:
		return w.noYear(t, t.From)
	case right:
		t.From, t.To = t.To, t.From
	}
	t.Quantity, t.Counted, t.Cross, t.To = number(t.To), true, false, ""
	if t.Quantity < 1 {
		return w.wrong(t, say("how many?"))
	}
	return nil
}

// slashed asks what two years with a slash are: two pieces, either of them, or one date cut over another.
func (w *within) slashed(t *Term) error {
	from, err := w.oneYear(t, t.From)
	if err != nil {
		return err
	}
	first := w.x.yearWord(from)
	over := strconv.Itoa(from)
	over += "/" + over[:4-len(t.To)] + t.To
	var choices []Choice
	for _, p := range w.x.names[over].pieces {
		said := *t
		said.Kind, said.Words = Named, []string{w.s.Pieces[p].Label}
		choices = append(choices, Choice{plain(w.s.Pieces[p].Label), w.instead(t, said.String())})
	}
	if to := w.x.year(over[len(over)-4:]); len(to) == 1 {
		second := w.x.yearWord(to[0])
		choices = append(choices, w.both(t, say("{year} and {other}", "year", first, "other", second), first, second))
		if w.purpose == ForWants {
			said := *t
			said.Slash, said.From, said.To = false, second, ""
			choices = append(choices, Choice{say("either"), w.instead(t, first+" or "+said.String())})
		}
	}
	if len(choices) == 0 {
		return w.noYear(t, t.To)
	}
	word := w.text[t.Col:t.End]
	ask := say("“{word}”: two years, or one date cut over another?", "word", word)
	if len(w.x.names[over].pieces) == 0 {
		ask = say("“{word}”: two years, or one date cut over another? {series} lists no such overdate.", "word", word, "series", w.s.Code)
		choices = append(choices, w.retyped(t, say("one of {year}", "year", first), first, ""))
	}
	return w.ask(t, ask, choices...)
}

// decade asks whether "90s" are several of one year, or ten years.
func (w *within) decade(t *Term, from int) error {
	last := from
	for _, y := range w.x.years {
		if y >= from && y <= from+9 {
			last = y
		}
	}
	first := w.x.yearWord(from)
	choices := []Choice{w.retyped(t, say("the year {year}", "year", first), first, "")}
	if last > from {
		end := w.x.yearWord(last)
		choices = append(choices, w.retyped(t, plain(first+"-"+end), first, end))
	}
	return w.ask(t, say("“{word}”: one year or ten?", "word", w.text[t.Col:t.End]), choices...)
}

// bareYears means years of which nothing is said but perhaps a size. Of a year with several pieces a want means the
// speaker's own slots: their only one, or all of them in a range; when a single year is several it asks. A holding is one
// piece, so it asks.
func (w *within) bareYears(t *Term, years []int) ([]unit, error) {
	var units []unit
	for _, year := range years {
		one := w.x.usual[year]
		if t.Size != "" {
			one = w.ofSize(w.allOf(year), t.Size)
		}
		if len(one) == 0 {
			continue
		}
		asTyped := unit{text: w.x.yearWord(year), year: year}
		if t.Size != "" {
			asTyped = unit{text: t.Size + " " + asTyped.text}
		}
		if w.purpose == ForHoldings || t.Size != "" || t.Both || t.Any && len(one) > 1 {
			units = append(units, w.oneOf(t, one, asTyped)...)
			continue
		}
		mine := w.slotsOver(year, one)
		if len(mine) == 1 || len(mine) > 1 && len(years) > 1 {
			for _, slot := range mine {
				units = append(units, w.slot(slot))
			}
			continue
		}
		units = append(units, w.oneOf(t, one, asTyped)...)
	}
	if len(units) == 0 {
		return nil, w.notOf(t, years[0])
	}
	return units, nil
}

// slotsOver lists the speaker's slots that a bare year means: the one called by it, or all that its pieces fill first.
func (w *within) slotsOver(year int, pieces []int) []mySlot {
	var over []mySlot
	for _, slot := range w.mySlots() {
		if slot.year == year {
			return []mySlot{slot}
		}
		if len(slot.fill) > 0 && slices.Contains(pieces, slot.fill[0]) {
			over = append(over, slot)
		}
	}
	return over
}

// undated says what means the pieces that bear no year.
func (w *within) undated(t *Term) ([]unit, error) {
	pieces, named, err := w.described(t)
	switch {
	case err != nil:
		return nil, err
	case named:
		pieces = w.inYear(pieces, 0)
	default:
		pieces = w.x.usual[0]
		if called := w.x.names["nd"]; called.whole {
			pieces = called.pieces
		}
	}
	if pieces = w.preferUsual(w.ofSize(pieces, t.Size), t.Size); len(pieces) == 0 {
		return nil, w.notOf(t, 0)
	}
	return w.oneOf(t, pieces, unit{text: "ND"}), nil
}

func (w *within) inYear(pieces []int, year int) []int {
	return slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return w.s.Pieces[p].Year != year })
}

// allOf lists the pieces of a year, of whatever size.
func (w *within) allOf(year int) []int {
	var all []int
	for p := range w.s.Pieces {
		if w.s.Pieces[p].Year == year {
			all = append(all, p)
		}
	}
	return all
}

// preferUsual keeps the pieces of the usual size when there are any and no size is said.
func (w *within) preferUsual(pieces []int, size string) []int {
	if size != "" {
		return pieces
	}
	usual := slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return w.s.Pieces[p].Size != "" })
	if len(usual) > 0 {
		return usual
	}
	return pieces
}

// notOf says that what a term says of a year is not so, and what there is of that year.
func (w *within) notOf(t *Term, year int) error {
	col, end := t.Col, t.End
	for _, part := range t.parts {
		if part.kind == tokenName {
			col, end = part.col, part.end
			break
		}
	}
	return w.unknown(col, end, w.labels(w.allOf(year)))
}

// labels are those of the first pieces of some.
func (w *within) labels(pieces []int) []string {
	var labels []string
	for _, p := range pieces[:min(len(pieces), 4)] {
		labels = append(labels, w.s.Pieces[p].Label)
	}
	return labels
}
