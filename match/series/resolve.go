package series

import "slices"

// unit is one thing that a term means: a piece, a slot, or a choice still to be made.
type unit struct {
	series, stretch int
	term            *Term
	slot            string
	pieces          []int // one, or those that will do
	open            bool  // which of pieces is meant, or each of them, is not said
	single          bool  // the term names just this, by itself
	left            bool  // an exception has taken something away from it
	quantity        int
	counted         bool
	text            string // what would be typed for it
	year            int    // the year that text is, if it may stand in a range
}

// within is a reader at work on a stretch in one series.
type within struct {
	reader
	series   int
	stretch  stretch
	s        *Series
	x        *index
	terms    []Term
	units    []unit
	mine     []mySlot // what counts for the speaker, once known
	known    bool
	meant    [][]unit     // by term, before exceptions
	taken    map[int]bool // pieces taken in so far in a group, exceptions or not
	group    int          // that taken is of
	question error
}

// in reads a stretch in one series.
func (r reader) in(i int, s stretch) ([]unit, error) {
	w := within{reader: r, series: i, stretch: s, s: &r.c.all[i], x: &r.c.index[i], taken: map[int]bool{}}
	terms, err := parse(r.text, w.x.named(w.s, s.tokens))
	if err != nil {
		return nil, err
	}
	w.terms = terms
	if err := w.choicesStand(); err != nil {
		return nil, err
	}
	w.meant = make([][]unit, len(terms))
	for n := range terms {
		err := w.take(n)
		if err != nil && !isQuestion(err) {
			return nil, err
		}
		if w.question == nil {
			w.question = err
		}
	}
	if w.question != nil {
		return nil, w.question
	}
	for _, u := range w.units {
		if u.open {
			return nil, w.which(u)
		}
	}
	return w.units, nil
}

// choicesStand refuses an "or" that cannot stand, whatever the pieces: for a holding, or beside more than one.
func (w *within) choicesStand() error {
	many := func(t Term) bool { return t.Kind == All || t.Kind == Rest || t.To != "" || t.Open || t.Both }
	for n := range w.terms {
		t := &w.terms[n]
		switch {
		case !t.Or || t.Except:
		case w.purpose == ForHoldings:
			return w.wrong(t, say("say which one it is."))
		case many(*t) || many(w.terms[n-1]):
			return w.wrong(t, say("“or” stands between two pieces."))
		}
	}
	return nil
}

// take reads one term in, or leaves out what it names. What follows an exception and names nothing taken in so far is
// none: in "82-86 except 84, ND" the undated is meant.
func (w *within) take(n int) error {
	t := &w.terms[n]
	if t.Group != w.group {
		w.taken, w.group = map[int]bool{}, t.Group
	}
	units, err := w.term(n)
	if err != nil {
		return err
	}
	single := len(units) == 1 && t.Kind != All && t.Kind != Rest && t.To == ""
	for i := range units {
		u := &units[i]
		u.series, u.stretch, u.term, u.single = w.series, w.stretch.col, t, single
		u.quantity, u.counted = t.Quantity, t.Counted
	}
	w.meant[n] = slices.Clone(units)
	switch {
	case t.Except:
		return w.except(n, units)
	case t.Or:
		return w.or(n, units)
	}
	w.takeIn(units)
	return nil
}

func (w *within) takeIn(units []unit) {
	for _, u := range units {
		for _, p := range u.pieces {
			w.taken[p] = true
		}
	}
	w.units = append(w.units, units...)
}

func (w *within) wrong(t *Term, reason Wording) error {
	return &SyntaxError{t.Col, w.text[t.Col:t.End], reason}
}

// except leaves out what some units name.
func (w *within) except(n int, units []unit) error {
	t := &w.terms[n]
	inside := 0
	out := map[int]bool{}
	for _, u := range units {
		if slices.ContainsFunc(u.pieces, func(p int) bool { return w.taken[p] }) {
			inside++
		}
		for _, p := range u.pieces {
			out[p] = true
		}
	}
	follows := n > 0 && w.terms[n-1].Except && w.terms[n-1].Group == t.Group
	switch {
	case w.question != nil: // what stands before is not known yet
		return nil
	case n == 0 && w.stretch.series >= 0 && !w.stretch.before:
		return w.allBut(t)
	case inside == 0 && !follows:
		return w.wrong(t, say("nothing before it names this, so it can't be left out."))
	case inside == 0:
		w.takeIn(units)
		return nil
	case inside < len(units):
		return w.wrong(t, say("only a part of this is named before it. Leave out just that part."))
	case t.Counted:
		return w.wrong(t, say("say what to leave out without a number of pieces."))
	}
	w.leaveOut(out)
	if len(w.units) == 0 && n == len(w.terms)-1 {
		return w.wrong(t, say("nothing is left."))
	}
	return nil
}

// leaveOut takes pieces away from what the terms of the group have named. What is left of a choice is meant, each of it.
func (w *within) leaveOut(out map[int]bool) {
	var left []unit
	for _, u := range w.units {
		kept := slices.DeleteFunc(slices.Clone(u.pieces), func(p int) bool { return out[p] })
		switch {
		case len(kept) == len(u.pieces) || u.term.Group != w.group:
			left = append(left, u)
		case u.open:
			for _, p := range kept {
				one := w.piece(p)
				one.series, one.stretch, one.term, one.quantity, one.counted, one.left = u.series, u.stretch, u.term, u.quantity, u.counted, true
				left = append(left, one)
			}
		case len(kept) > 0:
			u.pieces, u.slot, u.left = kept, w.slotOf(kept), true
			left = append(left, u)
		}
	}
	for i := range left {
		left[i].left = left[i].left || left[i].term.Group == w.group
	}
	w.units = left
}

// allBut asks whether an exception with nothing before it is from all.
func (w *within) allBut(t *Term) error {
	end := w.stretch.end
	return &Question{
		Col: t.Col, Word: w.text[t.Col:t.End], Ask: say("All of {series} but “{word}”?", "series", w.s.Code, "word", w.text[t.Col:t.End]),
		Choices: []Choice{{plain("all but " + w.text[t.Col:t.End]), w.text[:end] + " all" + w.text[end:]}},
	}
}

// or makes what a term names another choice for what the term before it named.
func (w *within) or(n int, units []unit) error {
	t, last := &w.terms[n], len(w.units)-1
	switch {
	case w.question != nil: // what stands before is not known yet
		return nil
	case len(units) != 1 || last < 0 || w.units[last].term != &w.terms[n-1] || len(w.meant[n-1]) != 1:
		return w.wrong(t, say("“or” stands between two pieces."))
	}
	u := &w.units[last]
	u.pieces = slices.Clone(u.pieces)
	for _, p := range units[0].pieces {
		if !slices.Contains(u.pieces, p) {
			u.pieces = append(u.pieces, p)
		}
		w.taken[p] = true
	}
	slices.Sort(u.pieces)
	u.term, u.slot, u.open, u.single = t, w.slotOf(u.pieces), false, false
	if t.Counted {
		u.quantity, u.counted = t.Quantity, true
	}
	return nil
}

// term says what the n-th term means.
func (w *within) term(n int) ([]unit, error) {
	t := &w.terms[n]
	if t.Size != "" && t.Kind != Sized && !slices.Contains(w.x.sizes, t.Size) {
		return nil, w.unknown(t.Col, t.End, w.sizes())
	}
	switch t.Kind {
	case All:
		return w.slots(t, w.mySlots())
	case Rest:
		missing := w.mySlots()
		if w.reader.mine.Missing != nil {
			missing = nil
			for _, slot := range w.reader.mine.Missing(w.s.Code) {
				missing = append(missing, w.mySlot(slot))
			}
		}
		if len(missing) == 0 {
			return nil, w.wrong(t, say("nothing of {series} is missing.", "series", w.s.Code))
		}
		return w.slots(t, missing)
	case Sized:
		return w.sized(t)
	case Named:
		units, err := w.named(t)
		if t.Or && n > 0 && w.terms[n-1].Kind == Years && (err != nil || len(units) != 1 || units[0].open) {
			if ofYear, err := w.sameYear(t, w.terms[n-1]); err == nil { // "91 star or crescent"
				return ofYear, nil
			}
		}
		return units, err
	case Undated:
		return w.undated(t)
	}
	return w.years(t)
}

// mySlot is a slot of the speaker's, as the series knows it.
type mySlot struct {
	Slot
	fill []int // pieces, the one meant first
	year int   // when a bare year is what the slot is called
}

func (w *within) mySlot(slot Slot) mySlot {
	m := mySlot{Slot: slot}
	for _, code := range slot.Fill {
		if p, ok := w.x.place[code]; ok && !slices.Contains(m.fill, p) {
			m.fill = append(m.fill, p)
		}
	}
	if year := w.x.labelYear[slot.Label]; len(m.fill) > 0 && w.s.Pieces[m.fill[0]].Year == year {
		m.year = year
	}
	return m
}

// mySlots lists what counts for the speaker.
func (w *within) mySlots() []mySlot {
	if w.known {
		return w.mine
	}
	w.known = true
	slots := w.reader.mine.Slots
	if slots == nil {
		slots = func(string) []Slot { return w.s.SlotsFor(Edits{}) }
	}
	for _, slot := range slots(w.s.Code) {
		w.mine = append(w.mine, w.mySlot(slot))
	}
	return w.mine
}

// slots means every slot, of one size if that is said. Of a holding it means the piece that the slot is called by.
func (w *within) slots(t *Term, slots []mySlot) ([]unit, error) {
	var units []unit
	for _, slot := range slots {
		pieces := w.ofSize(slot.fill, t.Size)
		switch {
		case len(pieces) == 0:
		case w.purpose == ForWants && len(pieces) == len(slot.fill):
			units = append(units, w.slot(slot))
		case pieces[0] == slot.fill[0] && slot.Label == w.s.Pieces[pieces[0]].Label:
			units = append(units, w.piece(pieces[0]))
		default:
			units = append(units, w.oneOf(t, pieces, w.slot(slot))...)
		}
	}
	if len(units) == 0 {
		return nil, w.unknown(t.Col, t.End, w.sizes())
	}
	return units, nil
}

// ofSize keeps the pieces of a size, all of them when none is said.
func (w *within) ofSize(pieces []int, size string) []int {
	if size == "" {
		return pieces
	}
	return slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return w.x.sizes[p] != size })
}

// sizes are the weights that pieces of the series have, as they are typed.
func (w *within) sizes() []string {
	var sizes []string
	for _, size := range w.x.sizes {
		if size != "" && !slices.Contains(sizes, size) && len(sizes) < 4 {
			sizes = append(sizes, size)
		}
	}
	return sizes
}

// unknown says that text[col:end] is no word of the series.
func (w *within) unknown(col, end int, near []string) error {
	return &UnknownWord{col, w.text[col:end], w.s.Code, near}
}

// oneOf means one of some pieces: the only one, each or any of them if that was said, else which of them is open. It is
// typed as other is.
func (w *within) oneOf(t *Term, pieces []int, other unit) []unit {
	switch {
	case len(pieces) == 1:
		return []unit{w.piece(pieces[0])}
	case t.Both:
		units := make([]unit, len(pieces))
		for i, p := range pieces {
			units[i] = w.piece(p)
		}
		return units
	case t.Any && w.purpose == ForWants:
		u := unit{slot: w.slotOf(pieces), pieces: pieces, text: other.text}
		return []unit{u}
	}
	return []unit{{pieces: pieces, open: true, text: other.text, year: other.year}}
}

// piece means just that piece; ForWants the speaker's slot that is called like it, or that only it fills.
func (w *within) piece(p int) unit {
	u := unit{pieces: []int{p}, text: w.s.Pieces[p].Label}
	if len(w.x.usual[w.s.Pieces[p].Year]) == 1 && w.x.usual[w.s.Pieces[p].Year][0] == p && w.s.Pieces[p].Year != 0 {
		u.year = w.s.Pieces[p].Year
		u.text = w.x.yearWord(u.year)
	}
	if w.purpose != ForWants {
		return u
	}
	for _, slot := range w.mySlots() {
		if len(slot.fill) > 0 && slot.fill[0] == p && (len(slot.fill) == 1 || slot.Label == w.s.Pieces[p].Label) {
			u.slot, u.pieces = slot.Code, slot.fill
			break
		}
	}
	return u
}

// slot means a slot of the speaker's.
func (w *within) slot(slot mySlot) unit {
	u := unit{slot: slot.Code, pieces: slot.fill, text: slot.Label, year: slot.year}
	if u.year != 0 {
		u.text = w.x.yearWord(u.year)
	}
	return u
}

// slotOf is the code of the speaker's slot that just these pieces fill; "" for none, or for holdings.
func (w *within) slotOf(pieces []int) string {
	if w.purpose != ForWants {
		return ""
	}
	for _, slot := range w.mySlots() {
		if len(slot.fill) == len(pieces) && !slices.ContainsFunc(pieces, func(p int) bool { return !slices.Contains(slot.fill, p) }) {
			return slot.Code
		}
	}
	return ""
}
