// Package picture draws what members are shown: the card of a set. The same input gives the same pixels on every
// machine of one kind, and nearly the same on others; it carries its own font.
//
// No state is told by colour alone: each has a shape and a word or mark of its own, and Alt says in words everything
// that the picture shows.
package picture

import (
	"fmt"
	"strings"
)

// State is how a slot of a set stands.
type State int

// The states. A slot that is had may have spares besides.
const (
	Missing State = iota
	Wanted        // missing, and the group knows that it is looked for
	Had
	Spare // had, and there is one to spare
)

// Tile is one slot of a set.
type Tile struct {
	Label      string // "84 gull"
	State      State
	Count      int // pieces to spare
	Key        bool
	SemiKey    bool
	Substitute string // label of the piece that stands in for the one meant
}

// SetCard is a member's set of one series.
type SetCard struct {
	Title   string // the series
	Owner   string
	Summary string // "4 of 9"
	AsOf    string // "25 Nov 2026"
	Tiles   []Tile
}

// longestAlt is about as much as a screen reader's user will hear out; chats take at least as much.
const longestAlt = 1000

// Alt says in words what the picture shows.
func (c SetCard) Alt() string {
	lists := map[State][]string{}
	for _, t := range c.Tiles {
		label := t.Label
		switch {
		case t.Key:
			label += " (key)"
		case t.SemiKey:
			label += " (semi-key)"
		}
		if t.State == Spare && t.Count > 1 {
			label += fmt.Sprintf(" x%d", t.Count)
		}
		lists[t.State] = append(lists[t.State], label)
	}
	parts := []string{fmt.Sprintf("Set card of %s, %s: %s.", c.Owner, c.Title, c.Summary)}
	for _, s := range []struct {
		state State
		word  string
	}{{Missing, "Missing"}, {Wanted, "Missing and wanted"}, {Spare, "Had with spares"}, {Had, "Had"}} {
		if list := lists[s.state]; len(list) > 0 {
			parts = append(parts, s.word+": "+strings.Join(list, ", ")+".")
		}
	}
	if c.AsOf != "" {
		parts = append(parts, "As of "+c.AsOf+".")
	}
	alt := strings.Join(parts, " ")
	if runes := []rune(alt); len(runes) > longestAlt {
		alt = strings.TrimRight(string(runes[:longestAlt-1]), " ,") + "…"
	}
	return alt
}
