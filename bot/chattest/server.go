// Package chattest is a chat service on loopback that speaks Discord's REST v10 and gateway protocol, in the manner of
// net/http/httptest: New gives a server that a bot joins as it would join Discord, and members who type commands, press
// buttons, choose, submit modals and attach files, and who remember what they saw.
//
// It promises to be no kinder than the real thing where the real thing is documented: it refuses what Discord refuses,
// with Discord's status and error body; it expires interactions by its clock; every request it receives and every answer
// it gives is checked against Discord's published OpenAPI description where that is at hand, and against hand-written
// rules always. Faults happen on demand only, so a test without faults is repeatable.
//
// It knows the protocol and nothing of Spareounce. The protocol's facts come from Discord's developer documentation
// (repository snapshot c98d64bc, August 2026) and the published description (build 242668, July 2026); what neither says
// and is common practice is marked "from memory" beside the code.
package chattest

import (
	"fmt"
	"io"
	"log"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// Token is the bot token that the server takes; any other is refused with 401 and close code 4004.
const Token = "stand.in.token-of-no-real-application"

// A Server is one chat service with one application in it. Its methods may be called from several goroutines.
type Server struct {
	t        testing.TB
	http     *httptest.Server
	settings settings
	checks   *description

	mu      sync.Mutex
	changed chan struct{} // closed, and replaced, whenever anything that a test may wait for happens
	closed  bool
	lastID  uint64

	app      *application
	guilds   map[string]*Guild
	channels map[string]*Channel
	members  map[string]*Member
	messages map[string]*message
	order    []*message // in which they appeared
	files    map[string]*storedFile
	nonces   map[string]nonceUse
	sessions map[string]*session
	conns    map[*conn]bool
	budget   identifyBudget

	interactions map[string]*Interaction // by token
	saw          []Sighting
	requests     []Request
	faults       []*Fault
	doors        []*Door
	limiter      *limiter
	problems     []string

	silent  bool // no heartbeat is acknowledged
	holding bool // events are kept back
	held    []event
}

// New starts a server that is closed when the test ends. Unless Lenient is among the options, the test fails when the bot
// under test sends what Discord refuses as malformed.
func New(t testing.TB, options ...Option) *Server {
	t.Helper()
	s := &Server{
		t: t, settings: defaults(), changed: make(chan struct{}),
		guilds: map[string]*Guild{}, channels: map[string]*Channel{}, members: map[string]*Member{},
		messages: map[string]*message{}, files: map[string]*storedFile{}, nonces: map[string]nonceUse{},
		sessions: map[string]*session{}, conns: map[*conn]bool{}, interactions: map[string]*Interaction{},
	}
	for _, o := range options {
		o(&s.settings)
	}
	if !s.settings.handWritten {
		s.checks = describe(t)
	}
	s.limiter = newLimiter(s.settings.now)
	s.budget = identifyBudget{remaining: s.settings.identifies, last: map[int]time.Time{}}
	s.app = newApplication(s)
	s.http = httptest.NewUnstartedServer(s.handler())
	s.http.Config.ErrorLog = log.New(io.Discard, "", 0) // a cut connection is a fault we inject, not news
	s.http.Start()
	t.Cleanup(s.Close)
	return s
}

// URL is the server's address, http://127.0.0.1:PORT, with the API under /api/v10 (and /api/v9, which Discord still takes).
func (s *Server) URL() string { return s.http.URL }

// ApplicationID is the id of the application, which is also the id of the bot's user.
func (s *Server) ApplicationID() string { return s.app.ID }

// Transport is a RoundTripper that brings requests for Discord's hosts to this server, and refuses all other hosts.
func (s *Server) Transport() http.RoundTripper {
	return redirect{host: strings.TrimPrefix(s.http.URL, "http://"), next: s.http.Client().Transport}
}

// Client is an http.Client on Transport.
func (s *Server) Client() *http.Client {
	return &http.Client{Transport: s.Transport(), Timeout: 20 * time.Second}
}

// Close ends every connection and waits for the server's goroutines. Closing twice is harmless.
func (s *Server) Close() {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return
	}
	s.closed = true
	doors, conns := s.doors, slices.Collect(maps.Keys(s.conns))
	for _, f := range s.faults {
		f.release()
	}
	s.touch()
	s.mu.Unlock()
	for _, d := range doors {
		d.close()
	}
	for _, c := range conns {
		c.cut()
	}
	s.http.CloseClientConnections()
	s.http.Close()
	for _, c := range conns {
		<-c.done
	}
}

// redirect sends requests for Discord's hosts to the stand-in.
type redirect struct {
	host string
	next http.RoundTripper
}

func (d redirect) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.URL.Host != d.host && !discordHosts[r.URL.Hostname()] {
		return nil, fmt.Errorf("chattest: a request for %s, which is not Discord's", r.URL.Host)
	}
	c := r.Clone(r.Context())
	c.URL.Scheme, c.URL.Host = "http", d.host
	if c.Host == "" {
		c.Host = r.URL.Host
	}
	return d.next.RoundTrip(c)
}

// discordHosts are the names under which Discord is reached.
var discordHosts = map[string]bool{
	"discord.com": true, "gateway.discord.gg": true, resumeHost: true, cdnHost: true, mediaHost: true,
}

const (
	resumeHost = "gateway-us-east1-b.discord.gg"
	cdnHost    = "cdn.discordapp.com"
	mediaHost  = "media.discordapp.net"
)

// touch wakes whoever waits for a change. The caller holds s.mu.
func (s *Server) touch() {
	close(s.changed)
	s.changed = make(chan struct{})
}

// await reports whether done became true within patience of real time. done is called with s.mu held.
func (s *Server) await(patience time.Duration, done func() bool) bool {
	timeout := time.NewTimer(patience)
	defer timeout.Stop()
	for {
		s.mu.Lock()
		ok, changed, closed := done(), s.changed, s.closed
		s.mu.Unlock()
		if ok || closed {
			return ok
		}
		select {
		case <-changed:
		case <-timeout.C:
			return false
		}
	}
}

// problem notes something that a bot, or this stand-in, must not do. It fails the test unless the server is lenient.
func (s *Server) problem(text string) {
	s.mu.Lock()
	quiet := s.closed || s.settings.lenient || slices.Contains(s.problems, text) // once said is enough
	s.problems = last(append(s.problems, text), s.settings.keep)
	s.mu.Unlock()
	if !quiet {
		s.t.Error("chattest: " + text)
	}
}

// Problems lists what was wrong so far, with requests that Discord would refuse as malformed and answers of this stand-in
// that Discord's published description does not allow.
func (s *Server) Problems() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.problems)
}
