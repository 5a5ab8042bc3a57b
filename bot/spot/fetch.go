package spot

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Fetcher asks feeds. It is safe for concurrent use.
type Fetcher struct {
	getenv func(string) string
	inside []string
	client *http.Client
}

// How much and how long we listen.
const (
	longestJSON = 1 << 20
	longestList = 4 << 20
	answerTime  = 12 * time.Second // the whole of an answer, redirects and all
	mostHops    = 3
)

// NewFetcher makes a fetcher that finds keys with getenv, as SPAREOUNCE_FEED_KEY_ and the key's name: the host that the
// key is for, a blank, and the key. The hosts named in inside are the operator's own: they may have private addresses and
// be called without TLS. No proxy is used.
func NewFetcher(getenv func(string) string, inside []string) *Fetcher {
	f := &Fetcher{getenv: getenv, inside: inside}
	f.client = &http.Client{
		Timeout:       answerTime,
		CheckRedirect: f.followOnly,
		Transport: &http.Transport{
			DialContext:            f.dial,
			TLSHandshakeTimeout:    5 * time.Second,
			ResponseHeaderTimeout:  8 * time.Second,
			MaxResponseHeaderBytes: 64 << 10,
			IdleConnTimeout:        30 * time.Second,
			ForceAttemptHTTP2:      true,
		},
	}
	return f
}

// Through returns a fetcher that has t carry its requests: a transcript's, which answers by itself.
func (f *Fetcher) Through(t http.RoundTripper) *Fetcher {
	through, client := *f, *f.client
	client.Transport = t
	through.client = &client
	return &through
}

// Seen is what a feed's last answer was marked with, for asking whether there is a newer one.
type Seen struct{ ETag, Modified string }

// Answer is what a feed says.
type Answer struct {
	Body      []byte // nil when nothing is newer than what was seen
	Unchanged bool
	Seen      Seen
	Wait      time.Duration // how long the feed asks us to stay away; it may come with an error
}

// Fetch asks a feed. Errors are *Refusal.
func (f *Fetcher) Fetch(ctx context.Context, feed Feed, seen Seen) (Answer, error) {
	request, key, err := f.request(ctx, feed, seen)
	if err != nil {
		return Answer{}, err
	}
	response, err := f.client.Do(request)
	if err != nil {
		return Answer{}, unreachable(feed, key, err)
	}
	defer response.Body.Close()
	answer := Answer{Wait: wait(response)}
	switch {
	case response.StatusCode == http.StatusNotModified && seen != (Seen{}):
		answer.Unchanged, answer.Seen = true, seen
		return answer, nil
	case response.StatusCode != http.StatusOK:
		return answer, &Refusal{Why: BadStatus, Detail: strconv.Itoa(response.StatusCode)}
	}
	most := int64(longestJSON)
	if feed.List {
		most = longestList
	}
	answer.Body, err = io.ReadAll(io.LimitReader(response.Body, most+1))
	switch {
	case err != nil:
		return answer, unreachable(feed, key, err)
	case int64(len(answer.Body)) > most:
		return Answer{Wait: answer.Wait}, &Refusal{Why: TooLarge, Detail: strconv.FormatInt(most>>20, 10) + " MiB"}
	}
	answer.Seen = Seen{marker(response.Header.Get("ETag")), marker(response.Header.Get("Last-Modified"))}
	return answer, nil
}

// marker keeps what a feed marks its answer with, unless it is longer than any honest mark.
func marker(text string) string {
	if len(text) > 200 {
		return ""
	}
	return text
}

// wait reads Retry-After in seconds (RFC 9110 section 10.2.3); a date there is taken as an hour.
func wait(r *http.Response) time.Duration {
	said := r.Header.Get("Retry-After")
	if said == "" {
		return 0
	}
	seconds, err := strconv.Atoi(said)
	if err != nil || seconds < 0 {
		return time.Hour
	}
	return min(time.Duration(seconds)*time.Second, 24*time.Hour)
}

func (f *Fetcher) request(ctx context.Context, feed Feed, seen Seen) (r *http.Request, key string, err error) {
	r, err = http.NewRequestWithContext(ctx, http.MethodGet, feed.URL, nil)
	if err != nil {
		return nil, "", &Refusal{Why: NoAddress, Word: feed.URL}
	}
	if err := f.allowed(r.URL); err != nil {
		return nil, "", err
	}
	r.Header.Set("User-Agent", "spareounce")
	r.Header.Set("Accept", "application/json")
	if feed.List {
		r.Header.Set("Accept", "text/csv, text/plain;q=0.9, */*;q=0.1")
	}
	if seen.ETag != "" {
		r.Header.Set("If-None-Match", seen.ETag)
	}
	if seen.Modified != "" {
		r.Header.Set("If-Modified-Since", seen.Modified)
	}
	if feed.Key == "" {
		return r, "", nil
	}
	if key, err = f.key(feed.Key, r.URL); err != nil {
		return nil, "", err
	}
	switch {
	case feed.Header != "":
		r.Header.Set(feed.Header, key)
	case feed.Query != "":
		q := r.URL.Query()
		q.Set(feed.Query, key)
		r.URL.RawQuery = q.Encode()
	default:
		r.Header.Set("Authorization", "Bearer "+key)
	}
	return r, key, nil
}

// KeyPrefix begins the names of the environment's variables that hold keys of feeds.
const KeyPrefix = "SPAREOUNCE_FEED_KEY_"

// key finds a key and holds it back from every host but its own: whoever may describe a feed could else have the
// operator's keys sent anywhere.
func (f *Fetcher) key(name string, to *url.URL) (string, error) {
	host, key, _ := strings.Cut(f.getenv(KeyPrefix+name), " ")
	key = strings.TrimSpace(key)
	switch {
	case key == "":
		return "", &Refusal{Why: BadKey, Word: name}
	case !strings.EqualFold(host, to.Host):
		return "", &Refusal{Why: KeyElsewhere, Word: name, Detail: host}
	}
	return key, nil
}

// allowed refuses addresses that are not https, but for the operator's own hosts.
func (f *Fetcher) allowed(u *url.URL) error {
	if u.Scheme == "https" || u.Scheme == "http" && slices.Contains(f.inside, u.Hostname()) {
		return nil
	}
	return &Refusal{Why: NoAddress, Word: u.Scheme + "://" + u.Host}
}

// followOnly follows redirects that stay on TLS; one that leaves a host takes no key along.
func (f *Fetcher) followOnly(next *http.Request, before []*http.Request) error {
	if len(before) > mostHops {
		return fmt.Errorf("more than %d redirects", mostHops)
	}
	if err := f.allowed(next.URL); err != nil {
		return err
	}
	first := before[0]
	if slices.Contains(f.inside, next.URL.Hostname()) && !slices.Contains(f.inside, first.URL.Hostname()) {
		return &Refusal{Why: NotPublic, Detail: next.URL.Hostname()}
	}
	if next.URL.Host != first.URL.Host {
		next.Header = http.Header{"User-Agent": {"spareounce"}, "Accept": first.Header["Accept"]}
	}
	next.Header.Del("Referer") // it would carry a key that stands in the address
	return nil
}

// dial connects to public addresses only, unless the host is one of the operator's. It judges the very address that is
// called, so that no name can be one thing when it is looked at and another when it is called.
func (f *Fetcher) dial(ctx context.Context, network, address string) (net.Conn, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	d := net.Dialer{Timeout: 5 * time.Second}
	if !slices.Contains(f.inside, host) {
		d.Control = func(_, address string, _ syscall.RawConn) error {
			at, err := netip.ParseAddrPort(address)
			if err != nil || !public(at.Addr()) {
				return &Refusal{Why: NotPublic, Detail: host}
			}
			return nil
		}
	}
	return d.DialContext(ctx, network, address)
}

// unreachable says that a feed did not answer, without its key.
func unreachable(feed Feed, key string, err error) error {
	if known, ok := errors.AsType[*Refusal](err); ok {
		return known
	}
	text := err.Error()
	if key != "" {
		for _, written := range []string{key, url.QueryEscape(key), url.PathEscape(key)} {
			text = strings.ReplaceAll(text, written, "(key)")
		}
	}
	return &Refusal{Why: Unreachable, Detail: feed.Host(), Cause: errors.New(text)}
}

// Answering is a carrier of requests that answers by itself, for transcripts.
type Answering func(url string) (status int, body string)

// RoundTrip answers.
func (a Answering) RoundTrip(r *http.Request) (*http.Response, error) {
	status, body := a(r.URL.String())
	return &http.Response{
		StatusCode: status, Status: http.StatusText(status), Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: http.Header{}, Body: io.NopCloser(bytes.NewReader([]byte(body))), Request: r,
	}, nil
}
