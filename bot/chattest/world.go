package chattest

import (
	"slices"
	"strconv"
	"time"
)

// epoch is the first second of 2015, from which snowflakes count milliseconds (Discord, Reference, Snowflakes).
const epoch = 1420070400000

// newID gives the next snowflake. The caller holds s.mu, or nobody else has the server yet.
func (s *Server) newID() string {
	id := uint64(s.settings.now().UnixMilli()-epoch) << 22
	if id <= s.lastID {
		id = s.lastID + 1
	}
	s.lastID = id
	return strconv.FormatUint(id, 10)
}

// BornAt is the time inside a snowflake.
func BornAt(id string) time.Time {
	n, _ := strconv.ParseUint(id, 10, 64)
	return time.UnixMilli(int64(n>>22) + epoch).UTC()
}

// An application is the bot's own entry in the service.
type application struct {
	ID      string
	bot     *Member
	global  []*command
	byGuild map[string][]*command
	created map[string][]time.Time // when commands were created, by guild; "" is global
}

func newApplication(s *Server) *application {
	a := &application{ID: s.newID(), byGuild: map[string][]*command{}, created: map[string][]time.Time{}}
	a.bot = &Member{s: s, ID: a.ID, Name: "standin", Locale: "en-US", bot: true}
	s.members[a.ID] = a.bot
	return a
}

// A Guild is one server of the service, which the bot is in.
type Guild struct {
	s           *Server
	ID          string
	Name        string
	Owner       *Member
	Locale      string
	joined      map[string]*seat
	roles       []*Role
	channels    []*Channel
	unavailable bool
	gone        bool // the bot was removed
}

// A Role gives permissions to the members that hold it.
type Role struct {
	ID          string
	Name        string
	Permissions Permissions
	guild       *Guild
}

// A seat is a member's place in one guild.
type seat struct {
	member *Member
	nick   string
	roles  []string
	joined time.Time
}

// A Channel is a text channel, a thread in one, or a private conversation with the bot.
type Channel struct {
	s        *Server
	ID       string
	Name     string
	Kind     ChannelKind
	guild    *Guild
	parent   *Channel
	denied   map[string]Permissions // by role or member id
	in       map[string]time.Time   // of a thread: who joined, and when; of a private conversation: the one member
	archived bool
	locked   bool
	closed   bool // of a private thread: only moderators and who made it add members
	hides    int  // minutes of stillness after which a thread leaves the list
	messages []string
}

// A ChannelKind is Discord's channel type.
type ChannelKind int

// The channel types that the stand-in knows.
const (
	Text          ChannelKind = 0
	Private       ChannelKind = 1
	Category      ChannelKind = 4
	PublicThread  ChannelKind = 11
	PrivateThread ChannelKind = 12
)

// Guild adds a guild with the bot in it, owned by a member called "owner of NAME", with one channel "general". The bot has
// the permissions that a collector's bot asks for; see BotMay. If the bot is connected it is told.
func (s *Server) Guild(name string) *Guild {
	s.mu.Lock()
	g := &Guild{s: s, ID: s.newID(), Name: name, Locale: "en-US", joined: map[string]*seat{}}
	s.guilds[g.ID] = g
	g.roles = []*Role{
		{ID: g.ID, Name: "@everyone", Permissions: Everyone, guild: g},
		{ID: s.newID(), Name: s.app.bot.Name, Permissions: BotUsual, guild: g},
	}
	g.Owner = s.newMember("owner of " + name)
	g.sit(g.Owner)
	g.sit(s.app.bot).roles = []string{g.roles[1].ID}
	g.addChannel("general", Text, nil)
	s.mu.Unlock()
	s.dispatch(event{name: "GUILD_CREATE", guild: g, intent: Guilds, data: g.full})
	return g
}

func (g *Guild) sit(m *Member) *seat {
	place := &seat{member: m, joined: g.s.settings.now()}
	g.joined[m.ID] = place
	return place
}

func (g *Guild) addChannel(name string, kind ChannelKind, parent *Channel) *Channel {
	c := &Channel{
		s: g.s, ID: g.s.newID(), Name: name, Kind: kind, guild: g, parent: parent,
		denied: map[string]Permissions{}, in: map[string]time.Time{},
	}
	g.s.channels[c.ID] = c
	g.channels = append(g.channels, c)
	return c
}

// Channel gives the guild's channel of that name, which is made if there is none. The first is "general".
func (g *Guild) Channel(name string) *Channel {
	g.s.mu.Lock()
	for _, c := range g.channels {
		if c.Name == name {
			g.s.mu.Unlock()
			return c
		}
	}
	c := g.addChannel(name, Text, nil)
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "CHANNEL_CREATE", guild: g, intent: Guilds, data: c.wire})
	return c
}

// Delete removes a channel, as a keeper of the guild would.
func (c *Channel) Delete() {
	c.s.mu.Lock()
	wire := c.wire()
	c.drop()
	c.s.mu.Unlock()
	name := "CHANNEL_DELETE"
	if c.parent != nil {
		name = "THREAD_DELETE"
	}
	c.s.dispatch(event{name: name, guild: c.guild, intent: Guilds, data: func() object { return wire }})
}

func (c *Channel) drop() {
	delete(c.s.channels, c.ID)
	if c.guild != nil {
		c.guild.channels = slices.DeleteFunc(c.guild.channels, func(o *Channel) bool { return o == c })
	}
}

// Deny takes permissions in this channel from a role or, by its id, a member; Deny(srv.ApplicationID(), …) from the bot.
func (c *Channel) Deny(id string, p Permissions) {
	c.s.mu.Lock()
	c.denied[id] |= p
	c.s.mu.Unlock()
	c.s.dispatch(event{name: "CHANNEL_UPDATE", guild: c.guild, intent: Guilds, data: c.wire})
}

// Allow gives back what Deny took.
func (c *Channel) Allow(id string, p Permissions) {
	c.s.mu.Lock()
	c.denied[id] &^= p
	c.s.mu.Unlock()
	c.s.dispatch(event{name: "CHANNEL_UPDATE", guild: c.guild, intent: Guilds, data: c.wire})
}

// Role adds a role to the guild.
func (g *Guild) Role(name string, p Permissions) *Role {
	g.s.mu.Lock()
	r := &Role{ID: g.s.newID(), Name: name, Permissions: p, guild: g}
	g.roles = append(g.roles, r)
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_ROLE_CREATE", guild: g, intent: Guilds, data: func() object {
		return object{"guild_id": g.ID, "role": r.wire()}
	}})
	return r
}

// Give hands a role to a member.
func (r *Role) Give(m *Member) {
	r.guild.s.mu.Lock()
	defer r.guild.s.mu.Unlock()
	if place := r.guild.joined[m.ID]; place != nil && !slices.Contains(place.roles, r.ID) {
		place.roles = append(place.roles, r.ID)
	}
}

// BotMay sets what the bot's own role permits in this guild.
func (g *Guild) BotMay(p Permissions) {
	g.s.mu.Lock()
	g.roles[1].Permissions = p
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_ROLE_UPDATE", guild: g, intent: Guilds, data: func() object {
		return object{"guild_id": g.ID, "role": g.roles[1].wire()}
	}})
}

// Outage makes the guild unavailable, and available again: the bot is told, and must not take it for a removal.
func (g *Guild) Outage(on bool) {
	g.s.mu.Lock()
	g.unavailable = on
	g.s.mu.Unlock()
	if on {
		g.s.dispatch(event{name: "GUILD_DELETE", guild: g, intent: Guilds, data: g.outline})
		return
	}
	g.s.dispatch(event{name: "GUILD_CREATE", guild: g, intent: Guilds, data: g.full})
}

// Remove takes the bot out of the guild, as a keeper who removes it does.
func (g *Guild) Remove() {
	g.s.mu.Lock()
	g.gone = true
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_DELETE", guild: g, intent: Guilds, data: func() object { return object{"id": g.ID} }})
}

// Invite brings a removed bot back.
func (g *Guild) Invite() {
	g.s.mu.Lock()
	g.gone = false
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_CREATE", guild: g, intent: Guilds, data: g.full})
}
