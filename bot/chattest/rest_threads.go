package chattest

import (
	"maps"
	"net/http"
	"slices"
	"strings"
)

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
	case ch.guild == nil || ch.parent != nil || ch.Kind != Text:
		err = notInThisChannelKind
	case on != "" && s.messages[on] == nil:
		err = unknownMessage
	case ch.guild.active() >= s.settings.threads:
		err = tooManyThreads
	}
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	th := ch.addThread(text(b["name"]), kind, b)
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

// listActiveThreads lists the threads of a guild that are not archived and that the bot can see, newest first.
func listActiveThreads(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	g, err := c.guild()
	if err != nil {
		return answer{}, err
	}
	threads, members := []object{}, []object{}
	for _, ch := range slices.Backward(g.channels) {
		if ch.parent == nil || ch.archived || !ch.sees(c.s.app.bot) {
			continue
		}
		threads = append(threads, ch.wire())
		if _, in := ch.in[c.s.app.ID]; in {
			members = append(members, ch.memberWire(c.s.app.ID))
		}
	}
	return answer{200, object{"threads": threads, "members": members, "has_more": false}}, nil
}

func (c *Channel) memberWire(id string) object {
	return object{"id": c.ID, "user_id": id, "join_timestamp": stamp(c.in[id]), "flags": 0}
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

// listThreadMembers lists who is in a thread. Discord keeps that to applications with the privileged intent for members.
func listThreadMembers(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	th, err := c.thread()
	if err == nil && c.s.settings.privileged&GuildMembers == 0 {
		err = missingAccess
	}
	if err != nil {
		return answer{}, err
	}
	out := []object{}
	for _, id := range slices.SortedFunc(maps.Keys(th.in), byID) {
		out = append(out, th.memberWire(id))
	}
	return answer{200, out}, nil
}

// ofThreadMember is a route about one account in a thread. It is done while s.mu is held.
func ofThreadMember(do func(c *call, th *Channel, id string) (answer, error)) func(*call) (answer, error) {
	return func(c *call) (answer, error) {
		c.s.mu.Lock()
		defer c.s.mu.Unlock()
		th, err := c.thread()
		if err != nil {
			return answer{}, err
		}
		return do(c, th, c.threadMember())
	}
}

func getThreadMember(c *call, th *Channel, id string) (answer, error) {
	if _, in := th.in[id]; !in {
		return answer{}, unknownMember
	}
	return answer{200, th.memberWire(id)}, nil
}

// threadMember is the account of the path, @me is the bot's.
func (c *call) threadMember() string { return strings.Replace(c.part("user"), "@me", c.s.app.ID, 1) }

func addThreadMember(c *call, th *Channel, id string) (answer, error) {
	switch {
	case th.archived:
		return answer{}, threadArchived
	case id != c.s.app.ID && th.permissions(c.s.app.bot)&SendMessagesInThreads == 0:
		return answer{}, missingPermissions
	case c.s.members[id] == nil:
		return answer{}, unknownUser
	case th.guild.joined[id] == nil:
		return answer{}, unknownMember
	case th.parent.permissions(c.s.members[id])&ViewChannel == 0:
		return answer{}, missingAccess
	}
	if _, in := th.in[id]; !in {
		th.in[id] = c.s.settings.now()
		if id != c.s.app.ID {
			th.tellAdded(c.s.members[id])
		}
	}
	c.s.touch()
	return answer{}, nil
}

func removeThreadMember(c *call, th *Channel, id string) (answer, error) {
	switch { // who made a private thread may take others out of it, and the bot made every one
	case th.archived:
		return answer{}, threadArchived
	case id != c.s.app.ID && th.Kind != PrivateThread && th.permissions(c.s.app.bot)&ManageThreads == 0:
		return answer{}, missingPermissions
	}
	delete(th.in, id)
	c.s.touch()
	return answer{}, nil
}
