package discord

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// overhear lets a test send the bot what the stand-in never sends: events as another server might write them. What the bot
// answers to these interactions is kept here, by the part of its path that is the interaction's id.
type overhear struct {
	*table
	mu      sync.Mutex
	answers map[string]map[string]any
	link    *link
}

func overhearing(t *testing.T) *overhear {
	t.Helper()
	o := &overhear{answers: map[string]map[string]any{}, link: &link{place: &place{shards: 1}}}
	o.table = prepare(t, 2)
	o.hurry = func(chat *Service) {
		real := chat.door.client.Transport
		chat.door.client.Transport = answersOf(func(r *http.Request) (*http.Response, error) {
			id, ok := strings.CutPrefix(r.URL.Path, "/api/v10/interactions/odd")
			if !ok {
				return real.RoundTrip(r)
			}
			var body map[string]any
			if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
				return nil, err
			}
			o.mu.Lock()
			defer o.mu.Unlock()
			o.answers[id[:1]] = body
			return &http.Response{StatusCode: 204, Header: http.Header{}, Body: http.NoBody, Request: r}, nil
		})
	}
	o.open().connected()
	return o
}

type answersOf func(r *http.Request) (*http.Response, error)

func (a answersOf) RoundTrip(r *http.Request) (*http.Response, error) { return a(r) }

// tell sends an interaction and waits for the answer's data.
func (o *overhear) tell(id, rest string) map[string]any {
	o.t.Helper()
	o.chat.event(o.link, "INTERACTION_CREATE", 1, json.RawMessage(fmt.Sprintf(`{"id":"odd%s","application_id":%q,"token":"tok",%s}`, id, o.ApplicationID(), rest)))
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		o.mu.Lock()
		got := o.answers[id]
		o.mu.Unlock()
		if got != nil {
			data, _ := got["data"].(map[string]any)
			return data
		}
		if time.Now().After(end) {
			o.t.Fatalf("%s is not answered\n%s", rest, o.log)
		}
	}
}

// TestInteractionsOfAllKindsOfPlaces comes from where we never asked to be: group conversations and servers that did not
// invite us, both possible for accounts that install an application for themselves (Discord, Interactions, Interaction
// Contexts), and with members and users half given.
func TestInteractionsOfAllKindsOfPlaces(t *testing.T) {
	t.Parallel()
	o := overhearing(t)
	ann := o.guild.Member("ann")
	ann.Slash(o.channel, "have", chattest.Values{"pieces": "lantern 84"}).Answer()
	const trades = `"data":{"name":"trades","type":1,"resolved":[],"options":null}`
	for n, c := range []struct {
		rest, says string
		alone      bool
	}{
		{`"type":2,"context":1,"user":{"id":"` + ann.ID + `","username":"ann"},` + trades, "You stand in no open trade", false},
		{`"type":"2","context":2,"user":{"id":` + ann.ID + `,"username":"ann"},` + trades, "You stand in no open trade", true},
		{`"type":2,"guild_id":"77","context":0,"authorizing_integration_owners":{"1":"` + ann.ID + `"},"member":{"user":{"id":"` + ann.ID + `"},"roles":[],"permissions":"32"},` + trades, "This server has not invited me", true},
		{`"type":2,"guild_id":"` + o.guild.ID + `","authorizing_integration_owners":{"0":"` + o.guild.ID + `"},"member":{"roles":null,"nick":null},"user":{"id":"` + ann.ID + `","username":"ann","global_name":null},` + trades, "You stand in no open trade", true},
		{`"type":2,"guild_id":"` + o.guild.ID + `","member":{"user":{"id":"` + ann.ID + `","username":"ann"}},"data":{"name":"a command of later"}`, "earlier version", true},
		{`"type":3,"guild_id":"` + o.guild.ID + `","member":{"user":{"id":"` + ann.ID + `","username":"ann"}},"message":{"id":"1","components":[{"type":99,"components":{"0":1}}]},"data":{"custom_id":"of another bot","component_type":99,"values":null}`, "earlier version", true},
	} {
		data := o.tell(fmt.Sprint(n), c.rest)
		flags, _ := data["flags"].(float64)
		if text, _ := data["content"].(string); !strings.Contains(text, c.says) || (int(flags)&onlyForYou != 0) != c.alone {
			t.Errorf("%s\nis answered %v", c.rest, data)
		}
	}
	if groups, err := o.bot.Groups(t.Context()); err != nil || len(groups) != 1 {
		t.Error("a server that did not invite us became a group", groups, err)
	}
}

// TestUnknownEventsAreIgnored sends events that we do not know, and known ones that say nothing.
func TestUnknownEventsAreIgnored(t *testing.T) {
	t.Parallel()
	o := overhearing(t)
	for n, e := range [][2]string{
		{"SOMETHING_NEW", `{"guild_id":"1"}`}, {"INTERACTION_CREATE", `{}`}, {"INTERACTION_CREATE", `[]`}, {"INTERACTION_CREATE", `null`}, {"INTERACTION_CREATE", `{"id":"1","type":2,"token":"t"}`},
		{"GUILD_CREATE", `{}`}, {"GUILD_DELETE", `{"unavailable":true}`}, {"GUILD_DELETE", `null`}, {"READY", `{`}, {"GUILD_CREATE", `"x"`},
	} {
		o.chat.event(o.link, e[0], int64(n), json.RawMessage(e[1]))
	}
	o.hears("ann")
	if strings.Contains(o.log.String(), "a fault of ours") {
		t.Error("a panic")
	}
}

// TestAServerThatIsHeardOfLater begins a session whose READY names no servers, which are heard of one by one: nobody sent
// us away, whichever of the events is done first.
func TestAServerThatIsHeardOfLater(t *testing.T) {
	t.Parallel()
	o := overhearing(t)
	there := json.RawMessage(fmt.Sprintf(`{"id":%q,"name":"Larch Lane Collectors"}`, o.guild.ID))
	for _, events := range [][]string{{"READY", "GUILD_CREATE"}, {"GUILD_CREATE", "READY"}} {
		o.link = &link{place: &place{shards: 1}}
		for _, kind := range events {
			if kind == "READY" {
				o.chat.event(o.link, kind, 1, json.RawMessage(`{"guilds":[]}`))
			} else {
				o.chat.event(o.link, kind, 2, there)
			}
		}
		eventually(t, "what was heard is not done", func() bool { return o.chat.work.count() == 0 })
		if groups, err := o.bot.Groups(t.Context()); err != nil || len(groups) != 1 {
			t.Errorf("%v: %v, %v", events, groups, err)
		}
	}
}

// TestWhoWeAreWhenNobodySays starts where the service does not know the route that says which application we are: the token
// says it too (Discord, Reference, Authentication; its first part is the id in base64).
func TestWhoWeAreWhenNobodySays(t *testing.T) {
	t.Parallel()
	for token, id := range map[string]string{
		"MTU3NTIwNTk0MzM2NzQzNDI0MA.GqVxyz.secret": "1575205943367434240", "MTIzNDU2Nzg5MDEyMzQ1Njc4.x.y": "123456789012345678", "a.b.c": "", "no-dots": "", "": "",
	} {
		if got := applicationIn(token); got != id {
			t.Errorf("%q holds %q", token, got)
		}
	}
	const token = "MTU3NTIwNTk0MzM2NzQzNDI0MA.x.y"
	for _, c := range []struct {
		status          int
		body            string
		app, me, wanted string
	}{
		{200, `{"id":"11","bot":{"id":"22","bot":true}}`, "11", "22", ""},
		{200, `{"id":11}`, "11", "1575205943367434240", ""},
		{404, `{"message":"404: Not Found","code":0}`, "1575205943367434240", "1575205943367434240", ""},
		{200, `{}`, "", "", "does not say which application we are"},
		{403, `{"message":"no","code":50001}`, "", "", "50001"},
	} {
		s := New(Config{Token: token, API: DefaultAPI, Log: slog.New(slog.DiscardHandler)})
		s.door.client.Transport = answers(func(*http.Request) (int, map[string]string, string, error) { return c.status, nil, c.body, nil })
		err := s.whoWeAre(t.Context())
		if (err == nil) != (c.wanted == "") || err != nil && !strings.Contains(err.Error(), c.wanted) || err == nil && (s.app != c.app || s.me != c.me) {
			t.Errorf("%s: the application %s, the account %s, %v", c.body, s.app, s.me, err)
		}
	}
}

// TestWhereTheAPIIs takes an address that names a server only for where Discord has its API.
func TestWhereTheAPIIs(t *testing.T) {
	t.Parallel()
	for given, want := range map[string]string{
		DefaultAPI: DefaultAPI, "http://127.0.0.1:9000": "http://127.0.0.1:9000/api/v10", "http://[::1]:9000/": "http://[::1]:9000/api/v10", "https://proxy.example/discord/": "https://proxy.example/discord",
	} {
		if got := apiOf(given); got != want {
			t.Errorf("%s is taken for %s", given, got)
		}
	}
	for api, ok := range map[string]bool{
		"http://127.8.9.10:1": true, "http://[::1]:9000": true, "http://localhost": true, "https://elsewhere.example": true,
		"http://10.0.0.1": false, "http://localhost.example": false, "http://127.0.0.1.example": false, "ftp://127.0.0.1": false, "127.0.0.1:9000": false, "https://a:b@example": false,
	} {
		if got := len(Config{API: api}.Check()) == 0; got != ok {
			t.Errorf("%s is taken: %t", api, got)
		}
	}
}
