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
	asked   chan struct{} // closed when the service asks us to connect anew
	over    chan struct{} // closed when nothing more will come
	ready   chan struct{} // closed when READY has come, or the first event of a session taken up
	place   *place        // in the session, which is older than the link when it was taken up
	resumes bool          // it was
	invalid bool          // the service would not have the session; read after over

	mu       sync.Mutex
	wire     *wire
	abandon  bool
	first    sync.Once
	gave     sync.Once
	welcome  sync.Once
	opened   time.Time     // when it was ready; guarded by mu
	finished chan struct{} // closed when the library's Open has returned
}

// joining is what it takes to open a link.
type joining struct {
	address       string
	shard, shards int
	place         *place // in the session to take up; nil to begin one
	within        time.Duration
	identified    func() // is called when an IDENTIFY is on its way
}

// open connects, begins a session or takes one up, and returns when we hear it. It never hangs: a connection that is not
// ready in time is cut, and what the library has begun on it ends with it. A link that did not become ready is returned
// with the error.
func (s *Service) open(ctx context.Context, o joining) (*link, error) {
	l := &link{
		asked: make(chan struct{}), over: make(chan struct{}), ready: make(chan struct{}), finished: make(chan struct{}),
		place: o.place, resumes: o.place != nil,
	}
	if l.place == nil {
		l.place = &place{shard: o.shard, shards: o.shards}
	}
	session, err := discordgo.New("") // it needs no token: what it would say with it, we say
	if err != nil {
		return nil, fmt.Errorf("prepare a session: %w", err)
	}
	identity, err := identify(s.config.Token, o.shard, o.shards)
	if err != nil {
		return nil, fmt.Errorf("prepare a session: %w", err)
	}
	session.ShouldReconnectOnError = false
	session.StateEnabled = false
	session.SyncEvents = false
	session.Compress = true
	session.ShardID, session.ShardCount = o.shard, o.shards
	session.Client = &http.Client{Transport: knownGateway(o.address)}
	session.Dialer = dialer(func(c net.Conn) net.Conn { return l.attach(c, s, identity, o.identified) })
	session.AddHandler(func(_ *discordgo.Session, e *discordgo.Event) { s.hear(l, e) })
	failed := make(chan error, 1)
	go func() {
		defer close(l.finished)
		if err := session.Open(); err != nil {
			failed <- err
		}
	}()
	if err := s.welcomed(ctx, l, o.within, failed); err != nil {
		l.cut()
		return l, fmt.Errorf("connect to the gateway: %w", err)
	}
	return l, nil
}

// welcomed waits until a link is ready, or says why it will not be.
func (s *Service) welcomed(ctx context.Context, l *link, within time.Duration, failed <-chan error) error {
	watchdog := time.NewTimer(within)
	defer watchdog.Stop()
	asked := l.asked
	for early := (<-chan time.Time)(nil); ; {
		select {
		case <-l.ready:
			return nil
		case <-asked: // already: it may be ready all the same, and then hears until the next one does
			asked, early = nil, time.After(s.timing.resume/3)
		case <-early:
			return errors.New("it was asked to connect anew before it was ready")
		case err := <-failed:
			return err
		case <-l.over:
			return errors.New("it was cut before it was ready")
		case <-watchdog.C:
			return fmt.Errorf("not ready within %v", within)
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
}

// attach puts a wire around the connection.
func (l *link) attach(inner net.Conn, s *Service, identity []byte, identified func()) net.Conn {
	w := newWire(inner, signals{
		reconnect: func() { l.gave.Do(func() { close(l.asked) }) },
		invalid: func(resumable bool) {
			if l.invalid = true; !resumable {
				l.place.leave()
			}
			_ = inner.Close()
		},
		closed:     func() { l.first.Do(func() { close(l.over) }) },
		identified: identified,
	})
	w.identify = identity
	w.resume = func() []byte { return l.place.resume(s.config.Token) }
	w.answer = s.timing.heartbeat
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
		_ = w.cut() // it may have ended by itself
	}
}

// hearing reports whether a link has not ended yet.
func (l *link) hearing() bool {
	if l == nil {
		return false
	}
	select {
	case <-l.over:
		return false
	default:
		return true
	}
}

// taken is the place from which a link's session can be taken up now that the link has ended; nil when it can't.
func (l *link) taken() *place {
	if l == nil || endsSession[l.closeCode()] || l.place.resumeAt() == "" {
		return nil
	}
	return l.place
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

// close ends a link and its session politely, and returns when the library has let go of it. The library's own way of
// closing would leave unread what the service has sent before it hears of it.
func (l *link) close() {
	l.mu.Lock()
	w := l.wire
	l.mu.Unlock()
	if w != nil && l.hearing() {
		w.farewell()
		hangsUp := time.NewTimer(answerWithin) // what is still unread then is dead
		defer hangsUp.Stop()
		select {
		case <-l.over:
		case <-hangsUp.C:
		}
	}
	l.cut()
	<-l.finished
	if w == nil {
		return
	}
	letsGo := time.NewTimer(answerWithin)
	defer letsGo.Stop()
	select { // the library notices by itself; told from here, it would race with itself
	case <-w.released:
	case <-letsGo.C:
	}
}

// hear hands on an event as it came: the library's own types fail on what they do not know.
func (s *Service) hear(l *link, e *discordgo.Event) {
	defer s.mend("event " + e.Type)
	if e.Type == "READY" {
		l.place.begin(e.RawData)
	}
	l.place.reached(e.Sequence)
	if e.Type == "READY" || l.resumes {
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
