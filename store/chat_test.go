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
	if held := made(st.Leases(t.Context(), "shard"))(t); len(held) != 1 || held["shard 0"] != "b" {
		t.Errorf("these leases are held: %v", held)
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

// TestALeaseIsHandedOver offers what is held: one of those who want it takes the offer, nobody can take it back, and what
// was offered stays with its holder until the taker succeeds to it.
func TestALeaseIsHandedOver(t *testing.T) {
	t.Parallel()
	st, ctx := storetest.New(t, still), t.Context()
	lease := func(name, holder string) bool { return made(st.Lease(ctx, name, holder, time.Minute))(t) }
	take := func(holder string) bool { return made(st.TakeOffer(ctx, "next", holder, time.Minute))(t) }
	succeed := func(holder string) bool { return made(st.Succeed(ctx, "shard", "next", holder, time.Minute))(t) }
	if !lease("shard", "a") || take("b") || succeed("b") {
		t.Error("what was not offered was taken")
	}
	for range 2 { // offered, and the offer renewed
		if !lease("next", "") {
			t.Error("it can't be offered, or the offer not be renewed")
		}
	}
	if succeed("b") {
		t.Error("succeeded without having taken the offer")
	}
	if !take("b") || take("c") || lease("next", "") || !lease("next", "b") {
		t.Error("an offer was taken twice, or made anew once it was taken, or the taker can't renew it")
	}
	if err := st.EndLease(ctx, "next", ""); err != nil {
		t.Fatal(err)
	}
	if !lease("shard", "a") || succeed("c") || !succeed("b") || succeed("b") {
		t.Error("the wrong one succeeded, or the right one did not")
	}
	if lease("shard", "a") || !lease("shard", "b") {
		t.Error("who handed it over still has it")
	}
	if held := made(st.Leases(ctx, ""))(t); len(held) != 1 {
		t.Errorf("these leases are held: %v", held)
	}
	if !made(st.Lease(ctx, "next", "", time.Millisecond))(t) {
		t.Fatal("it can't be offered")
	}
	time.Sleep(20 * time.Millisecond)
	if take("c") {
		t.Error("an offer that is over was taken")
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
