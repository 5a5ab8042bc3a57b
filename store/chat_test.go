package store_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"spareounce/store"
	"spareounce/store/storetest"
)

// TestHeardOnce has many ask at once whether they are the first to hear something.
func TestHeardOnce(t *testing.T) {
	t.Parallel()
	st := storetest.New(t, still)
	var firsts atomic.Int32
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			if first, err := st.FirstHeard(t.Context(), "i1"); err != nil {
				t.Error(err)
			} else if first {
				firsts.Add(1)
			}
		})
	}
	all.Wait()
	if firsts.Load() != 1 {
		t.Errorf("%d were the first", firsts.Load())
	}
}

func TestOneHoldsALeaseUntilItEnds(t *testing.T) {
	t.Parallel()
	st := storetest.New(t, still)
	take := func(holder string, length time.Duration) bool {
		return made(st.Lease(t.Context(), "shard 0", holder, length))(t)
	}
	if !take("a", time.Minute) || take("b", time.Minute) || !take("a", time.Millisecond) {
		t.Error("a lease was shared, or could not be renewed")
	}
	time.Sleep(20 * time.Millisecond)
	if !take("b", time.Minute) || take("a", time.Minute) {
		t.Error("a lease did not end by itself")
	}
	if n := made(st.Leases(t.Context(), "shard"))(t); n != 1 {
		t.Errorf("%d leases are held", n)
	}
	if err := st.EndLease(t.Context(), "shard 0", "a"); err != nil {
		t.Fatal(err)
	}
	if take("a", time.Minute) {
		t.Error("someone else's lease was ended")
	}
	if err := st.EndLease(t.Context(), "shard 0", "b"); err != nil {
		t.Fatal(err)
	}
	if !take("a", time.Minute) {
		t.Error("a lease given back is not free")
	}
}

func TestStartsAreRationed(t *testing.T) {
	t.Parallel()
	st := storetest.New(t, still)
	const within = 300 * time.Millisecond
	for range 2 {
		if wait := made(st.Start(t.Context(), "identify", 2, within))(t); wait != 0 {
			t.Fatalf("asked to wait %v with starts to spare", wait)
		}
	}
	wait := made(st.Start(t.Context(), "identify", 2, within))(t)
	if wait <= 0 || wait > within {
		t.Fatalf("the third start waits %v", wait)
	}
	time.Sleep(wait + 10*time.Millisecond)
	if wait := made(st.Start(t.Context(), "identify", 2, within))(t); wait != 0 {
		t.Errorf("still asked to wait, %v", wait)
	}
}

func TestWhatWaitsIsTakenOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	for _, key := range []string{"n1", "n1", "n2"} {
		if err := tb.Wait(t.Context(), tb.group.ID, "0", key, map[string]string{"Text": key}); err != nil {
			t.Fatal(err)
		}
	}
	words := made(tb.Waiting(t.Context(), tb.group.ID, "0", 10))(t)
	if len(words) != 2 || string(words[0]) != `{"Text": "n1"}` {
		t.Errorf("%q waits", words)
	}
	if again := made(tb.Waiting(t.Context(), tb.group.ID, "0", 10))(t); len(again) != 0 {
		t.Errorf("%q still waits", again)
	}
}

func TestASecretIsOneForAll(t *testing.T) {
	t.Parallel()
	st := storetest.New(t, still)
	a, b := made(st.Secret(t.Context(), "buttons"))(t), made(st.Secret(t.Context(), "buttons"))(t)
	if a == "" || a != b {
		t.Errorf("%q and %q", a, b)
	}
	if err := st.SaveAccount(t.Context(), "7", store.Account{Reach: store.ReachMessage}); err != nil {
		t.Fatal(err)
	}
	if is := made(st.AccountOf(t.Context(), "7"))(t); is.Reach != store.ReachMessage || is.Closed != nil {
		t.Error(is)
	}
}
