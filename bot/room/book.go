package room

import (
	"cmp"
	"slices"
	"sync"
	"time"

	"spareounce/bot"
)

// entry is one line of the day-book, or one slip. But for its marks it never changes once it is in the book.
type entry struct {
	number   int64 // its place among all entries, slips included
	at       time.Time
	from     bot.Speaker // zero for the bot
	key      string      // of what the bot said unasked; "" for all else
	asked    string      // on a slip: the line it answers; "" when nobody asked
	text     string
	language string // of what the bot said, an IETF tag; "" for what members did
	buttons  []bot.Button
	pictures []hung
	files    []hung
	pressed  map[mark]bool // guarded by the book
}

// mark is a button that a member has pressed, by its line.
type mark struct{ account, says string }

// tray is what one member was told in private, and how far that member has read.
type tray struct {
	slips []*entry
	seen  int64
}

// line is an entry as one member reads it.
type line struct {
	*entry
	slip    bool
	pressed []bool // for each button, whether this member has pressed it
}

// book is everything said in the room. Readers come back for what is new whenever they can: nothing waits for them.
type book struct {
	mu      sync.Mutex
	last    int64 // number of the newest entry
	talk    []*entry
	trays   map[string]*tray // by account
	changed chan struct{}    // closed, and made anew, when there is something to read
	wall    wall
}

// newBook makes an empty book. Its numbers begin at the time it was opened, so that a page left open from before a
// restart asks for what came after a smaller number, and gets everything.
func newBook(opened time.Time) *book {
	return &book{last: opened.UnixMilli(), trays: map[string]*tray{}, changed: make(chan struct{})}
}

// say adds an entry to the group's talk.
func (b *book) say(e *entry) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if said(b.talk, e.key) {
		return
	}
	b.talk = keep(mostTalk, append(b.talk, b.numbered(e)))
}

// slip adds an entry to a member's tray.
func (b *book) slip(account string, e *entry) {
	b.mu.Lock()
	defer b.mu.Unlock()
	t := b.tray(account)
	if said(t.slips, e.key) {
		return
	}
	t.slips = keep(mostSlips, append(t.slips, b.numbered(e)))
}

// said reports whether a key is among entries.
func said(entries []*entry, key string) bool {
	return key != "" && slices.ContainsFunc(entries, func(e *entry) bool { return e.key == key })
}

// numbered numbers a new entry and wakes the readers. The lock is held.
func (b *book) numbered(e *entry) *entry {
	b.last++
	e.number = b.last
	b.wake()
	return e
}

// wake tells every reader that there is something new. The lock is held.
func (b *book) wake() {
	close(b.changed)
	b.changed = make(chan struct{})
}

// wakeAll wakes the readers for something that is not an entry.
func (b *book) wakeAll() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.wake()
}

func (b *book) tray(account string) *tray {
	t := b.trays[account]
	if t == nil {
		t = &tray{}
		b.trays[account] = t
	}
	return t
}

// keep drops the oldest entries when there are too many.
func keep(most int, entries []*entry) []*entry {
	if over := len(entries) - most; over > 0 {
		return slices.Delete(entries, 0, over)
	}
	return entries
}

// read is the talk and a member's own slips in one, oldest first, with the number of the newest entry of all and a
// channel that is closed when there is more.
func (b *book) read(account string) (lines []line, last int64, changed <-chan struct{}) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var slips []*entry
	if t := b.trays[account]; t != nil {
		slips = t.slips
	}
	talk := b.talk
	for len(talk)+len(slips) > 0 {
		var l line
		if len(slips) == 0 || len(talk) > 0 && talk[0].number < slips[0].number {
			l.entry, talk = talk[0], talk[1:]
		} else {
			l.entry, slips, l.slip = slips[0], slips[1:], true
		}
		for _, button := range l.buttons {
			l.pressed = append(l.pressed, l.entry.pressed[mark{account, button.Says}])
		}
		lines = append(lines, l)
	}
	return lines, b.last, b.changed
}

// see records that a member has read up to a number.
func (b *book) see(account string, number int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	t := b.trays[account]
	if t == nil || t.seen >= number {
		return
	}
	unread := t.unread()
	if t.seen = number; t.unread() != unread {
		b.wake()
	}
}

// unread counts the slips that each member has not seen.
func (b *book) unread() map[string]int {
	b.mu.Lock()
	defer b.mu.Unlock()
	counts := map[string]int{}
	for account, t := range b.trays {
		counts[account] = t.unread()
	}
	return counts
}

func (t *tray) unread() int {
	n := 0
	for _, e := range t.slips {
		if e.number > t.seen {
			n++
		}
	}
	return n
}

// press marks the button of an entry that says a line as pressed by a member. An entry that is no longer kept, or was of
// a book before a restart, has nothing to mark: the line is said all the same.
func (b *book) press(account string, number int64, says string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	e := find(b.talk, number)
	if t := b.trays[account]; e == nil && t != nil {
		e = find(t.slips, number)
	}
	if e == nil || !slices.ContainsFunc(e.buttons, func(button bot.Button) bool { return button.Says == says }) {
		return
	}
	if e.pressed == nil {
		e.pressed = map[mark]bool{}
	}
	e.pressed[mark{account, says}] = true
}

func find(entries []*entry, number int64) *entry {
	i, ok := slices.BinarySearchFunc(entries, number, func(e *entry, n int64) int { return cmp.Compare(e.number, n) })
	if !ok {
		return nil
	}
	return entries[i]
}

// hang keeps a picture for as long as there is room.
func (b *book) hang(p bot.Picture) hung {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.wall.hang(p)
}

// pin keeps a file for as long as there is room.
func (b *book) pin(f bot.File) hung {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.wall.pin(f)
}

// look finds a kept picture or file.
func (b *book) look(id string) (kept, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	k, ok := b.wall.kept[id]
	return k, ok
}
