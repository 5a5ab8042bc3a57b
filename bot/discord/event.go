package discord

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"
)

// event takes an event from any link. What we do not know is ignored.
func (s *Service) event(l *link, kind string, sequence int64, data json.RawMessage) {
	at := heard{l.place, sequence, time.Now()}
	switch kind {
	case "INTERACTION_CREATE":
		var i interaction
		if err := decode(data, &i); err != nil {
			s.log.Warn("an interaction can't be read", "err", err)
			return
		}
		s.begin(&i)
	case "READY":
		var ready struct {
			Guilds []struct {
				ID string `json:"id"`
			} `json:"guilds"`
			User user `json:"user"`
		}
		if err := decode(data, &ready); err != nil {
			s.log.Warn("READY can't be read", "err", err)
			return
		}
		has := map[string]bool{}
		for _, g := range ready.Guilds {
			has[g.ID] = true
		}
		s.joined.Do(func() {
			s.say(fmt.Sprintf("Connected as %s, in %d servers so far.", ready.User.name(), len(ready.Guilds)))
		})
		s.background("the guilds of a shard", func(ctx context.Context) error {
			return s.reconcile(ctx, has, at)
		})
	case "GUILD_CREATE", "GUILD_UPDATE", "GUILD_DELETE":
		var g guildNews
		if err := decode(data, &g); err != nil || g.ID == "" {
			s.log.Warn("news of a guild can't be read", "err", err)
			return
		}
		g.gone = kind == "GUILD_DELETE" && !g.Unavailable
		if g.Unavailable || !s.guilds.newer(g, at) {
			return // an outage is no removal
		}
		s.background("news of a guild", func(ctx context.Context) error {
			s.quietly <- struct{}{} // a shard's guilds come all at once
			defer func() { <-s.quietly }()
			return s.guild(ctx, g.ID)
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

// guild records the last that was heard of a guild, which may be newer than what made us ask: whoever is slower must not
// have the last word.
func (s *Service) guild(ctx context.Context, guild string) error {
	defer s.about.lock("guild " + guild)()
	last := s.guilds.of(guild)
	if last.gone {
		s.log.InfoContext(ctx, "sent away", "guild", guild)
		return s.bot.SentAway(ctx, guild)
	}
	return s.bot.Joined(ctx, guild, shorten(last.name, 100))
}

// reconcile finds the groups that sent us away while we did not hear: those of this shard that READY does not list, and of
// which nothing was heard since. And it finds those that have us again, when another process heard that they sent us away.
func (s *Service) reconcile(ctx context.Context, has map[string]bool, ready heard) error {
	known, err := s.bot.Groups(ctx)
	if err != nil {
		return err
	}
	for _, chat := range known {
		if of, ok := shardOf(chat, max(ready.place.shards, 1)); !ok || of != ready.place.shard || has[chat] {
			continue
		}
		s.guilds.newer(guildNews{ID: chat, Name: s.guilds.of(chat).name, gone: true}, ready)
		if !s.guilds.of(chat).gone {
			continue // heard of already
		}
		if err := s.guild(ctx, chat); err != nil {
			return err
		}
	}
	for chat := range has {
		if last := s.guilds.of(chat); !slices.Contains(known, chat) && last.name != "" && !last.gone {
			if err := s.guild(ctx, chat); err != nil {
				return err
			}
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
	heard
	gone   bool
	system string
	name   string
}

// heard says in which session something was heard, as its how manieth event, and when.
type heard struct {
	place    *place // in the session that told it
	sequence int64
	when     time.Time
}

// before reports whether something was said before something else: in one session its numbers tell, for events overtake each
// other on their way to us, and in two the time.
func (h heard) before(other heard) bool {
	if h.place == other.place {
		return h.sequence < other.sequence
	}
	return h.when.Before(other.when)
}

// newer records news of a guild, and reports whether they are newer than the last and say something new.
func (b *guildBook) newer(g guildNews, at heard) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.last == nil {
		b.last = map[string]lastNews{}
	}
	last, known := b.last[g.ID]
	if known && at.before(last.heard) {
		return false
	}
	g.Name = cmp.Or(g.Name, last.name)
	if g.gone {
		g.SystemChannel = last.system // a removal does not say it
	}
	b.last[g.ID] = lastNews{at, g.gone, g.SystemChannel, g.Name}
	return !known || last.gone != g.gone || last.name != g.Name
}

// of is the last that was heard of a guild. Its system channel is where the service greets new members; "" when there is
// none.
func (b *guildBook) of(guild string) lastNews {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.last[guild]
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
