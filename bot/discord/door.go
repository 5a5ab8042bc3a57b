package discord

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync/atomic"
	"time"
)

// door is the only way out: every request to the service goes through it. It keeps to the limits, sends again only what
// may be sent again, stops waiting when told to, and lets no token into an error.
//
// It is not the library's: that one holds a lock for a whole round trip, ignores the limit over all, keeps waiting after
// its context has ended, and puts the request with its token into its errors.
type door struct {
	api    string // https://discord.com/api/v10
	token  string
	client *http.Client
	limits *limiter
	within time.Duration // how long one attempt may take
	log    *slog.Logger
	denied atomic.Bool // the token is refused: it was reset or is wrong
}

// call is one request.
type call struct {
	method string
	path   []string // parts, each escaped when sent
	route  string   // the path with names for ids, for limits and for people: "/channels/{channel}/messages"
	place  string   // what the limit is counted by: the id of a channel or guild, or the token of an interaction
	query  url.Values
	body   any // sent as JSON; nil for none
	files  []file
	again  bool // may be sent again when it is unknown whether it had an effect
	open   bool // its address is its own permission: it needs no bot token, and is not counted against a bot's requests
	answer bool // answers an interaction: never waits for anything
	soon   bool // an answer depends on it: it goes before what nobody waits for
}

// file is one to be uploaded.
type file struct {
	name  string
	kind  string
	data  []byte
	about string // what is in it, for who can't see it
}

// refusal is an answer of the service that is not a success.
type refusal struct {
	what    string
	status  int
	code    int // the service's own; 0 when there is none
	message string
	wait    time.Duration // as the service asks
	global  bool
	shared  bool
}

func (r *refusal) Error() string {
	text := fmt.Sprintf("%s: %d", r.what, r.status)
	if r.code != 0 {
		text += fmt.Sprintf(" (%d)", r.code)
	}
	if r.message != "" {
		text += " " + r.message
	}
	return text
}

// codeOf is the service's own code of an error; 0 when it has none.
func codeOf(err error) int {
	if r, ok := errors.AsType[*refusal](err); ok {
		return r.code
	}
	return 0
}

// forbidden reports whether the service itself, and no machine in front of it, says that we may not.
func forbidden(err error) bool {
	r, ok := errors.AsType[*refusal](err)
	return ok && r.status == http.StatusForbidden && r.code != 0
}

// final reports whether the service refuses for a reason that trying again will not change.
func final(err error) bool {
	r, ok := errors.AsType[*refusal](err)
	return ok && r.code != 0 && r.status >= 400 && r.status < 500 && r.status != http.StatusUnauthorized && r.status != http.StatusTooManyRequests
}

// The service's codes that we act on (Discord, Topics, Opcodes and Status Codes).
const (
	unknownChannel      = 10003
	unknownGuild        = 10004
	unknownMember       = 10007
	unknownMessage      = 10008
	unknownUser         = 10013
	unknownInteraction  = 10062
	alreadyAcknowledged = 40060
	threadFull          = 30033
	openingTooFast      = 40003
	missingAccess       = 50001
	cannotMessage       = 50007
	missingPermissions  = 50013
	notInThisKind       = 50024
	invalidForm         = 50035
	threadArchived      = 50083
	tooManyThreads      = 160006
	noMutualGuild       = 50278
)

var (
	errStill  = errors.New("too many requests were refused lately: we are still for a while, so as not to be shut out")
	errDenied = errors.New("the token is refused: it is wrong, or was reset")
)

// longestPause is how long we wait at most where the service says that it is not available for longer.
const longestPause = time.Minute

// tries is how often a request is sent at most. An answer is sent until it is too late, and no try of it takes all of its
// time: the service says so if an earlier one arrived.
const (
	tries       = 5
	answerTries = 20
	answerTry   = answerWithin / 3
)

// usualWithin is how long one attempt may take.
const usualWithin = 15 * time.Second

// do sends a request and decodes the answer into out unless that is nil.
func (d *door) do(ctx context.Context, c call, out any) error {
	if d.denied.Load() && !c.open {
		return errDenied
	}
	form, kind, err := c.encode()
	if err != nil {
		return fmt.Errorf("%s %s: %w", c.method, c.route, err)
	}
	for try := 1; ; try++ {
		answer, err := d.once(ctx, c, form, kind)
		if err == nil {
			return c.decode(answer, out)
		}
		wait, again := d.judge(ctx, c, err, try)
		if !again {
			return err
		}
		if err := d.limits.sleep(ctx, wait, nil); err != nil {
			return fmt.Errorf("%s %s: %w", c.method, c.route, err)
		}
	}
}

func (c call) decode(answer []byte, out any) error {
	if out == nil || len(answer) == 0 {
		return nil
	}
	if err := decode(answer, out); err != nil {
		return fmt.Errorf("%s %s: read the answer: %w", c.method, c.route, err)
	}
	return nil
}

// judge decides whether to send a request again, and after how long. A 429 was not acted on, so it may always be sent
// again. After a fault of the service or a cut connection nobody knows, so only what does no harm twice is sent again.
func (d *door) judge(ctx context.Context, c call, err error, try int) (wait time.Duration, again bool) {
	most, pause := tries, time.Duration(try*try)*100*time.Millisecond
	if c.answer {
		most, pause = answerTries, min(pause, 250*time.Millisecond)
	}
	if try >= most || ctx.Err() != nil {
		return 0, false
	}
	r, ok := errors.AsType[*refusal](err)
	if deadline, has := ctx.Deadline(); ok && has && time.Until(deadline) < r.wait {
		return 0, false // it would come too late
	}
	switch {
	case ok && r.status == http.StatusTooManyRequests:
		if c.answer {
			return r.wait, true
		}
		return 0, true // the limiter knows
	case ok && r.status >= 500:
		return max(pause, r.wait), c.again
	case ok, errors.Is(err, errStill), errors.Is(err, errDenied):
		return 0, false
	}
	_, unsent := errors.AsType[*unsentError](err)
	return pause, c.again || unsent
}

// unsentError is a fault before anything was sent.
type unsentError struct{ error }

func (e *unsentError) Unwrap() error { return e.error }

// once sends a request once, when it is its turn.
func (d *door) once(ctx context.Context, c call, form []byte, kind string) (answer []byte, err error) {
	key := c.method + " " + c.route + " " + c.place
	most := mostInvalid
	if c.open {
		most = mostInvalidAnswers
	}
	if wait, still := d.limits.tripped(most); still {
		d.log.WarnContext(ctx, "being still", "for", wait, "request", c.method+" "+c.route)
		return nil, errStill
	}
	if c.answer {
		_, text, err := d.attempt(ctx, c, key, form, kind)
		return text, err
	}
	return d.inTurn(ctx, c, key, form, kind)
}

// inTurn sends a request when its route's limit lets it and, unless its address is its own permission, that over all.
func (d *door) inTurn(ctx context.Context, c call, key string, form []byte, kind string) (answer []byte, err error) {
	b, err := d.limits.acquire(ctx, key)
	if err != nil {
		return nil, fmt.Errorf("%s %s: wait for the limit: %w", c.method, c.route, err)
	}
	var response *http.Response
	sent := false
	defer func() { d.limits.release(b, key, c.place, response, sent) }() // after what a 429 forbids is noted
	if !c.open {
		mine, err := d.limits.takeTurn(ctx, c.soon)
		if err != nil {
			return nil, fmt.Errorf("%s %s: wait for a turn: %w", c.method, c.route, err)
		}
		defer d.limits.answered(mine)
	}
	response, answer, err = d.attempt(ctx, c, key, form, kind)
	_, unsent := errors.AsType[*unsentError](err)
	sent = !unsent
	return answer, err
}

// attempt sends a request; an answer that is no success is an error.
func (d *door) attempt(ctx context.Context, c call, key string, form []byte, kind string) (*http.Response, []byte, error) {
	response, text, err := d.send(ctx, c, form, kind)
	if err == nil && response.StatusCode >= 300 {
		return response, nil, d.refused(c, key, response, text)
	}
	return response, text, err
}

// send is the round trip.
func (d *door) send(ctx context.Context, c call, form []byte, kind string) (*http.Response, []byte, error) {
	within := d.within
	if c.answer && len(c.files) == 0 {
		within = min(within, answerTry)
	}
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	var sent atomic.Bool
	request, err := http.NewRequestWithContext(tracing(ctx, &sent), c.method, d.address(c), bytes.NewReader(form))
	if err != nil {
		return nil, nil, fmt.Errorf("%s %s: no such address", c.method, c.route)
	}
	if len(form) == 0 {
		request.Body = http.NoBody
	}
	request.Header.Set("User-Agent", "DiscordBot (https://github.com/bwmarrin/discordgo, v0.29.0) spareounce")
	if kind != "" {
		request.Header.Set("Content-Type", kind)
	}
	if !c.open {
		request.Header.Set("Authorization", "Bot "+d.token)
	}
	response, err := d.client.Do(request)
	if err != nil {
		err = fmt.Errorf("%s %s: %w", c.method, c.route, withoutAddress(err))
		if !sent.Load() {
			return nil, nil, &unsentError{err}
		}
		return nil, nil, err
	}
	defer response.Body.Close()
	text, err := io.ReadAll(io.LimitReader(response.Body, 32<<20))
	if err != nil && response.StatusCode < 300 {
		return nil, nil, fmt.Errorf("%s %s: read the answer: %w", c.method, c.route, err)
	}
	return response, text, nil
}

func (d *door) address(c call) string {
	var b strings.Builder
	b.WriteString(d.api)
	for _, part := range c.path {
		b.WriteByte('/')
		b.WriteString(url.PathEscape(part))
	}
	if len(c.query) > 0 {
		b.WriteByte('?')
		b.WriteString(c.query.Encode())
	}
	return b.String()
}

// withoutAddress takes the address out of an error: it may hold the token of an interaction.
func withoutAddress(err error) error {
	if u, ok := errors.AsType[*url.Error](err); ok {
		return u.Err
	}
	return err
}

// refused is the body of an answer that is no success (Discord, Reference, Error Messages; Topics, Rate Limits).
type refused struct {
	Code       int     `json:"code"`
	Message    string  `json:"message"`
	RetryAfter float64 `json:"retry_after"`
	Global     bool    `json:"global"`
	Errors     any     `json:"errors"`
}

// refused reads an answer that is no success, and tells the limiter what it means.
func (d *door) refused(c call, key string, response *http.Response, text []byte) error {
	var body refused
	r := &refusal{what: c.method + " " + c.route, status: response.StatusCode}
	scope := response.Header.Get("X-RateLimit-Scope")
	ours := decode(text, &body) == nil || scope != "" // else it comes from a machine in front of the service
	r.code, r.message = body.Code, body.Message
	if details, err := json.Marshal(body.Errors); err == nil && body.Errors != nil {
		r.message += " " + string(details[:min(len(details), 300)])
	}
	r.shared = scope == "shared"
	switch r.status {
	case http.StatusTooManyRequests:
		r.wait = max(seconds(body.RetryAfter), retryAfter(response.Header))
		if r.wait <= 0 {
			r.wait = time.Second
			if !ours {
				r.wait = time.Minute
			}
		}
		r.global = body.Global || scope == "global" || saysYes(response.Header.Get("X-RateLimit-Global")) || !ours
		if !r.shared {
			d.limits.refused()
		}
		if r.global {
			d.limits.holdAll(r.wait)
		}
		if !r.global || c.open { // those wait for no turn
			d.limits.hold(key, r.wait)
		}
	case http.StatusServiceUnavailable:
		r.wait = min(retryAfter(response.Header), longestPause)
	case http.StatusUnauthorized:
		d.limits.refused()
		if !c.open {
			d.denied.Store(true)
		}
	case http.StatusForbidden:
		d.limits.refused()
	}
	return r
}
