package chattest_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// Who may not write somewhere is told so as Discord tells it.
func TestPermissions(t *testing.T) {
	s := set(t)
	g := s.srv.Guild("Second Street")
	ch := g.Channel("general")
	send := func(c *chattest.Channel) (int, object) {
		return s.do("POST", "/channels/"+c.ID+"/messages", object{"content": "x"})
	}
	status, body := s.do("POST", "/channels/1/messages", object{"content": "x"})
	s.refused(status, body, 404, 10003)
	ch.Deny(s.srv.ApplicationID(), chattest.SendMessages)
	status, body = send(ch)
	s.refused(status, body, 403, 50013)
	ch.Deny(g.ID, chattest.ViewChannel) // to @everyone, and so to the bot, whose own role has no say here
	status, body = send(ch)
	s.refused(status, body, 403, 50001)
	ch.Allow(g.ID, chattest.ViewChannel)
	ch.Allow(s.srv.ApplicationID(), chattest.SendMessages)
	if status, body = send(ch); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	g.BotMay(0)
	if status, body = send(ch); status != 200 {
		t.Errorf("what @everyone may, the bot may: %d %v", status, body)
	}
	g.Remove()
	status, body = send(ch)
	s.refused(status, body, 403, 50001)
	status, body = s.do("GET", "/guilds/"+g.ID, nil)
	s.refused(status, body, 403, 50001)
}

// Private messages: refused where they are closed or nothing is shared, and read by one member only.
func TestPrivateMessages(t *testing.T) {
	s := set(t)
	open := func(m *chattest.Member) string {
		status, body := s.do("POST", "/users/@me/channels", object{"recipient_id": m.ID})
		if status != 200 {
			t.Fatalf("%d %v", status, body)
		}
		return "/channels/" + body["id"].(string) + "/messages"
	}
	if status, body := s.do("POST", open(s.ann), object{"content": "to ann"}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	if m := s.ann.Screen(s.ann.DM()); len(m) != 1 || m[0].Content != "to ann" || len(s.bea.Saw()) != 0 {
		t.Errorf("ann reads %v, bea %v", m, s.bea.Saw())
	}
	s.ann.CloseDMs(true)
	status, body := s.do("POST", open(s.ann), object{"content": "x"})
	s.refused(status, body, 403, 50007)
	status, body = s.do("POST", open(s.srv.Member("cy")), object{"content": "x"})
	s.refused(status, body, 403, 50278)
}

// A nonce that is enforced finds the message that it made, for a few minutes; one that is not makes another.
func TestNonce(t *testing.T) {
	s := set(t)
	send := func(enforce bool) string {
		form := object{"content": "x", "nonce": "trade-41-agreed"}
		if enforce {
			form["enforce_nonce"] = true
		}
		status, body := s.do("POST", "/channels/"+s.ch.ID+"/messages", form)
		if status != 200 || body["nonce"] != "trade-41-agreed" {
			t.Fatalf("%d %v", status, body)
		}
		return body["id"].(string)
	}
	first := send(true)
	if send(true) != first || len(s.ann.Screen(s.ch)) != 1 {
		t.Error("written twice")
	}
	if send(false) == first {
		t.Error("a nonce that is not enforced finds a message")
	}
	s.clock.pass(10 * time.Minute)
	if send(true) == first {
		t.Error("remembered for ten minutes")
	}
}

// Edits, deletions, and what is gone.
func TestEditAndDelete(t *testing.T) {
	s := set(t)
	_, body := s.do("POST", "/channels/"+s.ch.ID+"/messages", object{"content": "one"})
	path := "/channels/" + s.ch.ID + "/messages/" + body["id"].(string)
	if status, body := s.do("PATCH", path, object{"content": "two"}); status != 200 || body["edited_timestamp"] == nil {
		t.Errorf("%d %v", status, body)
	}
	if status, body := s.do("PATCH", path, object{"flags": 1 << 15, "content": nil, "components": []object{{"type": 10, "content": "three"}}}); status != 200 {
		t.Errorf("turning to V2: %d %v", status, body)
	}
	m := s.ann.Screen(s.ch)[0]
	if !m.V2 || m.Text() != "three" || m.Revision != 2 {
		t.Errorf("ann reads %+v", m)
	}
	theirs := s.ann.Say(s.ch, "mine")
	status, body := s.do("PATCH", "/channels/"+s.ch.ID+"/messages/"+theirs.ID, object{"content": "x"})
	s.refused(status, body, 403, 50005)
	status, body = s.do("DELETE", "/channels/"+s.ch.ID+"/messages/"+theirs.ID, nil)
	s.refused(status, body, 403, 50013)
	if status, _ := s.do("DELETE", path, nil); status != 204 || !m.Now().Deleted {
		t.Errorf("deleting: %d", status)
	}
	status, body = s.do("PATCH", path, object{"content": "x"})
	s.refused(status, body, 404, 10008)
	var kinds []string
	for _, x := range s.bea.Saw() {
		kinds = append(kinds, string(x.Change))
	}
	if got := strings.Join(kinds, " "); got != "said edited edited said removed" {
		t.Errorf("bea saw %s", got)
	}
}

// A message laid out with components stays so, and takes no content any more.
func TestV2Stays(t *testing.T) {
	s := set(t, chattest.Lenient())
	_, body := s.do("POST", "/channels/"+s.ch.ID+"/messages", object{"flags": 1 << 15, "components": []object{{"type": 10, "content": "x"}}})
	path := "/channels/" + s.ch.ID + "/messages/" + body["id"].(string)
	status, body := s.do("PATCH", path, object{"content": "y"})
	s.refused(status, body, 400, 50035)
	if status, body := s.do("PATCH", path, object{"components": []object{{"type": 10, "content": "y"}}}); status != 200 || body["flags"] != float64(1<<15) {
		t.Errorf("%d %v", status, body)
	}
}

// Who is pinged is worked out as Discord does it: everyone named, unless allowed_mentions says otherwise.
func TestMentions(t *testing.T) {
	s := set(t)
	text := fmt.Sprintf("<@%s> <@%s> @everyone", s.ann.ID, s.bea.ID)
	for _, c := range []struct {
		allowed any
		pinged  string
	}{
		{nil, "ann bea"},
		{object{"parse": []string{}}, ""},
		{object{"parse": []string{"users"}}, "ann bea"},
		{object{"parse": []string{}, "users": []string{s.bea.ID}}, "bea"},
		{object{"parse": []string{"everyone"}}, ""}, // which the bot may not
	} {
		form := object{"content": text}
		if c.allowed != nil {
			form["allowed_mentions"] = c.allowed
		}
		s.do("POST", "/channels/"+s.ch.ID+"/messages", form)
		screen := s.ann.Screen(s.ch)
		m := screen[len(screen)-1]
		var names []string
		for _, u := range m.Pinged {
			names = append(names, u.Name)
		}
		if got := strings.Join(names, " "); got != c.pinged || m.Everyone {
			t.Errorf("%v pings %q, everyone %v; want %q", c.allowed, got, m.Everyone, c.pinged)
		}
	}
}

// Files: alt text arrives, the CDN gives what was sent while the signature is fresh, and nothing without it.
func TestFiles(t *testing.T) {
	s := set(t)
	body := "--b\r\nContent-Disposition: form-data; name=\"payload_json\"\r\nContent-Type: application/json\r\n\r\n" +
		`{"content":"card","attachments":[{"id":"0","filename":"card.png","description":"12 of 16 pieces held"}],"embeds":[{"image":{"url":"attachment://card.png"}}]}` +
		"\r\n--b\r\nContent-Disposition: form-data; name=\"files[0]\"; filename=\"card.png\"\r\nContent-Type: image/png\r\n\r\nPNG\r\n--b--\r\n"
	req, err := http.NewRequest("POST", "https://discord.com/api/v10/channels/"+s.ch.ID+"/messages", strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bot "+chattest.Token)
	req.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	req.Header.Set("Content-Type", "multipart/form-data; boundary=b")
	resp, err := s.srv.Client().Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var m struct {
		Attachments []struct {
			URL         string `json:"url"`
			Description string `json:"description"`
			ContentType string `json:"content_type"`
		} `json:"attachments"`
	}
	if err := json.NewDecoder(resp.Body).Decode(&m); err != nil || len(m.Attachments) != 1 {
		t.Fatal(resp.StatusCode, err)
	}
	if a := m.Attachments[0]; a.Description != "12 of 16 pieces held" || a.ContentType != "image/png" {
		t.Errorf("%+v", a)
	}
	if got := s.ann.Screen(s.ch)[0].Text(); got != "card\n(card.png) 12 of 16 pieces held" {
		t.Errorf("ann reads %q", got)
	}
	url := m.Attachments[0].URL
	for _, c := range []struct {
		url  string
		wait time.Duration
		want string
	}{
		{url, 0, "PNG"},
		{strings.Replace(url, "hm=", "hm=0", 1), 0, "This content is no longer available.\n"},
		{url, 25 * time.Hour, "This content is no longer available.\n"},
	} {
		s.clock.pass(c.wait)
		resp, err := s.srv.Client().Get(c.url)
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if string(data) != c.want || err != nil {
			t.Errorf("%s: %q, %v", c.url, data, err)
		}
	}
}

// What members attach is theirs to lie about, so that a bot's checks can be tested.
func TestLies(t *testing.T) {
	s := set(t)
	s.ann.Slash(s.ch, "want", chattest.Values{"list": chattest.File{Name: "list.csv", Data: []byte("82"), Size: 1 << 30, Host: "example.org"}})
	_, _, whole := s.interaction()
	for _, a := range whole["data"].(object)["resolved"].(object)["attachments"].(object) {
		if a := a.(object); a["size"] != float64(1<<30) || !strings.HasPrefix(a["url"].(string), "https://example.org/") {
			t.Errorf("told %v", a)
		}
	}
	if _, err := s.srv.Client().Get("https://example.org/x"); err == nil {
		t.Error("the stand-in's client asks a host that is not Discord's")
	}
}

// What is wrong with a request before anyone reads its form.
func TestRequests(t *testing.T) {
	s := set(t, chattest.Lenient())
	for _, c := range []struct {
		method, path, token, agent, kind, body string
		status, code                           int
	}{
		{"GET", "/api/v10/users/@me", "Bot wrong", "DiscordBot (x, 1)", "", "", 401, 0},
		{"GET", "/api/v10/users/@me", "Bot " + chattest.Token, "Go-http-client/1.1", "", "", 403, 40333},
		{"GET", "/api/v6/users/@me", "Bot " + chattest.Token, "DiscordBot (x, 1)", "", "", 400, 50041},
		{"GET", "/api/v10/nothing", "Bot " + chattest.Token, "DiscordBot (x, 1)", "", "", 404, 0},
		{"PUT", "/api/v10/users/@me", "Bot " + chattest.Token, "DiscordBot (x, 1)", "", "", 405, 0},
		{"POST", "/api/v10/channels/" + s.ch.ID + "/messages", "Bot " + chattest.Token, "DiscordBot (x, 1)", "application/json", "{", 400, 50109},
		{"POST", "/api/v10/channels/" + s.ch.ID + "/messages", "Bot " + chattest.Token, "DiscordBot (x, 1)", "text/plain", "x", 400, 50035},
		{"GET", "/api/v9/users/@me", "Bot " + chattest.Token, "DiscordBot (x, 1)", "", "", 200, 0},
	} {
		req, err := http.NewRequest(c.method, s.srv.URL()+c.path, strings.NewReader(c.body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", c.token)
		req.Header.Set("User-Agent", c.agent)
		req.Header.Set("Content-Type", c.kind)
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		body := object{}
		err = json.NewDecoder(resp.Body).Decode(&body)
		resp.Body.Close()
		if code, _ := body["code"].(float64); resp.StatusCode != c.status || int(code) != c.code || err != nil {
			t.Errorf("%s %s: %d %v, want %d with code %d", c.method, c.path, resp.StatusCode, body, c.status, c.code)
		}
	}
}
