package series

import (
	"slices"
	"strings"
)

// fillers may stand before what they are about and say nothing of their own.
var fillers = []string{"reverse", "rev", "rev.", "variety", "var", "var.", "type", "mark", "motif", "with", "the", "of"}

// withoutFillers is a name without the fillers it begins with.
func withoutFillers(name string) string {
	words := strings.Fields(name)
	for len(words) > 1 && slices.Contains(fillers, plainly(words[0]).plain) {
		words = words[1:]
	}
	return strings.Join(words, " ")
}

// described is what the words of a term name: the pieces that go by all of its names. Every word is a name, or a filler
// before one.
func (w *within) described(t *Term) (pieces []int, named bool, err error) {
	lastName := -1
	for i, part := range t.parts {
		if part.kind == tokenName {
			lastName = i
		}
	}
	for i, part := range t.parts {
		switch {
		case part.kind != tokenName && i < lastName && slices.Contains(fillers, part.plain):
		case part.kind != tokenName:
			return nil, false, w.unknownWord(t, i)
		case !named:
			pieces, named = part.pieces, true
		default:
			pieces = slices.DeleteFunc(slices.Clone(pieces), func(p int) bool { return !slices.Contains(part.pieces, p) })
		}
	}
	return pieces, named, nil
}

// named says what means pieces by their names alone.
func (w *within) named(t *Term) ([]unit, error) {
	pieces, named, err := w.described(t)
	if err != nil {
		return nil, err
	}
	if !named {
		return nil, w.unknownWord(t, 0)
	}
	last := t.parts[len(t.parts)-1]
	if last.slot > 0 {
		return w.namedSlot(t, w.s.Slots[last.slot-1]), nil
	}
	pieces = w.preferUsual(w.ofSize(pieces, t.Size), t.Size)
	if len(pieces) == 0 {
		return nil, w.unknown(t.Col, t.End, w.sizes())
	}
	return w.oneOf(t, pieces, unit{text: last.plain}), nil
}

// namedSlot means a slot by its name: the speaker's if it is one of theirs, else any of the pieces that fill it.
func (w *within) namedSlot(t *Term, slot Slot) []unit {
	if w.purpose == ForWants && !t.Both {
		for _, mine := range w.mySlots() {
			if mine.Code == slot.Code {
				return []unit{w.slot(mine)}
			}
		}
		fill := w.mySlot(slot).fill
		return []unit{{slot: w.slotOf(fill), pieces: fill, text: slot.Label}}
	}
	return w.oneOf(t, w.mySlot(slot).fill, unit{text: slot.Label})
}

// sized means the pieces of a weight.
func (w *within) sized(t *Term) ([]unit, error) {
	pieces := w.x.names[t.Size].pieces
	if len(pieces) == 0 {
		for p, size := range w.x.sizes {
			if size == t.Size {
				pieces = append(pieces, p)
			}
		}
	}
	if len(pieces) == 0 {
		return nil, w.unknown(t.Col, t.End, w.sizes())
	}
	return w.oneOf(t, pieces, unit{text: t.Size}), nil
}

// sameYear reads words as those of the year of the term before them.
func (w *within) sameYear(t *Term, before Term) ([]unit, error) {
	said := *t
	said.Kind, said.From, said.To = Years, before.From, before.To
	return w.years(&said)
}

// unknownWord points at a word that names nothing, with what is near it. Digits typed as letters it asks about.
func (w *within) unknownWord(t *Term, i int) error {
	part := t.parts[i]
	if year, ok := mistyped(part.plain); ok && len(w.x.year(year)) > 0 {
		return &Question{
			Col: part.col, Word: w.text[part.col:part.end], Ask: say("“{word}” has a letter where a digit should be. Is it {year}?", "word", w.text[part.col:part.end], "year", year),
			Choices: []Choice{{plain(year), w.text[:part.col] + year + w.text[part.end:]}},
		}
	}
	end := part.end
	word := part.plain
	near := w.near(t, word)
	for k := i + 1; k < min(i+3, len(t.parts)); k++ {
		word += " " + t.parts[k].plain
		if longer := w.near(t, word); len(longer) > 0 {
			near, end = longer, t.parts[k].end
		}
	}
	if i == 0 && t.Kind == Named && w.stretch.series >= 0 {
		near = append(near, w.c.near(part.plain)...)
	}
	return w.unknown(part.col, end, near[:min(len(near), 4)])
}

// near lists what can be typed in place of a word: after a year what is called so of that year, else any name.
func (w *within) near(t *Term, word string) []string {
	var ofYear []int
	if t.Kind == Years {
		if years := w.x.year(t.From); len(years) == 1 {
			ofYear = w.allOf(years[0])
		}
		word = strings.TrimPrefix(word, t.From)
	}
	keys := make([]string, len(w.x.spoken))
	for i, s := range w.x.spoken {
		keys[i] = s.key
	}
	var near []string
	add := func(text string) {
		if !slices.Contains(near, text) {
			near = append(near, text)
		}
	}
	for _, key := range nearest(word, keys) {
		if ofYear == nil {
			add(w.x.spoken[slices.Index(keys, key)].text)
			continue
		}
		for _, p := range w.x.names[key].pieces {
			if slices.Contains(ofYear, p) {
				add(w.s.Pieces[p].Label)
			}
		}
	}
	if len(near) == 0 && len(ofYear) > 1 {
		return w.labels(ofYear)
	}
	return near
}
