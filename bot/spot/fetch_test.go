package spot

import (
	"context"
	"crypto/tls"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

const secret = "s3cret/+ &key"

// feedAt is a fetcher that trusts a server of the test's, whose host is the operator's own unless outside.
func feedAt(t *testing.T, server *httptest.Server, inside bool, words string) (*Fetcher, Feed) {
	t.Helper()
	u, err := url.Parse(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	getenv := func(name string) string {
		return map[string]string{KeyPrefix + "DAILY": u.Host + " " + secret, KeyPrefix + "OTHER": "elsewhere.example " + secret}[name]
	}
	var hosts []string
	if inside {
		hosts = []string{u.Hostname()}
	}
	f := NewFetcher(getenv, hosts)
	if server.TLS != nil {
		f.client.Transport.(*http.Transport).TLSClientConfig = &tls.Config{RootCAs: server.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs}
	}
	feed, err := ParseFeed(server.URL+"/latest at /price "+words, "USD")
	if err != nil {
		t.Fatal(err)
	}
	return f, feed
}

func TestAnswersAreAskedForOnlyWhenNewer(t *testing.T) {
	asked := 0
	server := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked++
		if r.Header.Get("If-None-Match") == `"one"` && r.Header.Get("If-Modified-Since") == "Tue, 29 Sep 2026 12:00:00 GMT" {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		w.Header().Set("ETag", `"one"`)
		w.Header().Set("Last-Modified", "Tue, 29 Sep 2026 12:00:00 GMT")
		fmt.Fprint(w, `{"price": 60.61747286}`)
	}))
	defer server.Close()
	f, feed := feedAt(t, server, true, "")
	first, err := f.Fetch(t.Context(), feed, Seen{})
	if err != nil || first.Unchanged || first.Seen.ETag != `"one"` {
		t.Fatalf("%+v, %v", first, err)
	}
	second, err := f.Fetch(t.Context(), feed, first.Seen)
	if err != nil || !second.Unchanged || second.Body != nil || second.Seen != first.Seen || asked != 2 {
		t.Fatalf("%+v, %v after %d requests", second, err, asked)
	}
}

func TestWhatAFeedMayNotDo(t *testing.T) {
	for name, c := range map[string]struct {
		answer http.HandlerFunc
		words  string
		want   Why
	}{
		"fail":               {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) }, "", BadStatus},
		"say nothing is new": {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(304) }, "", BadStatus},
		"talk too long": {func(w http.ResponseWriter, _ *http.Request) {
			fmt.Fprint(w, strings.Repeat(" ", longestJSON+1))
		}, "", TooLarge},
		"hang up": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "100")
			fmt.Fprint(w, "{")
		}, "", Unreachable},
		"send us round in circles": {func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/again", http.StatusFound) }, "", Unreachable},
		"send us off TLS": {func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://prices.example/", http.StatusFound)
		}, "", NoAddress},
		"send us to this machine": {func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "https://localhost:1/", http.StatusFound)
		}, "", NotPublic},
		"send us to the cloud's keys": {func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "https://169.254.169.254/", http.StatusTemporaryRedirect)
		}, "", NotPublic},
		"have another's key":     {nil, "key OTHER", KeyElsewhere},
		"have a key there isn't": {nil, "key NONE", BadKey},
	} {
		t.Run(name, func(t *testing.T) {
			server := httptest.NewTLSServer(c.answer)
			defer server.Close()
			f, feed := feedAt(t, server, true, c.words)
			_, err := f.Fetch(t.Context(), feed, Seen{})
			if r := refusal(t, err); r.Why != c.want {
				t.Errorf("%v, want %v", r, c.want)
			}
		})
	}
}

// A server on this machine is not called unless the operator has named it, by name or by number.
func TestThisMachineIsNotCalled(t *testing.T) {
	server := httptest.NewTLSServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("called") }))
	defer server.Close()
	f, feed := feedAt(t, server, false, "")
	call := func(host string) Why {
		feed.URL = strings.Replace(server.URL, "127.0.0.1", host, 1)
		_, err := f.Fetch(t.Context(), feed, Seen{})
		return refusal(t, err).Why
	}
	for _, host := range []string{"127.0.0.1", "localhost", "[::1]", "[::ffff:127.0.0.1]"} {
		if why := call(host); why != NotPublic {
			t.Errorf("%s: %v", host, why)
		}
	}
	for _, host := range []string{"0x7f.1", "2130706433"} { // some resolvers take these for 127.0.0.1
		if why := call(host); why != NotPublic && why != Unreachable {
			t.Errorf("%s: %v", host, why)
		}
	}
	feed.URL = strings.Replace(server.URL, "https:", "http:", 1)
	if _, err := f.Fetch(t.Context(), feed, Seen{}); refusal(t, err).Why != NoAddress {
		t.Errorf("without TLS: %v", err)
	}
}

// A public feed cannot send us to a host that is the operator's own.
func TestRedirectsStayOutside(t *testing.T) {
	f := NewFetcher(func(string) string { return "" }, []string{"prices.lan"})
	next, first := &http.Request{URL: &url.URL{Scheme: "http", Host: "prices.lan"}}, &http.Request{URL: &url.URL{Scheme: "https", Host: "prices.example"}}
	if err := f.followOnly(next, []*http.Request{first}); refusal(t, err).Why != NotPublic {
		t.Error(err)
	}
}

func TestKeysGoToTheirHostAndIntoNoError(t *testing.T) {
	for _, words := range []string{"key DAILY", "key DAILY header X-Key", "key DAILY query apikey"} {
		t.Run(words, func(t *testing.T) {
			var server *httptest.Server
			other := httptest.NewTLSServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
				for name, values := range r.Header {
					if strings.Contains(strings.Join(values, " "), "s3cret") {
						t.Errorf("the other host got the key in %s", name)
					}
				}
			}))
			defer other.Close()
			server = httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				got := r.Header.Get("Authorization") + r.Header.Get("X-Key") + r.URL.Query().Get("apikey")
				if strings.TrimPrefix(got, "Bearer ") != secret {
					t.Errorf("the feed got the key %q", got)
				}
				http.Redirect(w, r, strings.Replace(other.URL, "127.0.0.1", "localhost", 1), http.StatusFound)
			}))
			defer server.Close()
			f, feed := feedAt(t, server, true, words)
			f.inside = append(f.inside, "localhost")
			_, err := f.Fetch(t.Context(), feed, Seen{})
			if text := fmt.Sprintf("%v %+v", err, err); err == nil || strings.Contains(text, "s3cret") {
				t.Errorf("the error is %s", text) // the other server's certificate is not for localhost
			}
			server.Close()
			if _, err = f.Fetch(t.Context(), feed, Seen{}); strings.Contains(fmt.Sprintf("%v %+v", err, err), "s3cret") {
				t.Errorf("the error is %v", err)
			}
		})
	}
}

// A redirect to another host takes no header of the first along.
func TestAnotherHostGetsNoHeader(t *testing.T) {
	f := NewFetcher(func(string) string { return "" }, nil)
	first := &http.Request{URL: &url.URL{Scheme: "https", Host: "a.example"}, Header: http.Header{"X-Key": {secret}, "Accept": {"application/json"}}}
	next := &http.Request{URL: &url.URL{Scheme: "https", Host: "b.example"}, Header: first.Header.Clone()}
	next.Header.Set("Referer", "https://a.example/?apikey="+secret)
	if err := f.followOnly(next, []*http.Request{first}); err != nil {
		t.Fatal(err)
	}
	if text := fmt.Sprint(next.Header); strings.Contains(text, "s3cret") {
		t.Error(text)
	}
}

// A feed that accepts and says nothing is given up in time. The clock is the bubble's, so nobody waits.
func TestASilentFeedIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := NewFetcher(func(string) string { return "" }, nil).Through(silence{})
		feed, err := ParseFeed("https://prices.example at /p", "USD")
		if err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		_, err = f.Fetch(t.Context(), feed, Seen{})
		if r := refusal(t, err); r.Why != Unreachable || r.Detail != "prices.example" {
			t.Error(err)
		}
		if took := time.Since(begun); took != answerTime {
			t.Errorf("after %v", took)
		}
	})
}

type silence struct{}

func (silence) RoundTrip(r *http.Request) (*http.Response, error) {
	<-r.Context().Done()
	return nil, context.Cause(r.Context())
}

func TestAFeedMayAskUsToStayAway(t *testing.T) {
	for said, want := range map[string]time.Duration{"": 0, "120": 2 * time.Minute, "-1": time.Hour, "Tue, 29 Sep 2026 12:00:00 GMT": time.Hour, "999999999": 24 * time.Hour} {
		if got := wait(&http.Response{Header: http.Header{"Retry-After": {said}}}); got != want {
			t.Errorf("%q: %v", said, got)
		}
	}
}

func TestOnlyPublicAddressesArePublic(t *testing.T) {
	for _, text := range []string{"8.8.8.8", "1.1.1.1", "2606:4700::1111", "93.184.216.34", "172.32.0.1", "100.128.0.1"} {
		if !public(netip.MustParseAddr(text)) {
			t.Errorf("%s is refused", text)
		}
	}
	for _, text := range []string{
		"127.0.0.1", "10.1.2.3", "172.16.0.1", "172.31.255.255", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0", "255.255.255.255",
		"224.0.0.1", "198.18.0.1", "192.0.2.1", "::1", "::", "::ffff:10.0.0.1", "::ffff:127.0.0.1", "fe80::1", "fe80::1%eth0", "fd00::1", "64:ff9b::7f00:1",
		"2002:7f00:1::", "ff02::1", "2001:db8::1", "2001::1", "::127.0.0.1",
	} {
		if public(netip.MustParseAddr(text)) {
			t.Errorf("%s is let pass", text)
		}
	}
	if public(netip.Addr{}) {
		t.Error("no address is let pass")
	}
}
