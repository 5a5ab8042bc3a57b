// Package bot is the conversation: it hears a line, does what the member asked, and says so in our words. It knows no
// chat protocol, no SQL and no queue.
//
// Callers may rely on this: Hear always answers with something a member can act on, or stays silent because the line was
// not for us; a line that is not understood changes nothing, and the answer points at the word; a button is a line, so
// pressing twice, late or after a restart is refused by the same rules as typing.
package bot

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"spareounce/bot/spot"
	"spareounce/match/series"
	"spareounce/store"
)

// Bot talks with the members of any number of groups. It is safe for concurrent use.
type Bot struct {
	store *store.Store
	chat  Chat
	now   func() time.Time
	log   *slog.Logger
	feeds *spot.Fetcher
}

// New makes a bot that remembers in st, speaks unasked through chat, and dates what it says by now.
func New(st *store.Store, chat Chat, now func() time.Time, log *slog.Logger) *Bot {
	return &Bot{store: st, chat: chat, now: now, log: log, feeds: spot.NewFetcher(noKeys, nil)}
}

func noKeys(string) string { return "" }

// Ask has the bot ask price feeds through f, which knows the operator's keys and hosts. Call it before the bot is used.
func (b *Bot) Ask(f *spot.Fetcher) { b.feeds = f }

// longestLine is the most we read of one line, in bytes: several times what a chat lets a member type.
const longestLine = 16_000

// turn is one line being answered.
type turn struct {
	voice
	group     store.Group
	speaker   store.Member
	catalogue *series.Catalogue
	heard     Heard
	verb      verb
	said      string // the word the verb was said with
	rest      string // what follows the verb
	fallback  string // the series that is meant when a part of the line names none
}

// Hear answers one line. The zero Reply is silence.
func (b *Bot) Hear(ctx context.Context, h Heard) Reply {
	h.Text = strings.TrimSpace(strings.Map(narrow, strings.ToValidUTF8(h.Text, "\uFFFD")))
	if h.Text == "" {
		return Reply{}
	}
	in := voiceFor(h.From.Language)
	if len(h.Text) > longestLine {
		return Reply{Private: true, Text: in.Say(tooLong, "runes", utf8.RuneCountInString(h.Text))}
	}
	t, err := b.begin(ctx, h)
	if err != nil {
		return b.refuse(ctx, in, h, err)
	}
	reply, err := b.answer(ctx, t)
	if err != nil {
		reply = b.refuse(ctx, t.voice, h, err)
	}
	return t.spoken(reply)
}

func (b *Bot) answer(ctx context.Context, t turn) (Reply, error) {
	found, said, rest := findVerb(t.heard.Text, t.voice)
	if found.run == nil {
		return b.unasked(t), nil
	}
	t.verb, t.said, t.rest = found, said, rest
	if found.keeper && !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.command(found.name)))
	}
	reply, err := found.run(b, ctx, t)
	if err != nil {
		return Reply{}, t.point(err)
	}
	reply.Private = reply.Private || found.private || t.heard.Private
	return reply, nil
}

// begin finds out who speaks, where, and what is collected there.
func (b *Bot) begin(ctx context.Context, h Heard) (turn, error) {
	group, err := b.store.Group(ctx, h.Group, h.Group)
	if err != nil {
		return turn{}, err
	}
	speaker, err := b.store.Join(ctx, group.ID, h.From.Account, tidyName(h.From.Name, h.From.Account), h.From.Keeper, h.From.Language)
	if err != nil {
		return turn{}, err
	}
	catalogue, err := b.store.Catalogue(ctx, group)
	if err != nil {
		return turn{}, err
	}
	return turn{voice: voiceFor(speaker.Language()), group: group, speaker: speaker, catalogue: catalogue, heard: h}, nil
}

// unasked answers a line that begins with no word of ours. In the group most such lines are talk, and we stay silent;
// but a slip in a verb, or a list without one, is meant for us.
func (b *Bot) unasked(t turn) Reply {
	line := t.heard.Text
	first, rest, _ := strings.Cut(line, " ")
	if _, err := t.catalogue.Read(line, series.ForHoldings, series.Mine{}); err == nil || asksBack(err) {
		return Reply{Private: true, Text: t.Say(whichVerb, "list", line), Buttons: []Button{
			{t.Say(pressHave), "have " + line}, {t.Say(pressSpare), "spare " + line}, {t.Say(pressWant), "want " + line}, {t.Say(pressWho), "who " + line},
		}}
	}
	if near := nearVerb(first, t.voice); near != "" && (rest != "" || t.heard.Private) {
		line := strings.TrimSpace(near + " " + rest)
		return Reply{Private: true, Text: t.Say(nearWord, "word", first, "near", near), Buttons: []Button{{line, line}}}
	}
	if t.heard.Private {
		return Reply{Private: true, Text: t.Say(notUnderstood, "word", first)}
	}
	return Reply{}
}

// asksBack reports whether a list was understood but for a choice.
func asksBack(err error) bool {
	_, ok := errors.AsType[*series.Question](err)
	return ok
}

// sentence is an error made for members.
type sentence string

func (s sentence) Error() string { return string(s) }
func (s sentence) Plain() string { return string(s) }

// asking is not an error but a question back, with a button for every answer; it travels as an error so that nothing is
// done until it is answered.
type asking struct{ Reply }

func (a asking) Error() string { return a.Text }

// refuse words an error: a sentence for a member if it was made for one, else a plain apology with a word by which a
// keeper and the log find each other.
func (b *Bot) refuse(ctx context.Context, in voice, h Heard, err error) Reply {
	if question, ok := errors.AsType[asking](err); ok {
		question.Private = true
		return question.Reply
	}
	if plain, ok := errors.AsType[interface {
		error
		Plain() string
	}](err); ok {
		return Reply{Private: true, Text: plain.Plain()}
	}
	ref := strings.ToLower(rand.Text()[:6])
	b.log.ErrorContext(ctx, "no answer", "ref", ref, "group", h.Group, "account", h.From.Account, "err", err)
	if _, ok := errors.AsType[*store.UncertainError](err); ok {
		return Reply{Private: true, Text: in.Say(uncertain, "ref", ref)}
	}
	return Reply{Private: true, Text: in.Say(broken, "ref", ref)}
}

// tidyName is the name a member goes by: one line, not empty, at most 40 characters.
func tidyName(name, account string) string {
	name = strings.Join(strings.Fields(strings.Map(printable, strings.ToValidUTF8(name, ""))), " ")
	if name == "" {
		name = account
	}
	if runes := []rune(name); len(runes) > 40 {
		name = string(runes[:39]) + "…"
	}
	return name
}

// printable drops control characters, of which no memory and no page makes anything good, but for those that part words.
func printable(r rune) rune {
	if unicode.IsControl(r) && r != '\n' && r != '\t' {
		return -1
	}
	return r
}

// narrow is printable, and makes the wide letters, digits and signs of an East Asian keyboard those that our words and amounts are
// written with: they lie 0xFEE0 above ASCII (Unicode, Halfwidth and Fullwidth Forms). Marks that end a sentence stay as typed.
func narrow(r rune) rune {
	wide := r - 0xfee0
	switch {
	case r == '\u3000':
		return ' '
	case '0' <= wide && wide <= '9', 'A' <= wide && wide <= 'Z', 'a' <= wide && wide <= 'z', wide > 0 && strings.ContainsRune("@+-./:,", wide):
		return wide
	}
	return printable(r)
}

// Members lists who is in a group, for a chat that lets people choose who they are.
func (b *Bot) Members(ctx context.Context, group string) ([]Speaker, error) {
	g, err := b.store.Group(ctx, group, group)
	if err != nil {
		return nil, err
	}
	all, err := b.store.Members(ctx, g.ID)
	if err != nil {
		return nil, fmt.Errorf("members of %s: %w", group, err)
	}
	speakers := make([]Speaker, len(all))
	for i, m := range all {
		speakers[i] = Speaker{Account: m.Account, Name: m.Name, Keeper: m.Keeper}
	}
	return speakers, nil
}
