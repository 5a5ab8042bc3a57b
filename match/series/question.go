package series

import "strings"

// ask puts a question about a term.
func (w *within) ask(t *Term, ask Wording, choices ...Choice) error {
	return &Question{Col: t.Col, Word: w.text[t.Col:t.End], Ask: ask, Choices: choices}
}

// instead is the whole line with something else in the place of a term. It is kept apart from the terms beside it, and
// the series' word stays when it stands within the term.
func (w *within) instead(t *Term, text string) string {
	if w.stretch.series >= 0 && t.Col < w.stretch.col && w.stretch.col < t.End {
		text = w.s.Code + " " + text
	}
	touch := func(from, to int) bool { return strings.TrimSpace(w.text[from:to]) == "" }
	for n := range w.terms {
		other := &w.terms[n]
		switch {
		case n > 0 && other == t && touch(w.terms[n-1].End, t.Col):
			text = ", " + text
		case n > 0 && &w.terms[n-1] == t && touch(t.End, other.Col):
			text += ","
		}
	}
	return w.text[:t.Col] + text + w.text[t.End:]
}

// retyped is the choice of other years in a term.
func (w *within) retyped(t *Term, label Wording, from, to string) Choice {
	return Choice{label, w.instead(t, w.ofYears(t, from, to))}
}

// both is the choice of two years in the place of one term.
func (w *within) both(t *Term, label Wording, one, other string) Choice {
	return Choice{label, w.instead(t, w.ofYears(t, one, "")+", "+w.ofYears(t, other, ""))}
}

// ofYears is a term with other years.
func (w *within) ofYears(t *Term, from, to string) string {
	said := *t
	said.From, said.To, said.Letters, said.Open, said.Slash, said.Cross = from, to, "", false, false, false
	if t.Letters != "" && len(said.Words) > 0 {
		said.Words = said.Words[1:]
	}
	return said.String()
}

// which asks which of several pieces is meant, each answer with the line rewritten.
func (w *within) which(u unit) error {
	q := &Question{Col: u.term.Col, Word: w.text[u.term.Col:u.term.End]}
	q.Ask = say("“{word}” in {series}: Which one?", "word", q.Word, "series", w.s.Code)
	var labels []string
	for _, p := range u.pieces {
		labels = append(labels, w.s.Pieces[p].Label)
	}
	answer := func(label Wording, entries ...entry) {
		q.Choices = append(q.Choices, Choice{label, w.instead(u.term, w.rewritten(u, entries))})
	}
	shown := min(len(u.pieces), mostChoices-2)
	all := make([]entry, len(u.pieces))
	for i, p := range u.pieces {
		all[i] = w.entry(w.piece(p), u.term)
		if i < shown {
			answer(plain(labels[i]), all[i])
		}
	}
	if len(u.pieces) == 2 {
		answer(say("both"), all...)
	} else {
		answer(say("all of them"), all...)
	}
	if w.purpose == ForWants && !u.term.Or {
		either := w.entry(unit{text: strings.Join(labels, " or ")}, u.term)
		if len(u.pieces) == 2 {
			answer(say("either"), either)
		} else {
			answer(say("any of them"), either)
		}
	}
	return q
}

func (w *within) entry(u unit, t *Term) entry {
	e := entry{text: u.text, year: u.year}
	if t.Counted {
		e.count = t.Quantity
	}
	return e
}

// rewritten spells out a term: all that it means, with the answer in the place of what it left open.
func (w *within) rewritten(u unit, answer []entry) string {
	var entries []entry
	for n := range w.terms {
		if &w.terms[n] != u.term {
			continue
		}
		for _, other := range w.meant[n] {
			if other.open && other.text == u.text && other.pieces[0] == u.pieces[0] {
				entries = append(entries, answer...)
				continue
			}
			entries = append(entries, w.entry(other, u.term))
		}
	}
	return w.x.joined(entries)
}
