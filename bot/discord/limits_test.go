package discord

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptrace"
	"strconv"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// strictService counts requests as the service documents it (Discord, Topics, Rate Limits): each route in its own periods,
// and all of them in any second. Requests take their time on the way there, and answers on the way back.
type strictService struct {
	mu     sync.Mutex
	random *rand.Rand
	there  time.Duration // the longest way of a request
	back   time.Duration // and of an answer
	limit  int
	period time.Duration
	cuts   bool // now and then a connection is cut, before or after the effect
	routes map[string]*routePeriod
	recent []time.Time
	over   []string
	done   int
}

type routePeriod struct {
	used  int
	reset time.Time
}

func (s *strictService) draw(most time.Duration) time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.random.IntN(4) > 0 {
		most /= 20 // most are quick
	}
	return time.Duration(s.random.Int64N(int64(most) + 1))
}

func (s *strictService) answer(r *http.Request) (int, map[string]string, string, error) {
	httptrace.ContextClientTrace(r.Context()).WroteHeaders()
	time.Sleep(s.draw(s.there))
	status, header, cut := s.take(r.URL.Path)
	time.Sleep(s.draw(s.back))
	if cut {
		return 0, nil, "", errors.New("cut")
	}
	return status, header, `{}`, nil
}

func (s *strictService) take(path string) (status int, header map[string]string, cut bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fate := s.random.IntN(200)
	if s.cuts && fate == 0 {
		return 0, nil, true
	}
	now := time.Now()
	for len(s.recent) > 0 && now.Sub(s.recent[0]) >= time.Second {
		s.recent = s.recent[1:]
	}
	if s.recent = append(s.recent, now); len(s.recent) > perSecond {
		s.over = append(s.over, fmt.Sprintf("%d requests within a second", len(s.recent)))
	}
	route := s.routes[path]
	if route == nil || !now.Before(route.reset) {
		route = &routePeriod{reset: now.Add(s.period)}
		s.routes[path] = route
	}
	if route.used++; route.used > s.limit {
		s.over = append(s.over, fmt.Sprintf("%d of %d requests within %v at %s", route.used, s.limit, s.period, path))
	}
	s.done++
	header = map[string]string{
		"X-RateLimit-Limit": strconv.Itoa(s.limit), "X-RateLimit-Remaining": strconv.Itoa(max(s.limit-route.used, 0)),
		"X-RateLimit-Bucket": "posts", "X-RateLimit-Reset-After": fmt.Sprintf("%.3f", route.reset.Sub(now).Seconds()),
		"X-RateLimit-Reset": fmt.Sprintf("%.3f", float64(route.reset.UnixMilli())/1000),
	}
	return 200, header, s.cuts && fate == 1
}

// TestNoLimitIsEverPassed sends many requests to a service that is near or far, quick or slow, in any order: none arrives
// beyond a limit, and all arrive.
func TestNoLimitIsEverPassed(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		s := &strictService{
			random: rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 0)),
			there:  time.Duration(rapid.IntRange(0, 3000).Draw(r, "there")) * time.Millisecond,
			back:   time.Duration(rapid.IntRange(0, 3000).Draw(r, "back")) * time.Millisecond,
			limit:  rapid.IntRange(1, 8).Draw(r, "limit"),
			period: time.Duration(rapid.IntRange(200, 5000).Draw(r, "period")) * time.Millisecond,
			routes: map[string]*routePeriod{},
		}
		// A request whose answer is lost was counted, or was not: several in a row could fill a small limit unseen.
		s.cuts = s.limit >= 4 && rapid.Bool().Draw(r, "cuts")
		channels, each := rapid.IntRange(1, 100).Draw(r, "channels"), rapid.IntRange(1, 12).Draw(r, "each")
		synctest.Test(t, func(t *testing.T) {
			d := doorTo(s.answer)
			var all sync.WaitGroup
			for c := range channels {
				for range each {
					all.Go(func() {
						what := inChannel(strconv.Itoa(c))
						what.again, what.soon = true, c%5 == 0
						if err := d.do(context.Background(), what, nil); err != nil {
							s.mu.Lock()
							s.over = append(s.over, err.Error())
							s.mu.Unlock()
						}
					})
				}
			}
			all.Wait()
		})
		if len(s.over) > 0 {
			r.Fatalf("%d times too much: %v", len(s.over), s.over[0])
		}
		if s.done < channels*each {
			r.Fatalf("%d of %d arrived", s.done, channels*each)
		}
	})
}
