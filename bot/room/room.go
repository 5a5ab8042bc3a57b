// Package room is the local room: one web page on this machine where anyone tries the conversation with no account
// anywhere.
//
// It promises: only browsers on this machine are answered (the Host header must name the loopback, and a form must come
// from our own page); everything members type is shown as text, never as markup; memory is bounded; a slow reader never
// holds up a speaker. What is said here is kept in memory only and is gone when the program stops.
package room

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"spareounce/bot"
)

// Talker is who answers in the room: a *bot.Bot, or a script under test.
type Talker interface {
	Hear(ctx context.Context, h bot.Heard) bot.Reply
	Members(ctx context.Context, group string) ([]bot.Speaker, error)
	Complete(ctx context.Context, h bot.Heard) []string
}

// Config says what the room is.
type Config struct {
	Group string           // the group whose room it is
	Zone  *time.Location   // for times on the page
	Now   func() time.Time // the clock
	Log   *slog.Logger
}

// What is kept, newest last.
const (
	mostEntries  = 500
	mostSlips    = 200
	mostPictures = 64 << 20 // bytes
	longestLine  = 4000     // runes
	mostSpeakers = 200      // members who joined here and have said nothing yet
)

// Room is the talk of one group and a tray of slips for each member.
type Room struct {
	config Config

	mu       sync.Mutex
	next     int // number of the next entry
	talk     []entry
	trays    map[string]*tray // by account
	joined   []bot.Speaker    // who came in here and is not known to the talker yet
	pictures map[string][]byte
	order    []string // of pictures, oldest first
	size     int      // of all pictures
	changed  chan struct{}
}

// tray is what one member was told in private.
type tray struct {
	slips  []entry
	unread int
}

// entry is one line of the page.
type entry struct {
	Number   int
	At       time.Time
	Name     string // who speaks; "" for the bot
	Text     string
	Buttons  []button
	Pictures []picture
}

type button struct {
	Label, Says string
	Pressed     bool
}

type picture struct{ ID, Alt string }

// New makes an empty room.
func New(c Config) *Room {
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	return &Room{config: c, next: 1, trays: map[string]*tray{}, pictures: map[string][]byte{}, changed: make(chan struct{})}
}

// Tell puts a slip into a member's tray. It is the chat's.
func (r *Room) Tell(_ context.Context, group, account string, reply bot.Reply) error {
	if group != r.config.Group {
		return fmt.Errorf("the room is of group %q, not %q", r.config.Group, group)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.slip(account, "", reply)
	return nil
}

// Post puts a reply into the group's talk. It is the chat's.
func (r *Room) Post(_ context.Context, group string, reply bot.Reply) error {
	if group != r.config.Group {
		return fmt.Errorf("the room is of group %q, not %q", r.config.Group, group)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.speak("", reply)
	return nil
}

// speak adds to the talk. The lock is held.
func (r *Room) speak(name string, reply bot.Reply) {
	r.talk = append(r.talk, r.entry(name, reply))
	r.talk = r.talk[max(0, len(r.talk)-mostEntries):]
	r.wake()
}

// slip adds to a tray. The lock is held.
func (r *Room) slip(account, name string, reply bot.Reply) {
	t := r.trays[account]
	if t == nil {
		t = &tray{}
		r.trays[account] = t
	}
	t.slips = append(t.slips, r.entry(name, reply))
	t.slips = t.slips[max(0, len(t.slips)-mostSlips):]
	if name == "" {
		t.unread++
	}
	r.wake()
}

func (r *Room) entry(name string, reply bot.Reply) entry {
	e := entry{Number: r.next, At: r.config.Now(), Name: name, Text: reply.Text}
	r.next++
	for _, b := range reply.Buttons {
		e.Buttons = append(e.Buttons, button{Label: b.Label, Says: b.Says})
	}
	for _, p := range reply.Pictures {
		id := rand.Text()
		r.pictures[id], r.order, r.size = p.PNG, append(r.order, id), r.size+len(p.PNG)
		e.Pictures = append(e.Pictures, picture{id, p.Alt})
	}
	for r.size > mostPictures && len(r.order) > 0 {
		r.size -= len(r.pictures[r.order[0]])
		delete(r.pictures, r.order[0])
		r.order = r.order[1:]
	}
	return e
}

// wake tells every waiting page that there is something new. The lock is held.
func (r *Room) wake() {
	close(r.changed)
	r.changed = make(chan struct{})
}

// hear has a member say a line. What is answered in private stays between the two, the line too.
func (r *Room) hear(ctx context.Context, t Talker, who bot.Speaker, text string, private bool) {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)
	reply := t.Hear(ctx, bot.Heard{Group: r.config.Group, From: who, Text: text, Private: private})
	r.mu.Lock()
	defer r.mu.Unlock()
	line := bot.Reply{Text: text}
	if private || reply.Private {
		r.slip(who.Account, who.Name, line)
		if !reply.Empty() {
			r.slip(who.Account, "", reply)
		}
		return
	}
	r.speak(who.Name, line)
	if !reply.Empty() {
		r.speak("", reply)
	}
}

// press marks a button of an entry as pressed and returns its line; false when there is no such button.
func (r *Room) press(account string, number, place int) (says string, ok bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	lists := [][]entry{r.talk}
	if t := r.trays[account]; t != nil {
		lists = append(lists, t.slips)
	}
	for _, entries := range lists {
		for i := range entries {
			if entries[i].Number == number && place >= 0 && place < len(entries[i].Buttons) {
				entries[i].Buttons = slices.Clone(entries[i].Buttons)
				entries[i].Buttons[place].Pressed = true
				r.wake()
				return entries[i].Buttons[place].Says, true
			}
		}
	}
	return "", false
}

// seen is what a member sees, and a channel that is closed when there is more.
type seen struct {
	talk, slips []entry
	changed     <-chan struct{}
}

func (r *Room) seenBy(account string) seen {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := seen{talk: slices.Clone(r.talk), changed: r.changed}
	if t := r.trays[account]; t != nil {
		s.slips = slices.Clone(t.slips)
		t.unread = 0
	}
	return s
}

// unread counts the slips a member has not seen.
func (r *Room) unread(account string) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	if t := r.trays[account]; t != nil {
		return t.unread
	}
	return 0
}

// join lets somebody in under a name; they are known to the talker from their first line on.
func (r *Room) join(s bot.Speaker) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !slices.ContainsFunc(r.joined, func(j bot.Speaker) bool { return j.Account == s.Account }) {
		r.joined = append(r.joined[max(0, len(r.joined)-mostSpeakers+1):], s)
	}
}

// people lists everyone who can speak here: the group's members, then who joined and has not spoken.
func (r *Room) people(ctx context.Context, t Talker) ([]bot.Speaker, error) {
	all, err := t.Members(ctx, r.config.Group)
	if err != nil {
		return nil, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, j := range r.joined {
		if !slices.ContainsFunc(all, func(s bot.Speaker) bool { return s.Account == j.Account }) {
			all = append(all, j)
		}
	}
	return all, nil
}
