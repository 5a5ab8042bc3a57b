package discord

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"time"

	"spareounce/bot"
)

var _ bot.Chat = (*Service)(nil)

// Tell speaks to one member alone, the way the member chose: in a private message, in a private thread of the group, or
// not before their next visit. What can't be said one way is said the next, and what cannot be said at all waits.
func (s *Service) Tell(ctx context.Context, group, account string, r bot.Reply) error {
	if err := s.ready(ctx); err != nil {
		return err
	}
	r.Private = true
	how, err := s.bot.Account(ctx, account)
	if err != nil {
		return err
	}
	closed := false // their private messages, as we find now
	if how.Reach == "message" && how.Closed == nil {
		switch done, err := s.tellDirect(ctx, group, account, r); {
		case done || err != nil:
			return err
		}
		closed = true
	}
	if how.Reach == "thread" || how.Reach == "message" {
		switch done, err := s.tellThread(ctx, group, account, r); {
		case done || err != nil:
			return err
		}
	}
	if closed {
		if err := s.bot.Wait(ctx, group, account, bot.Reply{Text: bot.Words(r.Language, bot.ChatClosedNow), Language: r.Language, Private: true, Key: "closed"}); err != nil {
			return err
		}
	}
	return s.bot.Wait(ctx, group, account, r)
}

// tellDirect says something in a private message. Done is false when the member's messages are closed to us, which is
// remembered.
func (s *Service) tellDirect(ctx context.Context, group, account string, r bot.Reply) (done bool, err error) {
	channel, err := s.directWith(ctx, account)
	if err == nil {
		err = s.put(ctx, group, account, channel, r)
	}
	code := codeOf(err)
	switch {
	case code == unknownChannel:
		s.direct.forget(account)
		return false, err // opened anew at the next try
	case code == cannotMessage, code == noMutualGuild, code == unknownUser, forbidden(err) && code != openingTooFast:
		s.direct.forget(account)
		now := time.Now()
		s.log.InfoContext(ctx, "a member's messages are closed to us", "code", code)
		return false, s.bot.SaveAccount(ctx, account, bot.Account{Reach: "message", Closed: &now})
	}
	return err == nil, err
}

// directWith is the private channel with an account.
func (s *Service) directWith(ctx context.Context, account string) (string, error) {
	if channel, ok := s.direct.get(account); ok {
		return channel, nil
	}
	var c struct {
		ID string `json:"id"`
	}
	err := s.door.do(ctx, call{
		method: http.MethodPost, path: []string{"users", "@me", "channels"}, route: "/users/@me/channels",
		body: map[string]string{"recipient_id": account}, again: true, // the service opens one only
	}, &c)
	if err == nil && c.ID == "" {
		err = errors.New("the service names no private channel")
	}
	if err != nil {
		return "", err
	}
	s.direct.put(account, c.ID, 24*time.Hour)
	return c.ID, nil
}

// tellThread says something in the member's private thread in the group's channel. Done is false when the group allows
// none or we may not.
func (s *Service) tellThread(ctx context.Context, group, account string, r bot.Reply) (done bool, err error) {
	g, err := s.bot.Group(ctx, group)
	if err != nil || !g.Threads || g.Channel == "" {
		return false, err
	}
	for range 2 {
		thread, known, err := s.threadOf(ctx, r.Language, g, account)
		if err == nil {
			err = s.put(ctx, group, account, thread, r)
		}
		switch codeOf(err) {
		case unknownChannel, threadArchived:
			if !known {
				return false, nil // the group's channel is gone
			}
			if err := s.bot.SaveSaid(ctx, group, "", bot.Said{Account: account}); err != nil {
				return false, err
			}
			continue // it was deleted or locked: a new one
		}
		if final(err) {
			s.log.WarnContext(ctx, "no thread can be used", "guild", group, "err", err)
			return false, nil
		}
		return err == nil, err
	}
	return false, nil
}

// threadOf is the member's private thread, which is made when there is none.
func (s *Service) threadOf(ctx context.Context, language string, g bot.Group, account string) (thread string, known bool, err error) {
	said, err := s.bot.SaidAbout(ctx, g.Chat, "")
	if err != nil {
		return "", false, err
	}
	for _, m := range said {
		if m.Account == account && m.Channel != "" {
			return m.Channel, true, nil
		}
	}
	who, _, err := s.bot.Known(ctx, g.Chat, account)
	if err != nil {
		return "", false, err
	}
	made, err := s.makeThread(ctx, g.Channel, bot.Words(language, bot.ChatThreadName, "name", who.Name), 0)
	if err != nil {
		return "", false, err
	}
	if err := s.addToThread(ctx, made, account); err != nil {
		return "", false, err
	}
	return made, false, s.bot.SaveSaid(ctx, g.Chat, "", bot.Said{Account: account, Channel: made})
}

// addToThread adds an account to a thread. Adding it again changes nothing.
func (s *Service) addToThread(ctx context.Context, thread, account string) error {
	return s.door.do(ctx, call{
		method: http.MethodPut, path: []string{"channels", thread, "thread-members", account}, route: "/channels/{channel}/thread-members/{member}",
		place: thread, again: true,
	}, nil)
}

// put says something to a member in a channel that is theirs. What asks nothing of them changes the message that shows the
// same, if there is one; what asks something is said anew, so that they notice, and the older message loses its buttons.
func (s *Service) put(ctx context.Context, group, account, channel string, r bot.Reply) error {
	defer s.about.lock(group + " " + r.About)()
	messages, err := s.compose(ctx, group, account, r)
	if err != nil {
		return err
	}
	var older bot.Said
	if r.About != "" {
		said, err := s.bot.SaidAbout(ctx, group, r.About)
		if err != nil {
			return err
		}
		for _, m := range said {
			if m.Account == account && m.Channel == channel && m.Message != "" {
				older = m
			}
		}
	}
	if older.Message != "" && len(r.Buttons) == 0 && len(messages) == 1 {
		err := s.change(ctx, older, messages[0])
		if code := codeOf(err); code != unknownMessage && code != invalidForm {
			return err
		}
		older = bot.Said{} // it was deleted, or can't become this: said anew
	}
	var last string
	for n, m := range messages {
		if r.Key != "" {
			m.Nonce, m.Once = nonce(channel, r.Key, n), true
		}
		if last, err = s.post(ctx, channel, m); err != nil {
			return err
		}
	}
	if r.About == "" {
		return nil
	}
	if older.Message != "" && older.Message != last {
		s.strip(ctx, older)
	}
	return s.bot.SaveSaid(ctx, group, r.About, bot.Said{Account: account, Channel: channel, Message: last})
}

// nonce names one of the messages that a reply is said in. The service knows a nonce again by its author alone, wherever it
// was said, so what is said to two groups under one key needs two.
func nonce(channel, key string, n int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%d\n%s", channel, n, key))
	return base.EncodeToString(sum[:])[:longestNonce]
}

const longestNonce = 25

// post creates a message. With a nonce it may be sent again when nobody knows whether it arrived: the service then returns
// the one it has.
func (s *Service) post(ctx context.Context, channel string, m message) (id string, err error) {
	if m.Nonce == "" {
		m.Nonce, m.Once = randomNonce(), true
	}
	m.Mentions = nobody
	var made struct {
		ID string `json:"id"`
	}
	err = s.door.do(ctx, call{
		method: http.MethodPost, path: []string{"channels", channel, "messages"}, route: "/channels/{channel}/messages", place: channel,
		body: m, files: m.files, again: true,
	}, &made)
	return made.ID, err
}

// change changes a message of ours.
func (s *Service) change(ctx context.Context, which bot.Said, m message) error {
	return s.door.do(ctx, call{
		method: http.MethodPatch, path: []string{"channels", which.Channel, "messages", which.Message},
		route: "/channels/{channel}/messages/{message}", place: which.Channel, body: m.edit(), files: m.files, again: true,
	}, nil)
}

// strip takes the buttons off a message that a newer one replaces. It matters little: an old button is refused by its line.
func (s *Service) strip(ctx context.Context, which bot.Said) {
	err := s.door.do(ctx, call{
		method: http.MethodPatch, path: []string{"channels", which.Channel, "messages", which.Message},
		route: "/channels/{channel}/messages/{message}", place: which.Channel, body: map[string]any{"components": []component{}, "allowed_mentions": nobody}, again: true,
	}, nil)
	if err != nil {
		s.log.InfoContext(ctx, "an older message keeps its buttons", "err", err)
	}
}

// refresh brings the messages that show something up to date after actor has changed it, for each member as they may see
// it. A message in which others can do nothing more stays as it is: it says why, or soon will.
func (s *Service) refresh(group, about, actor string) {
	s.background("messages about "+about, func(ctx context.Context) error {
		defer s.about.lock(group + " " + about)()
		said, err := s.bot.SaidAbout(ctx, group, about)
		if err != nil {
			return err
		}
		for _, m := range said {
			if m.Message == "" {
				continue
			}
			r, err := s.bot.Show(ctx, group, m.Account, about)
			if err != nil || r.Empty() || len(r.Buttons) == 0 && m.Account != actor {
				continue // or it is no longer theirs to see
			}
			messages, err := s.compose(ctx, group, m.Account, r)
			if err != nil {
				return err
			}
			if err := s.change(ctx, m, messages[0]); err != nil && codeOf(err) == 0 {
				return err
			}
		}
		return nil
	})
}

// Post speaks to the whole group, in the channel that a keeper chose, else where the server greets new members.
func (s *Service) Post(ctx context.Context, group string, r bot.Reply) error {
	if err := s.ready(ctx); err != nil {
		return err
	}
	g, err := s.bot.Group(ctx, group)
	if err != nil {
		return err
	}
	channel := g.Channel
	if channel == "" {
		channel = s.guilds.of(group).system
	}
	if channel == "" {
		return fmt.Errorf("group %s has chosen no channel for posts", group)
	}
	messages, err := s.compose(ctx, group, "", r)
	if err != nil {
		return err
	}
	for n, m := range messages {
		if r.Key != "" {
			m.Nonce, m.Once = nonce(channel, r.Key, n), true
		}
		if _, err := s.post(ctx, channel, m); err != nil {
			return err
		}
	}
	return nil
}
