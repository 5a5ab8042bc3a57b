package chattest

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// described gives the description, or skips with a loud word.
func described(t *testing.T) *description {
	d := describe(t)
	if d == nil {
		t.Skip("NOT CHECKED: the published description is not at hand")
	}
	return d
}

func asCall(method, path string, form any) *call {
	return &call{Request: &http.Request{Method: method, URL: &url.URL{}}, path: path, form: form, raw: []byte("{}")}
}

// What the hand-written rules leave to the description, with the path at which it says so.
func TestDescriptionRefuses(t *testing.T) {
	d := described(t)
	for _, s := range []struct {
		path string
		form any
		at   string
	}{
		{"/channels/1/messages", object{"content": 5.0}, "content"},
		{"/channels/1/messages", object{"embeds": []any{object{"title": strings.Repeat("x", 257)}}}, "embeds.0.title"},
		{"/channels/1/messages", object{"components": []any{object{"type": 1.0, "components": []any{
			object{"type": 2.0, "style": 77.0, "label": "x", "custom_id": "a"},
		}}}}, "components.0.components.0.style"},
		{"/interactions/1/t/callback", object{"type": 4.0, "data": object{"content": 5.0}}, "data.content"},
		{"/interactions/1/t/callback", object{"type": 77.0}, "type"},
		{"/users/@me/channels", object{"recipient_id": "ann"}, "recipient_id"},
		{"/channels/1/threads", object{"name": ""}, "name"},
	} {
		wrong := d.request(asCall("POST", s.path, s.form))
		if len(wrong) != 1 || wrong[0].path != s.at {
			t.Errorf("%s %v: %v, want one error at %s", s.path, s.form, wrong, s.at)
		}
	}
	if wrong := d.request(asCall("POST", "/channels/1/messages", object{"content": "x"})); wrong != nil {
		t.Errorf("a good message: %v", wrong)
	}
}

// A thin fake does not pass for Discord's answer.
func TestDescriptionHoldsAnswers(t *testing.T) {
	d := described(t)
	c := asCall("POST", "/channels/1/messages", nil)
	err := d.answer(c, answer{200, object{"id": "1", "content": "x"}})
	if err == nil || !strings.Contains(err.Error(), "author") {
		t.Errorf("a message without an author passes: %v", err)
	}
	if err := d.answer(c, answer{400, object{"code": 50035, "message": "Invalid Form Body", "errors": object{"content": object{"_errors": []any{object{"code": "X", "message": "m"}}}}}}); err != nil {
		t.Errorf("the documentation's own form of an error: %v", err)
	}
}

// Every route of the stand-in is in the description, but for the one that the documentation alone has.
func TestRoutesAreDescribed(t *testing.T) {
	d := described(t)
	for _, r := range routes {
		path := r.template()
		for _, p := range r.parts {
			if strings.HasPrefix(p, "{") {
				path = strings.Replace(path, p, "1", 1)
			}
		}
		if d.operation(r.method, path) == nil {
			t.Errorf("%s %s is not described", r.method, r.template())
		}
	}
}

// The schemas that events are held to are there, and a thin event does not pass.
func TestDescriptionHoldsEvents(t *testing.T) {
	d := described(t)
	for event, parts := range eventParts {
		for _, names := range parts {
			for _, n := range names {
				if d.schemas[n] == nil {
					t.Errorf("%s: the description has no %s", event, n)
				}
			}
		}
	}
	err := d.event("INTERACTION_CREATE", object{"data": object{"resolved": object{"users": object{"1": object{"id": "1"}}}}})
	if err == nil || !strings.Contains(err.Error(), "username") {
		t.Errorf("a user without a name passes: %v", err)
	}
}
