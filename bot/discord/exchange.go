package discord

import (
	"context"
	"net/http"
	"sync"
	"time"

	"spareounce/bot"
	"spareounce/bot/tongue"
)

// exchange is one interaction and our answer to it. The answer is sent as soon as it is known; when that takes longer than
// a member likes to look at nothing, the service is asked for patience first, and the answer takes that place.
type exchange struct {
	s *Service
	i *interaction

	mu       sync.Mutex
	deferred bool // patience was asked for
	answered bool
	patient  chan struct{} // closed when the request for patience has been answered
	failed   error         // of the request for patience; guarded by mu
}

func (s *Service) exchange(i *interaction) *exchange { return &exchange{s: s, i: i} }

// words says a phrase of ours in the language that the member's chat is set to.
func (e *exchange) words(p tongue.Phrase, pairs ...any) string {
	return bot.Words(e.i.Locale, p, pairs...)
}

// private reports whether only the member and we are in the channel.
func (e *exchange) private() bool { return !e.i.amongOthers() }

// direct reports whether it is outside any server: then what we say is for the member alone.
func (e *exchange) direct() bool { return e.i.Guild == "" }

// The kinds of answer (Discord, Interactions, Receiving and Responding, Interaction Callback Type).
const (
	answersMessage = 4
	asksPatience   = 5
	offersChoices  = 8
	showsForm      = 9
)

// patience asks for it when there is no answer in time. The function it returns ends that.
func (e *exchange) patience(ctx context.Context, within time.Duration) (end func()) {
	t := time.AfterFunc(within, func() {
		defer e.s.mend("asking for patience")
		e.mu.Lock()
		if e.answered || e.deferred {
			e.mu.Unlock()
			return
		}
		e.deferred, e.patient = true, make(chan struct{})
		e.mu.Unlock()
		body := map[string]any{"type": asksPatience}
		if !e.private() {
			body["data"] = map[string]any{"flags": onlyForYou} // what turns out to be for all is said to all then
		}
		err := e.callback(ctx, body, nil)
		e.mu.Lock()
		e.failed = err
		e.mu.Unlock()
		close(e.patient)
	})
	return func() { t.Stop() }
}

// callback sends the first answer. It is sent again until it arrives or is too late: the service takes only one.
func (e *exchange) callback(ctx context.Context, body any, files []file) error {
	ctx, cancel := context.WithDeadline(ctx, e.i.received.Add(e.s.timing.dead))
	defer cancel()
	err := e.s.door.do(ctx, call{
		method: http.MethodPost, path: []string{"interactions", e.i.ID, e.i.Token, "callback"}, route: "/interactions/{interaction}/{token}/callback",
		body: body, files: files, again: true, open: true, answer: true,
	}, nil)
	if codeOf(err) == alreadyAcknowledged {
		err = nil // by a try of ours whose answer was lost
	}
	if err == nil && e.s.stats != nil {
		e.s.stats("acknowledged", e.i.ID, time.Since(e.i.received))
	}
	return err
}

// take makes the answer ours to give: first reports whether it is the first, so that it may take any form.
func (e *exchange) take(ctx context.Context) (first bool, err error) {
	e.mu.Lock()
	e.answered = true
	patient := e.patient
	e.mu.Unlock()
	if patient == nil {
		return true, nil
	}
	select {
	case <-patient:
		e.mu.Lock()
		defer e.mu.Unlock()
		return false, e.failed
	case <-ctx.Done():
		return false, context.Cause(ctx)
	}
}

// say answers with what the bot says in a group.
func (e *exchange) say(ctx context.Context, group string, r bot.Reply) error {
	if r.Empty() && len(r.Buttons) == 0 {
		return e.send(ctx, []message{{Content: "…", Flags: onlyForYou}}, true)
	}
	messages, err := e.s.compose(ctx, group, e.i.account(), r)
	if err != nil {
		return err
	}
	alone := (r.Private || e.direct()) && !e.private()
	if alone {
		for i := range messages {
			messages[i].Flags |= onlyForYou
		}
	}
	err = e.send(ctx, messages, alone)
	if err == nil && e.s.stats != nil {
		e.s.stats("answered", e.i.ID, time.Since(e.i.received))
	}
	return err
}

// send answers with messages: the first is the answer, the others follow it. Alone says that they are for the member only.
func (e *exchange) send(ctx context.Context, messages []message, alone bool) error {
	first, err := e.take(ctx)
	if err != nil {
		return err
	}
	switch {
	case first:
		err = e.callback(ctx, map[string]any{"type": answersMessage, "data": messages[0].noNonce()}, messages[0].files)
	case alone || e.private():
		err = e.edit(ctx, messages[0])
	default:
		// We asked for patience in private, and a message can't become public: so the place it holds says where to look.
		if err = e.edit(ctx, message{Content: plain(e.words(bot.ChatSaidToAll))}); err == nil {
			err = e.follow(ctx, messages[0])
		}
	}
	for _, m := range messages[1:] {
		if err != nil {
			return err
		}
		err = e.follow(ctx, m)
	}
	return err
}

// edit puts a message into the place that the request for patience holds.
func (e *exchange) edit(ctx context.Context, m message) error {
	return e.s.door.do(ctx, call{
		method: http.MethodPatch, path: []string{"webhooks", e.i.Application, e.i.Token, "messages", "@original"},
		route: "/webhooks/{application}/{token}/messages/@original", place: e.i.Token, body: m.edit(), files: m.files, again: true, open: true,
	}, nil)
}

// follow sends one more message. There is no way to tell a second copy from the first, so it is not sent again when nobody
// knows whether it arrived.
func (e *exchange) follow(ctx context.Context, m message) error {
	return e.s.door.do(ctx, call{
		method: http.MethodPost, path: []string{"webhooks", e.i.Application, e.i.Token}, route: "/webhooks/{application}/{token}",
		place: e.i.Token, body: m.noNonce(), files: m.files, open: true,
	}, nil)
}

// tell says a sentence to the member alone.
func (e *exchange) tell(ctx context.Context, p string) error {
	m := message{Content: plain(p), Flags: noPreviews}
	if !e.private() {
		m.Flags |= onlyForYou
	}
	return e.send(ctx, []message{m}, true)
}

// sayBroken says that something broke, if nothing has been said.
func (e *exchange) sayBroken(ctx context.Context) {
	e.mu.Lock()
	done := e.answered
	e.mu.Unlock()
	if done {
		return
	}
	if err := e.tell(ctx, e.words(bot.ChatBroken)); err != nil {
		e.s.log.WarnContext(ctx, "not even that could be said", "interaction", e.i.ID, "err", err)
	}
}
