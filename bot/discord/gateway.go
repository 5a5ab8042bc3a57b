package discord

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"sync"
	"time"
)

// timing is how patient we are. Tests are less so.
type timing struct {
	open       time.Duration // for a connection to be ready
	resume     time.Duration // for a session to be taken up
	heartbeat  time.Duration // for one to be answered
	identify   time.Duration // in which so many shards may identify as the service says
	first      time.Duration // before trying again the first time
	most       time.Duration // before trying again at most
	lease      time.Duration // for which a process holds a shard without word of it
	look       time.Duration // between two looks at the leases
	deaf       time.Duration // to try to hear a shard before another process may
	notice     time.Duration // for another process to notice that we hand over
	handOver   time.Duration // to wait for another process to hear what we serve, when we stop
	recount    time.Duration // between two looks at how many shards the service recommends
	answer     time.Duration // for an answer to be made before we ask for patience
	dead       time.Duration // after which an interaction can't be answered
	ignoreSkew time.Duration // by which clocks may differ
	settle     time.Duration // after which a request whose answer was lost has had its effect or never will
}

var usualTiming = timing{
	open: openWithin, resume: answerWithin, heartbeat: 10 * time.Second, identify: 5*time.Second + 250*time.Millisecond, first: time.Second, most: time.Minute,
	lease: 15 * time.Second, look: 2 * time.Second, deaf: 2 * time.Minute, notice: 8 * time.Second, handOver: 25 * time.Second, recount: time.Hour, answer: 1200 * time.Millisecond, dead: answerWithin, ignoreSkew: time.Second,
	settle: usualWithin + 5*time.Second,
}

// gateway is what the service says of its gateway (Discord, Topics, Gateway, Get Gateway Bot).
type gateway struct {
	URL    string `json:"url"`
	Shards int    `json:"shards"`
	Limit  struct {
		Total          int   `json:"total"`
		Remaining      int   `json:"remaining"`
		ResetAfter     int64 `json:"reset_after"` // milliseconds
		MaxConcurrency int   `json:"max_concurrency"`
	} `json:"session_start_limit"`
}

func (s *Service) askGateway(ctx context.Context) (gateway, error) {
	var g gateway
	err := s.door.do(ctx, call{method: http.MethodGet, path: []string{"gateway", "bot"}, route: "/gateway/bot", again: true}, &g)
	if r, ok := errors.AsType[*refusal](err); ok && r.status == http.StatusNotFound { // who serves us knows only the open question
		err = s.door.do(ctx, call{method: http.MethodGet, path: []string{"gateway"}, route: "/gateway", again: true, open: true}, &g)
	}
	if err == nil && g.URL == "" {
		err = errors.New("the service names no gateway")
	}
	return g, err
}

// fatal are the close codes after which connecting again would do harm, and what to do instead.
var fatal = map[int]string{
	4004: "Discord does not accept the token. Make a new one in the Developer Portal (Bot, Reset Token) and start again with it.",
	4010: "Discord says that this shard does not exist. Check --shards and --shard.",
	4011: "Discord wants more shards for so many servers. Leave --shards away to have as many as it recommends.",
	4012: "Discord no longer speaks this version of its gateway. Take a newer version of this program.",
	4013: "Discord does not know an intent that we ask for. Take a newer version of this program.",
	4014: "Discord does not allow an intent that we ask for, though we ask for none that needs leave. Take a newer version of this program.",
}

// StopError is a reason not to connect again.
type StopError struct {
	code int
	text string
}

func (e *StopError) Error() string { return e.text }

// shardRun keeps one shard connected until ctx ends or connecting again would do harm, and says when it hears it and when it
// does not. A session that
// the service wants to end is heard until the next is ready, and one whose connection was lost is taken up again if it can
// be; whoever hears an event twice answers it once.
func (s *Service) shardRun(ctx context.Context, shard, shards int, hears func(bool)) error {
	var last *link
	var closing sync.WaitGroup
	defer closing.Wait()
	defer func() {
		if last != nil {
			last.close()
		}
	}()
	for failures := 0; ; {
		next, err := s.connect(ctx, last, shard, shards)
		if err == nil {
			if last != nil {
				closing.Go(last.close)
			}
			last = next
			s.log.InfoContext(ctx, "connected", "shard", shard, "of", shards, "taken up", last.resumes)
			hears(true)
			if err = s.attend(ctx, last); err == nil { // asked to connect anew: at once
				failures = 0
				continue
			}
			if last.lasted() > s.timing.most {
				failures = 0
			}
		}
		if ctx.Err() != nil {
			return nil
		}
		if stop, ok := errors.AsType[*StopError](err); ok {
			return stop
		}
		hears(last.hearing())
		var wait time.Duration
		if failures++; failures > 1 || last.taken() == nil {
			wait = backoff(s.timing, failures) // else at once: what is sent again is not old yet
		}
		s.log.WarnContext(ctx, "the gateway is lost", "shard", shard, "err", err, "again in", wait)
		var lost <-chan struct{}
		if last.hearing() {
			lost = last.over
		}
		if err := sleep(ctx, wait, lost); err != nil {
			return nil
		}
	}
}

// attend waits for what becomes of a link: nil when the service asks us to connect anew, else why it ended.
func (s *Service) attend(ctx context.Context, l *link) error {
	select {
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-l.asked:
		return nil
	case <-l.over:
		if stop := fatal[l.closeCode()]; stop != "" {
			return &StopError{l.closeCode(), stop}
		}
		if l.invalid {
			return errors.New("the session is invalid")
		}
		return fmt.Errorf("closed with code %d", l.closeCode())
	}
}

// connect gets the link that follows the last one, if there was any. While the last is heard, a session begins beside it.
// When it has ended, its session is taken up again: the service sends again what we have missed. Where that fails, a
// session begins anew, and what was missed is lost.
func (s *Service) connect(ctx context.Context, last *link, shard, shards int) (*link, error) {
	if last.hearing() {
		beside, stop := context.WithCancelCause(ctx)
		defer stop(nil)
		go func() {
			select {
			case <-last.over:
				stop(errors.New("the session before it ended first"))
			case <-beside.Done():
			}
		}()
		l, err := s.anew(beside, shard, shards)
		if err == nil || ctx.Err() != nil || harmful(err) || last.hearing() {
			return l, err
		}
	}
	if p := last.taken(); p != nil {
		l, err := s.takeUp(ctx, p, shard, shards)
		if err == nil || ctx.Err() != nil || harmful(err) {
			return l, err
		}
		s.log.WarnContext(ctx, "the session can't be taken up", "shard", shard, "err", err)
	}
	return s.anew(ctx, shard, shards)
}

// takeUp takes a session up again. It tries for as long as an interaction that was missed may be alive: until then nothing
// is lost, and after that it is better to hear what comes than what came.
func (s *Service) takeUp(ctx context.Context, p *place, shard, shards int) (*link, error) {
	for end := time.Now().Add(s.timing.resume); ; {
		l, err := s.open(ctx, joining{address: p.resumeAt(), shard: shard, shards: shards, place: p, within: s.timing.resume})
		if stop := s.mustStop(l, err); stop != nil {
			return nil, stop
		}
		if err == nil || ctx.Err() != nil {
			return l, err
		}
		if endsSession[l.closeCode()] {
			p.leave()
		}
		if p.resumeAt() == "" || !time.Now().Before(end) {
			return nil, err
		}
		if err := sleep(ctx, s.timing.first/4, nil); err != nil {
			return nil, err
		}
	}
}

func harmful(err error) bool {
	_, ok := errors.AsType[*StopError](err)
	return ok
}

// mustStop finds out why connecting again would do harm, from a link that did not become ready.
func (s *Service) mustStop(l *link, err error) error {
	if err != nil && l != nil {
		if stop := fatal[l.closeCode()]; stop != "" {
			return &StopError{l.closeCode(), stop}
		}
	}
	return nil
}

// anew waits until a shard may identify, and begins a session.
func (s *Service) anew(ctx context.Context, shard, shards int) (*link, error) {
	g, err := s.askGateway(ctx)
	if r, ok := errors.AsType[*refusal](err); ok && r.status == http.StatusUnauthorized || errors.Is(err, errDenied) {
		return nil, &StopError{4004, fatal[4004]}
	}
	if err != nil {
		return nil, err
	}
	if err := s.withinBudget(ctx, g); err != nil {
		return nil, err
	}
	slot, err := s.takeSlot(ctx, shard%max(g.Limit.MaxConcurrency, 1))
	if err != nil {
		return nil, err
	}
	l, err := s.open(ctx, joining{address: g.URL, shard: shard, shards: shards, within: s.timing.open, identified: slot.identified})
	slot.end()
	if stop := s.mustStop(l, err); stop != nil {
		return nil, stop
	}
	return l, err
}

// backoff is how long to wait after so many failures in a row: twice as long each time, and at random from half of it up,
// so that many who were cut off together do not come back together.
func backoff(t timing, failures int) time.Duration {
	d := t.first
	for range failures - 1 {
		if d *= 2; d >= t.most {
			d = t.most
			break
		}
	}
	return d/2 + rand.N(d/2+1)
}
