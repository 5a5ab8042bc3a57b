package discord

import "sync"

// underway counts what is being done. Unlike a sync.WaitGroup it takes on more while somebody waits: what came with the last
// breath of a connection is heard by goroutines of the library's, which nobody can wait for.
type underway struct {
	mu   sync.Mutex
	n    int
	idle chan struct{} // closed when n is 0; nil when nobody waits
}

func (u *underway) begin() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.n++
}

func (u *underway) end() {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.n--; u.n == 0 && u.idle != nil {
		close(u.idle)
		u.idle = nil
	}
}

// count is how much there is.
func (u *underway) count() int {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.n
}

// none is closed once nothing is being done.
func (u *underway) none() <-chan struct{} {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.n == 0 {
		done := make(chan struct{})
		close(done)
		return done
	}
	if u.idle == nil {
		u.idle = make(chan struct{})
	}
	return u.idle
}
