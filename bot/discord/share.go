package discord

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"time"

	"spareounce/bot"
)

var _ bot.Sharer = (*Service)(nil)

// sharing is one look after the thread that the parties of something share.
type sharing struct {
	s     *Service
	group bot.Group
	what  bot.Shared
	place bot.Place
	fresh bool // the thread was made just now, so nothing stands in it
}

// Share shows something to its parties together, in a private thread of the group's channel that is opened for them, and
// closes the thread when it is over. What was refused for good is no error: then the parties are told one by one alone.
func (s *Service) Share(ctx context.Context, group string, what bot.Shared) error {
	if err := s.ready(ctx); err != nil {
		return err
	}
	g, err := s.bot.Group(ctx, group)
	if err != nil {
		return err
	}
	place, err := s.bot.PlaceOf(ctx, group, what.About)
	if err != nil {
		return err
	}
	h := &sharing{s: s, group: g, what: what, place: place}
	shown := digest(what)
	switch {
	case place.Over && (place.Channel == "" || place.Shown == shown):
		return nil
	case place.Channel == "":
		if open, err := h.open(ctx); err != nil || !open {
			return err
		}
	}
	err = h.show(ctx, shown)
	switch {
	case err != nil:
	case what.Over:
		err = h.close(ctx)
	default:
		err = h.invite(ctx)
	}
	return h.fate(ctx, err)
}

// digest is a word for what is shown.
func digest(what bot.Shared) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %q", what.Reply.Text, what.Reply.Buttons))
	return hex.EncodeToString(sum[:8])
}

func (h *sharing) save(ctx context.Context) error {
	return h.s.bot.SavePlace(ctx, h.group.Chat, h.what.About, h.place)
}

// open makes the thread, or finds the one that was made before a crash or a lost answer. Open is false when there is none.
func (h *sharing) open(ctx context.Context) (open bool, err error) {
	if h.place.Asked != nil {
		// A request whose answer was lost may still be on its way.
		if err := sleep(ctx, h.s.timing.settle-*h.place.Asked, nil); err != nil {
			return false, err
		}
		found, err := h.find(ctx)
		if err != nil {
			return false, h.refused(ctx, err)
		}
		if found != "" {
			h.place.Channel = found
			return true, h.save(ctx)
		}
	}
	switch {
	case h.what.Over:
		h.place.Over = true
		return false, h.save(ctx)
	case !h.group.Threads:
		return false, nil
	case h.group.Channel == "":
		return false, &bot.LackingError{}
	}
	if _, before := h.s.barred.get(h.group.Channel); before { // asks what a refusal would tell, at no cost
		if err := h.lacks(ctx); err != nil {
			return false, err
		}
	}
	return h.make(ctx)
}

// keptInList is for how long a thread stays in the channel's list while nobody writes: the longest there is, in minutes.
const keptInList = 7 * 24 * 60

// make makes the thread. The request is never sent twice: when nobody knows what came of it, the next look after it finds out.
func (h *sharing) make(ctx context.Context) (open bool, err error) {
	if err := h.s.bot.AskPlace(ctx, h.group.Chat, h.what.About); err != nil {
		return false, err
	}
	h.place.Channel, err = h.s.makeThread(ctx, h.group.Channel, h.what.Name, keptInList)
	if err == nil {
		h.fresh = true
		return true, h.save(ctx)
	}
	if !final(err) {
		return false, err
	}
	if err := h.save(ctx); err != nil { // it is known now that there is none
		return false, err
	}
	if forbidden(err) {
		h.s.barred.put(h.group.Channel, true, time.Hour)
	}
	return false, h.refused(ctx, err)
}

// makeThread makes a private thread in which nobody is but us, and to which only we and moderators add others. Kept is how
// many minutes of silence keep it in the channel's list; 0 leaves that to the channel.
func (s *Service) makeThread(ctx context.Context, channel, name string, kept int) (id string, err error) {
	const privateThread = 12
	body := map[string]any{"name": shorten(name, 100), "type": privateThread, "invitable": false}
	if kept > 0 {
		body["auto_archive_duration"] = kept
	}
	var made struct {
		ID string `json:"id"`
	}
	err = s.door.do(ctx, call{
		method: http.MethodPost, path: []string{"channels", channel, "threads"}, route: "/channels/{channel}/threads", place: channel, body: body,
	}, &made)
	if err == nil && made.ID == "" {
		err = errors.New("the service names no thread")
	}
	return made.ID, err
}

// find looks for our thread of that name in which nothing was ever said: nobody was added to it, for we write first.
func (h *sharing) find(ctx context.Context) (id string, err error) {
	var active struct {
		Threads []struct {
			ID    string `json:"id"`
			Name  string `json:"name"`
			Owner string `json:"owner_id"`
			Said  int    `json:"total_message_sent"`
		} `json:"threads"`
	}
	err = h.s.door.do(ctx, call{
		method: http.MethodGet, path: []string{"guilds", h.group.Chat, "threads", "active"}, route: "/guilds/{guild}/threads/active",
		place: h.group.Chat, again: true,
	}, &active)
	for _, t := range active.Threads {
		if t.Owner == h.s.me && t.Name == h.what.Name && t.Said == 0 {
			return t.ID, err
		}
	}
	return "", err
}

// show says how it stands in the one message, which is changed when it says something else.
func (h *sharing) show(ctx context.Context, shown string) (err error) {
	m, err := h.message(ctx)
	if err != nil {
		return err
	}
	if h.place.Message == "" && !h.fresh {
		if h.place.Message, err = h.ours(ctx); err != nil {
			return err
		}
	}
	if h.place.Message != "" {
		if h.place.Shown == shown {
			return nil
		}
		err := h.awake(ctx, func() error {
			return h.s.change(ctx, bot.Said{Channel: h.place.Channel, Message: h.place.Message}, m)
		})
		if codeOf(err) != unknownMessage {
			h.place.Shown = shown
			return errors.Join(err, h.saveUnless(ctx, err))
		}
	}
	m.Nonce, m.Once = "p"+h.place.Channel+shown[:4], true
	err = h.awake(ctx, func() (err error) { h.place.Message, err = h.s.post(ctx, h.place.Channel, m); return err })
	h.place.Shown = shown
	return errors.Join(err, h.saveUnless(ctx, err))
}

// saveUnless records the place unless something went wrong.
func (h *sharing) saveUnless(ctx context.Context, err error) error {
	if err != nil {
		return nil
	}
	return h.save(ctx)
}

// message is how it stands, in one message however long that is.
func (h *sharing) message(ctx context.Context) (message, error) {
	all, err := h.s.compose(ctx, h.group.Chat, "", h.what.Reply)
	if err != nil {
		return message{}, err
	}
	m := all[0]
	if len(all) > 1 {
		m.Content += "\n…"
		m.Components = all[len(all)-1].Components
	}
	return m, nil
}

// ours finds what we said in the thread before we could note it; "" when that is nothing.
func (h *sharing) ours(ctx context.Context) (id string, err error) {
	var said []struct {
		ID      string `json:"id"`
		Type    int    `json:"type"`
		Author  user   `json:"author"`
		Webhook string `json:"webhook_id"` // of answers to commands
	}
	err = h.s.door.do(ctx, call{
		method: http.MethodGet, path: []string{"channels", h.place.Channel, "messages"}, route: "/channels/{channel}/messages", place: h.place.Channel,
		query: map[string][]string{"after": {h.place.Channel}, "limit": {"50"}}, again: true,
	}, &said)
	if forbidden(err) {
		return "", nil // without Read Message History
	}
	for _, m := range slices.Backward(said) {
		if m.Author.ID == h.s.me && m.Type == 0 && m.Webhook == "" {
			return m.ID, err
		}
	}
	return "", err
}

// awake does something in the thread, which is opened first if it was archived, as threads are when nobody writes in them.
func (h *sharing) awake(ctx context.Context, do func() error) error {
	err := do()
	if codeOf(err) != threadArchived {
		return err
	}
	if err := h.alter(ctx, map[string]any{"archived": false}); err != nil {
		return err
	}
	return do()
}

func (h *sharing) alter(ctx context.Context, body map[string]any) error {
	return h.s.door.do(ctx, call{
		method: http.MethodPatch, path: []string{"channels", h.place.Channel}, route: "/channels/{channel}", place: h.place.Channel, body: body, again: true,
	}, nil)
}
