// Package room is the local room: one web page on this machine where anyone tries the conversation with no account
// anywhere.
//
// It promises: only browsers on this machine are answered, at a loopback name and from our own page; everything said is
// shown as text, never as markup; what one member is told in private is shown to that member alone; memory is bounded; a
// slow or lost reader never holds up a speaker; and the page works without script. What is said here is kept in memory
// only and is gone when the program stops. Anyone at this machine may sit down as any member: the room is for trying the
// conversation, and has no locks.
package room

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"time"
	"unicode"

	"spareounce/bot"
)

// Talker is who answers in the room: a *bot.Bot, or a script under test.
type Talker interface {
	// Hear answers one line; the zero Reply is silence.
	Hear(ctx context.Context, h bot.Heard) bot.Reply
	// Members lists who is in a group.
	Members(ctx context.Context, group string) ([]bot.Speaker, error)
	// Complete offers whole lines for what is typed so far, best first.
	Complete(ctx context.Context, h bot.Heard) []string
}

var _ Talker = (*bot.Bot)(nil)

// Config says what the room is.
type Config struct {
	Group string           // the chat's id of the group whose room it is
	Name  string           // what the page calls the group; "The table" when empty
	Zone  *time.Location   // for times on the page; UTC when nil
	Now   func() time.Time // the clock; time.Now when nil
	Log   *slog.Logger     // slog.Default() when nil
	Quick []bot.Button     // within thumb's reach; when one says a line that ends with a space, it begins the line only
}

// What is kept, newest last.
const (
	mostTalk         = 500      // entries in the group's talk
	mostSlips        = 200      // slips in one tray
	mostPictureBytes = 64 << 20 // of all pictures together
	mostJoined       = 200      // members who came in here since the start
	longestLine      = 4000     // runes
	longestName      = 40       // runes, as the bot keeps it
)

// usual are the quick buttons when none are configured.
var usual = []bot.Button{
	{Label: "want …", Says: "want "},
	{Label: "spare …", Says: "spare "},
	{Label: "have …", Says: "have "},
	{Label: "who …", Says: "who "},
	{Label: "gaps", Says: "gaps"},
	{Label: "trades", Says: "trades"},
	{Label: "help", Says: "help"},
}

// Room is the talk of one group and a tray of slips for each member. It is a bot.Chat, and safe for concurrent use.
type Room struct {
	config Config
	book   *book
	people people
}

var _ bot.Chat = (*Room)(nil)

// New makes an empty room.
func New(c Config) *Room {
	if c.Name == "" {
		c.Name = "The table"
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.Quick == nil {
		c.Quick = usual
	}
	return &Room{config: c, book: newBook(c.Now())}
}

// Tell puts a slip into one member's tray. It is the chat's.
func (r *Room) Tell(_ context.Context, group, account string, reply bot.Reply) error {
	if err := r.ours(group); err != nil || reply.Empty() {
		return err
	}
	r.book.slip(account, r.entry(bot.Speaker{}, reply))
	return nil
}

// Post puts a reply into the group's talk. It is the chat's.
func (r *Room) Post(_ context.Context, group string, reply bot.Reply) error {
	if err := r.ours(group); err != nil || reply.Empty() {
		return err
	}
	r.book.say(r.entry(bot.Speaker{}, reply))
	return nil
}

func (r *Room) ours(group string) error {
	if group != r.config.Group {
		return fmt.Errorf("the room is of group %q, not %q", r.config.Group, group)
	}
	return nil
}

// hear has a member say a line, aloud or to the bot alone. A line said aloud is in the talk before it is answered, as it
// would be in any group. The answer to it may still be for the speaker's eyes alone.
func (r *Room) hear(ctx context.Context, t Talker, who bot.Speaker, text string, alone bool) {
	if !alone {
		r.book.say(r.entry(who, bot.Reply{Text: text}))
	}
	// Who pressed "Accept" and closed the window meant it: the answer does not wait for the reader.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), answerWithin)
	defer cancel()
	reply := t.Hear(ctx, bot.Heard{Group: r.config.Group, From: who, Text: text, Private: alone})
	switch {
	case alone, reply.Private && !reply.Empty():
		e := r.entry(bot.Speaker{}, reply)
		e.asked = text
		r.book.slip(who.Account, e)
	case !reply.Empty():
		r.book.say(r.entry(bot.Speaker{}, reply))
	}
}

// answerWithin is the longest the bot may think about one line.
const answerWithin = 30 * time.Second

// entry makes an entry of what is said, by the bot when the speaker is zero. The book numbers it.
func (r *Room) entry(from bot.Speaker, reply bot.Reply) *entry {
	e := &entry{at: r.config.Now(), from: from, key: reply.Key, text: plain(reply.Text), language: reply.Language}
	for _, b := range reply.Buttons {
		e.buttons = append(e.buttons, bot.Button{Label: plain(b.Label), Says: plain(b.Says)})
	}
	for _, p := range reply.Pictures {
		e.pictures = append(e.pictures, r.book.hang(p))
	}
	for _, f := range reply.Files {
		e.files = append(e.files, r.book.pin(f))
	}
	return e
}

// plain is text with one kind of line end and without control characters: a lone carriage return would end a line of
// the event stream, and a NUL is no character of HTML.
func plain(s string) string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Map(func(c rune) rune {
		if unicode.IsControl(c) && c != '\n' && c != '\t' {
			return -1
		}
		return c
	}, s)
}
