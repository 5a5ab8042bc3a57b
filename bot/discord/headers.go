package discord

import (
	"net/http"
	"strconv"
	"strings"
	"time"
)

// rateLimit reads a route's limit in the headers of an answer: how many requests are left, of how many, and for how long.
// Times may be decimal. Where the time left is missing, the time of the reset says the same; where the whole is missing,
// what is left is taken for it.
func rateLimit(h http.Header, now time.Time) (remaining, limit int, after time.Duration, ok bool) {
	left, ok := headerNumber(h, "X-RateLimit-Remaining")
	if !ok {
		return 0, 0, 0, false
	}
	remaining = max(int(left), 0)
	whole, ok := headerNumber(h, "X-RateLimit-Limit")
	limit = max(int(whole), 1)
	if !ok {
		limit = max(remaining, 1)
	}
	if wait, ok := headerNumber(h, "X-RateLimit-Reset-After"); ok {
		return remaining, limit, seconds(wait), true
	}
	reset, ok := headerNumber(h, "X-RateLimit-Reset")
	if !ok {
		return 0, 0, 0, false
	}
	if there, err := http.ParseTime(h.Get("Date")); err == nil {
		now = there // our clock may differ
	}
	return remaining, limit, seconds(reset - float64(now.UnixMilli())/1000), true
}

// retryAfter is how long the headers of an answer ask us to wait, in seconds or until a date (RFC 9110, section 10.2.3);
// 0 when they do not say.
func retryAfter(h http.Header) time.Duration {
	if wait, ok := headerNumber(h, "Retry-After"); ok {
		return seconds(wait)
	}
	until, err := http.ParseTime(h.Get("Retry-After"))
	if err != nil {
		return 0
	}
	now := time.Now()
	if there, err := http.ParseTime(h.Get("Date")); err == nil {
		now = there
	}
	return seconds(until.Sub(now).Seconds())
}

func headerNumber(h http.Header, name string) (float64, bool) {
	n, err := strconv.ParseFloat(strings.TrimSpace(h.Get(name)), 64)
	return n, err == nil && n == n
}

// saysYes reports whether a header's value means yes.
func saysYes(value string) bool {
	switch strings.ToLower(strings.TrimSpace(value)) {
	case "true", "1", "yes":
		return true
	}
	return false
}
