package discord

import (
	"context"
	"net/http"
	"sync"
	"time"
)

// limiter keeps requests within what the service allows (Discord, Topics, Rate Limits): each route's own limit as its
// answers tell it, and fifty requests a second over all. What waits here stops waiting when its context ends.
type limiter struct {
	now func() time.Time

	mu      sync.Mutex
	named   map[string]string  // by route and place, the bucket that the service says it has
	buckets map[string]*bucket // by the service's name for it and place, or by route and place while that is unknown
	pace    time.Duration      // between requests
	next    time.Time          // when the next request may be sent
	blocked time.Time          // until when nothing may be sent
	swept   time.Time
	invalid []time.Time // refused requests of the last ten minutes, oldest first
}

// bucket is what is left of one limit.
type bucket struct {
	known     bool
	remaining int // as of the last answer
	limit     int
	reset     time.Time
	flying    int // sent and not answered
	used      time.Time
	changed   chan struct{} // closed, and made anew, when there may be room
}

// perSecond is how many requests a second the service takes from a bot.
const perSecond = 50

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, named: map[string]string{}, buckets: map[string]*bucket{}, pace: time.Second / perSecond}
}

// share tells how many processes send with the same token: they share what a bot may send.
func (l *limiter) share(processes int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.pace = time.Second / perSecond * time.Duration(max(processes, 1))
}

// acquire waits for room in a route's limit. Every acquire that succeeds must be followed by a release.
func (l *limiter) acquire(ctx context.Context, key string) (*bucket, error) {
	for {
		l.mu.Lock()
		b := l.bucket(key)
		now := l.now()
		if b.known && !now.Before(b.reset) {
			b.remaining = max(b.limit, 1)
		}
		var wait time.Duration
		switch {
		case b.known && b.remaining-b.flying > 0, !b.known && b.flying == 0 && !now.Before(b.reset):
			b.flying++
			b.used = now
			l.mu.Unlock()
			return b, nil
		case now.Before(b.reset):
			wait = b.reset.Sub(now)
		default:
			wait = time.Minute // until an answer says more
		}
		changed := b.changed
		l.mu.Unlock()
		if err := sleep(ctx, wait, changed); err != nil {
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

// release takes note of an answer, or of none (nil). Place is what the route's limit is counted by, such as a channel.
func (l *limiter) release(b *bucket, key, place string, answer *http.Response) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b.flying--
	if answer != nil {
		l.learn(b, key, place, answer.Header)
	}
	close(b.changed)
	b.changed = make(chan struct{})
	l.sweep()
}

// learn reads the limit in the headers of an answer. The lock is held.
func (l *limiter) learn(b *bucket, key, place string, h http.Header) {
	remaining, limit, after, ok := rateLimit(h, l.now())
	if !ok {
		return
	}
	reset := l.now().Add(after)
	if b.known && reset.Sub(b.reset).Abs() < 500*time.Millisecond {
		remaining = min(remaining, b.remaining) // answers of one window may overtake each other
	}
	b.known, b.limit, b.remaining, b.reset = true, limit, remaining, reset
	if name := h.Get("X-RateLimit-Bucket"); name != "" {
		name += " " + place
		if l.buckets[name] == nil {
			l.buckets[name] = b
		}
		l.named[key] = name
	}
}

// hold blocks a route until a time, after the service has said so.
func (l *limiter) hold(key string, wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	b := l.bucket(key)
	b.remaining = 0
	if until := l.now().Add(wait); until.After(b.reset) {
		b.reset = until
	}
}

// holdAll blocks everything until a time.
func (l *limiter) holdAll(wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if until := l.now().Add(wait); until.After(l.blocked) {
		l.blocked = until
	}
}

// takeTurn waits for a turn among all requests.
func (l *limiter) takeTurn(ctx context.Context) error {
	for {
		l.mu.Lock()
		now := l.now()
		if now.Before(l.blocked) {
			wait := l.blocked.Sub(now)
			l.mu.Unlock()
			if err := sleep(ctx, wait, nil); err != nil {
				return err
			}
			continue
		}
		at := l.next
		if at.Before(now) {
			at = now
		}
		l.next = at.Add(l.pace)
		l.mu.Unlock()
		return sleep(ctx, at.Sub(now), nil)
	}
}

// sweep forgets limits that have long been whole again. The lock is held.
func (l *limiter) sweep() {
	now := l.now()
	if now.Sub(l.swept) < time.Minute && len(l.buckets) < 4096 {
		return
	}
	l.swept = now
	stale := func(b *bucket) bool { return b.flying == 0 && now.After(b.reset) && now.Sub(b.used) > 30*time.Second }
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

// The service bans an address after 10,000 refused requests in ten minutes. We stop long before.
const (
	mostInvalid   = 500
	invalidWithin = 10 * time.Minute
)

// refused counts an answer of 401, 403 or 429.
func (l *limiter) refused() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.invalid = append(l.invalid, l.now())
	if len(l.invalid) > mostInvalid {
		l.invalid = append(l.invalid[:0], l.invalid[1:]...)
	}
}

// tripped reports whether so many requests were refused that we had better be still, and until when.
func (l *limiter) tripped() (time.Duration, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.invalid) < mostInvalid {
		return 0, false
	}
	wait := l.invalid[0].Add(invalidWithin).Sub(l.now())
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
