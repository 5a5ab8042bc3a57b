package chattest

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A Fault is something that goes wrong with requests or connections. Fail injects it.
type Fault struct {
	method, path string
	left         int // how many more times; negative for ever
	done         chan struct{}
	released     bool

	early  func(w http.ResponseWriter, r *http.Request, stop <-chan struct{}) (handled bool)
	late   func(w http.ResponseWriter, r *http.Request, stop <-chan struct{}) (handled bool)
	greet  func(c *conn) (hello bool)
	hits   int
	server *Server
}

// Fail makes a fault happen to the next times requests that fit, for ever if times is negative. A request fits by method
// and path below /api/v10, as in "POST /channels/*/messages"; a * stands for any one part, or any method, and ** at the
// end for all that follows. "GATEWAY /" is a connection to the gateway, "GET /attachments/**" and
// "GET /ephemeral-attachments/**" are files on the CDN, the latter those attached to interactions.
func (s *Server) Fail(on string, times int, f *Fault) *Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	f.method, f.path, _ = strings.Cut(on, " ")
	f.left, f.done, f.server = times, make(chan struct{}), s
	s.faults = append(slices.DeleteFunc(s.faults, func(old *Fault) bool { return old.left == 0 && old.released }), f)
	return f
}

// Mend ends a fault, and lets requests go on that hang in it.
func (f *Fault) Mend() {
	f.server.mu.Lock()
	defer f.server.mu.Unlock()
	f.left = 0
	f.release()
}

// Hits counts how often the fault has happened.
func (f *Fault) Hits() int {
	f.server.mu.Lock()
	defer f.server.mu.Unlock()
	return f.hits
}

func (f *Fault) release() {
	if !f.released {
		f.released = true
		close(f.done)
	}
}

// faultFor finds the first fault that fits, and uses it up by one.
func (s *Server) faultFor(method, path string) *Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, f := range s.faults {
		if f.left != 0 && (f.method == "*" || f.method == method) && fitsPath(f.path, path) {
			f.left--
			f.hits++
			s.touch()
			return f
		}
	}
	return nil
}

func fitsPath(pattern, path string) bool {
	if head, all := strings.CutSuffix(pattern, "**"); all {
		want, got := strings.Split(head, "/"), strings.Split(path, "/")
		return len(got) >= len(want) && fitsPath(strings.Join(want[:len(want)-1], "/"), strings.Join(got[:len(want)-1], "/"))
	}
	want, got := strings.Split(pattern, "/"), strings.Split(path, "/")
	if len(want) != len(got) {
		return false
	}
	for i := range want {
		if want[i] != "*" && want[i] != got[i] {
			return false
		}
	}
	return true
}

func (f *Fault) before(w http.ResponseWriter, r *http.Request) bool {
	return f != nil && f.early != nil && f.early(w, r, f.done)
}

func (f *Fault) after(w http.ResponseWriter, r *http.Request) bool {
	return f != nil && f.late != nil && f.late(w, r, f.done)
}

func (f *Fault) greets(c *conn) bool { return f == nil || f.greet == nil || f.greet(c) }

// Status answers with a status and does nothing: Discord's JSON for 500, a proxy's HTML for 502, 503 and 504.
func Status(status int) *Fault {
	return &Fault{early: func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		if status == http.StatusInternalServerError {
			write(w, answer{status, object{"message": "500: Internal Server Error", "code": 0}})
			return true
		}
		page(w, status, http.StatusText(status))
		return true
	}}
}

func page(w http.ResponseWriter, status int, words string) {
	w.Header().Set("Content-Type", "text/html; charset=UTF-8")
	w.WriteHeader(status)
	fmt.Fprintf(w, "<html>\n<head><title>%d %s</title></head>\n<body>\n<center><h1>%d %s</h1></center>\n<hr><center>cloudflare</center>\n</body>\n</html>\n", status, words, status, words)
}

// Refuse answers with an error body of Discord's and does nothing, such as Refuse(403, 50013, "Missing Permissions").
func Refuse(status, code int, words string) *Fault {
	return &Fault{early: func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		write(w, answer{status, object{"message": words, "code": code}})
		return true
	}}
}

// Limited answers 429 in one of Discord's scopes: "user", "global" or "shared". A global one has Retry-After and
// X-RateLimit-Global but no X-RateLimit-Reset-After, as documented.
func Limited(scope string, wait time.Duration) *Fault {
	f := &Fault{}
	f.early = func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		l := &rateLimited{scope: scope, wait: wait}
		l.headers(w.Header())
		if scope != "global" { // the bucket's headers, as in the documentation's examples
			left := map[string]string{"user": "0", "shared": "9"}[scope]
			w.Header().Set("X-RateLimit-Limit", "10")
			w.Header().Set("X-RateLimit-Remaining", left)
			w.Header().Set("X-RateLimit-Reset", fmt.Sprintf("%.3f", float64(f.server.settings.now().Add(wait).UnixMilli())/1000))
			w.Header().Set("X-RateLimit-Reset-After", fmt.Sprintf("%.3f", wait.Seconds()))
			w.Header().Set("X-RateLimit-Bucket", "abcd1234")
		}
		write(w, answer{http.StatusTooManyRequests, l.body()})
		return true
	}
	return f
}

// LimitedByHTML answers 429 as the network before Discord does: a page, with Retry-After in whole seconds and no JSON.
func LimitedByHTML(wait time.Duration) *Fault {
	return &Fault{early: func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
		page(w, http.StatusTooManyRequests, "Too Many Requests")
		return true
	}}
}

// Slow answers rightly, but waits first.
func Slow(d time.Duration) *Fault {
	return &Fault{early: func(_ http.ResponseWriter, r *http.Request, stop <-chan struct{}) bool {
		pause(d, r, stop)
		return false
	}}
}

// SlowAnswer carries the request out at once, and answers late.
func SlowAnswer(d time.Duration) *Fault {
	return &Fault{late: func(_ http.ResponseWriter, r *http.Request, stop <-chan struct{}) bool {
		pause(d, r, stop)
		return false
	}}
}

func pause(d time.Duration, r *http.Request, stop <-chan struct{}) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-r.Context().Done():
	case <-stop:
	}
}

// CutBefore cuts the connection before the request has any effect.
func CutBefore() *Fault {
	return &Fault{early: func(http.ResponseWriter, *http.Request, <-chan struct{}) bool { panic(http.ErrAbortHandler) }}
}

// CutAfter carries the request out and cuts the connection instead of answering.
func CutAfter() *Fault {
	return &Fault{late: func(http.ResponseWriter, *http.Request, <-chan struct{}) bool { panic(http.ErrAbortHandler) }}
}

// Silence carries the request out and never answers: the client waits until it gives up.
func Silence() *Fault {
	return &Fault{late: func(_ http.ResponseWriter, r *http.Request, stop <-chan struct{}) bool {
		pause(math.MaxInt64, r, stop)
		panic(http.ErrAbortHandler)
	}}
}

// FailAfter carries the request out and answers with a status all the same.
func FailAfter(status int) *Fault {
	return &Fault{late: func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		page(w, status, http.StatusText(status))
		return true
	}}
}

// Garbled carries the request out and answers 200 with half a JSON document.
func Garbled() *Fault {
	return &Fault{late: func(w http.ResponseWriter, _ *http.Request, _ <-chan struct{}) bool {
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write(json.RawMessage(`{"id": "1`)) // that is the fault
		return true
	}}
}
