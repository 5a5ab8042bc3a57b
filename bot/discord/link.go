package discord

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"
)

func init() {
	// The library's log would print tokens; what matters we see for ourselves. And its gateway speaks the version that it
	// had when it was made, while our requests speak this one.
	discordgo.Logger = func(int, int, string, ...any) {}
	discordgo.APIVersion = gatewayVersion
}

// gatewayVersion is that of the gateway's protocol.
const gatewayVersion = "10"

// openWithin is how long a connection to the gateway may take to be ready.
const openWithin = 20 * time.Second

// link is one connection to the gateway, with a session of the library that serves for it alone: what happens to a link is
// never mended, only noticed.
type link struct {
	session *discordgo.Session
	asked   chan struct{} // closed when the service asks us to connect anew
	over    chan struct{} // closed when nothing more will come
	ready   chan struct{} // closed when READY has come
	invalid bool          // the service would not have the session; read after over

	mu       sync.Mutex
	wire     *wire
	abandon  bool
	first    sync.Once
	gave     sync.Once
	welcome  sync.Once
	opened   time.Time     // when READY came; guarded by mu
	finished chan struct{} // closed when the library's Open has returned
}

// open connects and identifies, and returns when the service has said READY. It never hangs: a connection that is not
// ready in time is cut, and what the library has begun on it ends with it.
func (s *Service) open(ctx context.Context, address string, shard, shards int) (*link, error) {
	l := &link{asked: make(chan struct{}), over: make(chan struct{}), ready: make(chan struct{}), finished: make(chan struct{})}
	session, err := discordgo.New("Bot " + s.config.Token)
	if err != nil {
		return nil, fmt.Errorf("prepare a session: %w", err)
	}
	l.session = session
	session.ShouldReconnectOnError = false
	session.StateEnabled = false
	session.SyncEvents = false
	session.Identify.Token = s.config.Token // without the word that stands before it in requests
	session.Compress = true
	session.Identify.Compress = true
	session.Identify.Intents = discordgo.IntentsGuilds
	session.ShardID, session.ShardCount = shard, shards
	session.Client = &http.Client{Transport: knownGateway(address)}
	session.Dialer = dialer(l.attach)
	session.AddHandler(func(_ *discordgo.Session, e *discordgo.Event) { s.hear(l, e) })
	failed := make(chan error, 1)
	go func() {
		defer close(l.finished)
		if err := session.Open(); err != nil {
			failed <- err
		}
	}()
	watchdog := time.NewTimer(s.timing.open)
	defer watchdog.Stop()
	select {
	case <-l.ready:
		return l, nil
	case err = <-failed:
	case <-l.over:
		err = fmt.Errorf("it was cut before READY")
	case <-l.asked:
		err = fmt.Errorf("it was asked to connect anew before READY")
	case <-watchdog.C:
		err = fmt.Errorf("no READY within %v", s.timing.open)
	case <-ctx.Done():
		err = context.Cause(ctx)
	}
	l.cut()
	return l, fmt.Errorf("connect to the gateway: %w", err)
}

// attach puts a wire around the connection.
func (l *link) attach(inner net.Conn) net.Conn {
	w := newWire(inner, signals{
		reconnect: func() { l.gave.Do(func() { close(l.asked) }) },
		invalid:   func() { l.invalid = true; _ = inner.Close() },
		closed:    func() { l.first.Do(func() { close(l.over) }) },
	})
	l.mu.Lock()
	defer l.mu.Unlock()
	l.wire = w
	if l.abandon {
		_ = inner.Close()
	}
	return w
}

// cut ends a link without ceremony.
func (l *link) cut() {
	l.mu.Lock()
	l.abandon = true
	w := l.wire
	l.mu.Unlock()
	if w != nil {
		_ = w.Close()
	}
}

// lasted is for how long a link has been ready; 0 when it never was.
func (l *link) lasted() time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.opened.IsZero() {
		return 0
	}
	return time.Since(l.opened)
}

// closeCode is the code with which the service closed the link, or 0.
func (l *link) closeCode() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.wire == nil {
		return 0
	}
	return l.wire.closeCode()
}

// close ends a link politely, and returns when the library has let go of it.
func (l *link) close() {
	select {
	case <-l.over: // the library closes by itself
	default:
		_ = l.session.Close()
	}
	l.cut()
	<-l.finished
}

// hear hands on an event as it came: the library's own types fail on what they do not know.
func (s *Service) hear(l *link, e *discordgo.Event) {
	defer s.mend("event " + e.Type)
	if e.Type == "READY" {
		l.welcome.Do(func() {
			l.mu.Lock()
			l.opened = time.Now()
			l.mu.Unlock()
			close(l.ready)
		})
	}
	s.event(l, e.Type, e.Sequence, e.RawData)
}

// knownGateway answers the one question that the library asks before it connects, so that it asks nobody else.
type knownGateway string

func (k knownGateway) RoundTrip(r *http.Request) (*http.Response, error) {
	if !strings.HasSuffix(r.URL.Path, "/gateway") {
		return nil, fmt.Errorf("the library has no business at %s", r.URL.Path)
	}
	address, err := gatewayAddress(string(k))
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(map[string]string{"url": address + "#"}) // what the library adds becomes a fragment, which is never sent
	if err != nil {
		return nil, err
	}
	return &http.Response{
		StatusCode: http.StatusOK, Status: "200 OK", Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1, Request: r,
		Header: http.Header{"Content-Type": {"application/json"}}, Body: io.NopCloser(strings.NewReader(string(text))),
	}, nil
}

// gatewayAddress is a gateway's address with what we ask of it (Discord, Topics, Gateway, Connecting). The library would put a
// stroke before the question, whatever stands there, and lose a question that is there already.
func gatewayAddress(named string) (string, error) {
	u, err := url.Parse(named)
	if err != nil || u.Host == "" || u.Scheme != "wss" && u.Scheme != "ws" {
		return "", errors.New("the service names no address for its gateway")
	}
	if u.Path == "" {
		u.Path = "/"
	}
	question := u.Query()
	question.Set("v", gatewayVersion)
	question.Set("encoding", "json")
	question.Del("compress") // we ask for it when we identify
	u.RawQuery, u.Fragment = question.Encode(), ""
	return u.String(), nil
}
