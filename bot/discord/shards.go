package discord

import (
	"context"
	"errors"
	"strconv"
	"time"
)

// shardsRun takes part in dividing the guilds among the processes that serve one database, until ctx ends or connecting
// again would do harm. When the service comes to want more shards, they are connected before the fewer are let go.
func (s *Service) shardsRun(ctx context.Context) error {
	shards, err := s.howMany(ctx)
	if err != nil || shards == 0 {
		return err
	}
	now := s.divide(ctx, shards)
	recount := time.NewTicker(s.timing.recount)
	defer recount.Stop()
	var asked time.Time
	for {
		select {
		case <-now.ended:
			stop, ok := errors.AsType[*StopError](now.err)
			if !ok || stop.code != 4011 || s.config.Shards > 0 {
				return now.err
			}
			s.log.WarnContext(ctx, "more shards are wanted: starting anew", "had", now.shards)
			if sleep(ctx, s.timing.identify, nil) != nil {
				return nil
			}
			if shards, err = s.howMany(ctx); err != nil || shards == 0 {
				return err
			}
			now = s.divide(ctx, shards)
			continue
		case <-recount.C:
		case <-now.outgrown:
		}
		if s.config.Shards > 0 || time.Since(asked) < s.timing.recount/60 {
			continue
		}
		asked = time.Now()
		if g, err := s.askGateway(ctx); err == nil && g.Shards > now.shards {
			s.log.InfoContext(ctx, "more shards are wanted: they are connected first", "had", now.shards, "want", g.Shards)
			now = s.redivide(ctx, now, g.Shards)
		}
	}
}

// redivide begins a division, and ends the one before it as soon as all of the new one's shards are heard, by whomever.
func (s *Service) redivide(ctx context.Context, old *division, shards int) *division {
	next := s.divide(ctx, shards)
	every := time.NewTicker(s.timing.look)
	defer every.Stop()
	for waiting := true; waiting; {
		select {
		case <-every.C:
			held, err := s.bot.Leases(ctx, "shard ")
			waiting = err != nil || !whole(held, shards)
		case <-old.ended: // by the service, or because we stop
			waiting = false
		case <-next.ended: // its error counts
			waiting = false
		}
	}
	old.stop(nil)
	<-old.ended
	return next
}

// howMany finds the number of shards: as configured, else as the service recommends; 0 when we are stopped first.
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
			return 0, nil
		}
		if r, ok := errors.AsType[*refusal](err); ok && r.status == 401 || errors.Is(err, errDenied) {
			return 0, &StopError{4004, fatal[4004]}
		}
		wait := backoff(s.timing, failures)
		s.log.WarnContext(ctx, "the service does not answer", "err", err, "again in", wait)
		if sleep(ctx, wait, nil) != nil {
			return 0, nil
		}
	}
}

// shardOf is the shard that hears a guild (Discord, Topics, Gateway, Sharding).
func shardOf(guild string, shards int) (int, bool) {
	id, err := strconv.ParseUint(guild, 10, 64)
	if err != nil || shards < 1 {
		return 0, false
	}
	return int(id >> 22 % uint64(shards)), true
}
