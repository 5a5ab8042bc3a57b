package room

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"
)

// Listen opens the room's door. An address that is not this machine's own is refused, unless published says that
// something in front of us lets in only this machine, as the compose file does.
func Listen(address string, published bool) (net.Listener, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("%q is no address: write it like 127.0.0.1:8080", address)
	}
	if !published && !isLoopback(host) {
		return nil, fmt.Errorf("the room has no locks, so it is only for this machine: %q is not 127.0.0.1, [::1] or localhost", host)
	}
	return net.Listen("tcp", address)
}

// isLoopback reports whether a host names this machine alone.
func isLoopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && ip.IsLoopback()
}

// Serve answers on a listener until ctx is done, then lets what it has begun finish.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	s := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       30 * time.Second,
		IdleTimeout:       2 * time.Minute, // no WriteTimeout: the live updates write for as long as a page is open
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		return s.Shutdown(stop)
	}
}

// guard lets in only what comes from this machine's own browser: a page elsewhere could name us by another host that
// leads here, or have a form sent to us.
func guard(next http.Handler) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		http.Error(w, "This form was sent from another page. Open the room itself and try again.", http.StatusForbidden)
	}))
	checked := origin.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		if !isLoopback(host) {
			http.Error(w, "The room answers only on this machine, as 127.0.0.1 or localhost.", http.StatusForbidden)
			return
		}
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		r.Body = http.MaxBytesReader(w, r.Body, 64<<10)
		checked.ServeHTTP(w, r)
	})
}
