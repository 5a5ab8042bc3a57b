package chattest

import (
	"fmt"
	"maps"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A limiter holds the buckets of a strict server. Discord documents the global limit and the headers, and no bucket's size:
// the sizes here are only there to be learned from the headers.
type limiter struct {
	now      func() time.Time
	mu       sync.Mutex
	buckets  map[string]*bucket
	recently []time.Time // requests of the last second, oldest first
	invalids []time.Time
	over     map[string]int // requests that were over a limit, by scope
}

type bucket struct {
	limit  int
	window time.Duration
	used   int
	resets time.Time
}

const (
	globalLimit   = 50
	invalidLimit  = 10_000
	invalidWindow = 10 * time.Minute
)

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, buckets: map[string]*bucket{}, over: map[string]int{}}
}

// A rateLimited is a 429.
type rateLimited struct {
	scope string // "user", "global", "shared", or "" for the network's block
	wait  time.Duration
}

func (l *rateLimited) Error() string { return "429 " + l.scope }

func (l *rateLimited) body() object {
	words := "You are being rate limited."
	if l.scope == "shared" {
		words = "The resource is being rate limited."
	}
	return object{"message": words, "retry_after": l.wait.Seconds(), "global": l.scope == "global"}
}

func (l *rateLimited) headers(h http.Header) {
	h.Set("Retry-After", strconv.Itoa(int(math.Ceil(l.wait.Seconds()))))
	h.Set("X-RateLimit-Scope", l.scope)
	if l.scope == "global" {
		h.Set("X-RateLimit-Global", "true")
	}
}

// take uses up one request of a route's bucket and of the global one, and tells the client in headers where it stands.
func (l *limiter) take(c *call, h http.Header) error {
	r := c.route
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if !r.free {
		if wait := l.turn(now); wait > 0 {
			return l.refuse("global", wait, h)
		}
	}
	key := c.Method + " " + r.template() + " " + major(c, r)
	b := l.buckets[key]
	if b == nil {
		b = r.bucket()
		l.sweep(now)
		l.buckets[key] = b
	}
	wait := b.take(now)
	h.Set("X-RateLimit-Limit", strconv.Itoa(b.limit))
	h.Set("X-RateLimit-Remaining", strconv.Itoa(max(b.limit-b.used, 0)))
	h.Set("X-RateLimit-Reset", fmt.Sprintf("%.3f", float64(b.resets.UnixMilli())/1000))
	h.Set("X-RateLimit-Reset-After", fmt.Sprintf("%.3f", b.resets.Sub(now).Seconds()))
	h.Set("X-RateLimit-Bucket", sign(c.Method, r.template())[:16])
	if wait > 0 {
		return l.refuse("user", wait, h)
	}
	return nil
}

// refuse is a 429 for a request that is over a limit.
func (l *limiter) refuse(scope string, wait time.Duration, h http.Header) error {
	l.over[scope]++
	limited := &rateLimited{scope, wait}
	limited.headers(h)
	return limited
}

// turn uses up one of the requests that a second has, whenever that second begins, or tells how long to wait. The
// documentation does not say how a second is measured; no bot that keeps to this can be over by another measure.
func (l *limiter) turn(now time.Time) time.Duration {
	l.recently = slices.DeleteFunc(l.recently, func(at time.Time) bool { return now.Sub(at) >= time.Second })
	if len(l.recently) >= globalLimit {
		return l.recently[0].Add(time.Second).Sub(now)
	}
	l.recently = append(l.recently, now)
	return 0
}

// sweep forgets buckets that are whole again, when there are many: each interaction has some of its own.
func (l *limiter) sweep(now time.Time) {
	if len(l.buckets) < 4096 {
		return
	}
	maps.DeleteFunc(l.buckets, func(_ string, b *bucket) bool { return !now.Before(b.resets) })
}

// Limited counts the requests that were over a limit of a strict server, by scope: "user" for a route's own, "global" for
// that over all. What Fail has answered with 429 is not among them.
func (s *Server) Limited() map[string]int {
	s.limiter.mu.Lock()
	defer s.limiter.mu.Unlock()
	return maps.Clone(s.limiter.over)
}

// take uses up one, or tells how long to wait.
func (b *bucket) take(now time.Time) time.Duration {
	if !now.Before(b.resets) {
		b.used, b.resets = 0, now.Add(b.window)
	}
	if b.used >= b.limit {
		return b.resets.Sub(now)
	}
	b.used++
	return 0
}

// bucket gives a route's own limit.
func (r *route) bucket() *bucket {
	switch {
	case strings.HasSuffix(r.template(), "/callback"):
		return &bucket{limit: 1000, window: time.Second}
	case r.method == "POST" && strings.HasSuffix(r.template(), "/messages"), r.method == "PATCH":
		return &bucket{limit: 5, window: time.Second}
	case strings.HasSuffix(r.template(), "/commands"):
		return &bucket{limit: 5, window: 20 * time.Second}
	case r.open:
		return &bucket{limit: 5, window: time.Second}
	}
	return &bucket{limit: 10, window: time.Second}
}

// major is the top-level resource that has limits of its own: the channel, the guild, or the webhook with its token.
func major(c *call, r *route) string {
	switch r.parts[1] {
	case "channels", "guilds":
		return strings.Split(c.path, "/")[2]
	case "webhooks", "interactions":
		return strings.Join(strings.Split(c.path, "/")[2:4], "/")
	}
	return ""
}

// note counts an answer of 401, 403 or 429, unless the 429 is in the shared scope.
func (l *limiter) note(status int, scope string) {
	if status != 401 && status != 403 && (status != 429 || scope == "shared") {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.invalids) > 2*invalidLimit {
		l.invalids = l.recent()
	}
	l.invalids = append(l.invalids, l.now())
}

// recent lists the invalid requests that still count.
func (l *limiter) recent() []time.Time {
	now := l.now()
	return slices.DeleteFunc(l.invalids, func(at time.Time) bool { return now.Sub(at) >= invalidWindow })
}

// blocked reports whether the network lets this address no longer through.
func (l *limiter) blocked() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.invalids = l.recent()
	return len(l.invalids) >= invalidLimit
}

// Invalid counts the requests of the last ten minutes that were answered with 401, 403 or 429 (but for those in the shared
// scope): 10,000 of them block an address.
func (s *Server) Invalid() int {
	s.limiter.mu.Lock()
	defer s.limiter.mu.Unlock()
	s.limiter.invalids = s.limiter.recent()
	return len(s.limiter.invalids)
}

// SpendInvalid counts n invalid requests as if they had been made just now.
func (s *Server) SpendInvalid(n int) {
	for range n {
		s.limiter.note(http.StatusUnauthorized, "")
	}
}
