package chattest

import "strconv"

// Permissions is Discord's bit set of permissions.
type Permissions uint64

// The permissions that the stand-in looks at (Discord, Topics, Permissions).
const (
	Administrator          Permissions = 1 << 3
	ManageChannels         Permissions = 1 << 4
	ManageGuild            Permissions = 1 << 5
	ViewChannel            Permissions = 1 << 10
	SendMessages           Permissions = 1 << 11
	ManageMessages         Permissions = 1 << 13
	EmbedLinks             Permissions = 1 << 14
	AttachFiles            Permissions = 1 << 15
	ReadMessageHistory     Permissions = 1 << 16
	MentionEveryone        Permissions = 1 << 17
	useExternalEmojis      Permissions = 1 << 18
	UseApplicationCommands Permissions = 1 << 31
	ManageThreads          Permissions = 1 << 34
	CreatePublicThreads    Permissions = 1 << 35
	CreatePrivateThreads   Permissions = 1 << 36
	SendMessagesInThreads  Permissions = 1 << 38
	allPermissions         Permissions = 1<<52 - 1
)

// Everyone is what @everyone may do in a new guild, as far as the stand-in looks.
const Everyone = ViewChannel | SendMessages | EmbedLinks | AttachFiles | ReadMessageHistory | UseApplicationCommands |
	CreatePublicThreads | CreatePrivateThreads | SendMessagesInThreads

// BotUsual is what a new guild gives the bot's own role: to see, write, attach, and to make private threads.
const BotUsual = ViewChannel | SendMessages | EmbedLinks | AttachFiles | ReadMessageHistory | CreatePrivateThreads |
	SendMessagesInThreads

func (p Permissions) String() string { return strconv.FormatUint(uint64(p), 10) }

// permissions computes what a member may do in a channel: the owner and administrators everything, others the sum of their
// roles less what the channel denies to @everyone, to their roles and to them (Discord, Permission Overwrites). Threads
// take after their parent. The caller holds s.mu.
func (c *Channel) permissions(m *Member) Permissions {
	if c.guild == nil {
		return Everyone &^ UseApplicationCommands
	}
	place := c.guild.joined[m.ID]
	if place == nil {
		return 0
	}
	p := c.guild.permissions(place)
	if p == allPermissions {
		return p
	}
	at := c
	if c.parent != nil {
		at = c.parent
	}
	p &^= at.denied[c.guild.ID]
	for _, id := range place.roles {
		p &^= at.denied[id]
	}
	return p &^ at.denied[m.ID]
}

func (g *Guild) permissions(place *seat) Permissions {
	if g.Owner == place.member {
		return allPermissions
	}
	p := g.roles[0].Permissions
	for _, r := range g.roles[1:] {
		for _, id := range place.roles {
			if r.ID == id {
				p |= r.Permissions
			}
		}
	}
	if p&Administrator != 0 {
		return allPermissions
	}
	return p
}

// sees reports whether a member can see what is written in a channel.
func (c *Channel) sees(m *Member) bool {
	switch {
	case c.Kind == Private:
		_, in := c.in[m.ID]
		return in || m.bot
	case c.permissions(m)&ViewChannel == 0:
		return false
	case c.Kind == PrivateThread:
		_, in := c.in[m.ID]
		return in || c.permissions(m)&ManageThreads != 0
	}
	return true
}
