package series

import (
	"encoding/csv"
	"errors"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// run is a series of years, one with two reverses, and an undated piece.
func run(from, to int, two int) Series {
	s := Series{Code: "run", Name: "Run"}
	add := func(p Piece) {
		s.Pieces = append(s.Pieces, p)
		s.Slots = append(s.Slots, Slot{p.Code, p.Label, []string{p.Code}})
	}
	for y := from; y <= to; y++ {
		word := strconv.Itoa(y)
		if from/100 == to/100 || y%100 > to%100 || y < 1900 {
			word = word[2:]
		}
		if y == two {
			add(Piece{Code: word + "a", Label: word + " rev a", Year: y, Variety: "rev a"})
			add(Piece{Code: word + "b", Label: word + " rev b", Year: y, Variety: "rev b"})
			continue
		}
		add(Piece{Code: word, Label: word, Year: y})
	}
	add(Piece{Code: "nd", Label: "ND"})
	add(Piece{Code: "half", Label: "1/2oz 84", Year: 1984, Size: "1/2oz"})
	return s
}

// The table of year shorthand is common practice. Where its third column says ask, the line must be a question; where it
// says error, it must be refused at the word.
func TestYearShorthandTable(t *testing.T) {
	f, err := os.Open("testdata/year_shorthand.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 27 {
		t.Fatal(len(rows), err)
	}
	c := NewCatalogue([]Series{run(1982, 2012, 1985)})
	old := NewCatalogue([]Series{run(1880, 1889, 0)})
	years := map[string]string{
		"82": "82", "82, 84-86, ND": "", "'82 '84": "82 84", "1982-85": "", "98-02": "98 99 2000 2001 2002", "84 x3": "84*3", "3x 84": "84*3",
		"84 (2), 85": "", "2x84": "84*2", "82–84": "82 83 84", "82—84": "82 83 84", "82 to 84": "82 83 84", "82 thru 84": "82 83 84",
		"all but 83": "", "1985/6": "?", "85 rev b": "85b", "86-84": "?", "2O12": "?", "82,,84": "82 84", "1/2 84": "half",
		"84/85/87": "", "nd": "nd", "n/d": "nd", "1884": "", "0": "!", "82-": "?",
	}
	for _, row := range rows[1:] {
		want, ok := years[row[0]]
		if !ok {
			t.Errorf("row %q is new", row[0])
			continue
		}
		if row[0] == "1884" {
			if r, err := old.Read(row[0], ForHoldings, Mine{}); err != nil || r.Picks[0].Pieces[0] != "84" {
				t.Errorf("%q: %v %v", row[0], r, err)
			}
			continue
		}
		r, err := c.Read(row[0], ForWants, Mine{})
		question, asks := errors.AsType[*Question](err)
		switch {
		case want == "?":
			if !asks || len(question.Choices) == 0 {
				t.Errorf("%q should be asked about: %v %v", row[0], r, err)
			}
		case want == "!":
			if bad, ok := errors.AsType[*SyntaxError](err); !ok || bad.Word != row[0] {
				t.Errorf("%q should be refused: %v", row[0], err)
			}
		case want == "": // names 1985, a year with two reverses: a range takes both, a single year asks
			if err != nil && !asks {
				t.Errorf("%q: %v", row[0], err)
			}
		default:
			var got []string
			for _, p := range r.Picks {
				word := p.Pieces[0]
				if p.Counted {
					word += "*" + strconv.Itoa(p.Quantity)
				}
				got = append(got, word)
			}
			if err != nil || strings.Join(got, " ") != want {
				t.Errorf("%q: %v %v, want %s", row[0], got, err, want)
			}
		}
	}
}

func TestPrintedIsReadBack(t *testing.T) {
	s := run(1982, 1995, 1985)
	c := NewCatalogue([]Series{s})
	rapid.Check(t, func(t *rapid.T) {
		counts := map[string]int{}
		for _, p := range s.Pieces {
			if n := rapid.IntRange(0, 3).Draw(t, p.Code); n > 0 {
				counts[p.Code] = n
			}
		}
		if len(counts) == 0 {
			return
		}
		text := s.Shorthand(counts)
		r, err := c.Read("run "+text, ForHoldings, Mine{})
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		got := map[string]int{}
		for _, p := range r.Picks {
			got[p.Pieces[0]] += p.Quantity
		}
		for code, n := range counts {
			if got[code] != n || len(got) != len(counts) {
				t.Fatalf("%q reads %v, was %v", text, got, counts)
			}
		}
	})
}

// A maximum matching by trying everything is the reference; Hall's theorem and König's follow from it on small graphs.
func TestCompletionIsMaximum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := []string{"a", "b", "c", "d"}
		var slots []Slot
		for i := range rapid.IntRange(0, 5).Draw(t, "slots") {
			fill := rapid.SliceOfNDistinct(rapid.SampledFrom(codes), 1, 4, rapid.ID[string]).Draw(t, "fill")
			slots = append(slots, Slot{Code: strconv.Itoa(i), Fill: fill})
		}
		held := map[string]int{}
		for _, code := range codes {
			held[code] = rapid.IntRange(0, 2).Draw(t, code)
		}
		c := Complete(slots, held)
		if want := fillable(slots, held); c.Had != want {
			t.Fatalf("%d of %v with %v, %d can be filled", c.Had, slots, held, want)
		}
		used := map[string]int{}
		for i, code := range c.Filled {
			if code != "" && !slices.Contains(slots[i].Fill, code) {
				t.Fatalf("%s stands in slot %d", code, i)
			}
			if used[code]++; code != "" && used[code] > held[code] {
				t.Fatalf("%s stands twice", code)
			}
		}
	})
}

func fillable(slots []Slot, held map[string]int) int {
	if len(slots) == 0 {
		return 0
	}
	best := fillable(slots[1:], held)
	for _, code := range slots[0].Fill {
		if held[code] > 0 {
			held[code]--
			best = max(best, 1+fillable(slots[1:], held))
			held[code]++
		}
	}
	return best
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"82-86, ND", "'82 '87-'89", "84e x2", "2x84", "82-86 except 84", "1/2oz 84", "85 rev b", "all", "rest", "run 82; 84/85", "２０１２", "💰, שלום", "(2"} {
		f.Add(s)
	}
	c := NewCatalogue([]Series{run(1982, 2012, 1985)})
	f.Fuzz(func(t *testing.T, s string) {
		if l, err := Parse(s); err == nil {
			again, err := Parse(l.String())
			if err != nil || again.String() != l.String() {
				t.Fatalf("%q prints %q, read back as %q, %v", s, l.String(), again.String(), err)
			}
		}
		for _, f := range []For{ForHoldings, ForWants} {
			_, err := c.Read(s, f, Mine{})
			if bad, ok := errors.AsType[*SyntaxError](err); ok && s[bad.Col:bad.Col+len(bad.Word)] != bad.Word {
				t.Fatalf("%q: points astray at %q", s, bad.Word)
			}
			if bad, ok := errors.AsType[*UnknownWord](err); ok && s[bad.Col:bad.Col+len(bad.Word)] != bad.Word {
				t.Fatalf("%q: points astray at %q", s, bad.Word)
			}
		}
	})
}

func BenchmarkReadLine(b *testing.B) {
	c := NewCatalogue([]Series{run(1982, 2012, 1985)})
	for b.Loop() {
		if _, err := c.Read("82-86 except 84, ND, 98-02 x2", ForWants, Mine{}); err != nil {
			b.Fatal(err)
		}
	}
}
