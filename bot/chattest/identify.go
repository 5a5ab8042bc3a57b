package chattest

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"
)

// identifyBudget counts the IDENTIFYs of the day.
type identifyBudget struct {
	remaining int
	used      int
	resumed   int
	astray    int               // of those, at an address that is not the session's
	last      map[int]time.Time // by rate limit key
	reset     bool              // the token was taken away
}

// An identify is the data of opcode 2.
type identify struct {
	Token      string          `json:"token"`
	Properties json.RawMessage `json:"properties"`
	Compress   bool            `json:"compress"`
	Threshold  *int            `json:"large_threshold"`
	Shard      *[2]int         `json:"shard"`
	Intents    *Intents        `json:"intents"`
}

// identify starts a session, or ends the connection with the code that says why not.
func (c *conn) identify(data json.RawMessage) {
	s := c.s
	var id identify
	if json.Unmarshal(data, &id) != nil || id.Properties == nil {
		s.problem("an IDENTIFY that cannot be read: " + strings.ReplaceAll(shorten(data), Token, "TOKEN"))
		c.close(CloseDecode, "Error while decoding payload.")
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if code, why := c.mayIdentify(&id); code != 0 {
		c.close(code, why)
		return
	}
	shard := [2]int{0, 1}
	if id.Shard != nil {
		shard = *id.Shard
	}
	if !s.spendIdentify(shard[0]) {
		if s.budget.reset {
			c.close(CloseBadToken, "Authentication failed.")
		} else {
			c.send(encode(opInvalidSession, false, nil, nil))
		}
		return
	}
	c.mu.Lock()
	c.compress = id.Compress && c.stream == nil
	c.mu.Unlock()
	ses := &session{id: sign("session", s.newID())[:32], shard: shard, intents: *id.Intents, conn: c, keep: s.settings.keep}
	c.session = ses
	s.sessions[ses.id] = ses
	if c.reconnectFirst {
		c.send(encode(opReconnect, nil, nil, nil))
		return
	}
	s.ready(c, ses)
	s.touch()
}

// mayIdentify says with which close code an IDENTIFY is refused; 0 if it is not. The caller holds s.mu.
func (c *conn) mayIdentify(id *identify) (int, string) {
	s := c.s
	switch {
	case c.session != nil:
		return CloseAuthenticated, "Already authenticated."
	case strings.TrimPrefix(id.Token, "Bot ") != Token || s.budget.reset:
		return CloseBadToken, "Authentication failed."
	case id.Intents == nil || *id.Intents < 0 || *id.Intents > allIntents:
		return CloseBadIntents, "Invalid intent(s)."
	case *id.Intents&privileged&^s.settings.privileged != 0:
		return CloseDisallowedIntents, "Disallowed intent(s)."
	}
	shard := [2]int{0, 1}
	if id.Shard != nil {
		shard = *id.Shard
	}
	if shard[1] < 1 || shard[0] < 0 || shard[0] >= shard[1] {
		return CloseBadShard, "Invalid shard."
	}
	guilds := 0
	for _, g := range s.guilds {
		if probe := (&session{shard: shard}); !g.gone && probe.holds(g) {
			guilds++
		}
	}
	if guilds > s.settings.perShard {
		return CloseShardingRequired, "Sharding required."
	}
	return 0, ""
}

// spendIdentify takes one IDENTIFY from the day's budget. When that is used up, Discord ends all sessions and resets the
// token. Strict servers also want five seconds between two of one rate limit key. The caller holds s.mu.
func (s *Server) spendIdentify(shard int) bool {
	b := &s.budget
	key := shard % s.settings.concurrency
	if s.settings.strict && time.Since(b.last[key]) < s.settings.real(5*time.Second) {
		return false
	}
	b.last[key] = time.Now()
	b.used++
	b.remaining--
	if b.remaining >= 0 {
		return true
	}
	b.reset = true
	for id, ses := range s.sessions {
		if ses.conn != nil {
			ses.conn.close(CloseBadToken, "Authentication failed.")
		}
		delete(s.sessions, id)
	}
	return false
}

// ready sends READY and, with the guilds intent, each guild. The caller holds s.mu.
func (s *Server) ready(c *conn, ses *session) {
	mine := []*Guild{}
	outlines := []object{}
	for _, id := range slices.SortedFunc(maps.Keys(s.guilds), byID) {
		if g := s.guilds[id]; !g.gone && ses.holds(g) {
			mine = append(mine, g)
			outlines = append(outlines, g.outline())
		}
	}
	me := s.app.bot.user()
	me["verified"], me["mfa_enabled"], me["email"] = true, true, nil
	ses.send("READY", object{
		"v": 10, "user": me, "guilds": outlines, "session_id": ses.id, "resume_gateway_url": s.resumeURL(c.r),
		"shard": ses.shard, "application": object{"id": s.app.ID, "flags": s.appFlags()}, "private_channels": []any{},
		"presences": []any{}, "relationships": []any{}, "user_settings": object{}, "session_type": "normal", "_trace": []string{},
	}, nil)
	if ses.intents&Guilds == 0 {
		return
	}
	for _, g := range mine {
		if !g.unavailable {
			full := g.full()
			s.checkEvent("GUILD_CREATE", full)
			ses.send("GUILD_CREATE", full, nil)
		}
	}
}

// resume takes a session up again and sends what it missed. What a session missed that is never resumed is lost: one that
// begins with IDENTIFY hears only what happens after it.
func (c *conn) resume(data json.RawMessage) {
	s := c.s
	var r struct {
		Token   string `json:"token"`
		Session string `json:"session_id"`
		Seq     *int64 `json:"seq"`
	}
	if json.Unmarshal(data, &r) != nil || r.Seq == nil {
		s.problem("a RESUME that cannot be read")
		c.close(CloseDecode, "Error while decoding payload.")
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	defer s.touch()
	ses := s.sessions[r.Session]
	switch {
	case c.session != nil:
		c.close(CloseAuthenticated, "Already authenticated.")
		return
	case strings.TrimPrefix(r.Token, "Bot ") != Token || s.budget.reset:
		c.close(CloseBadToken, "Authentication failed.")
		return
	case ses == nil || s.stale(ses) || ses.forgot(*r.Seq):
		c.send(encode(opInvalidSession, false, nil, nil))
		return
	case c.refuses != nil:
		if !*c.refuses {
			delete(s.sessions, ses.id)
		}
		c.send(encode(opInvalidSession, *c.refuses, nil, nil))
		return
	case *r.Seq > ses.seq:
		delete(s.sessions, ses.id)
		c.close(CloseBadSequence, "Invalid seq.")
		return
	}
	if ses.conn != nil {
		ses.conn.cut()
	}
	ses.conn, c.session = c, ses
	if s.budget.resumed++; !toResume(c.r) {
		s.budget.astray++
	}
	if c.reconnectFirst {
		c.send(encode(opReconnect, nil, nil, nil))
	}
	for _, d := range ses.history {
		if d.seq <= *r.Seq {
			continue
		}
		if c.send(d.data); d.of != nil {
			d.of.note("sent again to session %s", ses.id[:6])
			d.of.reached = true
		}
	}
	ses.send("RESUMED", object{"_trace": []string{}}, nil)
}

// forgot reports whether events after seq are no longer kept.
func (ses *session) forgot(seq int64) bool { return len(ses.history) > 0 && ses.history[0].seq > seq+1 }

// Astray counts the RESUMEs that came to another address than their session's resume_gateway_url. Discord takes them, and
// cuts such connections sooner.
func (s *Server) Astray() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.budget.astray
}

// Identified counts the IDENTIFYs and RESUMEs that were taken so far.
func (s *Server) Identified() (identified, resumed int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.budget.used, s.budget.resumed
}
