package chattest_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// A clock is set by the test.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// A stage is a guild with one command, a bare bot in it, and two members.
type stage struct {
	*bare
	guild    *chattest.Guild
	ch       *chattest.Channel
	ann, bea *chattest.Member
	clock    *clock
}

func set(t *testing.T, options ...chattest.Option) *stage {
	t.Helper()
	c := &clock{now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	srv := chattest.New(t, append([]chattest.Option{chattest.WithClock(c.Now), chattest.Patience(2 * time.Second)}, options...)...)
	g := srv.Guild("Larch Lane Collectors")
	s := &stage{bare: join(t, srv), guild: g, ch: g.Channel("general"), ann: g.Member("ann"), bea: g.Member("bea"), clock: c}
	s.register(
		object{"name": "want", "description": "what you want", "options": []object{
			opt("pieces", object{"autocomplete": true}), opt("count", object{"type": 4, "min_value": 1}),
			opt("from", object{"type": 6}), opt("list", object{"type": 11}),
		}},
		object{"name": "series", "description": "series", "options": []object{
			{"type": 1, "name": "show", "description": "d"},
			{"type": 2, "name": "keep", "description": "d", "options": []object{{"type": 1, "name": "import", "description": "d"}}},
		}},
		object{"name": "settings", "description": "for keepers", "default_member_permissions": "32", "contexts": []int{0}},
		object{"type": 2, "name": "What can they spare"}, object{"type": 3, "name": "Take as my list"},
	)
	return s
}

// refused checks an error answer of Discord's.
func (s *stage) refused(status int, body object, wantStatus, wantCode int) {
	s.t.Helper()
	if code, _ := body["code"].(float64); status != wantStatus || int(code) != wantCode {
		s.t.Errorf("%d %v, want %d with code %d", status, body, wantStatus, wantCode)
	}
}

var hello = object{"type": 4, "data": object{"content": "hello"}}

// After three seconds an interaction is unknown, and the member reads that the application did not respond.
func TestThreeSeconds(t *testing.T) {
	s := set(t)
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	s.clock.pass(3*time.Second + time.Millisecond)
	status, body := s.answer(id, token, hello)
	s.refused(status, body, 404, 10062)
	if !i.Failed() || i.Acknowledged() || i.Attempts() != 1 {
		t.Error("the interaction did not fail")
	}
	i = s.ann.Slash(s.ch, "want", nil)
	id, token, _ = s.interaction()
	s.clock.pass(3 * time.Second)
	if status, body := s.answer(id, token, hello); status != 204 || i.Failed() {
		t.Errorf("in the third second: %d %v", status, body)
	}
	status, body = s.answer(id, token, hello)
	s.refused(status, body, 400, 40060)
	status, body = s.answer(id, "no"+token, hello)
	s.refused(status, body, 404, 10062)
}

// The token takes follow-ups and edits for fifteen minutes, once the interaction is answered.
func TestTokenLife(t *testing.T) {
	s := set(t)
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	hook := "/webhooks/" + s.srv.ApplicationID() + "/" + token
	status, body := s.do("POST", hook, object{"content": "too early"})
	s.refused(status, body, 404, 10015)
	s.answer(id, token, object{"type": 5, "data": object{"flags": 64}})
	if !i.Acknowledged() {
		t.Error("not acknowledged")
	}
	s.clock.pass(15 * time.Minute)
	if status, body := s.do("PATCH", hook+"/messages/@original", object{"content": "done"}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	if m := i.Answer(); m.Content != "done" || !m.Ephemeral || m.Thinking || m.Revision != 0 {
		t.Errorf("the deferral became %+v", m)
	}
	if status, body := s.do("POST", hook, object{"content": "and more", "flags": 64}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	if more := i.FollowUps(1); more[0].Content != "and more" || !more[0].Ephemeral {
		t.Errorf("followed up with %+v", more[0])
	}
	if n := len(s.bea.Screen(s.ch)); n != 0 {
		t.Errorf("bea sees %d ephemeral messages to ann", n)
	}
	if n := len(s.ann.Screen(s.ch)); n != 2 {
		t.Errorf("ann sees %d messages", n)
	}
	s.clock.pass(time.Second)
	status, body = s.do("PATCH", hook+"/messages/@original", object{"content": "late"})
	s.refused(status, body, 401, 50027)
}

// Each kind of interaction takes its own kinds of callback.
func TestCallbackKinds(t *testing.T) {
	s := set(t, chattest.Lenient())
	modal := object{"type": 9, "data": object{"custom_id": "m", "title": "Your list", "components": []object{
		{"type": 18, "label": "Pieces", "component": object{"type": 4, "custom_id": "text", "style": 2}},
	}}}
	choices := object{"type": 8, "data": object{"choices": []object{}}}
	update := object{"type": 7, "data": object{"content": "x"}}
	s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	for _, wrong := range []object{choices, update, {"type": 6}, {"type": 1}, {"type": 10}} {
		status, body := s.answer(id, token, wrong)
		s.refused(status, body, 400, 50035)
	}
	if status, _ := s.answer(id, token, modal); status != 204 {
		t.Error("a command may open a form")
	}
	s.ann.Complete(s.ch, "want", "pieces", "8", nil)
	id, token, _ = s.interaction()
	status, body := s.answer(id, token, object{"type": 5})
	s.refused(status, body, 400, 50035)
	if status, _ := s.answer(id, token, choices); status != 204 {
		t.Error("an autocomplete takes choices")
	}
}

// Autocomplete: what is typed arrives with the focused option, and what is offered reaches the member.
func TestAutocomplete(t *testing.T) {
	s := set(t)
	i := s.ann.Complete(s.ch, "want", "pieces", "8", chattest.Values{"count": 2})
	id, token, whole := s.interaction()
	opts := whole["data"].(object)["options"].([]any)
	first := opts[0].(object)
	if whole["type"] != 4.0 || first["focused"] != true || first["value"] != "8" || len(opts) != 2 {
		t.Errorf("typed: %v", whole["data"])
	}
	s.answer(id, token, object{"type": 8, "data": object{"choices": []object{{"name": "Heron 82", "value": "82"}}}})
	if c := i.Choices(); len(c) != 1 || c[0].Name != "Heron 82" || c[0].Value != "82" {
		t.Errorf("offered %v", c)
	}
}

// A form of labels: what it shows, what comes back, and the update of the message it was opened from.
func TestModal(t *testing.T) {
	s := set(t)
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	s.answer(id, token, object{"type": 9, "data": object{"custom_id": "1:list", "title": "Your list", "components": []object{
		{"type": 10, "content": "One line a series."},
		{"type": 18, "label": "Pieces", "description": "in shorthand", "component": object{"type": 4, "custom_id": "text", "style": 2, "value": "82"}},
		{"type": 18, "label": "A file", "component": object{"type": 19, "custom_id": "file", "required": false}},
		{"type": 18, "label": "Whose", "component": object{"type": 5, "custom_id": "who", "required": false}},
	}}})
	m := i.Modal()
	if m.Title != "Your list" || len(m.Fields) != 3 || m.Fields[0].Label != "Pieces" || m.Fields[0].Value != "82" {
		t.Errorf("the form is %+v", m)
	}
	sent := s.ann.Submit(m, chattest.Values{"Pieces": "82-86", "file": chattest.File{Name: "list.csv", Data: []byte("82")}, "Whose": s.bea})
	id, token, whole := s.interaction()
	data := whole["data"].(object)
	got := data["components"].([]any)
	if v := got[1].(object)["component"].(object)["value"]; v != "82-86" || data["custom_id"] != "1:list" {
		t.Errorf("sent %v", data)
	}
	resolved := data["resolved"].(object)
	file := got[2].(object)["component"].(object)["values"].([]any)[0].(string)
	if a := resolved["attachments"].(object)[file].(object); a["filename"] != "list.csv" || !strings.HasPrefix(a["url"].(string), "https://cdn.discordapp.com/") {
		t.Errorf("attached %v", a)
	}
	if resolved["users"].(object)[s.bea.ID] == nil || resolved["members"].(object)[s.bea.ID] == nil {
		t.Errorf("bea is not resolved in %v", resolved)
	}
	s.answer(id, token, hello)
	if m := sent.Answer(); m.Content != "hello" {
		t.Errorf("answered %q", m.Content)
	}
}

// with_response gives the message in the callback's answer.
func TestWithResponse(t *testing.T) {
	s := set(t)
	s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	status, body := s.do("POST", "/interactions/"+id+"/"+token+"/callback?with_response=true", hello)
	resource, _ := body["resource"].(object)
	m, _ := resource["message"].(object)
	if status != 200 || m["content"] != "hello" || m["interaction_metadata"] == nil {
		t.Errorf("%d %v", status, body)
	}
}

// What a member's client offers: sub-commands by their names, keepers' commands to keepers, menus on members and messages.
func TestOffered(t *testing.T) {
	s := set(t)
	if got := strings.Join(s.ann.Offered(s.ch), ", "); got != "want, series show, series keep import, What can they spare, Take as my list" {
		t.Errorf("ann is offered %s", got)
	}
	if got := strings.Join(s.ann.Offered(s.ann.DM()), ", "); strings.Contains(got, "settings") {
		t.Errorf("in private: %s", got)
	}
	s.ann.Slash(s.ch, "series keep import", nil)
	_, _, whole := s.interaction()
	group := whole["data"].(object)["options"].([]any)[0].(object)
	if group["name"] != "keep" || group["options"].([]any)[0].(object)["name"] != "import" {
		t.Errorf("sent %v", whole["data"])
	}
	s.ann.UseOn(s.ch, "What can they spare", s.bea)
	_, _, whole = s.interaction()
	if data := whole["data"].(object); data["target_id"] != s.bea.ID || data["type"] != 2.0 {
		t.Errorf("sent %v", data)
	}
	msg := s.bea.Say(s.ch, "82-86")
	s.ann.UseOn(s.ch, "Take as my list", msg)
	_, _, whole = s.interaction()
	messages := whole["data"].(object)["resolved"].(object)["messages"].(object)
	if messages[msg.ID].(object)["content"] != "82-86" {
		t.Errorf("sent %v", messages)
	}
}
