package discord

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// answers is a RoundTripper that answers by a function, in no time.
type answers func(r *http.Request) (status int, header map[string]string, body string, err error)

func (a answers) RoundTrip(r *http.Request) (*http.Response, error) {
	status, header, body, err := a(r)
	if err != nil {
		return nil, err
	}
	w := httptest.NewRecorder()
	for k, v := range header {
		w.Header().Set(k, v)
	}
	w.WriteHeader(status)
	_, _ = w.WriteString(body)
	return w.Result(), nil
}

func doorTo(a answers) *door {
	return &door{api: "http://127.0.0.1/api/v10", token: "a.secret.token", client: &http.Client{Transport: a}, limits: newLimiter(time.Now), within: usualWithin, log: slog.New(slog.DiscardHandler)}
}

func inChannel(id string) call {
	return call{method: http.MethodPost, path: []string{"channels", id, "messages"}, route: "/channels/{channel}/messages", place: id, body: map[string]string{"content": "x"}}
}

// TestFiftyRequestsASecond sends many at once to many channels: the service takes fifty a second (Discord, Topics, Rate
// Limits, Global Rate Limit).
func TestFiftyRequestsASecond(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		var sent []time.Time
		d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
			mu.Lock()
			defer mu.Unlock()
			sent = append(sent, time.Now())
			return 200, nil, `{}`, nil
		})
		var all sync.WaitGroup
		for n := range 200 {
			all.Go(func() {
				if err := d.do(t.Context(), inChannel(strconv.Itoa(n)), nil); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		for i := range sent {
			if i >= perSecond && sent[i].Sub(sent[i-perSecond]) < time.Second {
				t.Fatalf("%d requests in %v", perSecond+1, sent[i].Sub(sent[i-perSecond]))
			}
		}
		if took := sent[len(sent)-1].Sub(sent[0]); took > 5*time.Second {
			t.Errorf("200 requests took %v", took)
		}
	})
}

// TestARoutesOwnLimitIsKept has a route take two requests in ten seconds, and counts that no more are sent.
func TestARoutesOwnLimitIsKept(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var window time.Time
		left, refused := 0, 0
		var mu sync.Mutex
		d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
			mu.Lock()
			defer mu.Unlock()
			if now := time.Now(); now.Sub(window) >= 10*time.Second {
				window, left = now, 2
			}
			if left--; left < 0 {
				refused++
			}
			return 200, map[string]string{
				"X-RateLimit-Limit": "2", "X-RateLimit-Remaining": strconv.Itoa(max(left, 0)), "X-RateLimit-Bucket": "b",
				"X-RateLimit-Reset-After": fmt.Sprintf("%.3f", (10*time.Second - time.Since(window)).Seconds()),
			}, `{}`, nil
		})
		began := time.Now()
		var all sync.WaitGroup
		for range 7 {
			all.Go(func() { _ = d.do(t.Context(), inChannel("1"), nil) })
		}
		all.Wait()
		if took := time.Since(began); refused > 0 || took < 30*time.Second || took > 31*time.Second {
			t.Errorf("%d too many, in %v", refused, took)
		}
	})
}

// TestALimitIsWaitedOut has the service say 429 once in each of its ways.
func TestALimitIsWaitedOut(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		header map[string]string
		body   string
		wait   time.Duration
		others bool // whether other routes wait too
		counts bool // whether it counts as an invalid request
	}{
		"user":   {map[string]string{"Retry-After": "2", "X-RateLimit-Scope": "user"}, `{"message":"You are being rate limited.","retry_after":1.5,"global":false}`, 2 * time.Second, false, true},
		"shared": {map[string]string{"Retry-After": "3", "X-RateLimit-Scope": "shared"}, `{"message":"The resource is being rate limited.","retry_after":3,"global":false}`, 3 * time.Second, false, false},
		"global": {map[string]string{"Retry-After": "4", "X-RateLimit-Global": "true", "X-RateLimit-Scope": "global"}, `{"message":"You are being rate limited.","retry_after":4,"global":true}`, 4 * time.Second, true, true},
		"html":   {map[string]string{"Retry-After": "30", "Content-Type": "text/html"}, `<html>error code: 1015</html>`, 30 * time.Second, true, true},
		"bare":   {nil, `<html>error code: 1015</html>`, time.Minute, true, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				var n atomic.Int32
				d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
					if n.Add(1) == 1 {
						return 429, c.header, c.body, nil
					}
					return 200, nil, `{}`, nil
				})
				began := time.Now()
				var other time.Duration
				var all sync.WaitGroup
				all.Go(func() {
					time.Sleep(100 * time.Millisecond)
					_ = d.do(t.Context(), inChannel("2"), nil)
					other = time.Since(began)
				})
				if err := d.do(t.Context(), inChannel("1"), nil); err != nil {
					t.Fatal(err)
				}
				all.Wait()
				if took := time.Since(began); took < c.wait || took > c.wait+time.Second {
					t.Errorf("waited %v, asked for %v", took, c.wait)
				}
				if (other >= c.wait) != c.others {
					t.Errorf("another route went on after %v", other)
				}
				if (len(d.limits.invalid) == 1) != c.counts {
					t.Errorf("%d invalid requests are counted", len(d.limits.invalid))
				}
			})
		})
	}
}

// TestWhatMayBeSentAgain has the service fail before, after or without an effect.
func TestWhatMayBeSentAgain(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		status int
		err    error
		again  bool
		sent   int32
	}{
		{"500 of a read", 500, nil, true, tries},
		{"503 of a read", 503, nil, true, tries},
		{"502 of what may have had an effect", 502, nil, false, 1},
		{"404", 404, nil, true, 1},
		{"400", 400, nil, true, 1},
		{"a cut before anything was sent", 0, errors.New("cut"), false, tries},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				var n atomic.Int32
				d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
					n.Add(1)
					return c.status, nil, `{"code":0,"message":"no"}`, c.err
				})
				what := inChannel("1")
				what.again = c.again
				if err := d.do(t.Context(), what, nil); err == nil {
					t.Error("no error")
				}
				if n.Load() != c.sent {
					t.Errorf("sent %d times, not %d", n.Load(), c.sent)
				}
			})
		})
	}
}

// TestAContextEndsEveryWait cancels while a request waits for its route, for its turn, and to be sent again.
func TestAContextEndsEveryWait(t *testing.T) {
	t.Parallel()
	for name, prepare := range map[string]func(d *door){
		"for a route":  func(d *door) { d.limits.hold("POST /channels/{channel}/messages 1", time.Hour) },
		"for its turn": func(d *door) { d.limits.holdAll(time.Hour) },
		"to be sent again": func(d *door) {
			d.client.Transport = answers(func(*http.Request) (int, map[string]string, string, error) {
				return 429, map[string]string{"Retry-After": "3600"}, "{}", nil
			})
		},
		"behind a slow one": func(d *door) { _, _ = d.limits.acquire(context.Background(), "POST /channels/{channel}/messages 1") },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				d := doorTo(func(*http.Request) (int, map[string]string, string, error) { return 200, nil, "{}", nil })
				prepare(d)
				ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
				defer cancel()
				began := time.Now()
				if err := d.do(ctx, inChannel("1"), nil); err == nil {
					t.Error("no error")
				}
				if took := time.Since(began); took > 301*time.Millisecond {
					t.Errorf("it ended after %v", took)
				}
			})
		})
	}
}

// TestAnAnswerWaitsForNothing answers an interaction while everything else is blocked.
func TestAnAnswerWaitsForNothing(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		d := doorTo(func(r *http.Request) (int, map[string]string, string, error) {
			if r.Header.Get("Authorization") != "" {
				t.Error("the token was sent to an address that needs none")
			}
			return 204, nil, "", nil
		})
		d.limits.holdAll(time.Hour)
		began := time.Now()
		err := d.do(t.Context(), call{
			method: http.MethodPost, path: []string{"interactions", "1", "tok", "callback"}, route: "/interactions/{interaction}/{token}/callback",
			open: true, answer: true, body: map[string]int{"type": 5},
		}, nil)
		if err != nil || time.Since(began) > 0 {
			t.Error(err, time.Since(began))
		}
	})
}

// TestBeingStill has the service refuse everything: we stop long before it shuts us out at ten thousand in ten minutes.
func TestBeingStill(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var n atomic.Int32
		d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
			n.Add(1)
			return 403, nil, `{"code":50001,"message":"Missing Access"}`, nil
		})
		for range 2 * mostInvalid {
			if err := d.do(t.Context(), inChannel("1"), nil); codeOf(err) != missingAccess && !errors.Is(err, errStill) {
				t.Fatal(err)
			}
		}
		if n.Load() != mostInvalid {
			t.Errorf("%d requests were refused before we were still", n.Load())
		}
		time.Sleep(invalidWithin)
		if err := d.do(t.Context(), inChannel("1"), nil); codeOf(err) != missingAccess {
			t.Error("still still:", err)
		}
	})
}

// TestErrorsHoldNoToken makes every kind of error and looks for the bot's token and an interaction's in its words.
func TestErrorsHoldNoToken(t *testing.T) {
	t.Parallel()
	what := call{
		method: http.MethodPost, path: []string{"webhooks", "1", "interaction-token"}, route: "/webhooks/{application}/{token}", place: "interaction-token",
		open: true, body: map[string]string{},
	}
	for _, a := range []answers{
		func(*http.Request) (int, map[string]string, string, error) { return 0, nil, "", errors.New("cut") },
		func(*http.Request) (int, map[string]string, string, error) {
			return 404, nil, `{"code":10015,"message":"Unknown Webhook"}`, nil
		},
		func(*http.Request) (int, map[string]string, string, error) { return 200, nil, `{`, nil },
		func(*http.Request) (int, map[string]string, string, error) { return 502, nil, `<html>`, nil },
	} {
		d := doorTo(a)
		d.limits.now = func() time.Time { return time.Now() }
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		var out map[string]any
		err := d.do(ctx, what, &out)
		cancel()
		if err == nil {
			t.Error("no error")
		}
		for _, whole := range []string{fmt.Sprint(err), fmt.Sprintf("%+v", err), fmt.Sprintf("%#v", err)} {
			if strings.Contains(whole, "interaction-token") || strings.Contains(whole, d.token) {
				t.Errorf("a token stands in %s", whole)
			}
		}
	}
}

// TestLimitsAreForgotten makes many routes that are used once, as interactions are, and looks for what is left of them.
func TestLimitsAreForgotten(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		d := doorTo(func(r *http.Request) (int, map[string]string, string, error) {
			return 200, map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "4", "X-RateLimit-Reset-After": "2", "X-RateLimit-Bucket": "followups"}, `{}`, nil
		})
		most := 0
		for n := range 20_000 {
			if err := d.do(t.Context(), call{method: http.MethodPost, path: []string{"webhooks", "1", strconv.Itoa(n)}, route: "/webhooks/{application}/{token}", place: strconv.Itoa(n), open: true}, nil); err != nil {
				t.Fatal(err)
			}
			time.Sleep(20 * time.Millisecond)
			most = max(most, len(d.limits.buckets)+len(d.limits.named))
		}
		if most > 15_000 {
			t.Errorf("%d limits were remembered at once", most)
		}
		time.Sleep(2 * time.Minute)
		_ = d.do(t.Context(), inChannel("1"), nil)
		if left := len(d.limits.buckets) + len(d.limits.named); left > 4 {
			t.Errorf("%d limits are left", left)
		}
	})
}

// TestAnUnavailableServiceIsGivenTime has it say for how long it is not available (RFC 9110, section 15.6.4).
func TestAnUnavailableServiceIsGivenTime(t *testing.T) {
	t.Parallel()
	for asked, waited := range map[string]time.Duration{"20": 20 * time.Second, "86400": longestPause, "": 100 * time.Millisecond} {
		synctest.Test(t, func(t *testing.T) {
			var n atomic.Int32
			d := doorTo(func(*http.Request) (int, map[string]string, string, error) {
				if n.Add(1) == 1 {
					return 503, map[string]string{"Retry-After": asked}, "<html>", nil
				}
				return 200, nil, "{}", nil
			})
			what, began := inChannel("1"), time.Now()
			what.again = true
			if err := d.do(t.Context(), what, nil); err != nil || time.Since(began) < waited || time.Since(began) > waited+time.Second {
				t.Errorf("%q: %v after %v", asked, err, time.Since(began))
			}
		})
	}
}

// TestAnAnswerIsSentUntilItIsTooLate has the service not answer the first try at all, though it took it, and fail for a
// while after: an answer goes on being tried, and is known to have arrived when the service says so.
func TestAnAnswerIsSentUntilItIsTooLate(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		n := 0
		d := doorTo(nil)
		d.client.Transport = roundTrip(func(r *http.Request) (*http.Response, error) {
			n++
			w := httptest.NewRecorder()
			switch {
			case n == 1:
				<-r.Context().Done()
				return nil, r.Context().Err()
			case n < 5:
				w.WriteHeader(502)
			default:
				w.WriteHeader(400)
				_, _ = w.WriteString(`{"code":40060,"message":"Interaction has already been acknowledged."}`)
			}
			return w.Result(), nil
		})
		ctx, cancel := context.WithTimeout(t.Context(), answerWithin)
		defer cancel()
		began := time.Now()
		err := d.do(ctx, call{method: http.MethodPost, path: []string{"interactions", "1", "tok", "callback"}, route: "/interactions/{interaction}/{token}/callback", open: true, answer: true, again: true, body: map[string]int{"type": 5}}, nil)
		if codeOf(err) != alreadyAcknowledged || time.Since(began) >= answerWithin {
			t.Error(err, time.Since(began))
		}
	})
}

// roundTrip is a RoundTripper made of a function.
type roundTrip func(r *http.Request) (*http.Response, error)

func (f roundTrip) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }
