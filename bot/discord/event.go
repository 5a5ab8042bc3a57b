package discord

import (
	"context"
	"encoding/json"
	"sync"
	"time"
)

// event takes an event from any link. What we do not know is ignored.
func (s *Service) event(l *link, kind string, sequence int64, data json.RawMessage) {
	switch kind {
	case "INTERACTION_CREATE":
		var i interaction
		if err := json.Unmarshal(data, &i); err != nil {
			s.log.Warn("an interaction can't be read", "err", err)
			return
		}
		s.begin(&i)
	case "READY":
		var ready struct {
			Guilds []struct {
				ID string `json:"id"`
			} `json:"guilds"`
			Shard [2]int `json:"shard"`
		}
		if err := json.Unmarshal(data, &ready); err != nil {
			s.log.Warn("READY can't be read", "err", err)
			return
		}
		has := map[string]bool{}
		for _, g := range ready.Guilds {
			has[g.ID] = true
		}
		s.background("the guilds of a shard", func(ctx context.Context) error { return s.reconcile(ctx, has, ready.Shard) })
	case "GUILD_CREATE", "GUILD_UPDATE", "GUILD_DELETE":
		var g guildNews
		if err := json.Unmarshal(data, &g); err != nil || g.ID == "" {
			s.log.Warn("news of a guild can't be read", "err", err)
			return
		}
		g.gone = kind == "GUILD_DELETE" && !g.Unavailable
		if g.Unavailable || !s.guilds.newer(g, l, sequence) {
			return // an outage is no removal
		}
		s.background("news of a guild", func(ctx context.Context) error {
			s.quietly <- struct{}{} // a shard's guilds come all at once
			defer func() { <-s.quietly }()
			return s.guild(ctx, g)
		})
	}
}

// guildNews is what an event says of a guild.
type guildNews struct {
	ID            string `json:"id"`
	Name          string `json:"name"`
	Unavailable   bool   `json:"unavailable"`
	SystemChannel string `json:"system_channel_id"`
	gone          bool
}

// guild records what an event said of a guild, if that is new.
func (s *Service) guild(ctx context.Context, g guildNews) error {
	if g.gone {
		s.log.InfoContext(ctx, "sent away", "guild", g.ID)
		return s.bot.SentAway(ctx, g.ID)
	}
	return s.bot.Joined(ctx, g.ID, shorten(g.Name, 100))
}

// reconcile finds the groups that sent us away while we did not hear: those of this shard that READY does not list.
func (s *Service) reconcile(ctx context.Context, has map[string]bool, shard [2]int) error {
	known, err := s.bot.Groups(ctx)
	if err != nil {
		return err
	}
	for _, chat := range known {
		if of, ok := shardOf(chat, max(shard[1], 1)); !ok || of != shard[0] || has[chat] {
			continue
		}
		s.log.InfoContext(ctx, "sent away while we did not hear", "guild", chat)
		if err := s.bot.SentAway(ctx, chat); err != nil {
			return err
		}
	}
	return nil
}

// guildBook holds, for each guild, the last we heard of it: events can overtake each other on their way to us.
type guildBook struct {
	mu   sync.Mutex
	last map[string]lastNews
}

type lastNews struct {
	link     *link
	sequence int64
	gone     bool
	system   string
	name     string
}

// newer records news of a guild, and reports whether they are newer than the last and say something new.
func (b *guildBook) newer(g guildNews, l *link, sequence int64) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.last == nil {
		b.last = map[string]lastNews{}
	}
	last, known := b.last[g.ID]
	if known && last.link == l && sequence < last.sequence {
		return false
	}
	b.last[g.ID] = lastNews{l, sequence, g.gone, g.SystemChannel, g.Name}
	return !known || last.gone != g.gone || last.name != g.Name
}

// system is a guild's channel for news from the service, where new members are greeted; "" when there is none.
func (b *guildBook) system(guild string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.last[guild].system
}

// background does what nobody waits for, again until it succeeds, for a while.
func (s *Service) background(what string, do func(ctx context.Context) error) {
	s.spawn(what, func() {
		ctx, cancel := context.WithTimeout(s.living, 2*time.Minute)
		defer cancel()
		if err := s.ready(ctx); err != nil {
			return
		}
		for failures := 1; ; failures++ {
			err := do(ctx)
			if err == nil || ctx.Err() != nil {
				return
			}
			s.log.WarnContext(ctx, "not done yet", "what", what, "err", err)
			if sleep(ctx, backoff(s.timing, failures), nil) != nil {
				return
			}
		}
	})
}
