package chattest

import "time"

// NoHello accepts gateway connections and never says HELLO. Use it with Fail("GATEWAY /", …), as the three below: that is
// where sessions begin, "GATEWAY /resume" where they are resumed, and "GATEWAY /**" is both.
func NoHello() *Fault { return &Fault{greet: func(*conn) bool { return false }} }

// ReconnectBeforeHello sends opcode 7 as the very first payload, and HELLO after it.
func ReconnectBeforeHello() *Fault {
	return &Fault{greet: func(c *conn) bool {
		c.send(encode(opReconnect, nil, nil, nil))
		return true
	}}
}

// RefuseResume answers RESUME with opcode 9: the session can be resumed later, or it is gone.
func RefuseResume(resumable bool) *Fault {
	return &Fault{greet: func(c *conn) bool {
		c.refuses = &resumable
		return true
	}}
}

// ReconnectFirst answers IDENTIFY with opcode 7 in place of READY, and RESUME with opcode 7 before all else.
func ReconnectFirst() *Fault {
	return &Fault{greet: func(c *conn) bool {
		c.reconnectFirst = true
		return true
	}}
}

// live lists the connections.
func (s *Server) live() []*conn {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []*conn
	for c := range s.conns {
		out = append(out, c)
	}
	return out
}

// Reconnect sends opcode 7 on every connection: the bot must come back and resume.
func (s *Server) Reconnect() {
	for _, c := range s.live() {
		c.send(encode(opReconnect, nil, nil, nil))
	}
}

// InvalidateSessions sends opcode 9 on every connection. If resumable is false the sessions are gone.
func (s *Server) InvalidateSessions(resumable bool) {
	for _, c := range s.live() {
		if !resumable {
			s.mu.Lock()
			if c.session != nil {
				delete(s.sessions, c.session.id)
			}
			s.mu.Unlock()
		}
		c.send(encode(opInvalidSession, resumable, nil, nil))
	}
}

// ExpireSessions lets the time go by after which a session without a connection is gone.
func (s *Server) ExpireSessions() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, ses := range s.sessions {
		if ses.conn == nil {
			delete(s.sessions, ses.id)
		}
	}
}

// Recommend changes the recommended count of shards, as Discord does when an application has joined more guilds.
func (s *Server) Recommend(shards int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.settings.shards = shards
}

// CloseConnections closes every connection with a code, such as CloseRateLimited. After 4007 and 4009 the sessions are
// gone; after 4004 the token is no good any more, until RestoreToken.
func (s *Server) CloseConnections(code int, reason string) {
	s.mu.Lock()
	if code == CloseBadToken {
		s.budget.reset = true
	}
	s.mu.Unlock()
	for _, c := range s.live() {
		if code == CloseBadSequence || code == CloseTimedOut || code == CloseBadToken {
			c.end()
		}
		c.close(code, reason)
	}
}

// RestoreToken makes the token good again after it was reset.
func (s *Server) RestoreToken() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.budget.reset, s.budget.remaining = false, max(s.budget.remaining, 1)
}

// CutConnections cuts every gateway connection as a broken cable does, without a close code.
func (s *Server) CutConnections() {
	for _, c := range s.live() {
		c.cut()
	}
}

// HalfOpen makes every gateway connection half-open: it stays up, nothing passes any more, and no end is seen. Events go
// on to be kept for the session, as for one that is away.
func (s *Server) HalfOpen() {
	for _, c := range s.live() {
		c.hush()
	}
}

// NoAcks stops acknowledging heartbeats, or starts again.
func (s *Server) NoAcks(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.silent = on
}

func (s *Server) acksOff() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.silent
}

// AskHeartbeat sends opcode 1 on every connection: the bot must send a heartbeat at once.
func (s *Server) AskHeartbeat() {
	for _, c := range s.live() {
		c.send(encode(opHeartbeat, nil, nil, nil))
	}
}

// Repeat sends an interaction's event once more, as a gateway that lost its place does.
func (i *Interaction) Repeat() {
	i.s.dispatch(event{name: "INTERACTION_CREATE", guild: i.Channel.guild, of: i, data: func() object { return i.payload }})
}

// HoldEvents keeps events back; ReleaseEvents sends them, the newest first if reversed.
func (s *Server) HoldEvents() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.holding = true
}

// ReleaseEvents sends the events that were held back.
func (s *Server) ReleaseEvents(reversed bool) {
	s.mu.Lock()
	held := s.held
	s.holding, s.held = false, nil
	s.mu.Unlock()
	for n := range held {
		if reversed {
			n = len(held) - 1 - n
		}
		s.dispatch(held[n])
	}
}

// Emit sends an event that the stand-in knows nothing about, to every session: bots must let what they do not know pass.
func (s *Server) Emit(name string, data map[string]any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, ses := range s.sessions {
		ses.send(name, data, nil)
	}
}

// Age moves an interaction into the past, so that the time to acknowledge it, or its token's life, is over without anyone
// waiting.
func (i *Interaction) Age(d time.Duration) {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	i.created = i.created.Add(-d)
	i.s.touch()
}
