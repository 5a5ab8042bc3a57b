package discord

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"time"
)

// shardsRun shares the shards among the processes that serve one database: each holds leases on its part, and takes over
// what another has let go of or can no longer renew.
func (s *Service) shardsRun(ctx context.Context) error {
	for {
		shards, err := s.howMany(ctx)
		if err != nil {
			return err
		}
		err = s.holdShards(ctx, shards)
		if stop, ok := errors.AsType[*StopError](err); ok && stop.code == 4011 && s.config.Shards == 0 {
			s.log.WarnContext(ctx, "more shards are wanted: starting anew", "had", shards)
			if err := sleep(ctx, s.timing.identify, nil); err != nil {
				return nil
			}
			continue
		}
		return err
	}
}

// howMany finds the number of shards: as configured, else as the service recommends.
func (s *Service) howMany(ctx context.Context) (int, error) {
	if s.config.Shards > 0 {
		return s.config.Shards, nil
	}
	for failures := 1; ; failures++ {
		g, err := s.askGateway(ctx)
		if err == nil {
			return max(g.Shards, 1), nil
		}
		if ctx.Err() != nil {
			return 0, context.Cause(ctx)
		}
		if r, ok := errors.AsType[*refusal](err); ok && r.status == 401 || errors.Is(err, errDenied) {
			return 0, &StopError{4004, fatal[4004]}
		}
		wait := backoff(s.timing, failures)
		s.log.WarnContext(ctx, "the service does not answer", "err", err, "again in", wait)
		if err := sleep(ctx, wait, nil); err != nil {
			return 0, err
		}
	}
}

// held is a shard that this process serves.
type held struct {
	stop  context.CancelFunc
	since time.Time // last renewed
	done  chan struct{}
}

// holdShards leases as many shards as are our share, runs them, and renews the leases until ctx ends or a shard must not
// be connected again.
func (s *Service) holdShards(ctx context.Context, shards int) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	mine := map[int]*held{}
	var running sync.WaitGroup
	release := func(shard int) {
		h := mine[shard]
		delete(mine, shard)
		h.stop()
		<-h.done
		_ = s.bot.EndLease(context.WithoutCancel(ctx), leaseName(shard, shards), s.name)
	}
	start := func(shard int) {
		run, end := context.WithCancel(ctx)
		h := &held{stop: end, since: time.Now(), done: make(chan struct{})}
		mine[shard] = h
		running.Go(func() {
			defer close(h.done)
			s.serving.Add(1)
			defer s.serving.Add(-1)
			if err := s.shardRun(run, shard, shards, func() {}); err != nil {
				stop(err)
			}
		})
	}
	every := time.NewTicker(s.timing.lease / 6)
	defer every.Stop()
	for {
		s.shareOut(ctx, shards, mine, start, release)
		select {
		case <-every.C:
			continue
		case <-ctx.Done():
		}
		for shard := range mine {
			release(shard)
		}
		_ = s.bot.EndLease(context.WithoutCancel(ctx), "process "+s.name, s.name)
		running.Wait()
		if err, ok := errors.AsType[*StopError](context.Cause(ctx)); ok {
			return err
		}
		return nil
	}
}

func leaseName(shard, shards int) string { return fmt.Sprintf("shard %d of %d", shard, shards) }

// shareOut renews what we hold, and takes or lets go until we hold our share.
func (s *Service) shareOut(ctx context.Context, shards int, mine map[int]*held, start, release func(int)) {
	for shard, h := range mine {
		switch ok, err := s.bot.Lease(ctx, leaseName(shard, shards), s.name, s.timing.lease); {
		case err != nil && ctx.Err() == nil:
			// Without the database nothing can be answered, by nobody. When it is back we may find that another was faster.
			s.log.ErrorContext(ctx, "a lease can't be renewed", "shard", shard, "err", err)
		case err == nil && ok:
			h.since = time.Now()
		case err == nil:
			s.log.WarnContext(ctx, "another process has taken over", "shard", shard)
			release(shard)
		}
	}
	if _, err := s.bot.Lease(ctx, "process "+s.name, s.name, s.timing.lease); err != nil {
		return
	}
	processes, err := s.bot.Leases(ctx, "process ")
	if err != nil {
		return
	}
	s.door.limits.share(processes)
	all := s.config.Shard
	if len(all) == 0 {
		for shard := range shards {
			all = append(all, shard)
		}
	}
	share := (len(all) + max(processes, 1) - 1) / max(processes, 1)
	for _, shard := range all {
		if mine[shard] != nil || len(mine) >= share {
			continue
		}
		if ok, err := s.bot.Lease(ctx, leaseName(shard, shards), s.name, s.timing.lease); err == nil && ok {
			start(shard)
		}
	}
	for len(mine) > share {
		release(slices.MaxFunc(keys(mine), cmp.Compare))
	}
}

func keys[K comparable, V any](m map[K]V) []K {
	all := make([]K, 0, len(m))
	for k := range m {
		all = append(all, k)
	}
	return all
}

// shardOf is the shard that hears a guild (Discord, Topics, Gateway, Sharding).
func shardOf(guild string, shards int) (int, bool) {
	id, err := strconv.ParseUint(guild, 10, 64)
	if err != nil || shards < 1 {
		return 0, false
	}
	return int(id >> 22 % uint64(shards)), true
}
