package series

import (
	"strconv"
	"strings"
)

// Shorthand writes pieces, counted by code, in catalogue order: "82-84, 85 x2, ND". After the series' word it reads back
// ForHoldings to the same.
func (s Series) Shorthand(counts map[string]int) string {
	x := indexOf(s)
	var entries []entry
	for i, p := range s.Pieces {
		n := counts[p.Code]
		if n < 1 {
			continue
		}
		e := entry{text: p.Label}
		if of := x.usual[p.Year]; p.Year != 0 && len(of) == 1 && of[0] == i {
			e.text, e.year = x.yearWord(p.Year), p.Year
		}
		if n > 1 {
			e.count = n
		}
		entries = append(entries, e)
	}
	return x.joined(entries)
}

// ShorthandSlots writes slots as they are called, in the order given. After the series' word it reads back ForWants to
// the same, for a member who has those slots.
func (s Series) ShorthandSlots(slots []Slot) string {
	x := indexOf(s)
	entries := make([]entry, 0, len(slots))
	for _, slot := range slots {
		e := entry{text: slot.Label}
		year := x.labelYear[slot.Label]
		if len(slot.Fill) > 0 && year != 0 && s.Pieces[x.place[slot.Fill[0]]].Year == year {
			e.text, e.year = x.yearWord(year), year
		}
		entries = append(entries, e)
	}
	return x.joined(entries)
}

// entry is one entry of a list that is written: a year that may join a range, or a label.
type entry struct {
	text  string
	year  int // 0 when it can't stand in a range
	count int // 0 when it is not written
}

// joined writes entries, and runs of three years or more with equal counts as ranges. A year of the series that is
// missing from a run breaks it.
func (x *index) joined(entries []entry) string {
	var texts []string
	for i := 0; i < len(entries); {
		last := i
		for last+1 < len(entries) && entries[i].year != 0 && entries[last+1].year == x.after(entries[last].year) &&
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
