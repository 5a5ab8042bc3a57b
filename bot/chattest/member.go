package chattest

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A Member is a person with an account, who may be in several guilds.
type Member struct {
	s         *Server
	ID        string
	Name      string
	Locale    string // of the person's client, such as "de"
	bot       bool
	closedDMs bool
	dm        *Channel
}

// Member adds a person who is in no guild yet.
func (s *Server) Member(name string) *Member {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.newMember(name)
}

func (s *Server) newMember(name string) *Member {
	m := &Member{s: s, ID: s.newID(), Name: name, Locale: "en-US"}
	s.members[m.ID] = m
	return m
}

// Member gives the guild's member of that name, who joins if there is none.
func (g *Guild) Member(name string) *Member {
	g.s.mu.Lock()
	for _, place := range g.joined {
		if place.member.Name == name {
			g.s.mu.Unlock()
			return place.member
		}
	}
	m := g.s.newMember(name)
	g.s.mu.Unlock()
	g.Join(m)
	return m
}

// Join brings a person into the guild. The bot hears of it if it has the members intent.
func (g *Guild) Join(m *Member) {
	g.s.mu.Lock()
	place := g.sit(m)
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_MEMBER_ADD", guild: g, intent: GuildMembers, data: func() object {
		o := place.withUser()
		o["guild_id"] = g.ID
		return o
	}})
}

// Leave takes a person out of the guild.
func (g *Guild) Leave(m *Member) {
	g.s.mu.Lock()
	delete(g.joined, m.ID)
	for _, c := range g.channels {
		delete(c.in, m.ID)
	}
	g.s.mu.Unlock()
	g.s.dispatch(event{name: "GUILD_MEMBER_REMOVE", guild: g, intent: GuildMembers, data: func() object {
		return object{"guild_id": g.ID, "user": m.user()}
	}})
}

// Nickname sets what a member is called in this guild.
func (g *Guild) Nickname(m *Member, nick string) {
	g.s.mu.Lock()
	defer g.s.mu.Unlock()
	g.joined[m.ID].nick = nick
}

// CloseDMs makes private messages from the bot be refused with 50007, or lets them in again.
func (m *Member) CloseDMs(closed bool) {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	m.closedDMs = closed
}

// DM is the private conversation of this member with the bot.
func (m *Member) DM() *Channel {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	return m.s.dm(m)
}

// Say writes a message in a channel, as members talk. The bot hears it only with the intents for it.
func (m *Member) Say(c *Channel, content string, files ...File) *Message {
	m.s.t.Helper()
	s := m.s
	s.mu.Lock()
	if !c.sees(m) {
		s.mu.Unlock()
		s.t.Fatalf("chattest: %s cannot see #%s", m.Name, c.Name)
	}
	if c.locked && c.permissions(m)&ManageThreads == 0 {
		s.mu.Unlock()
		s.t.Fatalf("chattest: %s cannot write in the locked thread %s", m.Name, c.Name)
	}
	c.archived = false
	x := s.newMessage(c, m)
	x.content = content
	for _, f := range files {
		x.attachments = append(x.attachments, f.upload(s, c, attachments))
	}
	x.ping(object{})
	s.show(x, Said)
	out := x.look()
	s.mu.Unlock()
	s.tellOf("MESSAGE_CREATE", x)
	return out
}

func (f File) upload(s *Server, c *Channel, folder string) *storedFile {
	stored := s.store(c, folder, f.Name, f.Type, f.Data)
	stored.lie(f)
	return stored
}

// Values are the options of a command, by name: a string, an int, a float64, a bool, a *Member, a *Channel, a *Role or a
// File.
type Values map[string]any

// begin makes an interaction and sends it to the bot. fill sets the payload's data and what else the kind needs; it
// returns a sentence if the member's client would not let them do this. The kind decides the fields that all share.
func (m *Member) begin(c *Channel, kind int, fill func(*Interaction) string) *Interaction {
	m.s.t.Helper()
	i, refused := m.tryTo(c, kind, fill)
	if refused != "" {
		m.s.t.Fatalf("chattest: %s %s", m.Name, refused)
	}
	return i
}

// tryTo is begin for a member who may find that it can't be done.
func (m *Member) tryTo(c *Channel, kind int, fill func(*Interaction) string) (i *Interaction, refused string) {
	s := m.s
	s.mu.Lock()
	i = &Interaction{s: s, ID: s.newID(), Member: m, Channel: c, kind: kind}
	if !c.sees(m) {
		refused = "cannot see #" + c.Name
	} else {
		i.payload = i.envelope()
		refused = fill(i)
	}
	if refused != "" {
		s.mu.Unlock()
		return nil, refused
	}
	i.created, i.began = s.settings.now(), time.Now()
	i.token = token(i.ID)
	i.payload["token"] = i.token
	s.remember(i)
	s.mu.Unlock()
	s.dispatch(event{name: "INTERACTION_CREATE", guild: c.guild, of: i, data: func() object { return i.payload }})
	return i, ""
}

// token makes a token of the length that Discord's have (from memory), out of signs that need no escaping in a URL.
func token(id string) string {
	return "aW50ZXJhY3Rpb24" + id + sign("interaction", id) + sign("token", id)
}

// remember keeps an interaction until its token is long dead and the list is full. The caller holds s.mu.
func (s *Server) remember(i *Interaction) {
	s.interactions[i.token] = i
	if len(s.interactions) > 2*s.settings.keep {
		ids := slices.SortedFunc(maps.Keys(s.interactions), func(a, b string) int {
			return byID(s.interactions[a].ID, s.interactions[b].ID)
		})
		for _, t := range ids[:s.settings.keep] {
			delete(s.interactions, t)
		}
	}
}

// envelope is what every interaction carries (Discord, Receiving and Responding, Interaction Object).
func (i *Interaction) envelope() object {
	c, m := i.Channel, i.Member
	o := object{
		"id": i.ID, "application_id": i.s.app.ID, "type": i.kind, "version": 1, "channel_id": c.ID, "channel": c.brief(m),
		"locale": m.Locale, "entitlements": []any{}, "attachment_size_limit": largestFile,
		"app_permissions": c.permissions(i.s.app.bot).String(),
	}
	if g := c.guild; g != nil {
		member := g.joined[m.ID].withUser()
		member["permissions"] = c.permissions(m).String()
		o["member"], o["guild_id"], o["guild_locale"], o["context"] = member, g.ID, g.Locale, 0
		o["guild"] = object{"id": g.ID, "locale": g.Locale, "features": []string{}}
		o["authorizing_integration_owners"] = object{"0": g.ID}
		return o
	}
	const inPrivate = AttachFiles | EmbedLinks | MentionEveryone | useExternalEmojis // as documented
	o["user"], o["context"], o["authorizing_integration_owners"] = m.user(), 1, object{"0": "0"}
	o["app_permissions"] = inPrivate.String()
	return o
}

// Slash has the member use a slash command. The name is that of the command, with its sub-command group and sub-command
// after spaces: "series import". The test fails if the member's client would not allow it: no such command here, an option
// missing, out of range or none of the choices.
func (m *Member) Slash(c *Channel, name string, values Values) *Interaction {
	m.s.t.Helper()
	return m.begin(c, commandInteraction, func(i *Interaction) string { return i.fillCommand(name, values, "") })
}

// Complete has the member type in an option that autocompletes, the others filled in as far as values says. The choices
// that the bot offers are in the interaction's Choices.
func (m *Member) Complete(c *Channel, name, option, typed string, values Values) *Interaction {
	m.s.t.Helper()
	all := Values{option: typed}
	maps.Copy(all, values)
	all[option] = typed
	return m.begin(c, autocompleteInteraction, func(i *Interaction) string { return i.fillCommand(name, all, option) })
}

// UseOn has the member choose a command from the menu on a *Member or a *Message.
func (m *Member) UseOn(c *Channel, name string, target any) *Interaction {
	m.s.t.Helper()
	return m.begin(c, commandInteraction, func(i *Interaction) string { return i.fillMenu(name, target) })
}

// Press has the member press the button whose label or custom_id is what.
func (m *Member) Press(msg *Message, what string) *Interaction {
	m.s.t.Helper()
	return m.begin(msg.Channel, componentInteraction, func(i *Interaction) string {
		return i.fillComponent(msg.ID, what, nil)
	})
}

// TryPress is Press for a button that may be gone by now: then ok is false.
func (m *Member) TryPress(msg *Message, what string) (i *Interaction, ok bool) {
	i, refused := m.tryTo(msg.Channel, componentInteraction, func(i *Interaction) string {
		return i.fillComponent(msg.ID, what, nil)
	})
	return i, refused == ""
}

// Choose has the member choose from the menu whose placeholder or custom_id is what: values or labels of options, or
// *Member, *Channel or *Role.
func (m *Member) Choose(msg *Message, what string, values ...any) *Interaction {
	m.s.t.Helper()
	return m.begin(msg.Channel, componentInteraction, func(i *Interaction) string {
		if len(values) == 0 {
			return "chose nothing"
		}
		return i.fillComponent(msg.ID, what, values)
	})
}

// Submit has the member send a modal off. Fields are named by custom_id or label; a field not named keeps the value it
// came with.
func (m *Member) Submit(modal *Modal, fields Values) *Interaction {
	m.s.t.Helper()
	return m.begin(modal.opener.Channel, modalInteraction, func(i *Interaction) string {
		return i.fillModal(modal, fields)
	})
}

// Offered lists the commands that the member's client offers in a channel, sub-commands after spaces, in the order of
// registration.
func (m *Member) Offered(c *Channel) []string {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	var out []string
	for _, cmd := range m.s.commandsFor(m, c) {
		subs := []string{}
		for _, o := range optionsOf(cmd.form) {
			switch number(o["type"]) {
			case optSub:
				subs = append(subs, cmd.name+" "+text(o["name"]))
			case optGroup:
				for _, p := range optionsOf(o) {
					subs = append(subs, strings.Join([]string{cmd.name, text(o["name"]), text(p["name"])}, " "))
				}
			}
		}
		if len(subs) == 0 {
			subs = []string{cmd.name}
		}
		out = append(out, subs...)
	}
	return out
}

// commandsFor lists the commands that a member may use in a channel: the guild's own and the global ones, by context and
// default permissions. The caller holds s.mu.
func (s *Server) commandsFor(m *Member, c *Channel) []*command {
	var all, out []*command
	where := 1
	if c.guild != nil {
		where = 0
		all = append(all, s.app.byGuild[c.guild.ID]...)
	}
	all = append(all, s.app.global...)
	for _, cmd := range all {
		if contexts, ok := cmd.form["contexts"].([]any); ok && !slices.ContainsFunc(contexts, func(v any) bool { return number(v) == where }) {
			continue
		}
		if where == 1 && cmd.form["dm_permission"] == false {
			continue
		}
		if need, set := cmd.needs(); set && c.guild != nil {
			if p := c.permissions(m); p&need != need || need == 0 && p != allPermissions {
				continue
			}
		}
		out = append(out, cmd)
	}
	return out
}

// needs is what default_member_permissions asks of a member; "0" is administrators only.
func (c *command) needs() (Permissions, bool) {
	switch p := c.form["default_member_permissions"].(type) {
	case string:
		n, err := strconv.ParseUint(p, 10, 64)
		return Permissions(n), err == nil
	case float64:
		return Permissions(p), true
	}
	return 0, false
}
