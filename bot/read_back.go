package bot

import (
	"slices"
	"strconv"
	"strings"

	"spareounce/match/series"
	"spareounce/store"
)

// readBack says how far a member is with each of some series: "harbour: 4 of 9, missing 82, 87-89, ND."
func (t turn) readBack(shelf *store.Shelf, codes []string) string {
	var lines []string
	for _, code := range codes {
		one, ok := t.catalogue.Series(code)
		if !ok {
			continue
		}
		c := shelf.Completion(one)
		line := code + ": " + t.Say(countOf, "n", c.Had, "of", len(c.Slots))
		switch missing := c.Missing(); {
		case len(c.Slots) == 0:
			line += ", " + t.Say(nothingCounts)
		case len(missing) == 0:
			line += ", " + t.Say(isComplete)
		default:
			line += ", " + t.Say(isMissing, "list", one.ShorthandSlots(missing))
		}
		if len(c.Extra) > 0 {
			line += "; " + t.Say(beyondTheSet, "list", one.Shorthand(c.Extra))
		}
		if spare := t.sparesOf(shelf, one); spare != "" {
			line += "; " + t.Say(canSpareToo, "list", strings.TrimPrefix(spare, code+" "))
		}
		lines = append(lines, t.Say(asSentence, "reason", line))
	}
	return strings.Join(lines, "\n")
}

// codesOf lists the series that picks are of, in the order they were said.
func codesOf(picks []pick) []string {
	var codes []string
	for _, p := range picks {
		if !slices.Contains(codes, p.Series) {
			codes = append(codes, p.Series)
		}
	}
	return codes
}

// spareList is what a line put on offer, as it stands now.
func (t turn) spareList(shelf *store.Shelf, picks []pick) string {
	var lists []string
	for _, code := range codesOf(picks) {
		one, _ := t.catalogue.Series(code)
		said := &store.Shelf{Holdings: map[store.HoldingKey]store.Holding{}}
		for _, p := range picks {
			if p.Series == code {
				key := shelf.Row(code, p.Pieces[0], p.about.condition)
				said.Holdings[key] = shelf.Holdings[key]
			}
		}
		lists = append(lists, t.sparesOf(said, one))
	}
	return strings.Join(lists, "; ")
}

// wantList is what a line asked for, as it stands now.
func (t turn) wantList(shelf *store.Shelf, picks []pick) string {
	var lists []string
	for _, code := range codesOf(picks) {
		said := &store.Shelf{Wants: map[store.WantKey]store.Want{}, Sets: shelf.Sets}
		for _, p := range picks {
			if p.Series == code {
				said.Wants[wantKey(p.Pick)] = shelf.Wants[wantKey(p.Pick)]
			}
		}
		lists = append(lists, t.wantsOf(said, code))
	}
	return strings.Join(lists, "; ")
}

// wantsOf lists a member's wants of a series in catalogue order: plain ones compressed, those with something said about
// them on their own. "" when there are none.
func (t turn) wantsOf(shelf *store.Shelf, code string) string {
	one, ok := t.catalogue.Series(code)
	if !ok {
		return ""
	}
	var plain []series.Slot
	var told []string
	for _, key := range sortedWants(shelf, one) {
		w := shelf.Wants[key]
		slot := slotOf(one, shelf, key, w)
		words := t.aboutWant(w)
		if w.Quantity > 1 {
			words = append([]string{"x" + strconv.Itoa(w.Quantity)}, words...)
		}
		if len(words) == 0 {
			plain = append(plain, slot)
			continue
		}
		told = append(told, one.ShorthandSlots([]series.Slot{slot})+" "+strings.Join(words, " "))
	}
	if len(plain) > 0 {
		told = append([]string{one.ShorthandSlots(plain)}, told...)
	}
	if len(told) == 0 {
		return ""
	}
	return code + " " + strings.Join(told, ", ")
}

// struckOff lists the wants that a change has met.
func (t turn) struckOff(before, after *store.Shelf) string {
	met := &store.Shelf{Wants: map[store.WantKey]store.Want{}, Sets: before.Sets}
	for key, w := range before.Wants {
		if now, ok := after.Wants[key]; !ok || now.Quantity < w.Quantity {
			met.Wants[key] = store.Want{Pieces: w.Pieces, Quantity: w.Quantity - now.Quantity, Priority: store.Normal}
		}
	}
	return t.everySeries(func(one series.Series) string { return t.wantsOf(met, one.Code) })
}

// everySeries joins what there is to list of each series, in catalogue order.
func (t turn) everySeries(list func(series.Series) string) string {
	var lists []string
	for _, one := range t.catalogue.All() {
		if line := list(one); line != "" {
			lists = append(lists, line)
		}
	}
	return strings.Join(lists, "; ")
}

// sortedWants lists the wants of a series by the place of their first piece.
func sortedWants(shelf *store.Shelf, one series.Series) []store.WantKey {
	place := map[string]int{}
	for i, p := range one.Pieces {
		place[p.Code] = i + 1
	}
	var keys []store.WantKey
	for key := range shelf.Wants {
		if key.Series == one.Code {
			keys = append(keys, key)
		}
	}
	first := func(key store.WantKey) int {
		least := len(place) + 1
		for _, piece := range shelf.Wants[key].Pieces {
			least = min(least, place[piece])
		}
		return least
	}
	slices.SortFunc(keys, func(a, b store.WantKey) int {
		if d := first(a) - first(b); d != 0 {
			return d
		}
		return strings.Compare(a.Wanted, b.Wanted)
	})
	return keys
}

// slotOf is the slot that a want is for: the member's own if it is one of theirs, else one that just its pieces fill.
func slotOf(one series.Series, shelf *store.Shelf, key store.WantKey, w store.Want) series.Slot {
	for _, slot := range slices.Concat(one.SlotsFor(shelf.Sets[one.Code]), one.Slots) {
		if slot.Code == key.Wanted {
			return slot
		}
	}
	labels := make([]string, len(w.Pieces))
	for i, code := range w.Pieces {
		labels[i] = labelIn(one, code)
	}
	return series.Slot{Code: key.Wanted, Label: strings.Join(labels, " or "), Fill: w.Pieces}
}

// aboutWant is what is said about a want, in the words that can be typed.
func (t turn) aboutWant(w store.Want) []string {
	var words []string
	if w.Quiet {
		words = append(words, t.Say(quietWord))
	}
	if w.Least != series.Unsaid {
		words = append(words, "least "+w.Least.String())
	}
	if w.Top != nil {
		words = append(words, "up to "+t.group.Currency.Format(*w.Top))
	}
	switch w.Priority {
	case store.Soon:
		words = append(words, "soon")
	case store.Someday:
		words = append(words, "someday")
	}
	if w.Note != "" {
		words = append(words, "note "+w.Note)
	}
	return words
}

// nameOf is a piece as members say it: the series' word and the piece's label. What is no piece is named by its codes.
func (t turn) nameOf(code, piece string) string { return code + " " + t.labelOf(code, piece) }

func (t turn) labelOf(code, piece string) string {
	return label(t.catalogue, code, piece)
}

func label(catalogue *series.Catalogue, code, piece string) string {
	one, _ := catalogue.Series(code)
	return labelIn(one, piece)
}

// labelIn is the label of a piece or else of a slot; a code that is neither stands for itself.
func labelIn(one series.Series, piece string) string {
	if p, ok := one.Piece(piece); ok {
		return p.Label
	}
	for _, slot := range one.Slots {
		if slot.Code == piece {
			return slot.Label
		}
	}
	return piece
}

// pieceName is a row's piece as members say it, without its condition.
func pieceName(catalogue *series.Catalogue, key store.HoldingKey) string {
	return key.Series + " " + label(catalogue, key.Series, key.Piece)
}

func (t turn) pickName(p series.Pick) string {
	if p.Slot != "" {
		return t.nameOf(p.Series, p.Slot)
	}
	labels := make([]string, len(p.Pieces))
	for i, piece := range p.Pieces {
		labels[i] = t.labelOf(p.Series, piece)
	}
	return p.Series + " " + strings.Join(labels, " or ")
}

// seriesNamed finds a series by its word, or says which words there are.
func (t turn) seriesNamed(word string) (series.Series, error) {
	one, ok, near := t.catalogue.FindSeries(word)
	if ok {
		return one, nil
	}
	if len(near) > 0 {
		return one, sentence(t.Say(noSeriesNear, "word", word, "near", t.Or(near)))
	}
	var codes []string
	for _, s := range t.catalogue.All() {
		codes = append(codes, s.Code)
	}
	return one, sentence(t.Say(noSeriesNamed, "word", word, "all", t.Or(codes)))
}
