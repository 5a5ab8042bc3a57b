package chattest

import "time"

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
