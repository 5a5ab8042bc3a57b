package chattest_test

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// get asks for a path, and gives status and headers.
func get(t *testing.T, srv *chattest.Server, path, token string) (*http.Response, object) {
	t.Helper()
	req, err := http.NewRequest("GET", srv.URL()+"/api/v10"+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", token)
	req.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body := object{}
	_ = json.NewDecoder(resp.Body).Decode(&body) // pages are no JSON
	return resp, body
}

// A strict server tells how a bucket stands, refuses what is over it in the scope "user", and opens again after the time
// that it said.
func TestBuckets(t *testing.T) {
	c := &clock{now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	srv := chattest.New(t, chattest.Strict(), chattest.WithClock(c.Now))
	g := srv.Guild("Larch Lane Collectors")
	path := "/channels/" + g.Channel("general").ID
	var resp *http.Response
	var body object
	for left := 9; left >= 0; left-- {
		resp, _ = get(t, srv, path, "Bot "+chattest.Token)
		if got := resp.Header.Get("X-RateLimit-Remaining"); resp.StatusCode != 200 || got != strconv.Itoa(left) {
			t.Fatalf("%d, %s remaining, want %d", resp.StatusCode, got, left)
		}
	}
	resp, body = get(t, srv, path, "Bot "+chattest.Token)
	if resp.StatusCode != 429 || body["global"] != false || body["retry_after"] != 1.0 || resp.Header.Get("X-RateLimit-Scope") != "user" {
		t.Errorf("over the bucket: %d %v", resp.StatusCode, body)
	}
	if resp, _ := get(t, srv, "/channels/"+g.Channel("swaps").ID, "Bot "+chattest.Token); resp.StatusCode != 200 {
		t.Errorf("another channel has a bucket of its own: %d", resp.StatusCode)
	}
	c.pass(time.Second)
	if resp, _ := get(t, srv, path, "Bot "+chattest.Token); resp.StatusCode != 200 {
		t.Errorf("after the wait: %d", resp.StatusCode)
	}
}

// Over all routes a bot has 50 requests a second, but answers to interactions go outside of that.
func TestGlobalLimit(t *testing.T) {
	s := set(t, chattest.Strict())
	s.clock.pass(time.Minute)
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	for n := range 50 {
		path := "/guilds/" + strconv.Itoa(n) // each with a bucket of its own
		if resp, _ := get(t, s.srv, path, "Bot "+chattest.Token); resp.StatusCode != 404 {
			t.Fatalf("request %d: %d", n, resp.StatusCode)
		}
	}
	resp, body := get(t, s.srv, "/guilds/50", "Bot "+chattest.Token)
	if resp.StatusCode != 429 || body["global"] != true || resp.Header.Get("X-RateLimit-Global") != "true" {
		t.Errorf("the 51st: %d %v", resp.StatusCode, body)
	}
	if status, body := s.answer(id, token, hello); status != 204 || !i.Acknowledged() {
		t.Errorf("the answer to an interaction waits too: %d %v", status, body)
	}
	s.clock.pass(time.Second)
	if resp, _ := get(t, s.srv, "/guilds/51", "Bot "+chattest.Token); resp.StatusCode != 404 {
		t.Errorf("a second later: %d", resp.StatusCode)
	}
}

// The second of fifty requests is any second, not only one that begins with the first of them; and it is counted who was
// over it.
func TestAnySecond(t *testing.T) {
	s := set(t, chattest.Strict())
	s.clock.pass(time.Minute)
	n := 0
	ask := func(times, want int) {
		t.Helper()
		for range times {
			n++
			if resp, _ := get(t, s.srv, "/guilds/"+strconv.Itoa(n), "Bot "+chattest.Token); resp.StatusCode != want {
				t.Fatalf("request %d: %d", n, resp.StatusCode)
			}
		}
	}
	ask(1, 404)
	s.clock.pass(900 * time.Millisecond)
	ask(40, 404)
	s.clock.pass(200 * time.Millisecond) // the first is a second ago, the forty are not
	ask(10, 404)
	ask(2, 429)
	if over := s.srv.Limited(); over["global"] != 2 || len(over) != 1 {
		t.Error(over)
	}
}

// A server with speed lives faster than we do: its clock runs ahead, its limits are whole again sooner, and it asks for
// heartbeats more often.
func TestSpeed(t *testing.T) {
	srv := chattest.New(t, chattest.Strict(), chattest.WithSpeed(100))
	g := srv.Guild("Larch Lane Collectors")
	path := "/channels/" + g.Channel("general").ID
	b := dial(t, srv, "")
	if p := b.expect(10); !strings.Contains(string(p.D), `"heartbeat_interval":412`) {
		t.Errorf("HELLO: %s", p.D)
	}
	born := chattest.BornAt(srv.Guild("Other").ID)
	for n := 0; ; n++ {
		resp, _ := get(t, srv, path, "Bot "+chattest.Token)
		if resp.StatusCode == 429 {
			t.Fatalf("request %d was over a limit of ten a second", n)
		}
		if n == 30 {
			break
		}
		time.Sleep(2 * time.Millisecond)
	}
	if lived := chattest.BornAt(srv.Guild("Another").ID).Sub(born); lived < 5*time.Second {
		t.Errorf("it lived %v in 60 ms and more", lived)
	}
}

// After 10,000 invalid requests in ten minutes the network blocks the address, whatever it asks for.
func TestInvalidRequests(t *testing.T) {
	c := &clock{now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	srv := chattest.New(t, chattest.Strict(), chattest.WithClock(c.Now), chattest.Keep(100), chattest.Lenient())
	srv.SpendInvalid(9_999)
	if resp, _ := get(t, srv, "/users/@me", "Bot wrong"); resp.StatusCode != 401 {
		t.Fatalf("a wrong token: %d", resp.StatusCode)
	}
	resp, _ := get(t, srv, "/users/@me", "Bot "+chattest.Token)
	if kind := resp.Header.Get("Content-Type"); resp.StatusCode != 429 || !strings.HasPrefix(kind, "text/html") {
		t.Errorf("after 10,000: %d %s", resp.StatusCode, kind)
	}
	c.pass(10 * time.Minute)
	if resp, _ := get(t, srv, "/users/@me", "Bot "+chattest.Token); resp.StatusCode != 200 {
		t.Errorf("ten minutes later: %d", resp.StatusCode)
	}
}
