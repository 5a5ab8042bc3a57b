package series

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Shorthand writes pieces, counted by code, in catalogue order: "82-84, 85 x2, ND". After the series' word it reads back
// ForHoldings to the same.
func (s Series) Shorthand(counts map[string]int) string { return s.shorthand(counts, false) }

// shorthand writes counts of one too if that is asked for.
func (s Series) shorthand(counts map[string]int, always bool) string {
	years := indexOf(s).years
	var entries []entry
	for i, p := range s.Pieces {
		n := counts[p.Code]
		if n < 1 {
			continue
		}
		e := entry{text: p.Label}
		if s.alone(i) {
			e.text, e.year = s.yearWord(p.Year, years), p.Year
		}
		if n > 1 || always {
			e.count = n
		}
		entries = append(entries, e)
	}
	return s.joined(entries, years)
}

// ShorthandSlots writes slots in catalogue order. After the series' word it reads back ForWants to the same, for a member
// who has those slots.
func (s Series) ShorthandSlots(slots []Slot) string {
	years := indexOf(s).years
	entries := make([]entry, 0, len(slots))
	for _, slot := range slots {
		e := entry{text: slot.Label}
		if year := s.slotYear(slot); year != 0 {
			e.text, e.year = s.yearWord(year, years), year
		}
		entries = append(entries, e)
	}
	return s.joined(entries, years)
}

// entry is one entry of a list: a year that may join a range, or a label.
type entry struct {
	text  string
	year  int // 0 when it can't stand in a range
	count int // 0 when it is not written
}

// joined puts runs of three years or more, with equal counts, into ranges. A year of the series that is missing from the
// run breaks it.
func (s Series) joined(entries []entry, years []int) string {
	var texts []string
	for i := 0; i < len(entries); {
		last := i
		for last+1 < len(entries) && entries[i].year != 0 && entries[last+1].year == following(years, entries[last].year) &&
			entries[last+1].count == entries[i].count {
			last++
		}
		if last-i < 2 {
			last = i
		}
		text := entries[i].text
		if last > i {
			text += "-" + entries[last].text
		}
		if n := entries[i].count; n > 0 {
			text += " x" + strconv.Itoa(n)
		}
		texts = append(texts, text)
		i = last + 1
	}
	return strings.Join(texts, ", ")
}

// following is the next year of the series; -1 after the last.
func following(years []int, year int) int {
	if i, ok := slices.BinarySearch(years, year); ok && i+1 < len(years) {
		return years[i+1]
	}
	return -1
}

// yearWord writes a year with two digits, with four when the series has another that ends in them.
func (s Series) yearWord(year int, years []int) string {
	for _, y := range years {
		if y != year && y%100 == year%100 {
			return strconv.Itoa(year)
		}
	}
	return fmt.Sprintf("%02d", year%100)
}

// alone reports whether a bare year means piece i: it is of the usual size, and no other of its year is.
func (s Series) alone(i int) bool {
	p := s.Pieces[i]
	if p.Year == 0 || p.Size != "" {
		return false
	}
	for j, other := range s.Pieces {
		if j != i && other.Year == p.Year && other.Size == "" {
			return false
		}
	}
	return true
}

// slotYear is the year of a slot which a bare year means: all the usual pieces of one year fill it, the first of them
// first; 0 for other slots.
func (s Series) slotYear(slot Slot) int {
	first, ok := s.Piece(slot.Fill[0])
	if !ok || first.Year == 0 || first.Size != "" {
		return 0
	}
	for _, p := range s.Pieces {
		if p.Year == first.Year && p.Size == "" && !slices.Contains(slot.Fill, p.Code) {
			return 0
		}
	}
	return first.Year
}
