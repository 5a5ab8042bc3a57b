package discord

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"time"
)

// limiter keeps requests within what the service allows (Discord, Topics, Rate Limits): each route's own limit as its
// answers tell it, and fifty requests a second over all. What waits here stops waiting when its context ends.
//
// It promises that no answer of 429 comes for want of patience, however late requests arrive and answers come back: what
// is under way counts against every limit that it may fall under.
type limiter struct {
	now   func() time.Time
	sleep func(ctx context.Context, d time.Duration, woken <-chan struct{}) error // by the clock of now

	turns turns

	mu      sync.Mutex
	named   map[string]string  // by route and place, the bucket that the service says it has
	buckets map[string]*bucket // by the service's name for it and place, or by route and place while that is unknown
	swept   time.Time
	invalid []time.Time // refused requests of the last ten minutes, oldest first
}

// bucket is what is left of one limit.
type bucket struct {
	known     bool // else one request at a time finds out
	asking    bool // that one is under way
	lost      int  // sent, and nobody knows whether they were counted
	remaining int  // as of the newest answer
	limit     int
	reset     time.Time // by our clock, no earlier than by the service's
	window    float64   // by which the service tells one period from the next: its own time of the reset, in seconds; 0 if untold
	held      time.Time // until when nothing may be sent, as a 429 said
	flying    int       // sent and not answered
	used      time.Time
	changed   chan struct{} // closed, and made anew, when there may be room
}

func newLimiter(now func() time.Time) *limiter {
	l := &limiter{now: now, sleep: sleep, named: map[string]string{}, buckets: map[string]*bucket{}}
	l.turns = turns{limiter: l, gate: make(chan struct{}, 1), changed: make(chan struct{}), most: perSecond, pace: time.Second / perSecond}
	return l
}

// acquire waits for room in a route's limit. Every acquire that succeeds must be followed by a release.
func (l *limiter) acquire(ctx context.Context, key string) (*bucket, error) {
	for {
		l.mu.Lock()
		b := l.bucket(key)
		now := l.now()
		left := b.remaining - b.lost
		if !now.Before(b.reset) {
			b.remaining = max(b.limit, 1)
			left = b.remaining
		}
		var wait time.Duration
		switch {
		case now.Before(b.held):
			wait = b.held.Sub(now)
		case left-b.flying > 0 && (b.known || b.flying == 0):
			b.flying++
			b.used, b.asking = now, !b.known
			l.mu.Unlock()
			return b, nil
		case now.Before(b.reset):
			wait = b.reset.Sub(now)
		default:
			wait = time.Minute // until an answer says more
		}
		changed := b.changed
		l.mu.Unlock()
		if err := l.sleep(ctx, wait, changed); err != nil {
			return nil, err
		}
	}
}

// bucket finds a route's limit. The lock is held.
func (l *limiter) bucket(key string) *bucket {
	name := key
	if known, ok := l.named[key]; ok {
		name = known
	}
	b := l.buckets[name]
	if b == nil {
		b = &bucket{changed: make(chan struct{})}
		l.buckets[name] = b
	}
	return b
}

// release takes note of an answer, or of none (nil) to a request that was sent or not. Place is what the route's limit is
// counted by, such as a channel.
func (l *limiter) release(b *bucket, key, place string, answer *http.Response, sent bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b.flying--
	switch {
	case answer != nil && answer.StatusCode == http.StatusTooManyRequests: // hold has said all
	case answer != nil && l.learn(b, key, place, answer.Header):
	case sent:
		b.known = false // it may have been counted, and we can't tell in which period
		b.lost++
	}
	if b.flying == 0 {
		b.asking = false
	}
	close(b.changed)
	b.changed = make(chan struct{})
	l.sweep()
}

// learn reads the limit in the headers of an answer, and reports whether they tell one. The lock is held.
func (l *limiter) learn(b *bucket, key, place string, h http.Header) bool {
	remaining, limit, after, ok := rateLimit(h, l.now())
	if !ok {
		return false
	}
	window, _ := headerNumber(h, "X-RateLimit-Reset")
	if !strings.Contains(h.Get("X-RateLimit-Reset"), ".") {
		window = 0 // whole seconds are too coarse to tell periods by
	}
	reset := l.now().Add(after + time.Millisecond) // headers are rounded
	b.learn(limit, remaining, l.now(), reset, window)
	name := h.Get("X-RateLimit-Bucket")
	if name == "" {
		return true
	}
	name += " " + place
	if shared := l.buckets[name]; shared == nil {
		l.buckets[name] = b
	} else if shared != b { // another route has the same limit
		shared.learn(limit, remaining, l.now(), reset, window)
	}
	l.named[key] = name
	return true
}

// learn takes note of what an answer says. Answers overtake each other on their way: of one period the least counts, of
// two the later.
func (b *bucket) learn(limit, remaining int, now, reset time.Time, window float64) {
	const apart = 0.1 // seconds between the resets of two periods, at least
	first := !b.known && b.asking
	newer := first || window-b.window > apart
	same := window-b.window >= -apart
	if window == 0 || b.window == 0 { // then by our own clock, as well as can be
		newer = first || !now.Before(b.reset) || reset.Sub(b.reset) > 500*time.Millisecond
		same = reset.Sub(b.reset) >= -500*time.Millisecond
	}
	switch {
	case newer:
		b.limit, b.remaining, b.reset = limit, remaining, reset
	case same:
		b.limit, b.remaining = limit, min(remaining, b.remaining)
		if reset.Before(b.reset) {
			b.reset = reset // the answer that came fastest tells best
		}
	default:
		return // of a period that is over
	}
	b.window = window
	if first {
		b.known, b.lost = true, 0
	}
}

// hold blocks a route until a time, after the service has said so.
func (l *limiter) hold(key string, wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b := l.bucket(key)
	b.remaining = 0
	if until := l.now().Add(wait); until.After(b.held) {
		b.held = until
	}
}

// sweep forgets limits that have long been whole again. The lock is held.
func (l *limiter) sweep() {
	now := l.now()
	if now.Sub(l.swept) < time.Minute && len(l.buckets) < 4096 {
		return
	}
	l.swept = now
	stale := func(b *bucket) bool {
		return b.flying == 0 && now.After(b.reset) && now.After(b.held) && now.Sub(b.used) > 30*time.Second
	}
	for key, name := range l.named {
		if b := l.buckets[name]; b == nil || stale(b) {
			delete(l.named, key)
		}
	}
	for name, b := range l.buckets {
		if stale(b) {
			delete(l.buckets, name)
		}
	}
}

// The service bans an address after 10,000 refused requests in ten minutes. We stop long before; what answers a member
// goes on for longer, for it is not what causes them.
const (
	mostInvalid        = 500
	mostInvalidAnswers = 4000
	invalidWithin      = 10 * time.Minute
)

// refused counts an answer of 401, 403 or 429.
func (l *limiter) refused() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.invalid = append(l.invalid, l.now())
	if len(l.invalid) > mostInvalidAnswers {
		l.invalid = append(l.invalid[:0], l.invalid[1:]...)
	}
}

// tripped reports whether so many requests were refused that we had better be still, and for how long.
func (l *limiter) tripped(most int) (time.Duration, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.invalid) < most {
		return 0, false
	}
	wait := l.invalid[len(l.invalid)-most].Add(invalidWithin).Sub(l.now())
	return wait, wait > 0
}

// sleep waits for a while, for a channel to be closed, or for the context to end.
func sleep(ctx context.Context, d time.Duration, woken <-chan struct{}) error {
	if err := ctx.Err(); err != nil {
		return context.Cause(ctx)
	}
	if d <= 0 {
		return nil
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return context.Cause(ctx)
	case <-woken:
	case <-t.C:
	}
	return nil
}

// longestWait is how long the service may ask us to wait at most: more is no time but a slip.
const longestWait = 24 * time.Hour

// seconds is a number of seconds that the service gave; none when it makes no sense.
func seconds(s float64) time.Duration {
	if !(s > 0) { // not a number, too
		return 0
	}
	return time.Duration(min(s, longestWait.Seconds()) * float64(time.Second)).Round(time.Microsecond)
}
