package store_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"spareounce/store"
)

// unlucky is a chat that shows what it is told but loses the answer the first few times.
type unlucky struct {
	unasked
	mu     sync.Mutex
	losses int
	told   []string // a line for each time it was told: the message and its notices
}

func (u *unlucky) Tell(_ context.Context, _ store.Group, m store.Member, notices []store.Notice) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	line := fmt.Sprintf("%s %d:", m.Name, notices[0].Message)
	for _, n := range notices {
		if n.Message != notices[0].Message {
			return errors.New("two messages in one")
		}
		line += fmt.Sprint(" ", n.ID)
	}
	u.told = append(u.told, line)
	if u.losses > 0 {
		u.losses--
		return errors.New("the answer was lost")
	}
	return nil
}

// What goes into a message does not change when it has to be said again, whatever has come up meanwhile.
func TestAMessageIsSaidAgainAsItWas(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 3)
	tb.change(t, tb.members[0], want("1980"))
	tb.change(t, tb.members[0], want("1981"))
	tb.change(t, tb.members[1], spare("1980", 1))
	u := &unlucky{losses: 1}
	tb.work(t, u, func() bool { return u.count("Member 0") >= 1 })
	tb.change(t, tb.members[2], spare("1981", 1))
	tb.work(t, u, func() bool { return u.count("Member 0") >= 3 })
	u.mu.Lock()
	defer u.mu.Unlock()
	var mine []string
	for _, line := range u.told {
		if line[:8] == "Member 0" {
			mine = append(mine, line)
		}
	}
	slices.Sort(mine)
	if distinct := slices.Compact(slices.Clone(mine)); len(mine) != 3 || len(distinct) != 2 {
		t.Errorf("one message said twice and one once, each with one notice: %q", mine)
	}
}

func (u *unlucky) count(name string) (n int) {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, line := range u.told {
		if line[:len(name)] == name {
			n++
		}
	}
	return n
}

// work lets the queue work until something is so.
func (tb *table) work(t *testing.T, d store.Duties, so func() bool) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	worked := make(chan error, 1)
	go func() { worked <- tb.Work(ctx, d, 1, time.Second) }()
	for since := time.Now(); !so(); time.Sleep(5 * time.Millisecond) {
		if time.Since(since) > 30*time.Second {
			t.Error("not within 30 seconds")
			break
		}
	}
	stop()
	if err := <-worked; err != nil {
		t.Error(err)
	}
}
