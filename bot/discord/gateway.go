package discord

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"strconv"
	"time"
)

// timing is how patient we are. Tests are less so.
type timing struct {
	open       time.Duration // for a connection to be ready
	identify   time.Duration // in which so many shards may identify as the service says
	first      time.Duration // before trying again the first time
	most       time.Duration // before trying again at most
	lease      time.Duration // for which a process holds a shard without word of it
	answer     time.Duration // for an answer to be made before we ask for patience
	dead       time.Duration // after which an interaction can't be answered
	ignoreSkew time.Duration // by which clocks may differ
	settle     time.Duration // after which a request whose answer was lost has had its effect or never will
}

var usualTiming = timing{
	open: openWithin, identify: 5*time.Second + 250*time.Millisecond, first: time.Second, most: time.Minute,
	lease: 30 * time.Second, answer: 1200 * time.Millisecond, dead: answerWithin, ignoreSkew: time.Second,
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

// shardRun keeps one shard connected until ctx ends or connecting again would do harm. When the service asks for a new
// connection the old one is heard until the new one is ready; whoever hears an event twice answers it once.
func (s *Service) shardRun(ctx context.Context, shard, shards int) error {
	var old *link
	defer func() {
		if old != nil {
			old.close()
		}
	}()
	for failures := 0; ; {
		l, err := s.connect(ctx, shard, shards)
		if old != nil && err == nil {
			go old.close()
			old = nil
		}
		if err == nil {
			s.log.InfoContext(ctx, "connected", "shard", shard, "of", shards)
			old, err = s.attend(ctx, l)
		}
		if ctx.Err() != nil {
			return nil
		}
		if stop, ok := errors.AsType[*StopError](err); ok {
			return stop
		}
		if err == nil { // asked to connect anew: at once
			failures = 0
			continue
		}
		if l != nil && l.lasted() > s.timing.most {
			failures = 0
		}
		failures++
		wait := backoff(s.timing, failures)
		s.log.WarnContext(ctx, "the gateway is lost", "shard", shard, "err", err, "again in", wait)
		if err := sleep(ctx, wait, nil); err != nil {
			return nil
		}
	}
}

// attend waits for what becomes of a link. It returns the link when it should be heard until there is a new one.
func (s *Service) attend(ctx context.Context, l *link) (*link, error) {
	select {
	case <-ctx.Done():
		l.close()
		return nil, context.Cause(ctx)
	case <-l.asked:
		return l, nil
	case <-l.over:
		l.close()
		if stop := fatal[l.closeCode()]; stop != "" {
			return nil, &StopError{l.closeCode(), stop}
		}
		if l.invalid {
			return nil, errors.New("the session is invalid")
		}
		return nil, fmt.Errorf("closed with code %d", l.closeCode())
	}
}

// connect waits until a shard may identify, and opens a link. A link that did not become ready is returned with the error.
func (s *Service) connect(ctx context.Context, shard, shards int) (*link, error) {
	g, err := s.askGateway(ctx)
	if r, ok := errors.AsType[*refusal](err); ok && r.status == http.StatusUnauthorized || errors.Is(err, errDenied) {
		return nil, &StopError{4004, fatal[4004]}
	}
	if err != nil {
		return nil, err
	}
	if err := s.mayIdentify(ctx, g, shard); err != nil {
		return nil, err
	}
	l, err := s.open(ctx, g.URL, shard, shards)
	if err != nil && l != nil {
		if stop := fatal[l.closeCode()]; stop != "" {
			return l, &StopError{l.closeCode(), stop}
		}
	}
	return l, err
}

// reserve is how many of the day's identifications we leave untouched: with none left, the service resets the token.
const reserve = 20

// mayIdentify waits for a turn to identify: within the day's allowance, by the service's count and by our own, which
// outlives a restart, and no faster than the service takes it.
func (s *Service) mayIdentify(ctx context.Context, g gateway, shard int) error {
	if total := g.Limit.Total; total > 0 && g.Limit.Remaining <= min(reserve, total/10) {
		wait := max(time.Duration(g.Limit.ResetAfter)*time.Millisecond, time.Second)
		s.log.ErrorContext(ctx, "nearly all of the day's connections are used up: waiting, for the service would reset the token", "wait", wait)
		if err := sleep(ctx, min(wait, time.Hour), nil); err != nil {
			return err
		}
		return errors.New("the day's connections were used up")
	}
	day := 1000
	if g.Limit.Total > 0 {
		day = g.Limit.Total
	}
	for {
		wait, err := s.bot.Start(ctx, "identify", day-reserve, 24*time.Hour)
		if err != nil {
			return err
		}
		if wait == 0 {
			break
		}
		s.log.ErrorContext(ctx, "we have connected too often today: waiting", "wait", wait)
		if err := sleep(ctx, wait, nil); err != nil {
			return err
		}
	}
	turn := "identify " + strconv.Itoa(shard%max(g.Limit.MaxConcurrency, 1))
	for {
		wait, err := s.bot.Start(ctx, turn, 1, s.timing.identify)
		if err != nil || wait == 0 {
			return err
		}
		if err := sleep(ctx, wait, nil); err != nil {
			return err
		}
	}
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
