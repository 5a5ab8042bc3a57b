// Package series knows what a series is, what counts as complete, and the shorthand in which collectors write lists.
//
// It is pure: standard library and match/melt only, no clock, no randomness, no I/O. What it prints it reads back; what it
// refuses it points at; a word is never dropped in silence; a line that is not wholly understood gives nothing but the
// reason or a question.
package series

import (
	"cmp"
	"slices"

	"spareounce/match/melt"
)

// Scarcity is how hard a piece is to find, as the series' describers see it.
type Scarcity int

// A key is the hardest piece of a series, a semi-key hard but less so (common practice).
const (
	Common Scarcity = iota
	SemiKey
	Key
)

func (s Scarcity) String() string { return [...]string{"common", "semi-key", "key"}[s] }

// Series is a set of pieces meant to be collected together. Its JSON form is kept by stores: fields may be added, never
// renamed.
type Series struct {
	Code                 string // what members type: lower-case letters, digits and hyphens
	Name, Maker, Country string
	Aliases              []string   // other words for the series
	MetalName            string     // "silver"
	Metal                melt.Metal // of a piece that states none of its own
	PremiumPercent       int        // usual premium over melt in whole percent; 0 when unknown
	Declared             int        // number of pieces the maker declares; 0 when they say nothing
	Pieces               []Piece    // catalogue order
	Slots                []Slot     // catalogue order
	Checklists           []Checklist
	Sources              []string
}

// Piece is one thing to collect.
type Piece struct {
	Code, Label    string // Label is what members are shown, and can be typed
	Year           int    // 0 when undated
	Variety        string // reverse or mark, when it tells pieces of a year apart
	Motif          string
	Size           string     // "1/10oz" or "5oz" when it differs from the series' usual weight, else ""
	Metal          melt.Metal // zero when it is the series'
	Mintage        int64      // 0 when unknown
	Scarcity       Scarcity
	PremiumPercent int    // 0 when it is the series'
	TellApart      string // how to tell it from its neighbours
	Aliases        []string
}

// Slot is one place in a set, which any of some pieces fills; the first is the one meant.
type Slot struct {
	Code, Label string
	Fill        []string // codes of pieces
}

// Checklist is a named way to be complete.
type Checklist struct {
	Code, Name string
	Slots      []string // codes, catalogue order
}

// Edits are one member's own idea of complete: a named checklist, then changes to it.
type Edits struct {
	Checklist string              `json:",omitempty"` // "" for the series' first
	Without   []string            `json:",omitempty"` // codes of slots struck off
	With      []string            `json:",omitempty"` // codes of slots added, or of pieces: each a slot that only it fills
	Also      map[string][]string `json:",omitempty"` // by slot, codes of further pieces accepted there
}

// MetalOf is what a piece is made of.
func (s Series) MetalOf(p Piece) melt.Metal {
	if p.Metal == (melt.Metal{}) {
		return s.Metal
	}
	return p.Metal
}

// Piece finds a piece by its code.
func (s Series) Piece(code string) (Piece, bool) {
	for _, p := range s.Pieces {
		if p.Code == code {
			return p, true
		}
	}
	return Piece{}, false
}

// SlotsFor returns the slots that count for a member with these edits, in catalogue order. Codes that the series no
// longer has are passed over.
func (s Series) SlotsFor(e Edits) []Slot {
	counts := map[string]bool{}
	for _, code := range s.checklist(e.Checklist) {
		counts[code] = true
	}
	for _, code := range e.With {
		counts[code] = true
	}
	for _, code := range e.Without {
		delete(counts, code)
	}
	place := make(map[string]int, len(s.Pieces))
	for i, p := range s.Pieces {
		place[p.Code] = i
	}
	widened := func(slot Slot) Slot {
		slot.Fill = slices.Clone(slot.Fill)
		for _, code := range e.Also[slot.Code] {
			if _, known := place[code]; known && !slices.Contains(slot.Fill, code) {
				slot.Fill = append(slot.Fill, code)
			}
		}
		return slot
	}
	slots := make([]Slot, 0, len(counts))
	for _, slot := range s.Slots {
		if counts[slot.Code] {
			slots = append(slots, widened(slot))
			delete(counts, slot.Code)
		}
	}
	for _, p := range s.Pieces {
		if counts[p.Code] {
			slots = append(slots, widened(Slot{p.Code, p.Label, []string{p.Code}}))
		}
	}
	slices.SortStableFunc(slots, func(a, b Slot) int { return cmp.Compare(a.place(place), b.place(place)) })
	return slots
}

// place is where a slot stands in catalogue order: at its first piece.
func (s Slot) place(ofPiece map[string]int) int {
	if len(s.Fill) == 0 {
		return len(ofPiece)
	}
	return ofPiece[s.Fill[0]]
}

// checklist lists the slots of a named checklist: the first for "", every slot when the series names none.
func (s Series) checklist(code string) []string {
	for i, c := range s.Checklists {
		if c.Code == code || code == "" && i == 0 {
			return c.Slots
		}
	}
	if code != "" && len(s.Checklists) > 0 {
		return s.Checklists[0].Slots // a checklist that is gone
	}
	all := make([]string, len(s.Slots))
	for i, slot := range s.Slots {
		all[i] = slot.Code
	}
	return all
}
