package discord

import (
	"context"
	"slices"
	"sync"
	"time"
)

// perSecond is how many requests a second the service takes from a bot.
const perSecond = 50

// longestFlight is after how long a request that is not answered is taken to have arrived.
const longestFlight = 5 * time.Second

// turns lets no more than so many requests arrive in any second. When a request arrives we do not know; that is between
// its leaving and its answer. So a turn is taken from when a request leaves until a second after its answer: of any that
// arrive within a second, each still has its turn when the last of them leaves.
type turns struct {
	limiter *limiter
	gate    chan struct{} // held by whose turn is next, so that turns go in order

	mu      sync.Mutex
	most    int
	pace    time.Duration // between requests: they are spread over their second
	next    time.Time     // when the next may leave
	blocked time.Time     // until when none may
	taken   []*turn
	changed chan struct{} // closed, and made anew, when one is answered
}

// turn is one request's.
type turn struct {
	until time.Time // it is taken; put off to the answer's time when that comes sooner
}

// share tells how many processes send with the same token: they share what a bot may send.
func (l *limiter) share(processes int) {
	t := &l.turns
	t.mu.Lock()
	defer t.mu.Unlock()
	processes = max(processes, 1)
	t.most, t.pace = max(perSecond/processes, 1), time.Second/perSecond*time.Duration(processes)
}

// holdAll blocks everything until a time.
func (l *limiter) holdAll(wait time.Duration) {
	t := &l.turns
	t.mu.Lock()
	defer t.mu.Unlock()
	if until := l.now().Add(wait); until.After(t.blocked) {
		t.blocked = until
	}
}

// kept is which part of the turns is kept for what a member waits for: one in ten.
const kept = 10

// takeTurn waits for a turn among all requests; what must go soon overtakes the others. Every one that succeeds must be
// followed by answered.
func (l *limiter) takeTurn(ctx context.Context, soon bool) (*turn, error) {
	t := &l.turns
	if !soon {
		select {
		case t.gate <- struct{}{}:
		case <-ctx.Done():
			return nil, context.Cause(ctx)
		}
		defer func() { <-t.gate }()
	}
	for {
		mine, wait, changed := t.take(l.now(), soon)
		if mine != nil {
			return mine, nil
		}
		if err := l.sleep(ctx, wait, changed); err != nil {
			return nil, err
		}
	}
}

// take takes a turn if there is one now, else tells how long to wait, unless something changes before.
func (t *turns) take(now time.Time, soon bool) (mine *turn, wait time.Duration, changed <-chan struct{}) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if now.Before(t.blocked) {
		return nil, t.blocked.Sub(now), nil
	}
	most := t.most
	if !soon {
		if now.Before(t.next) {
			return nil, t.next.Sub(now), nil
		}
		most -= t.most / kept
	}
	t.taken = slices.DeleteFunc(t.taken, func(o *turn) bool { return !now.Before(o.until) })
	if len(t.taken) >= most {
		first := slices.MinFunc(t.taken, func(a, b *turn) int { return a.until.Compare(b.until) })
		return nil, first.until.Sub(now), t.changed
	}
	mine = &turn{until: now.Add(longestFlight + time.Second)}
	t.taken = append(t.taken, mine)
	if !soon {
		t.next = now.Add(t.pace)
	}
	return mine, 0, nil
}

// answered notes that a request has arrived, for its answer is here.
func (l *limiter) answered(mine *turn) {
	t := &l.turns
	t.mu.Lock()
	defer t.mu.Unlock()
	if until := l.now().Add(time.Second); until.Before(mine.until) {
		mine.until = until
	}
	close(t.changed)
	t.changed = make(chan struct{})
}
