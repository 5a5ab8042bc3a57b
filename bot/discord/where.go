package discord

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"spareounce/bot"
)

// where finds the group that an interaction is for, and who speaks: in a server that server, in private the group that was
// said, or the only one that the account is in. The zero Group when it could be several or none.
func (s *Service) where(ctx context.Context, e *exchange, said string) (bot.Group, bot.Speaker, error) {
	i := e.i
	if i.uninvited() {
		return bot.Group{}, bot.Speaker{}, nil
	}
	if i.Guild != "" {
		s.present.put(i.Guild+" "+i.account(), presence{true, i.received}, rememberPresence)
		g, err := s.bot.Group(ctx, i.Guild)
		if err == nil && g.Name == g.Chat { // made just now
			if name := s.guilds.of(i.Guild).name; name != "" {
				err = s.bot.Joined(ctx, i.Guild, shorten(name, 100))
			}
		}
		return g, i.speaker(g), err
	}
	if said == "" {
		groups, err := s.bot.GroupsOf(ctx, i.account())
		if err != nil || len(groups) != 1 {
			return bot.Group{}, bot.Speaker{}, err
		}
		said = groups[0].Chat
	}
	g, err := s.bot.Group(ctx, said)
	if err != nil {
		return bot.Group{}, bot.Speaker{}, err
	}
	speaker, known, err := s.bot.Known(ctx, said, i.account())
	if err != nil || !known {
		return bot.Group{}, bot.Speaker{}, err
	}
	there, err := s.stillThere(ctx, said, i.account())
	if err != nil || !there {
		return bot.Group{}, bot.Speaker{}, err
	}
	speaker.Language = i.Locale
	return g, speaker, nil
}

// presence is whether an account was in a server, and when.
type presence struct {
	there bool
	at    time.Time
}

// Who has left a server must not see into it. So we ask again after a while; but when the service lets nobody ask, a member
// who waits for an answer is believed to be where they were lately.
const (
	believePresence  = 10 * time.Minute
	rememberPresence = 24 * time.Hour
	askPresence      = 2 * time.Second
)

// stillThere asks whether an account is still in a server.
func (s *Service) stillThere(ctx context.Context, guild, account string) (bool, error) {
	key := guild + " " + account
	lately, known := s.present.get(key)
	if known && time.Since(lately.at) < believePresence {
		return lately.there, nil
	}
	asking, cancel := ctx, context.CancelFunc(func() {})
	if known && lately.there {
		asking, cancel = context.WithTimeout(ctx, askPresence)
	}
	defer cancel()
	err := s.door.do(asking, call{
		method: http.MethodGet, path: []string{"guilds", guild, "members", account}, route: "/guilds/{guild}/members/{member}", place: guild, again: true, soon: true,
	}, nil)
	if err != nil && asking.Err() != nil && ctx.Err() == nil {
		return true, nil
	}
	switch codeOf(err) {
	case unknownMember, unknownUser:
		if err := s.bot.Left(ctx, guild, account); err != nil {
			return false, err
		}
		s.present.put(key, presence{false, time.Now()}, rememberPresence)
		return false, nil
	case unknownGuild, missingAccess:
		s.present.put(key, presence{false, time.Now()}, rememberPresence)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	s.present.put(key, presence{true, time.Now()}, rememberPresence)
	return true, nil
}

// inGroup finds the group and does what was asked there. In private, where it may be for several groups, it asks which; a
// line is then said by the choice.
func (s *Service) inGroup(ctx context.Context, e *exchange, said, line string, do func(h bot.Heard) error) error {
	g, speaker, err := s.where(ctx, e, said)
	if err != nil {
		return err
	}
	if g.Chat != "" {
		return do(bot.Heard{Group: g.Chat, From: speaker, Private: e.direct()})
	}
	switch {
	case e.i.uninvited():
		return e.tell(ctx, e.words(bot.ChatUninvited))
	case said != "":
		return e.tell(ctx, e.words(bot.ChatNotInGroup))
	}
	groups, err := s.bot.GroupsOf(ctx, e.i.account())
	if err != nil {
		return err
	}
	if len(groups) == 0 || line == "" {
		return e.tell(ctx, e.words(bot.ChatNoGroup))
	}
	if len(groups) == 1 {
		return e.tell(ctx, e.words(bot.ChatNotInGroup))
	}
	id, err := s.seal.pack(ctx, s.bot, sealed{picksGroup, "", e.i.account(), line})
	if err != nil {
		return err
	}
	menu := component{Type: linesMenu, ID: id, Placeholder: e.words(bot.ChatPickGroup)}
	for _, g := range groups[:min(len(groups), mostOptions)] {
		menu.Options = append(menu.Options, choice{shorten(g.Name, longestOption), g.Chat})
	}
	asks := message{Content: plain(e.words(bot.ChatWhichGroup)), Mentions: nobody, Components: []component{{Type: row, Components: []component{menu}}}}
	if !e.private() {
		asks.Flags = onlyForYou
	}
	return e.send(ctx, []message{asks}, true)
}

// hearLine has the bot hear a line, and says the answer.
func (s *Service) hearLine(ctx context.Context, e *exchange, said, line string, private bool) error {
	return s.inGroup(ctx, e, said, line, func(h bot.Heard) error {
		h.Text, h.Private = line, private
		r := s.bot.Hear(ctx, h)
		if r.Empty() {
			h.Private = true // what we would let pass among members is meant for us here
			r = s.bot.Hear(ctx, h)
		}
		if line == "begin" && h.From.Keeper && !e.direct() {
			return s.sayBegin(ctx, e, h.Group, r)
		}
		return s.reply(ctx, e, h.Group, r)
	})
}

// reply says an answer, then what has waited for the member, and brings messages about the same up to date.
func (s *Service) reply(ctx context.Context, e *exchange, group string, r bot.Reply) error {
	if err := e.say(ctx, group, r); err != nil {
		if code := codeOf(err); code == unknownInteraction || e.unheard(err) {
			// It was done, and the member does not know: it is said at the next visit.
			r.Key = "i" + shortKey(e.i.ID)
			return s.bot.Wait(ctx, group, e.i.account(), r)
		}
		return err
	}
	if r.About != "" {
		s.refresh(group, r.About, e.i.account())
	}
	return s.sayWaiting(ctx, e, group)
}

// unheard reports whether an error means that the first answer did not arrive.
func (e *exchange) unheard(err error) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return err != nil && e.failed != nil
}

// mostWaiting is how many waiting words are said at one visit.
const mostWaiting = 4

// sayWaiting says what waited for a member's visit.
func (s *Service) sayWaiting(ctx context.Context, e *exchange, group string) error {
	waiting, err := s.bot.Waiting(ctx, group, e.i.account(), mostWaiting)
	if err != nil {
		return err
	}
	for n, r := range waiting {
		r.Private = true
		if n == 0 {
			r.Text = e.words(bot.ChatKeptFor) + "\n" + r.Text
		}
		messages, err := s.compose(ctx, group, e.i.account(), r)
		if err != nil {
			return err
		}
		for _, m := range messages {
			if !e.private() {
				m.Flags |= onlyForYou
			}
			if err := e.follow(ctx, m); err != nil {
				for _, kept := range waiting[n:] { // they are said at another visit
					_ = s.bot.Wait(ctx, group, e.i.account(), kept)
				}
				return err
			}
		}
	}
	return nil
}

// component does what a button or a menu asks.
func (s *Service) component(ctx context.Context, e *exchange) error {
	var p struct {
		ID       string   `json:"custom_id"`
		Values   []string `json:"values"`
		Resolved resolved `json:"resolved"`
	}
	if err := decode(e.i.Data, &p); err != nil {
		return fmt.Errorf("read a press: %w", err)
	}
	v, ok, err := s.unseal(ctx, e, p.ID)
	if err != nil || !ok {
		return err
	}
	switch v.kind {
	case saysLine:
		return s.hearLine(ctx, e, v.group, v.line, true)
	case menuOfLines:
		if len(p.Values) != 1 {
			return e.tell(ctx, e.words(bot.ChatStale))
		}
		chosen, ok, err := s.unseal(ctx, e, p.Values[0])
		if err != nil || !ok {
			return err
		}
		return s.hearLine(ctx, e, chosen.group, chosen.line, true)
	case picksGroup:
		if len(p.Values) != 1 {
			return e.tell(ctx, e.words(bot.ChatStale))
		}
		return s.hearLine(ctx, e, p.Values[0], v.line, true)
	case picksPlace, picksRole, threadsOn, threadsOff:
		return s.arrange(ctx, e, v, p.Values)
	}
	return e.tell(ctx, e.words(bot.ChatStale))
}

// unseal reads an id that came back, and says so when it is not for whom it came from, or no longer anything.
func (s *Service) unseal(ctx context.Context, e *exchange, id string) (sealed, bool, error) {
	v, state, err := s.seal.open(ctx, s.bot, id)
	switch {
	case err != nil:
		return v, false, err
	case state == lost:
		return v, false, e.tell(ctx, e.words(bot.ChatOld))
	case state == forged, v.group != "" && e.i.Guild != "" && v.group != e.i.Guild:
		return v, false, e.tell(ctx, e.words(bot.ChatStale))
	case v.owner != "" && v.owner != e.i.account():
		owner, _, err := s.bot.Known(ctx, v.group, v.owner)
		if err != nil {
			return v, false, err
		}
		return v, false, e.tell(ctx, e.words(bot.ChatNotYours, "name", owner.Name, "line", v.line))
	}
	return v, true, nil
}
