// Package picture draws the set card, one member's set of a series with every slot of it, and the hunt list, what a member
// lacks, for the phone and as a page to print. The same card gives the same pixels on every machine of one kind, and on
// others pixels that no eye can tell apart; the same page gives the same bytes. The package carries its own font, and so does
// every page.
//
// Nothing is told by colour alone. A slot that is had is a full disc with a tick; one with pieces to spare bears
// "×2 spare" as well; one that is missing is an empty dashed ring; one that is wanted has a star in its ring; a key piece has a
// full diamond and a semi-key a hollow one, each with its word below. A legend says so in words, and Alt says in words what
// the whole picture shows.
//
// The font knows Latin letters with their accents, and for who reads Japanese there is one that knows kana and kanji. Of any
// other script, and of emoji, a run of letters is drawn as one small
// upright box, so that a name is seen to be there; Alt has it in full. What is longer than its place ends in an ellipsis.
package picture

import "spareounce/bot/tongue"

// State is how a slot of a set stands.
type State int

// The states. Any other value is taken as Missing.
const (
	Missing State = iota
	Wanted        // missing, and the group knows that it is looked for
	Had
	Spare // had, and there are pieces to spare
)

// had reports whether a piece stands in the slot.
func (s State) had() bool { return s == Had || s == Spare }

// Tile is one slot of a set.
type Tile struct {
	Label      string // "84 gull"
	Note       string // what sets it apart from its neighbours: "1/10oz"
	State      State
	Count      int // pieces to spare when the state is Spare; less than one is taken as one
	Key        bool
	SemiKey    bool   // of no effect beside Key
	Substitute string // label of the piece that stands in for the one meant
}

// SetCard is a member's set of one series.
type SetCard struct {
	Title   string // the series
	Owner   string
	Summary string         // "4 of 9"
	AsOf    string         // "25 Nov 2026"
	Tiles   []Tile         // in catalogue order
	Dark    bool           // light on dark, for who reads at night
	In      *tongue.Tongue // what its words are said in; nil is English
}

// mostTiles is how many slots a card draws; what lies beyond is counted in words below them.
const mostTiles = 120

// shown are the tiles that are drawn, beyond those that are only counted.
func (c SetCard) shown() (shown, beyond []Tile) {
	n := min(len(c.Tiles), mostTiles)
	return c.Tiles[:n], c.Tiles[n:]
}

// had counts the slots in which a piece stands.
func had(tiles []Tile) int {
	n := 0
	for _, t := range tiles {
		if t.State.had() {
			n++
		}
	}
	return n
}

// complete reports whether every slot is filled.
func (c SetCard) complete() bool { return len(c.Tiles) > 0 && had(c.Tiles) == len(c.Tiles) }

// spare is the number of pieces to spare that the card shows for a tile.
func (t Tile) spare() int {
	if t.State != Spare {
		return 0
	}
	return max(t.Count, 1)
}

// rarity is the word for how hard a piece is to find, "" when it is common.
func (t Tile) rarity(in *tongue.Tongue) string {
	switch {
	case t.Key:
		return in.Say(key)
	case t.SemiKey:
		return in.Say(semiKey)
	}
	return ""
}

// rare reports whether a piece is hard to find.
func (t Tile) rare() bool { return t.Key || t.SemiKey }
