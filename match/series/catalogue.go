package series

import (
	"slices"
	"strconv"
	"strings"
)

// Catalogue is the series a group collects, ready for look-ups. It is made once and then only read, by any number of
// goroutines.
type Catalogue struct {
	all   []Series
	words map[string]int // a series by every word for it, folded
	index []index        // by series
}

// index is what the words of one series mean.
type index struct {
	names map[string][]int // pieces by their whole names, folded: code, label, aliases, motif, variety
	years []int            // ascending, without doubles
	place map[string]int   // pieces by code
}

// NewCatalogue makes a catalogue; of two series with one code the last stands.
func NewCatalogue(all []Series) *Catalogue {
	c := &Catalogue{all: slices.Clone(all), words: map[string]int{}}
	for i, s := range c.all {
		for _, word := range append([]string{s.Name}, s.Aliases...) {
			c.words[fold(word)] = i
		}
		c.index = append(c.index, indexOf(s))
	}
	for i, s := range c.all {
		c.words[fold(s.Code)] = i
	}
	return c
}

func indexOf(s Series) index {
	x := index{names: map[string][]int{}, place: map[string]int{}}
	for i, p := range s.Pieces {
		x.place[p.Code] = i
		if p.Year != 0 {
			x.years = append(x.years, p.Year)
		}
		for _, name := range append([]string{p.Code, p.Label, p.Motif, p.Variety}, p.Aliases...) {
			if name = fold(name); name != "" && !slices.Contains(x.names[name], i) {
				x.names[name] = append(x.names[name], i)
			}
		}
	}
	slices.Sort(x.years)
	x.years = slices.Compact(x.years)
	return x
}

// fold is a name as it is compared: plain, lower case, single spaces.
func fold(name string) string { return strings.Join(strings.Fields(plain(name)), " ") }

// All lists the series in the order they were given.
func (c *Catalogue) All() []Series { return c.all }

// Series finds a series by its code.
func (c *Catalogue) Series(code string) (Series, bool) {
	i, ok := c.words[fold(code)]
	if !ok || c.all[i].Code != code {
		return Series{}, false
	}
	return c.all[i], true
}

// FindSeries finds a series by its code, name or an alias. When nothing fits, near are the codes of series whose words
// are close to it.
func (c *Catalogue) FindSeries(word string) (s Series, ok bool, near []string) {
	if i, ok := c.words[fold(word)]; ok {
		return c.all[i], true, nil
	}
	return Series{}, false, c.nearSeries(word)
}

func (c *Catalogue) nearSeries(word string) []string {
	var names []string
	for name := range c.words {
		names = append(names, name)
	}
	slices.Sort(names)
	var near []string
	for _, name := range nearest(fold(word), names) {
		if code := c.all[c.words[name]].Code; !slices.Contains(near, code) {
			near = append(near, code)
		}
	}
	return near
}

// Words lists everything that may be typed for the pieces of a series, in catalogue order: labels, then aliases.
func (c *Catalogue) Words(code string) []string {
	s, ok := c.Series(code)
	if !ok {
		return nil
	}
	var words []string
	for _, p := range s.Pieces {
		for _, word := range append([]string{p.Label}, p.Aliases...) {
			if !slices.Contains(words, word) {
				words = append(words, word)
			}
		}
	}
	return words
}

// year turns a year as typed into one of the series: four digits stand as they are, two are taken for the series' own
// year that ends in them. A year the series does not have is -1.
func (x index) year(typed string) int {
	n := number(typed)
	for _, y := range x.years {
		if y == n || len(typed) == 2 && y%100 == n {
			return y
		}
	}
	return -1
}

// rangeEnd is the end of a range as typed: its missing digits are those of the start, and of two-digit years the end is
// the first after the start.
func (x index) rangeEnd(start int, typed string) int {
	if len(typed) == 1 {
		typed = strconv.Itoa(start)[:3] + typed
	}
	return x.year(typed)
}

// nearest lists the names closest to a word: by the fewest letters to change, add, leave out or swap with a neighbour
// (optimal string alignment), at most a third of the word's, and two; or those that begin with it.
func nearest(word string, names []string) []string {
	type near struct {
		name     string
		distance int
	}
	var found []near
	limit := min(2, max(1, len([]rune(word))/3))
	for _, name := range names {
		d := distance(word, name)
		if len(word) >= 3 && strings.HasPrefix(name, word) {
			d = min(d, 1)
		}
		if d <= limit {
			found = append(found, near{name, d})
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return a.distance - b.distance })
	var best []string
	for _, n := range found[:min(len(found), 4)] {
		best = append(best, n.name)
	}
	return best
}

// distance is the optimal string alignment distance, at most 3 where it is more.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	if d := len(s) - len(t); d > 2 || d < -2 {
		return 3
	}
	var before []int
	row := make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(s); i++ {
		next := make([]int, len(t)+1)
		next[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return min(row[len(t)], 3)
}
