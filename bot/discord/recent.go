package discord

import (
	"sync"
	"time"
)

// recent remembers answers for a while, and not too many of them.
type recent[K comparable, V any] struct {
	mu    sync.Mutex
	known map[K]dated[V]
}

type dated[V any] struct {
	value V
	until time.Time
}

// mostRecent is how many answers are remembered: enough for those who are active at a time.
const mostRecent = 20_000

func (r *recent[K, V]) get(key K) (V, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	d, ok := r.known[key]
	if !ok || time.Now().After(d.until) {
		var none V
		return none, false
	}
	return d.value, true
}

func (r *recent[K, V]) put(key K, value V, length time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.known == nil || len(r.known) >= mostRecent {
		r.known = map[K]dated[V]{} // beginning anew is cheap: each answer can be had again
	}
	r.known[key] = dated[V]{value, time.Now().Add(length)}
}

func (r *recent[K, V]) forget(key K) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.known, key)
}
