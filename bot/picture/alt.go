package picture

import (
	"strconv"
	"strings"
	"unicode"

	"spareounce/bot/tongue"
)

const (
	longestAlt  = 1000 // runes: about as much as a listener hears out; chats take at least as much
	longestName = 80   // runes of a name, a label or a note in the alternative text
	shortestRun = 5    // years in a row said as "83 to 87"; fewer are as quickly said one by one
)

// Alt says in words what the picture shows, in at most 1000 characters. It is written to be heard: years in a row are said
// as "83 to 87", and when a list is too long for the whole to be heard out, its end becomes a number: "and 40 more".
func (c SetCard) Alt() string {
	lists := c.lists()
	for {
		alt := c.say(lists)
		if len([]rune(alt)) <= longestAlt {
			return alt
		}
		longest := &lists[0]
		for i := range lists {
			if lists[i].length() > longest.length() {
				longest = &lists[i]
			}
		}
		longest.shorten()
	}
}

// say puts the lists into sentences.
func (c SetCard) say(lists []list) string {
	head, owner := cardHead, clip(c.Owner)
	if owner != "" {
		head = cardHeadOf
	}
	parts := []string{c.In.Say(head, "owner", owner, "title", clip(c.Title), "summary", clip(c.Summary))}
	if c.complete() {
		parts = append(parts, c.In.Say(isComplete))
	}
	if len(c.Tiles) == 0 {
		parts = append(parts, c.In.Say(nothingCounts))
	}
	for _, l := range lists {
		if said := l.say(c.In); said != "" {
			parts = append(parts, c.In.Say(l.word, "list", said))
		}
	}
	if day := clip(c.AsOf); day != "" {
		parts = append(parts, c.In.Say(asOfSaid, "day", day))
	}
	return strings.Join(parts, " ")
}

// list is what is said of the slots of one state.
type list struct {
	state State
	word  phrase
	said  []string // one label or a run of them each
	slots []int    // how many slots each of said stands for
	more  int      // slots that are only counted
}

// lists has what is missing first: it is what a member asks about.
func (c SetCard) lists() []list {
	lists := []list{
		{state: Missing, word: saidMissing},
		{state: Wanted, word: saidWanted},
		{state: Spare, word: saidSpare},
		{state: Had, word: saidHad},
	}
	for i := range lists {
		l := &lists[i]
		var run []string // labels of neighbouring slots that are years in a row
		flush := func() {
			if len(run) >= shortestRun {
				l.add(c.In.Say(fromTo, "first", run[0], "last", run[len(run)-1]), len(run))
			} else {
				for _, label := range run {
					l.add(label, 1)
				}
			}
			run = nil
		}
		for _, t := range c.Tiles {
			same := t.State == l.state || l.state == Missing && (t.State < Missing || t.State > Spare)
			label := clip(t.Label)
			if !same || len(run) > 0 && !follows(run[len(run)-1], label) {
				flush()
			}
			switch {
			case !same:
			case t.remarks(c.In) == "":
				run = append(run, label)
			default:
				flush()
				l.add(label+t.remarks(c.In), 1)
			}
		}
		flush()
	}
	return lists
}

func (l *list) add(said string, slots int) {
	l.said, l.slots = append(l.said, said), append(l.slots, slots)
}

func (l *list) length() int { return len(strings.Join(l.said, ", ")) }

// shorten leaves the last of the list to be counted only.
func (l *list) shorten() {
	last := len(l.said) - 1
	l.more += l.slots[last]
	l.said, l.slots = l.said[:last], l.slots[:last]
}

func (l list) say(in *tongue.Tongue) string {
	said := strings.Join(l.said, ", ")
	switch {
	case l.more == 0:
		return said
	case said == "":
		return strconv.Itoa(l.more)
	}
	return in.Say(listAndMore, "list", said, "n", l.more)
}

// remarks are what the card shows of a slot beside its label and state.
func (t Tile) remarks(in *tongue.Tongue) string {
	var all []string
	if note := clip(t.Note); note != "" {
		all = append(all, note)
	}
	if rarity := t.rarity(in); rarity != "" {
		all = append(all, rarity)
	}
	if stand := clip(t.Substitute); stand != "" && t.State.had() {
		all = append(all, in.Say(filledBy, "piece", stand))
	}
	remarks := ""
	if len(all) > 0 {
		remarks = " (" + strings.Join(all, ", ") + ")"
	}
	if n := t.spare(); n > 1 {
		remarks += " x" + strconv.Itoa(n)
	}
	return remarks
}

// follows reports whether two labels are years in a row, both with two digits or both with four: 83 follows 82, 00
// follows 99, and 1900 never follows 99.
func follows(a, b string) bool {
	if len(a) != len(b) || len(a) != 2 && len(a) != 4 {
		return false
	}
	x, err1 := strconv.ParseUint(a, 10, 16)
	y, err2 := strconv.ParseUint(b, 10, 16)
	if err1 != nil || err2 != nil {
		return false
	}
	return y == x+1 || len(a) == 2 && x == 99 && y == 0
}

// clip makes one line of a text and cuts it to what can be heard out.
func clip(text string) string {
	text = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
	text = strings.ToValidUTF8(text, "")
	if runes := []rune(text); len(runes) > longestName {
		return strings.TrimRight(string(runes[:longestName-1]), " ") + "…"
	}
	return text
}
