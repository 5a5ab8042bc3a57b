package series

import (
	"slices"
	"strconv"
	"strings"
)

// For says what a line is read for.
type For int

// Holdings and spares are exact pieces; wants may be slots, or any of several pieces.
const (
	ForHoldings For = iota
	ForWants
)

// Pick is what some words of a line mean.
type Pick struct {
	Series   string   // code
	Slot     string   // code of the speaker's slot if the words name one, only ForWants
	Pieces   []string // code of the piece; ForWants the codes of all that will do
	Quantity int      // 1 unless said
	Counted  bool     // a quantity was said
}

// Reading is what a line means.
type Reading struct {
	Picks []Pick // series in the order they were named, pieces in catalogue order, none twice
}

// Mine is what the reader should know of the speaker. Nil functions stand for the series' own first checklist, of which
// nothing is had.
type Mine struct {
	Slots   func(code string) []Slot // what counts for them
	Missing func(code string) []Slot // what of that they lack: "rest"
	Default string                   // the series that is meant when the line names none and it fits
}

// UnknownWord says which word a series does not know. Series is "" when no series of the catalogue does.
type UnknownWord struct {
	Col    int
	Word   string
	Series string
	Near   []string // what can be typed and is close to it, closest first
}

func (e *UnknownWord) Error() string {
	return strconv.Quote(e.Word) + " is unknown in series " + strconv.Quote(e.Series)
}

// Question is what a line leaves open.
type Question struct {
	Col     int
	Word    string
	Ask     string
	Choices []Choice
}

// Choice is an answer: Text is the whole line rewritten so that it leaves this open no more.
type Choice struct{ Label, Text string }

func (e *Question) Error() string { return e.Ask }

// Read says what a line means to the speaker. An error is a *SyntaxError, an *UnknownWord or a *Question.
func (c *Catalogue) Read(text string, f For, m Mine) (Reading, error) {
	list, err := Parse(text)
	if err != nil {
		return Reading{}, err
	}
	r := reader{c: c, text: text, purpose: f, mine: m}
	var reading Reading
	for _, s := range r.stretches(list.Terms) {
		picks, err := r.stretch(s)
		if err != nil {
			return Reading{}, err
		}
		reading.Picks = append(reading.Picks, picks...)
	}
	reading.Picks = merged(reading.Picks)
	return reading, nil
}

type reader struct {
	c       *Catalogue
	text    string
	purpose For
	mine    Mine
}

// stretch is the terms that one series is named for; -1 when none is.
type stretch struct {
	series   int
	col, end int // of the word that names it
	terms    []Term
}

// stretches cuts terms where a word names a series.
func (r reader) stretches(terms []Term) []stretch {
	all := []stretch{{series: -1}}
	for _, t := range terms {
		for {
			at, n, series := r.seriesIn(t)
			if series < 0 {
				all[len(all)-1].terms = append(all[len(all)-1].terms, t)
				break
			}
			if at > 0 || t.Kind != Named {
				all[len(all)-1].terms = append(all[len(all)-1].terms, r.cut(t, at))
			}
			col, _ := r.word(t, at)
			lastCol, last := r.word(t, at+n-1)
			all = append(all, stretch{series: series, col: col, end: lastCol + len(last)})
			if at+n == len(t.Words) {
				break
			}
			t = r.rest(t, at+n)
		}
	}
	if len(all[0].terms) == 0 {
		return all[1:]
	}
	if len(all) == 2 && len(all[1].terms) == 0 { // "82-86 harbour"
		all[1].terms = all[0].terms
		return all[1:]
	}
	return all
}

// seriesIn finds the first words of a term that name a series, the longest name there; -1 when none does.
func (r reader) seriesIn(t Term) (at, n, series int) {
	for at = range t.Words {
		for n = min(len(t.Words)-at, 4); n > 0; n-- {
			if i, ok := r.c.words[fold(strings.Join(t.Words[at:at+n], " "))]; ok {
				return at, n, i
			}
		}
	}
	return 0, 0, -1
}

// word is the i-th word of a term as it stands in the text. A word glued to a year stands in the year's.
func (r reader) word(t Term, i int) (col int, word string) {
	col = t.Col
	for j := 0; j <= i; j++ {
		at := strings.Index(r.text[col:t.End], t.Words[j])
		if at < 0 {
			return t.Col, r.text[t.Col:t.End]
		}
		col += at
		if j < i {
			col += len(t.Words[j])
		}
	}
	return col, t.Words[i]
}

// cut is a term without its words from the i-th on.
func (r reader) cut(t Term, i int) Term {
	col, _ := r.word(t, i)
	t.Words = t.Words[:i]
	t.End = len(strings.TrimRight(r.text[:col], " \t"))
	return t
}

// rest is a term of a term's words from the i-th on.
func (r reader) rest(t Term, i int) Term {
	col, _ := r.word(t, i)
	return Term{Kind: Named, Words: t.Words[i:], Quantity: t.Quantity, Counted: t.Counted, Any: t.Any, Except: t.Except, Group: t.Group, Col: col, End: t.End}
}

// stretch reads the terms of one series.
func (r reader) stretch(s stretch) ([]Pick, error) {
	if s.series >= 0 {
		if len(s.terms) == 0 {
			return nil, r.whole(s)
		}
		return r.in(s.series, s.terms)
	}
	if i, ok := r.c.words[fold(r.mine.Default)]; ok && r.mine.Default != "" {
		picks, err := r.in(i, s.terms)
		if fits(err) {
			return picks, err
		}
	}
	return r.anywhere(s.terms)
}

// whole asks what is meant by a series alone.
func (r reader) whole(s stretch) error {
	word := r.text[s.col:s.end]
	code := r.c.all[s.series].Code
	q := &Question{Col: s.col, Word: word, Ask: "All of " + code + ", or the rest that is missing?"}
	for _, what := range []string{"all", "rest"} {
		q.Choices = append(q.Choices, Choice{code + " " + what, r.text[:s.end] + " " + what + r.text[s.end:]})
	}
	return q
}

// fits reports whether a line was understood, if perhaps but for a choice.
func fits(err error) bool {
	_, open := err.(*Question)
	return err == nil || open
}

// anywhere reads terms in whichever series they fit: if they fit one it is meant, if several it asks.
func (r reader) anywhere(terms []Term) (picks []Pick, err error) {
	var fit []int
	var errs []error
	for i := range r.c.all {
		p, e := r.in(i, terms)
		if fits(e) {
			fit = append(fit, i)
			picks, err = p, e
		}
		errs = append(errs, e)
	}
	switch {
	case len(fit) == 1:
		return picks, err
	case len(fit) == 0 && len(errs) == 1:
		return nil, errs[0]
	case len(fit) == 0:
		return nil, r.nowhere(errs, terms)
	}
	first := terms[0]
	q := &Question{Col: first.Col, Word: r.text[first.Col:first.End], Ask: "Which series?"}
	for _, i := range fit {
		code := r.c.all[i].Code
		q.Choices = append(q.Choices, Choice{code, code + " " + strings.TrimSpace(r.text)})
	}
	return nil, q
}

// nowhere points at the word that stopped the series which got furthest, with what is near it anywhere.
func (r reader) nowhere(errs []error, terms []Term) error {
	far := &UnknownWord{Col: terms[0].Col, Word: r.text[terms[0].Col:terms[0].End]}
	if len(terms[0].Words) > 0 && terms[0].Kind == Named {
		far.Word = terms[0].Words[0]
		far.Col, _ = r.word(terms[0], 0)
	}
	best := -1
	for _, err := range errs {
		if e, ok := err.(*UnknownWord); ok && e.Col > best {
			best, far.Col, far.Word = e.Col, e.Col, e.Word
		}
	}
	far.Near = append(far.Near, r.c.nearSeries(far.Word)...)
	for _, err := range errs {
		if e, ok := err.(*UnknownWord); ok && e.Col == far.Col && !allDigits(plain(far.Word)) {
			for _, near := range e.Near {
				if near = e.Series + " " + near; !slices.Contains(far.Near, near) && len(far.Near) < 4 {
					far.Near = append(far.Near, near)
				}
			}
		}
	}
	return far
}

// merged puts picks of the same thing together: what was counted adds up.
func merged(picks []Pick) []Pick {
	var all []Pick
	for _, p := range picks {
		i := slices.IndexFunc(all, func(q Pick) bool {
			return q.Series == p.Series && q.Slot == p.Slot && slices.Equal(q.Pieces, p.Pieces)
		})
		switch {
		case i < 0:
			all = append(all, p)
		case all[i].Counted && p.Counted:
			all[i].Quantity = min(all[i].Quantity+p.Quantity, most)
		case p.Counted:
			all[i].Quantity, all[i].Counted = p.Quantity, true
		}
	}
	return all
}
