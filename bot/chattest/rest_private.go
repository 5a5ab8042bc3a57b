package chattest

import (
	"net/http"
	"strings"
	"time"
)

// recipient is the one member of a private conversation.
func (c *Channel) recipient() *Member {
	for id := range c.in {
		return c.s.members[id]
	}
	return nil
}

func createDM(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	m := c.s.members[text(c.body()["recipient_id"])]
	if m == nil || m.bot {
		return answer{}, form([]fieldError{{"recipient_id", "USER_INVALID", "Invalid recipient"}})
	}
	return answer{200, c.s.dm(m).wire()}, nil
}

// dm is the private conversation of a member with the bot, opened if it was not. The caller holds s.mu.
func (s *Server) dm(m *Member) *Channel {
	if m.dm == nil {
		m.dm = &Channel{s: s, ID: s.newID(), Kind: Private, in: map[string]time.Time{m.ID: s.settings.now()}}
		s.channels[m.dm.ID] = m.dm
	}
	return m.dm
}

// createThread starts a thread, on a message or alone; alone it is private unless its type says otherwise (API v10).
func createThread(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	kind, need := PrivateThread, CreatePrivateThreads
	b := c.body()
	on := c.part("message")
	if on != "" || number(b["type"]) == int(PublicThread) {
		kind, need = PublicThread, CreatePublicThreads
	}
	ch, err := c.channel(need)
	switch {
	case err != nil:
	case ch.guild == nil || ch.parent != nil:
		err = notInThisChannelKind
	case on != "" && s.messages[on] == nil:
		err = unknownMessage
	}
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	th := ch.guild.addChannel(text(b["name"]), kind, ch)
	th.in[s.app.ID] = s.settings.now()
	wire := th.wire()
	s.touch()
	s.mu.Unlock()
	s.dispatch(event{name: "THREAD_CREATE", guild: ch.guild, intent: Guilds, data: func() object {
		o := th.wire()
		o["newly_created"] = true
		return o
	}})
	return answer{http.StatusCreated, wire}, nil
}

func (c *call) thread() (*Channel, error) {
	th, err := c.channel(0)
	if err != nil {
		return nil, err
	}
	if th.parent == nil {
		return nil, notInThisChannelKind
	}
	return th, nil
}

func listThreadMembers(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	th, err := c.thread()
	if err != nil {
		return answer{}, err
	}
	out := []object{}
	for id, at := range th.in {
		out = append(out, object{"id": th.ID, "user_id": id, "join_timestamp": stamp(at), "flags": 0})
	}
	return answer{200, out}, nil
}

func addThreadMember(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	th, err := c.thread()
	if err != nil {
		return answer{}, err
	}
	id := c.part("user")
	if id == "@me" {
		id = c.s.app.ID
	}
	switch {
	case th.archived:
		return answer{}, threadArchived
	case c.s.members[id] == nil:
		return answer{}, unknownUser
	case th.guild.joined[id] == nil:
		return answer{}, unknownMember
	case th.parent.permissions(c.s.members[id])&ViewChannel == 0:
		return answer{}, missingAccess
	}
	th.in[id] = c.s.settings.now()
	c.s.touch()
	return answer{}, nil
}

func removeThreadMember(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	th, err := c.thread()
	if err != nil {
		return answer{}, err
	}
	id := strings.Replace(c.part("user"), "@me", c.s.app.ID, 1)
	if id != c.s.app.ID && th.permissions(c.s.app.bot)&ManageThreads == 0 {
		return answer{}, missingPermissions
	}
	delete(th.in, id)
	return answer{}, nil
}
