package discord

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// division is a process's part in dividing the guilds into so many shards. All the processes that serve one database agree
// by leases on who serves which:
//
//   - "shard 2 of 4" is held by who serves it. It is taken only by who hears the shard already.
//   - "next shard 2 of 4" is held by who is about to serve it and connects meanwhile; by nobody when who serves it offers
//     it. An offer that was taken can't be taken back.
//   - "process of 4 NAME" is held by each that takes part and does not leave.
//
// So a shard that changes hands is heard by both for a moment, and what both hear is answered once. Two can't fight: an
// offer is taken by one, who succeeds once, and who is succeeded sees it and closes. None is orphaned: every lease of one
// who dies ends by itself, who can't hear a shard for long leaves it to others, and what nobody serves nor is about to serve
// is taken by any.
type division struct {
	s        *Service
	shards   int
	mine     map[int]*held
	idle     map[int]int       // for how many looks in a row nobody has served a shard
	left     map[int]time.Time // to others, until when
	beside   bool              // others serve all there is
	stop     context.CancelCauseFunc
	woken    chan struct{} // holds one when a shard has become ready
	outgrown chan struct{} // holds one when somebody divides into more shards
	ended    chan struct{} // closed when it is over
	err      error         // why; read after ended
}

// held is a shard that this process connects.
type held struct {
	stop    context.CancelFunc
	done    chan struct{}
	ready   atomic.Bool               // we have come to hear it
	deaf    atomic.Pointer[time.Time] // since when we do not; nil when we do
	serves  bool                      // we hold its lease; until then, the lease to be next
	offered bool                      // to others
}

func (d *division) serving(shard int) string { return fmt.Sprintf("shard %d of %d", shard, d.shards) }
func (d *division) next(shard int) string    { return "next " + d.serving(shard) }
func (d *division) process() string          { return fmt.Sprintf("process of %d %s", d.shards, d.s.name) }

// divide takes part in a division from now on.
func (s *Service) divide(ctx context.Context, shards int) *division {
	d := &division{
		s: s, shards: shards, mine: map[int]*held{}, idle: map[int]int{}, left: map[int]time.Time{},
		woken: make(chan struct{}, 1), outgrown: make(chan struct{}, 1), ended: make(chan struct{}),
	}
	ctx, d.stop = context.WithCancelCause(ctx)
	go func() {
		defer close(d.ended)
		d.err = d.run(ctx)
	}()
	return d
}

// run takes part until ctx ends; then it hands over what it serves. When connecting again would do harm it says why.
func (d *division) run(ctx context.Context) error {
	defer d.stop(nil)
	every := time.NewTicker(d.s.timing.look)
	defer every.Stop()
	for ctx.Err() == nil {
		d.look(ctx)
		select {
		case <-every.C:
		case <-d.woken:
		case <-ctx.Done():
		}
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), d.s.timing.handOver)
	defer cancel()
	if err := d.s.bot.EndLease(last, d.process(), d.s.name); err != nil {
		d.s.log.Warn("others wait for us until our lease is over", "err", err)
	}
	stop, harmful := errors.AsType[*StopError](context.Cause(ctx))
	if !harmful {
		d.handOver(last)
	}
	d.letGo(keys(d.mine)...)
	if harmful {
		return stop
	}
	return nil
}

// look renews what we hold, succeeds to what we have come to hear, and takes or offers until we have our share.
func (d *division) look(ctx context.Context) {
	s := d.s
	d.letGo(d.renew(ctx)...)
	if _, err := s.bot.Lease(ctx, d.process(), s.name, s.timing.lease); err != nil {
		return
	}
	held, err := s.bot.Leases(ctx, "")
	if err != nil {
		return
	}
	s.door.limits.share(max(1, count(held, "process of ")))
	if larger(held, d.shards) {
		wake(d.outgrown)
	}
	d.leave(held)
	all, share := d.share(held)
	for _, shard := range all {
		if d.mine[shard] == nil && d.wants(shard, held, len(d.mine) < share) && d.take(ctx, shard, held) {
			d.start(ctx, shard)
		}
	}
	d.offer(ctx, share)
	if beside := len(d.mine) == 0 && whole(held, d.shards); beside != d.beside {
		if d.beside = beside; beside {
			s.say("Other processes serve all there is. This one stands by: it takes over when one of them stops.")
		}
	}
}

// share is which shards we may serve, and how many of them we should. Which were given to us by the operator are all ours.
func (d *division) share(held map[string]string) (all []int, share int) {
	if given := d.s.config.Shard; len(given) > 0 {
		return given, len(given)
	}
	for shard := range d.shards {
		all = append(all, shard)
	}
	processes := max(1, count(held, fmt.Sprintf("process of %d ", d.shards)))
	return all, (len(all) + processes - 1) / processes
}

// orphaned is for how many looks nobody serves a shard before it is taken by who has enough already.
const orphaned = 4

// wants reports whether to take a shard that is free or offered.
func (d *division) wants(shard int, held map[string]string, more bool) bool {
	server, served := held[d.serving(shard)]
	next, taken := held[d.next(shard)]
	offered := taken && next == ""
	if served && server != d.s.name || taken && !offered {
		d.idle[shard] = 0
		return offered && more
	}
	d.idle[shard]++
	if time.Now().Before(d.left[shard]) {
		return false
	}
	return more || d.idle[shard] > orphaned
}

// take takes the lease to be next.
func (d *division) take(ctx context.Context, shard int, held map[string]string) bool {
	takes := d.s.bot.Lease
	if next, taken := held[d.next(shard)]; taken && next == "" {
		takes = d.s.bot.TakeOffer
	}
	ok, err := takes(ctx, d.next(shard), d.s.name, d.s.timing.lease)
	return err == nil && ok
}

// start connects a shard.
func (d *division) start(ctx context.Context, shard int) {
	run, end := context.WithCancel(context.WithoutCancel(ctx))
	h := &held{stop: end, done: make(chan struct{})}
	now := time.Now()
	h.deaf.Store(&now)
	d.mine[shard] = h
	go func() {
		defer close(h.done)
		d.s.serving.Add(1)
		defer d.s.serving.Add(-1)
		if err := d.s.shardRun(run, shard, d.shards, func(hears bool) { d.hears(h, hears) }); err != nil {
			d.stop(err)
		}
	}()
}

// hears notes whether we hear a shard.
func (d *division) hears(h *held, hears bool) {
	if !hears {
		now := time.Now()
		h.deaf.CompareAndSwap(nil, &now)
		return
	}
	h.deaf.Store(nil)
	if h.ready.CompareAndSwap(false, true) {
		wake(d.woken)
	}
}

// leave leaves to others what we can't hear, for as long as we have tried.
func (d *division) leave(held map[string]string) {
	patience := d.s.timing.deaf + time.Duration(2*d.shards)*d.s.timing.identify // all may have to wait for their turn
	if count(held, fmt.Sprintf("process of %d ", d.shards)) < 2 {
		return
	}
	for shard, h := range d.mine {
		if since := h.deaf.Load(); since != nil && time.Since(*since) > patience {
			d.s.log.Error("we do not come to hear this: perhaps another process does", "shard", shard, "of", d.shards)
			d.left[shard] = time.Now().Add(patience)
			d.letGo(shard)
		}
	}
}

// renew renews our leases, and succeeds to what we hear. It lists the shards that are another's by now.
func (d *division) renew(ctx context.Context) (lost []int) {
	s := d.s
	for shard, h := range d.mine {
		var ok bool
		var err error
		switch {
		case h.serves:
			ok, err = s.bot.Lease(ctx, d.serving(shard), s.name, s.timing.lease)
		case h.ready.Load():
			ok, err = s.bot.Succeed(ctx, d.serving(shard), d.next(shard), s.name, s.timing.lease)
			h.serves = err == nil && ok
		default:
			ok, err = s.bot.Lease(ctx, d.next(shard), s.name, s.timing.lease)
		}
		switch {
		case err != nil && ctx.Err() == nil:
			// Without the database nothing can be answered, by nobody. When it is back we may find that another was faster.
			s.log.ErrorContext(ctx, "a lease can't be renewed", "shard", shard, "err", err)
		case err == nil && !ok:
			s.log.InfoContext(ctx, "another process has taken over", "shard", shard, "of", d.shards)
			lost = append(lost, shard)
		}
	}
	return lost
}

// offer offers what we serve beyond our share, and takes back the offers that nobody has taken when we do not.
func (d *division) offer(ctx context.Context, share int) {
	ours := keys(d.mine)
	slices.SortFunc(ours, func(a, b int) int { return cmp.Compare(b, a) })
	for n, shard := range ours {
		h := d.mine[shard]
		switch spare := n < len(ours)-share; {
		case spare && h.serves:
			h.offered = true
			_, _ = d.s.bot.Lease(ctx, d.next(shard), "", d.s.timing.lease) // or somebody has taken it
		case !spare && h.offered:
			h.offered = d.s.bot.EndLease(ctx, d.next(shard), "") != nil
		}
	}
}

// handOver offers what we serve and waits until others hear it, as long as there is anybody who may come to. What is left
// is for the caller to let go.
func (d *division) handOver(ctx context.Context) {
	s := d.s
	var early []int
	for shard, h := range d.mine {
		if !h.serves {
			early = append(early, shard)
		}
	}
	d.letGo(early...)
	if len(d.mine) > 0 {
		s.log.InfoContext(ctx, "handing over, if there is anybody to hand over to", "shards", len(d.mine), "of", d.shards)
	}
	hope := time.Now()
	every := time.NewTicker(s.timing.look / 2)
	defer every.Stop()
	for len(d.mine) > 0 {
		held, err := s.bot.Leases(ctx, "")
		if err != nil || count(held, "process of ") == 0 || d.superseded(held) {
			return
		}
		if d.connecting(held) {
			hope = time.Now()
		} else if time.Since(hope) > s.timing.notice {
			s.log.WarnContext(ctx, "no other process takes what we serve", "shards", len(d.mine))
			return
		}
		for shard := range d.mine {
			_, _ = s.bot.Lease(ctx, d.next(shard), "", s.timing.lease) // or somebody has taken it
		}
		d.letGo(d.renew(ctx)...)
		select {
		case <-every.C:
		case <-ctx.Done():
			s.log.WarnContext(ctx, "the other processes are not ready in time", "shards", len(d.mine))
			return
		}
	}
}

// letGo gives up shards: first their leases, so that others need not wait, then their connections.
func (d *division) letGo(shards ...int) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	var closing sync.WaitGroup
	for _, shard := range shards {
		h := d.mine[shard]
		delete(d.mine, shard)
		// A lease that can't be ended ends by itself.
		_ = d.s.bot.EndLease(ctx, d.serving(shard), d.s.name)
		_ = d.s.bot.EndLease(ctx, d.next(shard), d.s.name)
		_ = d.s.bot.EndLease(ctx, d.next(shard), "")
		h.stop()
		closing.Go(func() { <-h.done })
	}
	closing.Wait()
}
