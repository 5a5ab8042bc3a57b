package discord

import (
	"context"
	"crypto/rand"
	"errors"
	"strconv"
	"sync/atomic"
	"time"
)

// reserve is how many of the day's identifications we leave untouched: with none left, the service resets the token.
const reserve = 20

// withinBudget waits until one more session may begin: within the day's allowance, by the service's count and by our own,
// which outlives a restart. A session that is taken up counts for nothing.
func (s *Service) withinBudget(ctx context.Context, g gateway) error {
	if total := g.Limit.Total; total > 0 && g.Limit.Remaining <= min(reserve, total/10) {
		wait := max(time.Duration(g.Limit.ResetAfter)*time.Millisecond, time.Second)
		s.log.ErrorContext(ctx, "nearly all of the day's connections are used up: waiting, for the service would reset the token", "wait", wait)
		if err := sleep(ctx, min(wait, time.Hour), nil); err != nil {
			return err
		}
		return errors.New("the day's connections were used up")
	}
	day := 1000
	if g.Limit.Total > 0 {
		day = g.Limit.Total
	}
	for {
		wait, err := s.bot.Start(ctx, "identify", day-reserve, 24*time.Hour)
		if err != nil || wait == 0 {
			return err
		}
		s.log.ErrorContext(ctx, "we have connected too often today: waiting", "wait", wait)
		if err := sleep(ctx, wait, nil); err != nil {
			return err
		}
	}
}

// slot is the leave to identify, of which there is one at a time for all shards of one rate limit key, in all processes
// (Discord, Topics, Gateway, Rate Limiting and Concurrency). It is held until the IDENTIFY is on its way, however long the
// connection takes, and for as long after it as the service wants between two. A slot whose holder dies ends by itself.
type slot struct {
	s            *Service
	name, holder string
	used         atomic.Bool
}

// takeSlot waits for a slot.
func (s *Service) takeSlot(ctx context.Context, key int) (*slot, error) {
	o := &slot{s: s, name: "identify " + strconv.Itoa(key), holder: s.name + " " + rand.Text()[:8]}
	for {
		ok, err := s.bot.Lease(ctx, o.name, o.holder, s.timing.open+s.timing.identify)
		if err != nil || ok {
			return o, err
		}
		if err := sleep(ctx, max(s.timing.identify/20, 5*time.Millisecond), nil); err != nil {
			return nil, err
		}
	}
}

// identified begins the pause after an IDENTIFY.
func (o *slot) identified() {
	o.used.Store(true)
	o.s.spawn("the pause after an identification", func() {
		if _, err := o.s.bot.Lease(o.s.living, o.name, o.holder, o.s.timing.identify); err != nil {
			o.s.log.Warn("the next shard waits longer than it must", "err", err)
		}
	})
}

// end gives back a slot that was not used.
func (o *slot) end() {
	if o.used.Load() {
		return
	}
	if err := o.s.bot.EndLease(context.WithoutCancel(o.s.living), o.name, o.holder); err != nil {
		o.s.log.Warn("the next shard waits longer than it must", "err", err)
	}
}
