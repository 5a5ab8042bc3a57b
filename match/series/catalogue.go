package series

import (
	"slices"
	"strings"
)

// Catalogue is the series a group collects, ready for look-ups. It is made once and then only read, by any number of
// goroutines.
type Catalogue struct {
	all     []Series
	words   map[string]int // a series by every word for it, as wordsOf writes it
	longest int            // how many tokens the longest of them has
	index   []index        // by series
}

// NewCatalogue makes a catalogue; of two series with one code, name or alias the last goes by it, but a code is never
// taken by a name.
func NewCatalogue(all []Series) *Catalogue {
	c := &Catalogue{all: slices.Clone(all), words: map[string]int{}}
	add := func(word string, i int) {
		key, n := wordsOf(tokens(word))
		if n > 0 {
			c.words[key] = i
			c.longest = max(c.longest, n)
		}
	}
	for i, s := range c.all {
		for _, word := range append([]string{s.Name}, s.Aliases...) {
			add(word, i)
		}
		c.index = append(c.index, indexOf(s))
	}
	for i, s := range c.all {
		add(s.Code, i)
	}
	return c
}

// wordsOf is a name as names of series are compared, and how many tokens it has.
func wordsOf(all []token) (key string, n int) {
	words := make([]string, 0, len(all))
	for _, t := range all {
		if t.kind != tokenComma && t.kind != tokenGroup {
			words = append(words, t.plain)
		}
	}
	return strings.Join(words, " "), len(words)
}

// All lists the series in the order they were given.
func (c *Catalogue) All() []Series { return slices.Clone(c.all) }

// Series finds a series by its code.
func (c *Catalogue) Series(code string) (Series, bool) {
	if i := c.place(code); i >= 0 && c.all[i].Code == code {
		return c.all[i], true
	}
	return Series{}, false
}

// place finds a series by a word for it; -1 when none goes by it.
func (c *Catalogue) place(word string) int {
	key, _ := wordsOf(tokens(word))
	if i, ok := c.words[key]; ok {
		return i
	}
	return -1
}

// FindSeries finds a series by its code, name or an alias, in any case. When none goes by the word, near are the codes
// of series with a word close to it, closest first.
func (c *Catalogue) FindSeries(word string) (s Series, ok bool, near []string) {
	if i := c.place(word); i >= 0 {
		return c.all[i], true, nil
	}
	return Series{}, false, c.near(word)
}

func (c *Catalogue) near(word string) []string {
	key, _ := wordsOf(tokens(word))
	names := make([]string, 0, len(c.words))
	for name := range c.words {
		names = append(names, name)
	}
	slices.Sort(names)
	var near []string
	for _, name := range nearest(key, names) {
		if code := c.all[c.words[name]].Code; !slices.Contains(near, code) {
			near = append(near, code)
		}
	}
	return near
}

// Words lists everything that may be typed for the pieces of a series, in catalogue order: of each piece its label, its
// aliases and its motif.
func (c *Catalogue) Words(code string) []string {
	s, ok := c.Series(code)
	if !ok {
		return nil
	}
	var words []string
	seen := map[string]bool{"": true}
	for _, p := range s.Pieces {
		for _, word := range slices.Concat([]string{p.Label}, p.Aliases, []string{p.Motif}) {
			if !seen[word] {
				words = append(words, word)
				seen[word] = true
			}
		}
	}
	return words
}
