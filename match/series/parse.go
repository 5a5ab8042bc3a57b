package series

import (
	"strconv"
	"strings"
)

// List is a line of shorthand, understood as far as grammar goes: what its words mean in a series is for a Catalogue.
type List struct {
	Terms []Term
}

// Term is one entry of a list.
type Term struct {
	Kind     Kind
	From, To string   // years as typed, two or four digits; To is "" unless it is a range
	Open     bool     // a range without an end, "82-"
	Slash    bool     // two years with a slash, "1985/6": two years, or one overdate
	Size     string   // "1/10oz", "" when none is said
	Words    []string // what is said of a year, or the whole term
	Any      bool     // any variety will do
	Quantity int      // 1 unless said
	Counted  bool     // a quantity was said
	Except   bool     // leaves out instead of taking in
	Group    int      // terms of one stretch of the line, between semicolons; an exception concerns its own
	Col, End int      // where it stands in the text, in bytes
}

// Kind is what a term names.
type Kind int

// The kinds of term.
const (
	Years   Kind = iota // a year or a range of years
	Undated             // ND
	Named               // words: a motif, an alias, a series
	Sized               // a weight alone
	All                 // everything
	Rest                // all that is missing
)

// SyntaxError says which word cannot be read, and why. text[Col:Col+len(Word)] is Word.
type SyntaxError struct {
	Col    int
	Word   string
	Reason string
}

func (e *SyntaxError) Error() string { return strconv.Quote(e.Word) + ": " + e.Reason }

// most is how many of one piece a line may speak of.
const most = 9999

// Parse reads the grammar of a list. An error is a *SyntaxError.
func Parse(text string) (List, error) {
	p := parser{text: text}
	for _, a := range atoms(text) {
		if err := p.take(a); err != nil {
			return List{}, err
		}
	}
	p.finish()
	if p.waiting != nil {
		return List{}, &SyntaxError{p.waiting.col, p.waiting.word, "something should follow this."}
	}
	return List{p.terms}, nil
}

// parser puts atoms together into terms.
type parser struct {
	text    string
	terms   []Term
	now     *Term // the term being read
	lead    Term  // size and quantity said before their year
	led     *atom // where lead begins
	except  bool
	group   int
	waiting *atom // "to" or "except", which something must follow
}

func (p *parser) take(a atom) error {
	if p.waiting != nil && p.waiting.kind == atomTo {
		if a.kind != atomYear || p.now == nil || p.now.To != "" {
			return &SyntaxError{a.col, a.word, "a year should stand here."}
		}
		p.now.To, p.now.Open, p.now.End = a.from, false, a.end()
		p.waiting = nil
		return nil
	}
	if a.kind != atomComma && a.kind != atomGroup {
		p.waiting = nil
	}
	switch a.kind {
	case atomComma:
		p.finish()
	case atomGroup:
		p.finish()
		p.group++
		p.except = false
	case atomExcept:
		p.finish()
		p.except, p.waiting = true, &a
	case atomTo:
		if p.now == nil || p.now.Kind != Years || p.now.To != "" || len(p.now.Words) > 0 {
			return &SyntaxError{a.col, a.word, "a year should stand before this."}
		}
		p.waiting = &a
	case atomYear:
		p.begin(Term{Kind: Years, From: a.from, To: a.to, Open: a.open, Slash: a.slash}, a)
		if a.letters != "" {
			p.now.Words = []string{a.letters}
		}
	case atomLetterO:
		p.begin(Term{Kind: Named, Words: []string{a.word}}, a)
	case atomUndated:
		p.begin(Term{Kind: Undated}, a)
	case atomAll:
		p.begin(Term{Kind: All}, a)
	case atomRest:
		p.begin(Term{Kind: Rest}, a)
	case atomSize:
		p.size(a)
	case atomCount:
		return p.count(a)
	case atomAny:
		if p.now == nil || p.now.Kind == All || p.now.Kind == Rest {
			return &SyntaxError{a.col, a.word, "a year should stand before this."}
		}
		p.now.Any, p.now.End = true, a.end()
	case atomWord:
		if p.now == nil || p.now.Kind == All || p.now.Kind == Rest {
			p.begin(Term{Kind: Named}, a)
		}
		p.now.Words, p.now.End = append(p.now.Words, a.word), a.end()
	case atomBad:
		return &SyntaxError{a.col, a.word, a.reason}
	}
	return nil
}

// begin starts a term, with the size and count said before it.
func (p *parser) begin(t Term, a atom) {
	lead, led := p.lead, p.led
	p.lead, p.led = Term{}, nil
	p.finish()
	t.Quantity, t.Except, t.Group, t.Col, t.End = 1, p.except, p.group, a.col, a.end()
	if led != nil {
		t.Size, t.Col = lead.Size, led.col
		if lead.Counted {
			t.Quantity, t.Counted = lead.Quantity, true
		}
	}
	p.now = &t
}

// size belongs to the year before it in the same entry, else to what follows.
func (p *parser) size(a atom) {
	if p.now != nil && p.now.Size == "" && (p.now.Kind == Years || p.now.Kind == Undated) {
		p.now.Size, p.now.End = a.size, a.end()
		return
	}
	p.finish()
	p.lead.Size = a.size
	if p.led == nil {
		p.led = &a
	}
}

// count belongs to what stands before it in the same entry, else to what follows.
func (p *parser) count(a atom) error {
	if a.count < 1 || a.count > most {
		return &SyntaxError{a.col, a.word, "how many? Say a number from 1 to " + strconv.Itoa(most) + "."}
	}
	if p.now == nil && p.led != nil && p.lead.Size != "" && !p.lead.Counted && a.trailing {
		p.finish() // a size alone, then its count
		last := &p.terms[len(p.terms)-1]
		last.Quantity, last.Counted, last.End = a.count, true, a.end()
		return nil
	}
	if p.now == nil || !a.trailing && p.now.Counted {
		p.finish()
		p.lead.Quantity, p.lead.Counted = a.count, true
		if p.led == nil {
			p.led = &a
		}
		return nil
	}
	if p.now.Counted {
		return &SyntaxError{a.col, a.word, "a number of pieces is said twice."}
	}
	p.now.Quantity, p.now.Counted, p.now.End = a.count, true, a.end()
	return nil
}

// finish ends the term being read. A size with nothing after it is a term of its own; a count with nothing after it is
// an entry that names nothing, which Read points at.
func (p *parser) finish() {
	if p.now != nil {
		p.terms = append(p.terms, *p.now)
		p.now = nil
	}
	if p.led == nil {
		return
	}
	t := Term{Kind: Sized, Size: p.lead.Size, Quantity: 1, Except: p.except, Group: p.group, Col: p.led.col, End: p.led.end()}
	if p.lead.Counted {
		t.Quantity, t.Counted = p.lead.Quantity, true
	}
	p.terms = append(p.terms, t)
	p.lead, p.led = Term{}, nil
}

// String writes the list so that Parse reads it back.
func (l List) String() string {
	var b strings.Builder
	group, except := 0, false
	for i, t := range l.Terms {
		switch {
		case t.Group != group:
			b.WriteString(strings.Repeat("; ", t.Group-group))
			group, except = t.Group, false
		case i > 0 && (!t.Except || except):
			b.WriteString(", ")
		}
		if t.Except && !except {
			if i > 0 && b.Len() > 0 && !strings.HasSuffix(b.String(), " ") {
				b.WriteByte(' ')
			}
			b.WriteString("except ")
			except = true
		}
		b.WriteString(t.String())
	}
	return b.String()
}

// String writes one term, without its exception.
func (t Term) String() string {
	var words []string
	if t.Kind == Sized || t.Size != "" {
		words = append(words, t.Size)
	}
	switch t.Kind {
	case Years:
		year := t.From
		switch {
		case t.Slash:
			year += "/" + t.To
		case t.Open:
			year += "-"
		case t.To != "":
			year += "-" + t.To
		}
		words = append(words, year)
	case Undated:
		words = append(words, "ND")
	case All:
		words = append(words, "all")
	case Rest:
		words = append(words, "rest")
	}
	words = append(words, t.Words...)
	if t.Any {
		words = append(words, "any")
	}
	if t.Counted {
		words = append(words, "x"+strconv.Itoa(t.Quantity))
	}
	return strings.Join(words, " ")
}
