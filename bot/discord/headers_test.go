package discord

import (
	"fmt"
	"net/http"
	"testing"
	"testing/synctest"
	"time"
)

// TestLimitsInHeaders reads the headers of Discord, Topics, Rate Limits, whole and with some of them missing or odd.
func TestLimitsInHeaders(t *testing.T) {
	t.Parallel()
	now := time.Unix(1470173020, 0)
	for name, c := range map[string]struct {
		header           map[string]string
		remaining, limit int
		after            time.Duration
		ok               bool
	}{
		// the documentation's own sample
		"documented":    {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "0", "X-RateLimit-Reset": "1470173023", "X-RateLimit-Reset-After": "1"}, 0, 5, time.Second, true},
		"decimal":       {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "4", "X-RateLimit-Reset-After": "0.125"}, 4, 5, 125 * time.Millisecond, true},
		"no time left":  {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "0", "X-RateLimit-Reset": "1470173023.5"}, 0, 5, 3500 * time.Millisecond, true},
		"another clock": {map[string]string{"X-RateLimit-Remaining": "0", "X-RateLimit-Limit": "5", "X-RateLimit-Reset": "1470173023", "Date": "Tue, 02 Aug 2016 21:23:42 GMT"}, 0, 5, time.Second, true},
		"no whole":      {map[string]string{"X-RateLimit-Remaining": "3", "X-RateLimit-Reset-After": "2"}, 3, 3, 2 * time.Second, true},
		"past":          {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "0", "X-RateLimit-Reset": "1470173000"}, 0, 5, 0, true},
		"endless":       {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "0", "X-RateLimit-Reset-After": "1e300"}, 0, 5, longestWait, true},
		"none":          {nil, 0, 0, 0, false},
		"no reset":      {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "0"}, 0, 0, 0, false},
		"words":         {map[string]string{"X-RateLimit-Limit": "many", "X-RateLimit-Remaining": "few", "X-RateLimit-Reset-After": "soon"}, 0, 0, 0, false},
		"no number":     {map[string]string{"X-RateLimit-Limit": "5", "X-RateLimit-Remaining": "NaN", "X-RateLimit-Reset-After": "1"}, 0, 0, 0, false},
	} {
		h := http.Header{}
		for key, value := range c.header {
			h.Set(key, value)
		}
		remaining, limit, after, ok := rateLimit(h, now)
		if ok != c.ok || ok && (remaining != c.remaining || limit != c.limit || after != c.after) {
			t.Errorf("%s: %d of %d for %v, %t", name, remaining, limit, after, ok)
		}
	}
}

// TestHowLongARefusalLasts has 429 say its time in the header alone, the body alone, both, and in forms that other machines
// on the way use; and tells which of them are about everything.
func TestHowLongARefusalLasts(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		header map[string]string
		body   string
		wait   time.Duration
		global bool
	}{
		"the body":              {nil, `{"message":"You are being rate limited.","retry_after":64.57,"global":false}`, 64570 * time.Millisecond, false},
		"the header":            {map[string]string{"Retry-After": "65"}, `{"message":"You are being rate limited."}`, 65 * time.Second, false},
		"the longer of both":    {map[string]string{"Retry-After": "65"}, `{"retry_after":64.57,"global":true}`, 65 * time.Second, true},
		"in quotes":             {nil, `{"retry_after":"1.5","global":"false","code":"0"}`, 1500 * time.Millisecond, false},
		"scope without a body":  {map[string]string{"X-RateLimit-Scope": "user", "Retry-After": "2"}, ``, 2 * time.Second, false},
		"shared without a body": {map[string]string{"X-RateLimit-Scope": "shared"}, ``, time.Second, false},
		"not global":            {map[string]string{"X-RateLimit-Global": "false", "Retry-After": "2"}, `{}`, 2 * time.Second, false},
		"global without a body": {map[string]string{"X-RateLimit-Global": "true", "Retry-After": "2"}, ``, 2 * time.Second, true},
		"until a date":          {map[string]string{"Date": "Tue, 02 Aug 2016 21:23:42 GMT", "Retry-After": "Tue, 02 Aug 2016 21:24:12 GMT"}, `<html>`, 30 * time.Second, true},
		"nothing at all":        {nil, ``, time.Minute, true},
		"nonsense":              {map[string]string{"Retry-After": "-5"}, `{"retry_after":-1}`, time.Second, false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				d := doorTo(nil)
				h := http.Header{}
				for key, value := range c.header {
					h.Set(key, value)
				}
				key := "POST /channels/{channel}/messages 1"
				err := d.refused(inChannel("1"), key, &http.Response{StatusCode: 429, Header: h}, []byte(c.body))
				r, ok := err.(*refusal)
				if !ok || r.wait != c.wait || r.global != c.global {
					t.Errorf("%s", fmt.Sprintf("%+v", err))
				}
				if held := time.Until(d.limits.turns.blocked); c.global != (held == c.wait) {
					t.Errorf("everything is held for %v", held)
				}
			})
		})
	}
}
