package series

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Whatever someone holds, the list they are shown can be typed back and means the same.
func TestShorthandIsReadBack(t *testing.T) {
	t.Parallel()
	all := shapes()
	c := NewCatalogue(all)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(all).Draw(t, "series")
		counts := map[string]int{}
		for _, p := range s.Pieces {
			if n := rapid.SampledFrom([]int{0, 1, 1, 1, 2, 12}).Draw(t, p.Code); n > 0 {
				counts[p.Code] = n
			}
		}
		if len(counts) == 0 {
			return
		}
		text := s.Code + " " + s.Shorthand(counts)
		r, err := c.Read(text, ForHoldings, Mine{})
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		got := map[string]int{}
		for _, p := range r.Picks {
			got[p.Pieces[0]] = p.Quantity
			if len(p.Pieces) != 1 || p.Series != s.Code {
				t.Fatalf("%q: %+v", text, p)
			}
		}
		if !maps.Equal(got, counts) {
			t.Fatalf("%q is read as %v, was %v", text, got, counts)
		}
	})
}

// someEdits are one member's own idea of complete.
func someEdits(t *rapid.T, s Series) Edits {
	var e Edits
	some := func(name string, codes []string) []string {
		return rapid.SliceOfNDistinct(rapid.SampledFrom(codes), 0, 3, rapid.ID[string]).Draw(t, name)
	}
	var pieces, slots []string
	for _, p := range s.Pieces {
		pieces = append(pieces, p.Code)
	}
	for _, slot := range s.Slots {
		slots = append(slots, slot.Code)
	}
	if len(s.Checklists) > 0 {
		e.Checklist = rapid.SampledFrom(s.Checklists).Draw(t, "checklist").Code
	}
	e.Without, e.With = some("without", slots), some("with", slots)
	e.Also = map[string][]string{}
	for _, slot := range some("widened", slots) {
		e.Also[slot] = some("also", pieces)
	}
	return e
}

// Whatever someone lacks, the list they are shown can be typed back and means the same slots.
func TestShorthandSlotsAreReadBack(t *testing.T) {
	t.Parallel()
	all := shapes()
	c := NewCatalogue(all)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(all).Draw(t, "series")
		mine := s.SlotsFor(someEdits(t, s))
		var lacks []Slot
		for _, slot := range mine {
			if rapid.Bool().Draw(t, slot.Code) {
				lacks = append(lacks, slot)
			}
		}
		if len(lacks) == 0 {
			return
		}
		text := s.Code + " " + s.ShorthandSlots(lacks)
		r, err := c.Read(text, ForWants, Mine{Slots: func(string) []Slot { return mine }})
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		var got, want []string
		for _, p := range r.Picks {
			got = append(got, p.Slot+": "+strings.Join(p.Pieces, " "))
		}
		for _, slot := range lacks {
			want = append(want, slot.Code+": "+strings.Join(slot.Fill, " "))
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Fatalf("%q is read as %q, was %q", text, got, want)
		}
	})
}

// words are what lines are made of in someLine.
var words = strings.Split("82 84 86 82-84 84- 1985/6 86-84 84e 84g 2x84 84x12 12x84 1/2oz 1/2 5oz ND all rest both any or except but not to x3 2x (2) "+
	", , , ; and the of pier wick needle ingots gull heron star lightship wren linnet hip pier head tide table 91 92 91s tenth reverse 2O12 90s 0 foo ( )", " ")

func someLine(t *rapid.T) string {
	return strings.Join(rapid.SliceOfN(rapid.SampledFrom(words), 1, 9).Draw(t, "words"), " ")
}

// Whatever is asked, each answer is a line that is understood, or asks for something else; and answering comes to an end.
func TestEveryAnswerIsUnderstood(t *testing.T) {
	t.Parallel()
	c := NewCatalogue(shapes())
	rapid.Check(t, func(t *rapid.T) {
		text := someLine(t)
		purpose := rapid.SampledFrom([]For{ForHoldings, ForWants}).Draw(t, "purpose")
		_, err := c.Read(text, purpose, Mine{})
		for asked := 0; ; asked++ {
			q, ok := err.(*Question)
			if !ok {
				if err != nil && asked > 0 {
					t.Fatalf("the answer %q is not understood: %v", text, err)
				}
				return
			}
			if len(q.Choices) == 0 || asked > 30 {
				t.Fatalf("%q asks without end: %v", text, q)
			}
			choice := rapid.SampledFrom(q.Choices).Draw(t, "choice")
			if choice.Text == text {
				t.Fatalf("%q asks %q and %q says nothing more", text, q.Ask, choice.Label)
			}
			text = choice.Text
			_, err = c.Read(text, purpose, Mine{})
		}
	})
}

// laws holds what every line keeps: what is printed is read back, what is refused is pointed at, and what is understood
// names pieces that there are.
func laws(c *Catalogue, text string) error {
	list, err := Parse(text)
	if bad, ok := err.(*SyntaxError); ok && !pointsAt(text, bad.Col, bad.Word) {
		return fmt.Errorf("%q: the grammar points astray at %d %q", text, bad.Col, bad.Word)
	}
	if err == nil {
		again, err := Parse(list.String())
		if err != nil || !again.Equal(list) {
			return fmt.Errorf("%q prints %q, read back as %q, %v", text, list.String(), again.String(), err)
		}
	}
	for _, purpose := range []For{ForHoldings, ForWants} {
		r, err := c.Read(text, purpose, Mine{})
		if err != nil && len(r.Picks) > 0 {
			return fmt.Errorf("%q is understood by half", text)
		}
		switch e := err.(type) {
		case nil:
		case *SyntaxError:
			if !pointsAt(text, e.Col, e.Word) || !strings.HasSuffix(e.Reason.String(), ".") && !strings.HasSuffix(e.Reason.String(), "?") {
				return fmt.Errorf("%q points astray at %d %q: %q", text, e.Col, e.Word, e.Reason)
			}
		case *UnknownWord:
			if !pointsAt(text, e.Col, e.Word) {
				return fmt.Errorf("%q points astray at %d %q", text, e.Col, e.Word)
			}
		case *Question:
			if !pointsAt(text, e.Col, e.Word) || len(e.Choices) == 0 || e.Ask.Text == "" {
				return fmt.Errorf("%q asks badly: %+v", text, e)
			}
		default:
			return fmt.Errorf("%q: an error of another kind: %v", text, err)
		}
		if err := sound(c, r, purpose); err != nil {
			return fmt.Errorf("%q: %w", text, err)
		}
	}
	return nil
}

func pointsAt(text string, col int, word string) bool {
	return col >= 0 && col+len(word) <= len(text) && text[col:col+len(word)] == word && word != ""
}

func sound(c *Catalogue, r Reading, purpose For) error {
	seen := map[string]bool{}
	for _, p := range r.Picks {
		s, ok := c.Series(p.Series)
		key := p.Series + p.Slot + strings.Join(p.Pieces, "|")
		switch {
		case !ok || len(p.Pieces) == 0 || p.Quantity < 1 || p.Quantity > most || !p.Counted && p.Quantity != 1:
			return fmt.Errorf("a bad pick %+v", p)
		case seen[key]:
			return fmt.Errorf("%+v twice", p)
		case purpose == ForHoldings && (len(p.Pieces) > 1 || p.Slot != ""):
			return fmt.Errorf("a holding that is no piece: %+v", p)
		}
		seen[key] = true
		for _, code := range p.Pieces {
			if _, ok := s.Piece(code); !ok {
				return fmt.Errorf("no piece %q", code)
			}
		}
	}
	return nil
}

func TestLawsOfLikelyLines(t *testing.T) {
	t.Parallel()
	c := NewCatalogue(shapes())
	rapid.Check(t, func(t *rapid.T) {
		if err := laws(c, someLine(t)); err != nil {
			t.Fatal(err)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"82-86, ND", "'82 '87-'89", "84e x2", "2x84", "1982–85", "98-02", "82-86 except 84", "1/2oz 85", "85 reverse gull", "all", "rest",
		"pier 82; 84/85", "２０１２", "💰, שלום", "(2", "pier 84 (heron), 86 or 87", "wren x 3", "12x84", "90s", "\xff\xfe", "½ 86", "pier\n- 82\n- 83 x2",
		"all but 83 (not 84) ND", "half oz 86", "no date", strings.Repeat("84,", 50), "rest of the pier", "82 to", "8️⃣4️⃣",
	} {
		f.Add(s)
	}
	c := NewCatalogue(shapes())
	f.Fuzz(func(t *testing.T, text string) {
		if err := laws(c, text); err != nil {
			t.Fatal(err)
		}
	})
}
