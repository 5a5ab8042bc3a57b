package series

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// unit is one thing that a term means, before exceptions: a piece, a slot, or a choice still to be made.
type unit struct {
	term   int // by place
	slot   string
	pieces []int // one, or those that will do
	open   bool  // which of pieces is meant, or all of them, has not been said
	ask    string
}

// in reads terms in one series.
func (r reader) in(i int, terms []Term) ([]Pick, error) {
	w := within{reader: r, s: r.c.all[i], x: r.c.index[i], terms: terms}
	for n := range terms {
		if err := w.take(n); err != nil {
			return nil, err
		}
	}
	for _, u := range w.units {
		if u.open {
			return nil, w.question(u)
		}
	}
	return w.picks(), nil
}

// within is a reader at work in one series.
type within struct {
	reader
	s     Series
	x     index
	terms []Term
	units []unit
}

// take reads one term in, or leaves out what it names. An entry after an exception that names nothing taken in so far is
// no exception: in "82-86 except 84, ND" the undated is wanted.
func (w *within) take(n int) error {
	t := w.terms[n]
	units, err := w.term(n, t)
	if err != nil {
		return err
	}
	if !t.Except {
		w.units = append(w.units, units...)
		return nil
	}
	out := map[int]bool{}
	for _, u := range units {
		for _, p := range u.pieces {
			out[p] = true
		}
	}
	if w.leaveOut(out, t.Group) {
		return nil
	}
	if n == 0 || !w.terms[n-1].Except || w.terms[n-1].Group != t.Group {
		return &SyntaxError{t.Col, w.text[t.Col:t.End], "nothing before it names this, so it can't be left out."}
	}
	w.units = append(w.units, units...)
	return nil
}

// leaveOut takes pieces away from what the terms of a group have named; false when none of them had been.
func (w *within) leaveOut(out map[int]bool, group int) bool {
	var left []unit
	found := false
	for _, u := range w.units {
		kept := slices.DeleteFunc(slices.Clone(u.pieces), func(p int) bool { return out[p] })
		if len(kept) == len(u.pieces) || w.terms[u.term].Group != group {
			left = append(left, u)
			continue
		}
		found = true
		for _, p := range kept {
			if u.open { // what is left of a choice is meant, each of it
				left = append(left, w.piece(u.term, p))
			}
		}
		if !u.open && len(kept) > 0 {
			left = append(left, unit{term: u.term, pieces: kept})
		}
	}
	w.units = left
	return found
}

// term says what a term means.
func (w *within) term(n int, t Term) ([]unit, error) {
	switch t.Kind {
	case All:
		return w.slots(n, t, w.mySlots())
	case Rest:
		if w.mine.Missing == nil {
			return w.slots(n, t, w.mySlots())
		}
		missing := w.mine.Missing(w.s.Code)
		if len(missing) == 0 {
			return nil, &SyntaxError{t.Col, w.text[t.Col:t.End], "nothing of " + w.s.Code + " is missing."}
		}
		return w.slots(n, t, missing)
	case Sized:
		return w.sized(n, t)
	case Named:
		return w.named(n, t)
	case Undated:
		return w.year(n, t, []int{0})
	}
	years, err := w.years(t)
	if err != nil {
		return nil, err
	}
	if len(years) == 0 { // a name with a slash, such as an overdate
		return w.one(n, t, w.x.names[fold(t.From+"/"+t.To)]), nil
	}
	return w.year(n, t, years)
}

func (w *within) mySlots() []Slot {
	if w.mine.Slots == nil {
		return w.s.SlotsFor(Edits{})
	}
	return w.mine.Slots(w.s.Code)
}

// slots means every slot, of one size if that is said.
func (w *within) slots(n int, t Term, slots []Slot) ([]unit, error) {
	var units []unit
	for _, slot := range slots {
		var pieces []int
		for _, code := range slot.Fill {
			if p, ok := w.x.place[code]; ok && (t.Size == "" || w.sizeOf(p) == t.Size) {
				pieces = append(pieces, p)
			}
		}
		switch {
		case len(pieces) == 0:
		case w.purpose == ForWants && len(pieces) == len(slot.Fill):
			units = append(units, unit{term: n, slot: slot.Code, pieces: pieces})
		default:
			units = append(units, w.one(n, t, pieces)...)
		}
	}
	if len(units) == 0 {
		return nil, &UnknownWord{t.Col, w.text[t.Col:t.End], w.s.Code, nil}
	}
	return units, nil
}

// sizeOf is a piece's weight in ounces as people write it; "" when it is odd.
func (w *within) sizeOf(p int) string {
	if size := w.s.Pieces[p].Size; size != "" {
		return size
	}
	const ounce, slack = 31_103_476_800, 311_034_768 // nanograms; one in a hundred
	gross := int64(w.s.MetalOf(w.s.Pieces[p]).Gross)
	whole := (gross + ounce/2) / ounce
	if d := gross - whole*ounce; whole == 0 || d > slack*whole || d < -slack*whole {
		return ""
	}
	return strconv.FormatInt(whole, 10) + "oz"
}

// ofSize keeps the pieces of a size; without one those of the series' usual size, or all if none is.
func (w *within) ofSize(pieces []int, size string) []int {
	keep := func(fits func(p int) bool) []int {
		return slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return !fits(p) })
	}
	if size != "" {
		return keep(func(p int) bool { return w.sizeOf(p) == size })
	}
	if usual := keep(func(p int) bool { return w.s.Pieces[p].Size == "" }); len(usual) > 0 {
		return usual
	}
	return pieces
}

// sized means the piece of a weight.
func (w *within) sized(n int, t Term) ([]unit, error) {
	word := w.text[t.Col:t.End]
	if t.Size == "" {
		return nil, &SyntaxError{t.Col, word, "how many of what?"}
	}
	var pieces []int
	for p := range w.s.Pieces {
		if w.sizeOf(p) == t.Size {
			pieces = append(pieces, p)
		}
	}
	if len(pieces) == 0 {
		return nil, &UnknownWord{t.Col, word, w.s.Code, w.sizes()}
	}
	return w.one(n, t, pieces), nil
}

func (w *within) sizes() []string {
	var sizes []string
	for p := range w.s.Pieces {
		if size := w.sizeOf(p); size != "" && !slices.Contains(sizes, size) && len(sizes) < 4 {
			sizes = append(sizes, size)
		}
	}
	return sizes
}

// one means one of some pieces: the only one, any of them if that was said of a want, else which of them is open.
func (w *within) one(n int, t Term, pieces []int) []unit {
	switch {
	case len(pieces) == 1:
		return []unit{w.piece(n, pieces[0])}
	case t.Any && w.purpose == ForWants:
		return []unit{w.anyOf(n, pieces)}
	}
	return []unit{{term: n, pieces: pieces, open: true, ask: "Which one?"}}
}

// piece means just that piece, and the speaker's slot if only that piece fills it.
func (w *within) piece(n, p int) unit {
	u := unit{term: n, pieces: []int{p}}
	if w.purpose == ForWants {
		for _, slot := range w.mySlots() {
			if len(slot.Fill) == 1 && slot.Fill[0] == w.s.Pieces[p].Code {
				u.slot = slot.Code
			}
		}
	}
	return u
}

// anyOf means any of some pieces, and the speaker's slot if just those fill it.
func (w *within) anyOf(n int, pieces []int) unit {
	u := unit{term: n, pieces: pieces}
	for _, slot := range w.mySlots() {
		if len(slot.Fill) == len(pieces) && !slices.ContainsFunc(pieces, func(p int) bool { return !slices.Contains(slot.Fill, w.s.Pieces[p].Code) }) {
			u.slot = slot.Code
		}
	}
	return u
}

// picks turns what is left into the answer, in catalogue order.
func (w *within) picks() []Pick {
	slices.SortStableFunc(w.units, func(a, b unit) int { return cmp.Compare(a.pieces[0], b.pieces[0]) })
	picks := make([]Pick, 0, len(w.units))
	for _, u := range w.units {
		t := w.terms[u.term]
		p := Pick{Series: w.s.Code, Slot: u.slot, Quantity: t.Quantity, Counted: t.Counted}
		for _, piece := range u.pieces {
			p.Pieces = append(p.Pieces, w.s.Pieces[piece].Code)
		}
		picks = append(picks, p)
	}
	return picks
}

// question asks which of several pieces is meant, with a rewritten line for every answer.
func (w *within) question(u unit) error {
	t := w.terms[u.term]
	q := &Question{Col: t.Col, Word: w.text[t.Col:t.End], Ask: q(w.text[t.Col:t.End]) + " in " + w.s.Code + ": " + u.ask}
	var labels []string
	for _, p := range u.pieces {
		labels = append(labels, w.s.Pieces[p].Label)
	}
	answer := func(label string, pieces []int, tail string) {
		q.Choices = append(q.Choices, Choice{label, w.text[:t.Col] + w.rewritten(u, pieces, tail) + w.text[t.End:]})
	}
	const most = 8
	for i, label := range labels[:min(len(labels), most)] {
		answer(label, u.pieces[i:i+1], "")
	}
	all := "all of them"
	if len(labels) == 2 {
		all = "both"
	}
	answer(all, u.pieces, "")
	if year := w.s.Pieces[u.pieces[0]].Year; w.purpose == ForWants && year != 0 && !t.Except {
		answer("either", nil, w.yearWord(year)+" any")
	}
	return q
}

func q(word string) string { return "“" + word + "”" }

// rewritten is a term spelt out: what else it means, and the answer to what it left open.
func (w *within) rewritten(u unit, pieces []int, tail string) string {
	t := w.terms[u.term]
	counts := map[string]int{}
	var words []string
	for _, other := range w.units {
		switch {
		case other.term != u.term || slices.Equal(other.pieces, u.pieces):
		case len(other.pieces) == 1:
			counts[w.s.Pieces[other.pieces[0]].Code] = t.Quantity
		default:
			words = append(words, w.yearWord(w.s.Pieces[other.pieces[0]].Year)+countTail(t))
		}
	}
	for _, p := range pieces {
		counts[w.s.Pieces[p].Code] = t.Quantity
	}
	if len(counts) > 0 {
		words = append(words, w.s.shorthand(counts, t.Counted))
	}
	if tail != "" {
		words = append(words, tail+countTail(t))
	}
	return strings.Join(words, ", ")
}

func countTail(t Term) string {
	if t.Counted {
		return " x" + strconv.Itoa(t.Quantity)
	}
	return ""
}

func (w *within) yearWord(year int) string { return w.s.yearWord(year, w.x.years) }
