package chattest_test

import (
	"testing"

	"spareounce/bot/chattest"
)

// A conversation from start to end: a command is registered, used, answered with buttons, pressed, and the message changes.
func TestConversation(t *testing.T) {
	srv := chattest.New(t)
	g := srv.Guild("Larch Lane Collectors")
	ann, bea := g.Member("ann"), g.Member("bea")
	ch := g.Channel("haves-and-wants")
	b := join(t, srv)
	b.event("GUILD_CREATE")
	b.register(object{"name": "want", "description": "what you want", "options": []object{
		{"type": 3, "name": "pieces", "description": "which", "required": true},
	}})

	want := ann.Slash(ch, "want", chattest.Values{"pieces": "82-86, ND"})
	id, token, _ := b.interaction()
	status, body := b.answer(id, token, object{"type": 4, "data": object{
		"content": "Noted: 82-86, ND.", "components": []object{{"type": 1, "components": []object{
			{"type": 2, "style": 1, "label": "Undo", "custom_id": "1:undo"},
		}}},
	}})
	if status != 204 {
		t.Fatal(status, body)
	}
	said := want.Answer()
	if got := said.Text(); got != "Noted: 82-86, ND.\n[Undo]" {
		t.Errorf("ann reads %q", got)
	}
	if n := len(bea.Screen(ch)); n != 1 {
		t.Errorf("bea sees %d messages; a public answer is hers to see", n)
	}

	press := ann.Press(said, "Undo")
	id, token, whole := b.interaction()
	if got := whole["data"].(object)["custom_id"]; got != "1:undo" {
		t.Errorf("custom_id %v", got)
	}
	if status, body = b.answer(id, token, object{"type": 7, "data": object{"content": "Taken back.", "components": []object{}}}); status != 204 {
		t.Fatal(status, body)
	}
	if got := press.Answer(); got.Text() != "Taken back." || got.Revision != 1 {
		t.Errorf("after the press: %q, revision %d", got.Text(), got.Revision)
	}
}
