package room

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot"
)

// scripted is a talker that answers as a test says, and remembers what it heard.
type scripted struct {
	mu      sync.Mutex
	members []bot.Speaker
	fails   error // of Members
	answer  func(bot.Heard) bot.Reply
	offers  func(typed string) []string
	heard   []bot.Heard
}

func (s *scripted) Hear(ctx context.Context, h bot.Heard) bot.Reply {
	s.mu.Lock()
	s.heard = append(s.heard, h)
	s.mu.Unlock()
	if s.answer == nil {
		return bot.Reply{}
	}
	reply := s.answer(h)
	if ctx.Err() != nil {
		return bot.Reply{Text: "cut off: " + ctx.Err().Error()}
	}
	return reply
}

func (s *scripted) Members(context.Context, string) ([]bot.Speaker, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]bot.Speaker(nil), s.members...), s.fails
}

func (s *scripted) Complete(_ context.Context, h bot.Heard) []string {
	if s.offers == nil {
		return nil
	}
	return s.offers(h.Text)
}

func (s *scripted) lastHeard(t *testing.T) bot.Heard {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.heard) == 0 {
		t.Fatal("the talker heard nothing")
	}
	return s.heard[len(s.heard)-1]
}

// atTable is a scripted talker with three members.
func atTable() *scripted {
	return &scripted{members: []bot.Speaker{{Account: "ann", Name: "Ann", Keeper: true}, {Account: "bo", Name: "Bo"}, {Account: "cyd", Name: "Cyd"}}}
}

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func newRoom(t *testing.T) *Room {
	t.Helper()
	return New(Config{Group: "g", Name: "Harbour table", Now: func() time.Time { return noon }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))})
}

// open serves a room on loopback for a test.
func open(t *testing.T, r *Room, talker Talker) *visitor {
	t.Helper()
	srv := httptest.NewServer(r.Handler(talker))
	t.Cleanup(srv.Close)
	client := srv.Client()
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &visitor{t, srv.URL, client}
}

// visitor is a browser without script.
type visitor struct {
	t      *testing.T
	url    string
	client *http.Client
}

// answer is a response, read to its end.
type answer struct {
	status int
	header http.Header
	body   string
}

func (v *visitor) do(method, path string, form url.Values, header ...string) answer {
	v.t.Helper()
	within, cancel := context.WithTimeout(v.t.Context(), 30*time.Second) // what answers with a stream has no end
	defer cancel()
	req, err := http.NewRequestWithContext(within, method, v.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.t.Fatal(err)
	}
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			req.Host = header[i+1]
		}
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := v.client.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(body)}
}

// page reads a page that must be there.
func (v *visitor) page(path string) string {
	v.t.Helper()
	a := v.do("GET", path, nil)
	if a.status != http.StatusOK {
		v.t.Fatalf("GET %s: %d %s", path, a.status, a.body)
	}
	return a.body
}

// says has a member say a line aloud, as a browser without script sends it.
func (v *visitor) says(account, line string, more ...string) answer {
	v.t.Helper()
	form := url.Values{"line": {line}}
	for _, name := range more {
		form.Set(name, "yes")
	}
	return v.do("POST", "/as/"+url.PathEscape(account)+"/say", form)
}

func wantIn(t *testing.T, where, text string, wants ...string) {
	t.Helper()
	for _, want := range wants {
		if !strings.Contains(text, want) {
			t.Errorf("%s lacks %q", where, want)
		}
	}
}

func wantNotIn(t *testing.T, where, text string, unwanted ...string) {
	t.Helper()
	for _, no := range unwanted {
		if strings.Contains(text, no) {
			t.Errorf("%s has %q", where, no)
		}
	}
}

func wantStatus(t *testing.T, a answer, status int, sentence string) {
	t.Helper()
	if a.status != status || !strings.Contains(a.body, sentence) {
		t.Errorf("answered %d %s; want %d with %q", a.status, strings.TrimSpace(fmt.Sprintf("%.300s", a.body)), status, sentence)
	}
}
