package chattest

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gorilla/websocket"
)

// Gateway opcodes (Discord, Topics, Opcodes and Status Codes).
const (
	opDispatch       = 0
	opHeartbeat      = 1
	opIdentify       = 2
	opPresence       = 3
	opVoice          = 4
	opResume         = 6
	opReconnect      = 7
	opRequestMembers = 8
	opInvalidSession = 9
	opHello          = 10
	opHeartbeatAck   = 11
	opRequestSounds  = 31
)

// Gateway close codes.
const (
	CloseUnknown           = 4000
	CloseUnknownOpcode     = 4001
	CloseDecode            = 4002
	CloseNotAuthenticated  = 4003
	CloseBadToken          = 4004
	CloseAuthenticated     = 4005
	CloseBadSequence       = 4007
	CloseRateLimited       = 4008
	CloseTimedOut          = 4009
	CloseBadShard          = 4010
	CloseShardingRequired  = 4011
	CloseBadVersion        = 4012
	CloseBadIntents        = 4013
	CloseDisallowedIntents = 4014
)

// Intents is the set of events that a session asks for.
type Intents int

// The intents that the stand-in looks at (Discord, Events, Gateway).
const (
	Guilds         Intents = 1 << 0
	GuildMembers   Intents = 1 << 1
	GuildPresences Intents = 1 << 8
	GuildMessages  Intents = 1 << 9
	DirectMessages Intents = 1 << 12
	MessageContent Intents = 1 << 15
	allIntents     Intents = 1<<26 - 1
	privileged             = GuildMembers | GuildPresences | MessageContent
)

// appFlags tells which privileged intents a small application has on.
func (s *Server) appFlags() int {
	flags := 0
	for intent, bit := range map[Intents]int{GuildPresences: 1 << 13, GuildMembers: 1 << 15, MessageContent: 1 << 19} {
		if s.settings.privileged&intent != 0 {
			flags |= bit
		}
	}
	return flags
}

// A frame is one gateway payload.
type frame struct {
	Op   int             `json:"op"`
	Data json.RawMessage `json:"d"`
	Seq  *int64          `json:"s"`
	Type *string         `json:"t"`
}

// A session is one identified session, which outlives its connection while it can be resumed.
type session struct {
	id      string
	shard   [2]int
	intents Intents
	seq     int64
	history []dispatched // for a resume
	keep    int          // how much of it
	conn    *conn        // nil while away
	left    time.Time    // when the connection went, in real time
}

type dispatched struct {
	seq  int64
	data []byte
	of   *Interaction // whose arrival it is
}

// sessionLife is for how long a session without a connection can be resumed: documented as "a few minutes".
const sessionLife = 3 * time.Minute

// An event is a gateway event for the sessions whose shard and intents it concerns.
type event struct {
	name    string
	guild   *Guild // nil for private ones, which shard 0 gets
	intent  Intents
	data    func() object
	reduced func(object) object // what remains without the message content intent
	of      *Interaction        // whose arrival it is
}

// dispatch sends an event. A session that is away gets it when it resumes.
func (s *Server) dispatch(e event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	defer s.touch()
	if s.holding {
		s.held = append(s.held, e)
		return
	}
	heard := false
	defer func() {
		if e.of != nil && !heard {
			e.of.note("no session was there to hear it; there are %s", s.sessionsNow())
		}
	}()
	for _, id := range slices.Sorted(maps.Keys(s.sessions)) {
		ses := s.sessions[id]
		if s.stale(ses) {
			delete(s.sessions, id)
			continue
		}
		if !ses.hears(e) {
			continue
		}
		data := e.data()
		if e.reduced != nil && ses.intents&MessageContent == 0 {
			data = e.reduced(data)
		}
		s.checkEvent(e.name, data)
		if heard = true; e.of != nil {
			e.of.sent(ses)
		}
		ses.send(e.name, data, e.of)
	}
}

// sessionsNow names the sessions. The caller holds s.mu.
func (s *Server) sessionsNow() string {
	var out []string
	for _, ses := range s.sessions {
		state := "connected"
		if ses.conn == nil {
			state = "away"
		}
		out = append(out, fmt.Sprintf("%s of shard %d/%d (%s)", ses.id[:6], ses.shard[0], ses.shard[1], state))
	}
	return fmt.Sprintf("%d: %s", len(out), strings.Join(out, ", "))
}

func (s *Server) stale(ses *session) bool {
	return ses.conn == nil && time.Since(ses.left) > s.settings.real(sessionLife)
}

func (ses *session) hears(e event) bool {
	if e.intent != 0 && ses.intents&e.intent == 0 {
		return false
	}
	if e.guild == nil {
		return ses.shard[0] == 0
	}
	return ses.holds(e.guild)
}

// holds reports whether a guild is on this session's shard (Discord, Gateway, Sharding formula).
func (ses *session) holds(g *Guild) bool {
	id, _ := strconv.ParseUint(g.ID, 10, 64)
	return int(id>>22%uint64(ses.shard[1])) == ses.shard[0]
}

// send numbers an event and gives it to the connection, or keeps it. The caller holds s.mu.
func (ses *session) send(name string, data any, of *Interaction) {
	ses.seq++
	raw := encode(opDispatch, data, &ses.seq, &name)
	ses.history = last(append(ses.history, dispatched{ses.seq, raw, of}), ses.keep)
	if ses.conn != nil {
		ses.conn.send(raw)
	}
}

func encode(op int, data any, seq *int64, name *string) []byte {
	d, err := json.Marshal(data)
	if err != nil {
		panic(err) // our own maps always marshal
	}
	raw, err := json.Marshal(frame{op, d, seq, name})
	if err != nil {
		panic(err)
	}
	return raw
}

func (s *Server) gatewayURL(r *http.Request) string {
	if discordHosts[r.Host] && r.TLS != nil {
		return "wss://gateway.discord.gg"
	}
	return "ws" + strings.TrimPrefix(s.http.URL, "http")
}

// resumePath tells the address at which sessions are resumed from that at which they begin, where both are one host.
const resumePath = "/resume"

// toResume reports whether a connection came to the address at which sessions are resumed.
func toResume(r *http.Request) bool {
	return r.Host == resumeHost || strings.TrimSuffix(r.URL.Path, "/") == resumePath
}

func (s *Server) resumeURL(r *http.Request) string {
	if discordHosts[r.Host] && r.TLS != nil {
		return "wss://" + resumeHost
	}
	return "ws" + strings.TrimPrefix(s.http.URL, "http") + resumePath
}

var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

// serveGateway takes a gateway connection: HELLO, then whatever the bot sends, until either side ends it.
func (s *Server) serveGateway(w http.ResponseWriter, r *http.Request) {
	if !websocket.IsWebSocketUpgrade(r) {
		http.NotFound(w, r)
		return
	}
	address := "/"
	if toResume(r) {
		address = resumePath
	}
	fault := s.faultFor("GATEWAY", address)
	if fault.before(w, r) {
		return
	}
	ws, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // the client went away or spoke no websocket; Upgrade has answered
	}
	c := newConn(s, ws, r)
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		c.cut()
		close(c.done)
		return
	}
	s.conns[c] = true
	s.touch()
	s.mu.Unlock()
	go c.write()
	q := r.URL.Query()
	if v := q.Get("v"); v != "10" && v != "9" {
		c.close(CloseBadVersion, "Invalid API version.")
	} else if how := q.Get("encoding") + q.Get("compress"); how != "" && how != "json" && how != "zlib-stream" && how != "jsonzlib-stream" {
		s.problem("the stand-in speaks JSON, plain or as zlib-stream, and not " + how)
		c.close(CloseDecode, "Error while decoding payload.")
	} else if fault.greets(c) {
		c.send(encode(opHello, object{"heartbeat_interval": s.settings.heartbeat.Milliseconds(), "_trace": []string{}}, nil, nil))
	}
	c.read()
	s.gone(c)
	close(c.done)
}

// gone parts a session from its connection.
func (s *Server) gone(c *conn) {
	c.stop()
	s.mu.Lock()
	defer s.mu.Unlock()
	defer s.touch()
	delete(s.conns, c)
	ses := c.session
	if ses == nil || ses.conn != c {
		return
	}
	ses.conn, ses.left = nil, time.Now()
	if c.hasEnded() { // the client closed with 1000 or 1001, or we with a code that ends the session
		delete(s.sessions, ses.id)
	}
}

// Connected waits until a session is identified and connected on every shard that was ever identified, at least one, and
// reports whether that came within the server's patience.
func (s *Server) Connected() bool {
	return s.await(s.settings.patience, func() bool {
		live := 0
		for _, ses := range s.sessions {
			if ses.conn != nil {
				live++
			}
		}
		return live > 0
	})
}

// Connections counts the gateway connections open now.
func (s *Server) Connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.conns)
}
