package discord

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"spareounce/bot"
)

// interaction is what a member did (Discord, Interactions, Receiving and Responding). We read only what we need, so what is
// new or unknown in it does no harm.
type interaction struct {
	ID          string          `json:"id"`
	Application string          `json:"application_id"`
	Type        int             `json:"type"`
	Token       string          `json:"token"`
	Guild       string          `json:"guild_id"`
	Channel     string          `json:"channel_id"`
	Member      *guildMember    `json:"member"`
	User        *user           `json:"user"`
	Locale      string          `json:"locale"`
	Context     *int            `json:"context"` // where it was: a server, a private channel with us, another private one
	Owners      owners          `json:"authorizing_integration_owners"`
	Message     *seenMessage    `json:"message"`
	Data        json.RawMessage `json:"data"`

	received time.Time
}

// The kinds of interaction.
const (
	commandUsed   = 2
	componentUsed = 3
	autocomplete  = 4
	formSent      = 5
)

type guildMember struct {
	User        user     `json:"user"`
	Nick        string   `json:"nick"`
	Roles       []string `json:"roles"`
	Permissions string   `json:"permissions"`
}

type user struct {
	ID         string `json:"id"`
	Username   string `json:"username"`
	GlobalName string `json:"global_name"`
	Bot        bool   `json:"bot"`
}

func (u user) name() string {
	if u.GlobalName != "" {
		return u.GlobalName
	}
	return u.Username
}

type seenMessage struct {
	ID          string   `json:"id"`
	Content     string   `json:"content"`
	Flags       int      `json:"flags"`
	Attachments []upload `json:"attachments"`
}

// owners say who installed us where an interaction was: a server, an account or both, by kind of installation.
type owners map[string]string

const byServer = "0"

// amongOthers reports whether people other than the member may read what we say there: in a server, and in private
// channels that are not with us alone, where accounts that installed us for themselves might use us.
func (i *interaction) amongOthers() bool {
	const otherPrivate = 2
	return i.Guild != "" || i.Context != nil && *i.Context == otherPrivate
}

// uninvited reports whether it was in a server that has not invited us: only the account brought us there.
func (i *interaction) uninvited() bool {
	_, invited := i.Owners[byServer]
	return i.Guild != "" && len(i.Owners) > 0 && !invited
}

// account is who did it: in a server a member, in private a user.
func (i *interaction) account() string {
	if i.Member != nil && i.Member.User.ID != "" {
		return i.Member.User.ID
	}
	if i.User != nil {
		return i.User.ID
	}
	return ""
}

// named is what who did it is called.
func (i *interaction) named() string {
	name := ""
	if i.Member != nil {
		name = cmp.Or(i.Member.Nick, i.Member.User.name())
	}
	if i.User != nil {
		name = cmp.Or(name, i.User.name())
	}
	return name
}

// speaker is who did it, as the bot knows members. In private the service does not say whether they keep a group.
func (i *interaction) speaker(g bot.Group) bot.Speaker {
	return bot.Speaker{Account: i.account(), Name: i.named(), Keeper: i.keeper(g), Language: i.Locale}
}

// keeper reports whether the member runs the group: who may manage the server, or has the role that it named.
func (i *interaction) keeper(g bot.Group) bool {
	if i.Member == nil {
		return false
	}
	if permits(i.Member.Permissions, manageGuild) || permits(i.Member.Permissions, administrator) {
		return true
	}
	for _, role := range i.Member.Roles {
		if g.KeeperRole != "" && role == g.KeeperRole {
			return true
		}
	}
	return false
}

// The service forgets an interaction that is not answered within three seconds, and the token after a quarter of an hour.
const (
	answerWithin = 3 * time.Second
	tokenLife    = 15 * time.Minute
)

// dead reports whether an interaction is too old to be answered, by the time in its id. An id whose time makes no sense
// tells nothing.
func (i *interaction) dead(now time.Time, after time.Duration) bool {
	born, ok := bornAt(i.ID)
	age := now.Sub(born)
	return ok && age > after && age < tokenLife
}

// waited is how long a member has waited by now: since they did it, as the id says, where that can be so; what a session kept for
// us while it was lost is old when it comes. Else since we heard it.
func (i *interaction) waited(now time.Time) time.Duration {
	waited := now.Sub(i.received)
	if born, ok := bornAt(i.ID); ok && now.Sub(born) < answerWithin+usualTiming.ignoreSkew {
		return max(waited, now.Sub(born))
	}
	return waited
}

// bornAt is the time in an id (Discord, Reference, Snowflakes).
func bornAt(id string) (time.Time, bool) {
	n, err := strconv.ParseUint(id, 10, 64)
	if err != nil {
		return time.Time{}, false
	}
	return time.UnixMilli(int64(n>>22) + 1420070400000), true
}

// begin answers an interaction beside all else.
func (s *Service) begin(i *interaction) {
	i.received = time.Now()
	s.spawn("an interaction", func() {
		ctx, cancel := context.WithDeadline(s.living, i.received.Add(tokenLife-time.Minute))
		defer cancel()
		if s.ready(ctx) != nil || i.account() == "" {
			return
		}
		if i.dead(time.Now(), s.timing.dead+s.timing.ignoreSkew) {
			s.log.InfoContext(ctx, "dropped an interaction that came too late", "interaction", i.ID)
			return
		}
		if s.stats != nil {
			s.stats("heard", i.ID, 0)
		}
		if i.Type == autocomplete {
			s.suggest(ctx, i)
			return
		}
		s.answer(ctx, i)
	})
}

// answer does what an interaction asks, once, and says what came of it.
func (s *Service) answer(ctx context.Context, i *interaction) {
	first, err := s.bot.FirstHeard(ctx, "discord "+i.ID)
	if err != nil {
		s.log.ErrorContext(ctx, "an interaction is not answered", "interaction", i.ID, "err", err)
		s.exchange(i).sayBroken(ctx)
		return
	}
	if !first {
		return
	}
	e := s.exchange(i)
	defer e.patience(ctx, s.timing.answer-i.waited(time.Now()))()
	defer func() {
		if broken := recover(); broken != nil {
			e.sayBroken(ctx)
			panic(broken) // noted by who called us
		}
	}()
	if err := s.act(ctx, e); err != nil {
		s.log.ErrorContext(ctx, "an interaction is not answered", "interaction", i.ID, "kind", i.Type, "err", err)
		e.sayBroken(ctx)
	}
}

// act does what an interaction asks.
func (s *Service) act(ctx context.Context, e *exchange) error {
	switch e.i.Type {
	case commandUsed:
		return s.command(ctx, e)
	case componentUsed:
		return s.component(ctx, e)
	case formSent:
		return s.form(ctx, e)
	}
	return fmt.Errorf("an interaction of kind %d", e.i.Type)
}
