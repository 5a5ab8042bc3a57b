package series

import (
	"slices"
	"strconv"
	"strings"
)

// List is a line of shorthand, understood as far as its grammar goes: what its words mean is for a Catalogue to say.
type List struct {
	Terms []Term
}

// Term is one entry of a list.
type Term struct {
	Kind     Kind
	From, To string   // digits of years as typed; To is "" for a single year
	Open     bool     // a range without an end, "82-"
	Slash    bool     // two years with a slash, "84/85"
	Cross    bool     // two numbers with an x, "84x12", either of which may be the year
	Letters  string   // glued to the year, "84e"
	Size     string   // "1/10oz", "" when none is said
	Words    []string // what is said of a year, or names what is meant
	Any      bool     // any of the pieces that fit will do
	Both     bool     // each of the pieces that fit is meant
	Quantity int      // 1 unless said
	Counted  bool     // a quantity was said
	Except   bool     // leaves out instead of taking in
	Or       bool     // is another choice for the term before it
	Group    int      // counts the stretches between semicolons or new lines; an exception concerns its own
	Col, End int      // its place in the text, in bytes

	parts []token // Letters and Words as they were typed
	extra bool    // a size, a number, any or both was said after the year or name
	names int     // how many of parts are names
}

// Kind is what a term names.
type Kind int

// The kinds of term.
const (
	Years   Kind = iota // a year or a range of years
	Undated             // what bears no year
	Named               // a piece by a word for it
	Sized               // a weight alone
	All                 // everything
	Rest                // everything that is missing
)

// Equal reports whether two lists say the same, wherever their words stand in the text.
func (l List) Equal(m List) bool {
	return slices.EqualFunc(l.Terms, m.Terms, func(a, b Term) bool {
		same := slices.Equal(a.Words, b.Words)
		return same && a.Kind == b.Kind && a.From == b.From && a.To == b.To && a.Open == b.Open && a.Slash == b.Slash &&
			a.Cross == b.Cross && a.Letters == b.Letters && a.Size == b.Size && a.Any == b.Any && a.Both == b.Both &&
			a.Quantity == b.Quantity && a.Counted == b.Counted && a.Except == b.Except && a.Or == b.Or && a.Group == b.Group
	})
}

// String writes the list so that Parse reads it back to an equal one.
func (l List) String() string {
	var b strings.Builder
	group, except := 0, false
	for i, t := range l.Terms {
		closes := except && (t.Group != group || !t.Except)
		opens := t.Except && (!except || closes)
		if closes {
			b.WriteByte(')')
		}
		switch {
		case t.Group != group:
			b.WriteString(strings.Repeat("; ", t.Group-group))
		case i == 0:
		case t.Or:
			b.WriteString(" or ")
		case opens || closes:
			b.WriteByte(' ')
		default:
			b.WriteString(", ")
		}
		if opens {
			b.WriteString("(except ")
		}
		b.WriteString(t.String())
		group, except = t.Group, t.Except
	}
	if except {
		b.WriteByte(')')
	}
	return b.String()
}

// String writes the term alone: neither that it is an exception, nor that it is another choice.
func (t Term) String() string {
	var words []string
	if t.Size != "" {
		words = append(words, t.Size)
	}
	switch t.Kind {
	case Years:
		words = append(words, t.years())
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
	if t.Both {
		words = append(words, "both")
	}
	if t.Counted {
		words = append(words, "x"+strconv.Itoa(t.Quantity))
	}
	return strings.Join(words, " ")
}

func (t Term) years() string {
	switch {
	case t.Cross:
		return t.From + "x" + t.To
	case t.Slash:
		return t.From + "/" + t.To
	case t.Open:
		return t.From + "-"
	case t.To != "":
		return t.From + "-" + t.To
	}
	return t.From + t.Letters
}

// SyntaxError says which word cannot be read, and why. text[Col:Col+len(Word)] is Word.
type SyntaxError struct {
	Col    int
	Word   string
	Reason Wording // a sentence that goes on after the word: "a year should stand here."
}

func (e *SyntaxError) Error() string { return strconv.Quote(e.Word) + ": " + e.Reason.String() }
