package series

import (
	"cmp"
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
	All   bool   // the line says all of a series and nothing else
}

// Mine is what the reader should know of the speaker. Nil functions stand for the series' own first checklist, of which
// nothing is had.
type Mine struct {
	Slots   func(code string) []Slot // what counts for them
	Missing func(code string) []Slot // what of that they lack: "rest"
	Default string                   // the series that is meant when the line names none and its words fit
}

// UnknownWord says which word a series does not know. text[Col:Col+len(Word)] is Word. Series is "" when no series of
// the catalogue knows it.
type UnknownWord struct {
	Col    int
	Word   string
	Series string
	Near   []string // what can be typed and is close to it, closest first
}

func (e *UnknownWord) Error() string {
	return strconv.Quote(e.Word) + " is unknown in series " + strconv.Quote(e.Series)
}

// Question is what a line leaves open, at text[Col:Col+len(Word)].
type Question struct {
	Col     int
	Word    string
	Ask     Wording
	Choices []Choice
}

// Choice is an answer: Text is the whole line rewritten so that it leaves this open no more.
type Choice struct {
	Label Wording
	Text  string
}

func (e *Question) Error() string { return e.Ask.String() }

// mostChoices is how many answers a question offers; who means another types it.
const mostChoices = 20

// Read says what a line means to the speaker. An error is a *SyntaxError, an *UnknownWord or a *Question; what cannot be
// read at all comes before what is only open.
func (c *Catalogue) Read(text string, f For, m Mine) (Reading, error) {
	reading, err := c.read(text, f, m)
	q, open := err.(*Question)
	if !open {
		return reading, err
	}
	looks := min(mostLooks, 1+mostRead/(len(text)+1))
	q.Choices = slices.DeleteFunc(q.Choices, func(choice Choice) bool { return !c.leadsOn(choice.Text, f, m, &looks) })
	if len(q.Choices) == 0 {
		return Reading{}, &SyntaxError{q.Col, q.Word, say("no answer to this fits what stands beside it.")}
	}
	return Reading{}, q
}

// mostLooks is how many lines, and mostRead about how many bytes, are read to see whether the answers to a question can be
// understood; beyond it the rest are trusted.
const (
	mostLooks = 40
	mostRead  = 8000
)

// leadsOn reports whether an answer is understood, if perhaps after more questions: it may not fit what else the line
// says.
func (c *Catalogue) leadsOn(text string, f For, m Mine, looks *int) bool {
	if *looks--; *looks < 0 {
		return true
	}
	_, err := c.read(text, f, m)
	if q, open := err.(*Question); open {
		return slices.ContainsFunc(q.Choices, func(choice Choice) bool { return c.leadsOn(choice.Text, f, m, looks) })
	}
	return err == nil
}

func (c *Catalogue) read(text string, f For, m Mine) (Reading, error) {
	r := reader{c: c, text: text, purpose: f, mine: m}
	all, err := r.stretches(tokens(text))
	if err != nil {
		return Reading{}, err
	}
	units, err := r.each(all)
	if err != nil {
		return Reading{}, err
	}
	picks, err := r.picks(units)
	if err != nil {
		return Reading{}, err
	}
	return Reading{Picks: picks, All: onlyAll(units)}, nil
}

func isQuestion(err error) bool {
	_, open := err.(*Question)
	return open
}

type reader struct {
	c       *Catalogue
	text    string
	purpose For
	mine    Mine
}

// picks turns what was read into the answer: series in the order they were named, pieces in catalogue order, and what was
// named twice once. What was counted adds up; a piece named twice without a number is asked about.
func (r reader) picks(units []unit) ([]Pick, error) {
	order := map[int]int{}
	for i, u := range units {
		if _, ok := order[u.series]; !ok {
			order[u.series] = i
		}
	}
	slices.SortStableFunc(units, func(a, b unit) int {
		return cmp.Or(cmp.Compare(order[a.series], order[b.series]), cmp.Compare(a.pieces[0], b.pieces[0]))
	})
	picks := make([]Pick, 0, len(units))
	place := map[string]int{}
	from := make([]unit, 0, len(units))
	for _, u := range units {
		p := r.pick(u)
		key := p.Series + "\n" + p.Slot + "\n" + strings.Join(p.Pieces, "\n")
		i, ok := place[key]
		switch {
		case !ok:
			place[key] = len(picks)
			picks, from = append(picks, p), append(from, u)
		case picks[i].Counted && p.Counted:
			picks[i].Quantity = min(picks[i].Quantity+p.Quantity, most)
		case p.Counted:
			picks[i].Quantity, picks[i].Counted = p.Quantity, true
		case u.single && from[i].single && !picks[i].Counted && u.stretch == from[i].stretch:
			return nil, r.twice(from[i], u)
		}
	}
	return picks, nil
}

func (r reader) pick(u unit) Pick {
	s := &r.c.all[u.series]
	p := Pick{Series: s.Code, Slot: u.slot, Quantity: u.quantity, Counted: u.counted}
	for _, piece := range u.pieces {
		p.Pieces = append(p.Pieces, s.Pieces[piece].Code)
	}
	return p
}

// twice asks how many are meant of what a line names twice.
func (r reader) twice(a, b unit) error {
	first, second := a.term, b.term
	if first.Col > second.Col {
		first, second = second, first
	}
	between := r.text[first.End:second.Col]
	once, two := *first, *first
	two.Quantity, two.Counted = 2, true
	q := &Question{Col: second.Col, Word: r.text[second.Col:second.End], Ask: say("“{word}” stands here twice. How many?", "word", r.text[second.Col:second.End])}
	for i, t := range []Term{once, two} {
		q.Choices = append(q.Choices, Choice{plain(strconv.Itoa(i + 1)), r.text[:first.Col] + t.String() + between + r.text[second.End:]})
	}
	return q
}

func onlyAll(units []unit) bool {
	return len(units) > 0 && !slices.ContainsFunc(units, func(u unit) bool { return u.term.Kind != All || u.term.Size != "" || u.left })
}
