package picture

import (
	"slices"
	"strings"
	"time"

	"spareounce/bot/tongue"
)

// HuntList is what a member lacks, to take along to a counter: a picture for the phone, and a page to print and tick. Its
// amounts come written; see Draws.
type HuntList struct {
	Owner    string
	AsOf     string    // "25 Nov 2026"
	At       time.Time // the same, for the printed page's own record
	Price    string    // the silver price counted with, where it comes from and how old it is
	Caution  string
	In       *tongue.Tongue // what its words are said in; nil is English
	Sections []HuntSection
}

// HuntSection is one series.
type HuntSection struct {
	Name    string
	Summary string // "3 of 7"
	Lines   []HuntLine
}

// HuntLine is one thing to look for.
type HuntLine struct {
	Label     string // "84 gull"
	TellApart string // how to know it from its neighbours
	Key       bool
	SemiKey   bool // of no effect beside Key
	Soon      bool // wanted before the rest
	Most      string
	Own       bool   // Most is the member's own limit, and not what is usual
	Melt      string // "" when nobody knows
	Others    int    // other members who want it
}

// Draws reports whether the font for a language has every letter of a text. What it lacks would be drawn as a box, which is fair for a name
// and useless for an amount.
func Draws(in *tongue.Tongue, text string) bool {
	f := facesFor(in)
	return !strings.ContainsFunc(text, func(r rune) bool {
		return !f.has(regular, r) && !strings.ContainsRune("\u00a0\u202f\u200e\u200f\u061c", r)
	})
}

// mostHunted is how many lines the picture draws; what lies beyond is counted below them. A page to print has them all.
const mostHunted = 60

// total counts the lines of all sections.
func (h HuntList) total() int {
	n := 0
	for _, s := range h.Sections {
		n += len(s.Lines)
	}
	return n
}

// shown is the list cut to what a picture draws.
func (h HuntList) shown() (sections []HuntSection, beyond int) {
	room := mostHunted
	for _, s := range h.Sections {
		n := min(len(s.Lines), room)
		beyond += len(s.Lines) - n
		room -= n
		if n > 0 {
			s.Lines = s.Lines[:n]
			sections = append(sections, s)
		}
	}
	return sections, beyond
}

// rarity is the word for how hard a piece is to find, with how much it is wanted.
func (l HuntLine) rarity(in *tongue.Tongue) string {
	var words []string
	switch {
	case l.Key:
		words = append(words, in.Say(keyPiece))
	case l.SemiKey:
		words = append(words, in.Say(semiKeyPiece))
	}
	if l.Soon {
		words = append(words, in.Say(wantedSoon))
	}
	return strings.Join(words, ", ")
}

// others says how many other members want a piece.
func (l HuntLine) others(in *tongue.Tongue) string {
	switch l.Others {
	case 0:
		return ""
	case 1:
		return in.Say(oneOther)
	}
	return in.Say(manyOthers, "n", l.Others)
}

// facts are the small words under a line.
func (l HuntLine) facts(in *tongue.Tongue) string {
	facts := []string{l.rarity(in)}
	if l.Melt != "" {
		facts = append(facts, in.Say(meltOf, "amount", l.Melt))
	}
	facts = append(facts, l.others(in))
	facts = slices.DeleteFunc(facts, func(s string) bool { return s == "" })
	return strings.Join(facts, " · ")
}

// limit is what stands under the most to pay.
func (l HuntLine) limit(in *tongue.Tongue) string {
	switch {
	case l.Most == "":
		return ""
	case l.Own:
		return in.Say(yourLimit)
	}
	return in.Say(mostToPay)
}

// Alt says in words what the list holds, in at most 1000 characters; see SetCard.Alt.
func (h HuntList) Alt() string {
	head, empty, owner := huntHead, huntEmpty, clip(h.Owner)
	if owner != "" {
		head, empty = huntHeadOf, huntEmptyOf
	}
	tail := ""
	if day := clip(h.AsOf); day != "" {
		tail = " " + h.In.Say(asOfSaid, "day", day)
	}
	if h.total() == 0 {
		return h.In.Say(empty, "owner", owner, "nothing", h.In.Say(nothingLacked)) + tail
	}
	for said := h.total(); ; said-- {
		alt := h.In.Say(head, "owner", owner, "lines", h.heard(said)) + tail
		if len([]rune(alt)) <= longestAlt || said == 0 {
			return alt
		}
	}
}

// heard lists the first lines in words and counts the rest.
func (h HuntList) heard(said int) string {
	var parts []string
	left := said
	for _, s := range h.Sections {
		if len(s.Lines) == 0 || left == 0 {
			continue
		}
		n := min(left, len(s.Lines))
		left -= n
		var lines []string
		for _, l := range s.Lines[:n] {
			line := clip(l.Label)
			if l.Most != "" {
				line = h.In.Say(upTo, "piece", line, "amount", clip(l.Most))
			}
			lines = append(lines, line)
		}
		parts = append(parts, clip(s.Name)+": "+strings.Join(lines, ", ")+".")
	}
	if more := h.total() - said; more > 0 {
		parts = append(parts, h.In.Say(andMore, "n", more))
	}
	return strings.Join(parts, " ")
}
