package room

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"time"
)

// Listen opens the room's door at an address like "127.0.0.1:8080". An address that is not this machine's own is
// refused, unless published says that something in front of us lets in only this machine, as a container's port published
// on the loopback does. Even then only requests for a loopback name are answered; but whoever reaches the port can claim
// one, so the caller should say aloud that the room trusts what is in front of it.
func Listen(address string, published bool) (net.Listener, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("%q is no address: write it like 127.0.0.1:8080", address)
	}
	if !published && !isLoopback(host) {
		return nil, elsewhere(host)
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("open the room at %s: %w", address, err)
	}
	if at, ok := l.Addr().(*net.TCPAddr); !published && (!ok || !at.IP.IsLoopback()) { // a hosts file may say anything
		_ = l.Close()
		return nil, elsewhere(host)
	}
	return l, nil
}

func elsewhere(host string) error {
	return fmt.Errorf("the room has no locks, so it is only for this machine: %q is not 127.0.0.1, [::1] or localhost", host)
}

// isLoopback reports whether a host names this machine alone.
func isLoopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(strings.TrimSuffix(strings.TrimPrefix(host, "["), "]"))
	return err == nil && ip.IsLoopback()
}

// Serve answers on a listener until ctx is done, then ends the live streams and lets the lines that are being answered
// finish. It returns nil when it was stopped.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	s := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      answerWithin + 15*time.Second, // a live stream sets its own, again for every write
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10, // a line being completed is in the address
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(l) }()
	select {
	case err := <-served:
		return fmt.Errorf("serve the room: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), answerWithin)
	defer cancel()
	err := s.Shutdown(stop)
	if ended := <-served; !errors.Is(ended, http.ErrServerClosed) {
		err = errors.Join(err, ended)
	}
	return err
}

// mostBody is the most that is read of one form: the longest line, percent-encoded, and room to say that a line is too
// long.
const mostBody = 128 << 10

// policy lets the page load only its own files; nothing on it runs or looks as it does by anything written in the page.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard lets in only what comes from our own page in this machine's browser. A page elsewhere could name us by a host
// that leads here, have a form sent to us, or ask to read what we say.
func guard(next http.Handler) http.Handler {
	forms := http.NewCrossOriginProtection()
	forms.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		http.Error(w, "That was sent from another page, so it was not heard. Please open the room itself and try again.", http.StatusForbidden)
	}))
	checked := forms.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		switch {
		case !isLoopback(hostname(r.Host)):
			http.Error(w, "The room answers only on this machine, as 127.0.0.1, [::1] or localhost.", http.StatusForbidden)
		case asksFromElsewhere(r):
			http.Error(w, "Another page asked for this, and the room shows itself to its own page only.", http.StatusForbidden)
		default:
			r.Body = http.MaxBytesReader(w, r.Body, mostBody)
			checked.ServeHTTP(w, r)
		}
	})
}

// hostname is a Host header without its port. The port is not ours to judge: a container's may be published as another.
func hostname(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return host
}

// asksFromElsewhere reports whether a page of another origin makes a request that changes nothing. Requests that do are
// judged by the standard library; this is the same for the others, which it lets pass. Following a link is not asking.
func asksFromElsewhere(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin == "" || r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	from, err := url.Parse(origin)
	return err != nil || from.Host != r.Host
}
