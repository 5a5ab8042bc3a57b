package chattest_test

import (
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// try sends a message and gives the whole answer, or the error.
func try(ctx context.Context, srv *chattest.Server, ch *chattest.Channel, content string) (*http.Response, string, error) {
	req, err := http.NewRequestWithContext(ctx, "POST", srv.URL()+"/api/v10/channels/"+ch.ID+"/messages",
		strings.NewReader(`{"content":"`+content+`"}`))
	if err != nil {
		return nil, "", err
	}
	req.Header.Set("Authorization", "Bot "+chattest.Token)
	req.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	req.Header.Set("Content-Type", "application/json")
	transport := &http.Transport{DisableKeepAlives: true} // or a cut POST would be sent again unasked
	resp, err := (&http.Client{Transport: transport}).Do(req)
	if err != nil {
		return nil, "", err
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	return resp, string(data), err
}

// Each fault looks to the client as it does in life, and the message is written when the fault says so.
func TestFaults(t *testing.T) {
	for _, s := range []struct {
		name    string
		fault   *chattest.Fault
		status  int // 0 if there is no answer
		body    string
		headers map[string]string
		written bool
	}{
		{"500", chattest.Status(500), 500, `{"code":0,"message":"500: Internal Server Error"}`, nil, false},
		{"502", chattest.Status(502), 502, "<center>cloudflare</center>", map[string]string{"Content-Type": "text/html; charset=UTF-8"}, false},
		{"503", chattest.Status(503), 503, "503 Service Unavailable", nil, false},
		{"limited by user", chattest.Limited("user", 1500*time.Millisecond), 429, `"retry_after":1.5`, map[string]string{
			"X-RateLimit-Scope": "user", "X-RateLimit-Reset-After": "1.500", "Retry-After": "2", "X-RateLimit-Global": "",
		}, false},
		{"limited globally", chattest.Limited("global", time.Second), 429, `"global":true`, map[string]string{
			"X-RateLimit-Scope": "global", "X-RateLimit-Global": "true", "Retry-After": "1", "X-RateLimit-Reset-After": "",
		}, false},
		{"limited by sharing", chattest.Limited("shared", time.Second), 429, `"global":false`, map[string]string{"X-RateLimit-Scope": "shared"}, false},
		{"limited before Discord", chattest.LimitedByHTML(90 * time.Second), 429, "<html>", map[string]string{
			"Retry-After": "90", "Content-Type": "text/html; charset=UTF-8", "X-RateLimit-Scope": "",
		}, false},
		{"permission missing", chattest.Refuse(403, 50013, "Missing Permissions"), 403, `"code":50013`, nil, false},
		{"automatic moderation", chattest.Refuse(400, 200000, "Message was blocked by automatic moderation"), 400, `200000`, nil, false},
		{"cut before", chattest.CutBefore(), 0, "EOF", nil, false},
		{"cut after", chattest.CutAfter(), 0, "EOF", nil, true},
		{"silence", chattest.Silence(), 0, "deadline exceeded", nil, true},
		{"500 after all", chattest.FailAfter(500), 500, "500", nil, true},
		{"garbled", chattest.Garbled(), 200, `{"id": "1`, nil, true},
		{"slow", chattest.Slow(50 * time.Millisecond), 200, `"content":"hello"`, nil, true},
		{"slow to answer", chattest.SlowAnswer(50 * time.Millisecond), 200, `"content":"hello"`, nil, true},
	} {
		t.Run(s.name, func(t *testing.T) {
			t.Parallel()
			srv := chattest.New(t)
			g := srv.Guild("Larch Lane Collectors")
			ch, ann := g.Channel("general"), g.Member("ann")
			f := srv.Fail("POST /channels/*/messages", 1, s.fault)
			ctx, cancel := context.WithTimeout(context.Background(), 500*time.Millisecond)
			defer cancel()
			began := time.Now()
			resp, body, err := try(ctx, srv, ch, "hello")
			switch {
			case s.status == 0:
				if err == nil || !strings.Contains(err.Error(), s.body) {
					t.Errorf("error %v, want %s", err, s.body)
				}
			case err != nil:
				t.Fatal(err)
			case resp.StatusCode != s.status || !strings.Contains(body, s.body):
				t.Errorf("%d %s, want %d with %s", resp.StatusCode, body, s.status, s.body)
			}
			for k, v := range s.headers {
				if got := resp.Header.Get(k); got != v {
					t.Errorf("%s: %q, want %q", k, got, v)
				}
			}
			if strings.HasPrefix(s.name, "slow") && time.Since(began) < 50*time.Millisecond {
				t.Error("not slow")
			}
			if got := len(ann.Screen(ch)) == 1; got != s.written {
				t.Errorf("written: %v, want %v", got, s.written)
			}
			if _, body, err := try(t.Context(), srv, ch, "again"); err != nil || !strings.Contains(body, `"again"`) || f.Hits() != 1 {
				t.Errorf("after the fault: %s, %v, %d hits", body, err, f.Hits())
			}
		})
	}
}

// A fault without end goes on until it is mended.
func TestMend(t *testing.T) {
	srv := chattest.New(t)
	ch := srv.Guild("Larch Lane Collectors").Channel("general")
	f := srv.Fail("* /channels/**", -1, chattest.Status(503))
	for range 3 {
		if resp, _, err := try(t.Context(), srv, ch, "x"); err != nil || resp.StatusCode != 503 {
			t.Fatal(resp, err)
		}
	}
	f.Mend()
	if resp, _, err := try(t.Context(), srv, ch, "x"); err != nil || resp.StatusCode != 200 || f.Hits() != 3 {
		t.Errorf("%v, %v, %d hits", resp, err, f.Hits())
	}
}

// Closing the server frees whoever hangs in a fault.
func TestCloseFreesTheSilent(t *testing.T) {
	srv := chattest.New(t)
	ch := srv.Guild("Larch Lane Collectors").Channel("general")
	f := srv.Fail("POST /channels/*/messages", 1, chattest.Silence())
	done := make(chan error)
	go func() {
		_, _, err := try(context.Background(), srv, ch, "x")
		done <- err
	}()
	for f.Hits() == 0 {
		time.Sleep(time.Millisecond)
	}
	srv.Close()
	select {
	case err := <-done:
		if err == nil {
			t.Error("an answer came")
		}
	case <-time.After(5 * time.Second):
		t.Error("still hanging")
	}
}

// The faults of the gateway, as the client meets them.
func TestGatewayFaults(t *testing.T) {
	t.Run("no HELLO", func(t *testing.T) {
		srv := chattest.New(t)
		srv.Fail("GATEWAY /", 1, chattest.NoHello())
		b := dial(t, srv, "")
		_ = b.ws.SetReadDeadline(time.Now().Add(100 * time.Millisecond))
		if _, _, err := b.ws.ReadMessage(); err == nil || !strings.Contains(err.Error(), "timeout") {
			t.Errorf("got %v", err)
		}
		join(t, srv)
	})
	t.Run("opcode 7 before HELLO", func(t *testing.T) {
		srv := chattest.New(t)
		srv.Fail("GATEWAY /", 1, chattest.ReconnectBeforeHello())
		b := dial(t, srv, "")
		b.expect(7)
		b.expect(10)
	})
	t.Run("opcode 7 first", func(t *testing.T) {
		srv := chattest.New(t)
		srv.Fail("GATEWAY /", 1, chattest.ReconnectFirst())
		b := dial(t, srv, "")
		b.expect(10)
		b.send(2, identity(nil))
		b.expect(7)
	})
	t.Run("opcode 7 and 9 later", func(t *testing.T) {
		srv := chattest.New(t)
		b := join(t, srv)
		srv.Reconnect()
		b.expect(7)
		srv.InvalidateSessions(true)
		if p := b.expect(9); string(p.D) != "true" {
			t.Errorf("got %s", p.D)
		}
		srv.InvalidateSessions(false)
		if p := b.expect(9); string(p.D) != "false" {
			t.Errorf("got %s", p.D)
		}
		if p := b.resume(1).expect(9); string(p.D) != "false" {
			t.Error("the session lives on")
		}
	})
	t.Run("refused", func(t *testing.T) {
		srv := chattest.New(t)
		srv.Fail("GATEWAY /", 1, chattest.Status(503))
		resp, err := http.Get(srv.URL() + "/?v=10")
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != 404 {
			t.Errorf("without an upgrade: %d", resp.StatusCode)
		}
	})
	t.Run("token taken away", func(t *testing.T) {
		srv := chattest.New(t)
		b := join(t, srv)
		srv.CloseConnections(chattest.CloseBadToken, "Authentication failed.")
		if code := b.closed(); code != chattest.CloseBadToken {
			t.Errorf("closed with %d", code)
		}
		again := dial(t, srv, "")
		again.expect(10)
		again.send(2, identity(nil))
		if code := again.closed(); code != chattest.CloseBadToken {
			t.Errorf("closed with %d", code)
		}
		srv.RestoreToken()
		join(t, srv)
	})
}

// A half-open connection stays up and silent; what it should have carried is kept for a resume.
func TestHalfOpen(t *testing.T) {
	srv := chattest.New(t)
	b := join(t, srv)
	seq := *b.seq
	srv.HalfOpen()
	b.send(1, nil)
	srv.Emit("SOMETHING_NEW", object{"x": 1})
	_ = b.ws.SetReadDeadline(time.Now().Add(100 * time.Millisecond))
	if _, _, err := b.ws.ReadMessage(); err == nil || !strings.Contains(err.Error(), "timeout") {
		t.Errorf("got %v", err)
	}
	n := b.resume(seq)
	if p, err := n.read(); err != nil || p.T != "SOMETHING_NEW" {
		t.Errorf("replayed %s, %v", p.T, err)
	}
}

// Interactions twice and in the wrong order.
func TestRepeatedAndReordered(t *testing.T) {
	s := set(t)
	i := s.ann.Slash(s.ch, "want", nil)
	i.Repeat()
	id, token, _ := s.interaction()
	again, sameToken, _ := s.interaction()
	if id != again || token != sameToken {
		t.Error("not the same interaction")
	}
	s.srv.HoldEvents()
	first, second := s.ann.Slash(s.ch, "want", nil), s.bea.Slash(s.ch, "want", nil)
	s.srv.ReleaseEvents(true)
	a, _, _ := s.interaction()
	b, _, _ := s.interaction()
	if a != second.ID || b != first.ID {
		t.Error("not reversed")
	}
	first.Age(4 * time.Second)
	if !first.Failed() {
		t.Error("aged, and still alive")
	}
}
