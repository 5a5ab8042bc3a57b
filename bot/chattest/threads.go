package chattest

import (
	"maps"
	"slices"
)

// addThread starts a thread in a channel, with the bot in it. The caller holds s.mu.
func (c *Channel) addThread(name string, kind ChannelKind, form object) *Channel {
	th := c.guild.addChannel(name, kind, c)
	th.in[c.s.app.ID] = c.s.settings.now()
	th.closed = kind == PrivateThread && form["invitable"] == false
	th.hides = 1440
	if n := number(form["auto_archive_duration"]); n > 0 {
		th.hides = n
	}
	return th
}

// Threads lists the threads of a channel, oldest first.
func (c *Channel) Threads() []*Channel {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	var out []*Channel
	for _, o := range c.guild.channels {
		if o.parent == c {
			out = append(out, o)
		}
	}
	return out
}

// Members lists who is in a thread, the bot too, in the order of their ids.
func (c *Channel) Members() []*Member {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	var out []*Member
	for _, id := range slices.SortedFunc(maps.Keys(c.in), byID) {
		out = append(out, c.s.members[id])
	}
	return out
}

// Archived reports whether a thread is archived, and whether it is locked.
func (c *Channel) Archived() (archived, locked bool) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	return c.archived, c.locked
}

// Archive closes a thread, as inactivity does. Writing into a locked thread is refused; into one that is only archived it
// opens it again.
func (c *Channel) Archive(locked bool) {
	c.s.mu.Lock()
	c.archived, c.locked = true, locked
	c.s.mu.Unlock()
	c.s.dispatch(event{name: "THREAD_UPDATE", guild: c.guild, intent: Guilds, data: c.wire})
}

// mayChange says what Discord says to a change of a thread by the bot, which makes every thread here (Discord, Topics,
// Threads, Editing & Deleting Threads): who made it may name, archive and open it, but locking it, and opening one that is
// locked, takes Manage Threads; an archived thread takes no change but being opened. The documentation says of opening a
// locked one that who made it may, the reports of users that they may not: the stand-in is the less kind. The caller holds
// s.mu.
func (c *Channel) mayChange(form object) error {
	manages := c.permissions(c.s.app.bot)&ManageThreads != 0
	opens, given := form["archived"].(bool)
	opens = given && !opens
	_, locks := form["locked"].(bool)
	switch {
	case c.archived && !opens:
		return threadArchived
	case manages:
		return nil
	case locks, opens && c.locked:
		return missingPermissions
	case opens && c.permissions(c.s.app.bot)&SendMessagesInThreads == 0:
		return missingPermissions
	}
	return nil
}

// change takes over what a form says about a channel. The caller holds s.mu.
func (c *Channel) change(form object) {
	if name := text(form["name"]); name != "" {
		c.Name = name
	}
	if c.parent == nil {
		return
	}
	if a, ok := form["archived"].(bool); ok {
		c.archived = a
	}
	if l, ok := form["locked"].(bool); ok {
		c.locked = l
	}
	if n := number(form["auto_archive_duration"]); n > 0 {
		c.hides = n
	}
	if i, ok := form["invitable"].(bool); ok {
		c.closed = !i
	}
}

// active counts the threads of a guild that are not archived. The caller holds s.mu.
func (g *Guild) active() (n int) {
	for _, c := range g.channels {
		if c.parent != nil && !c.archived {
			n++
		}
	}
	return n
}

// tellAdded writes the line by which Discord says in a thread that somebody was added to it. Its author is who added
// them. The caller holds s.mu.
func (c *Channel) tellAdded(m *Member) {
	line := c.s.newMessage(c, c.s.app.bot)
	line.kind, line.mentions = recipientAdded, []*Member{m}
}
