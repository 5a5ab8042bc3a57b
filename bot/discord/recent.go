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

// locks lets one at a time do something about a thing, and different things mostly at once.
type locks [64]sync.Mutex

// lock locks a thing and returns what unlocks it.
func (l *locks) lock(thing string) (unlock func()) {
	n := uint32(2166136261) // FNV-1a
	for _, c := range []byte(thing) {
		n = (n ^ uint32(c)) * 16777619
	}
	m := &l[n%uint32(len(l))]
	m.Lock()
	return m.Unlock
}
