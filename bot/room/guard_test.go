package room

import (
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

func TestOnlyOurOwnPageIsAnswered(t *testing.T) {
	t.Parallel()
	talker := atTable()
	v := open(t, newRoom(t), talker)
	at := strings.TrimPrefix(v.url, "http://")
	_, port, err := net.SplitHostPort(at)
	if err != nil {
		t.Fatal(err)
	}
	line := url.Values{"line": {"want harbour 85"}}
	for _, c := range []struct {
		name, method, path string
		header             []string
		want               int
	}{
		{"as 127.0.0.1", "GET", "/as/ann", nil, 200},
		{"as localhost, published under another port", "GET", "/as/ann", []string{"Host", "localhost:1"}, 200},
		{"as [::1]", "GET", "/as/ann", []string{"Host", "[::1]:" + port}, 200},
		{"as a foreign name that leads here", "GET", "/as/ann", []string{"Host", "table.example:" + port}, 403},
		{"as a name that begins like ours", "GET", "/as/ann", []string{"Host", "localhost.example"}, 403},
		{"as an address beyond this machine", "GET", "/as/ann", []string{"Host", "192.0.2.1:" + port}, 403},
		{"as a foreign name, a form", "POST", "/as/ann/say", []string{"Host", "table.example"}, 403},
		{"read by our page", "GET", "/as/ann/live?after=x", []string{"Origin", v.url}, 400},
		{"read by another page", "GET", "/as/ann/live", []string{"Origin", "http://table.example"}, 403},
		{"read by a page without an origin", "GET", "/as/ann/complete", []string{"Origin", "null"}, 403},
		{"a form of our page", "POST", "/as/ann/say", []string{"Origin", v.url}, 303},
		{"a form of our page, in a browser told no-referrer", "POST", "/as/ann/say", []string{"Origin", "null", "Sec-Fetch-Site", "same-origin"}, 303},
		{"a form of another page", "POST", "/as/ann/say", []string{"Origin", "http://table.example"}, 403},
		{"a form of another port of this machine", "POST", "/as/ann/say", []string{"Origin", "http://localhost:1", "Sec-Fetch-Site", "same-site"}, 403},
		{"a button of another page", "POST", "/as/ann/press", []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"coming in from another page", "POST", "/join", []string{"Sec-Fetch-Site", "cross-site"}, 403},
	} {
		form := line
		if c.method == "GET" {
			form = nil
		}
		a := v.do(c.method, c.path, form, c.header...)
		if a.status != c.want {
			t.Errorf("%s: answered %d, want %d", c.name, a.status, c.want)
		}
		if a.status == 403 && !strings.HasSuffix(strings.TrimSpace(a.body), ".") {
			t.Errorf("%s: refused without a sentence: %q", c.name, a.body)
		}
		for name, want := range map[string]string{
			"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
			"Cross-Origin-Resource-Policy": "same-origin", "Cache-Control": "no-store",
		} {
			if got := a.header.Get(name); got != want {
				t.Errorf("%s: %s is %q", c.name, name, got)
			}
		}
	}
	if len(talker.heard) != 2 {
		t.Errorf("%d lines were heard, want the 2 of our own page", len(talker.heard))
	}
	if strings.Contains(policy, "unsafe") || !strings.HasPrefix(policy, "default-src 'none'") {
		t.Errorf("the policy is %q", policy)
	}
}

func TestListenOnThisMachineOnly(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		address   string
		published bool
		refusal   string // "" when it opens
	}{
		{"127.0.0.1:0", false, ""},
		{"localhost:0", false, ""},
		{"0.0.0.0:0", false, "only for this machine"},
		{":0", false, "only for this machine"},
		{"[::]:0", false, "only for this machine"},
		{"192.0.2.1:0", false, "only for this machine"},
		{"table.example:0", false, "only for this machine"},
		{"8080", false, "is no address: write it like"},
		{"0.0.0.0:0", true, ""},
		{"127.0.0.1:99999", false, "open the room at"},
	} {
		l, err := Listen(c.address, c.published)
		if err == nil {
			_ = l.Close()
		}
		if c.refusal == "" && err != nil || c.refusal != "" && (err == nil || !strings.Contains(err.Error(), c.refusal)) {
			t.Errorf("Listen(%q, published %v): %v; want %q", c.address, c.published, err, c.refusal)
		}
	}
}

// Whoever stands in front of a published room passes the Host of the browser on; it is judged all the same.
func TestPublishedRoomStillJudgesTheHost(t *testing.T) {
	t.Parallel()
	l, err := Listen("0.0.0.0:0", true)
	if err != nil {
		t.Fatal(err)
	}
	srv := &http.Server{Handler: newRoom(t).Handler(atTable())}
	go srv.Serve(l)
	t.Cleanup(func() { srv.Close() })
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	v := &visitor{t, "http://127.0.0.1:" + port, http.DefaultClient}
	wantStatus(t, v.do("GET", "/", nil, "Host", "table.example"), http.StatusForbidden, "only on this machine")
	wantStatus(t, v.do("GET", "/", nil, "Host", "127.0.0.1:8765"), http.StatusOK, "Who are you?")
}
