package chattest_test

import (
	"strings"
	"testing"

	"spareounce/bot/chattest"
)

// The published description has no interactions as they arrive, so their fields are held to the tables of Discord's
// documentation (Interactions, Receiving and Responding; snapshot 0ab2dc53): what each kind must have, and no other field.
func TestInteractionFields(t *testing.T) {
	s := set(t)
	const always = "id application_id type data channel channel_id token version app_permissions locale entitlements " +
		"authorizing_integration_owners context attachment_size_limit "
	const inGuild = always + "guild guild_id guild_locale member "
	only := func(what string, o object, fields string) {
		t.Helper()
		for _, f := range strings.Fields(fields) {
			if _, ok := o[f]; !ok {
				t.Errorf("%s: no %s", what, f)
			}
		}
		for f := range o {
			if !strings.Contains(" "+fields+" ", " "+f+" ") {
				t.Errorf("%s: %s is not documented", what, f)
			}
		}
	}
	data := func(o object) object { return o["data"].(object) }

	i := s.ann.Slash(s.ch, "want", chattest.Values{"pieces": "82", "from": s.bea})
	id, token, o := s.interaction()
	only("command", o, inGuild)
	only("command's data", data(o), "id name type resolved options")
	only("option", data(o)["options"].([]any)[0].(object), "name type value")
	only("resolved", data(o)["resolved"].(object), "users members")
	for _, m := range data(o)["resolved"].(object)["members"].(object) {
		for _, f := range []string{"user", "deaf", "mute"} {
			if _, ok := m.(object)[f]; ok {
				t.Errorf("partial members have no %s", f)
			}
		}
	}
	s.answer(id, token, object{"type": 4, "data": object{"content": "x", "components": []object{
		row(press("yes")), row(object{"type": 8, "custom_id": "where"}),
	}}})
	m := i.Answer()
	s.ann.Press(m, "yes")
	id, token, o = s.interaction()
	only("press", o, inGuild+"message ")
	only("press's data", data(o), "component_type custom_id id")
	s.ann.Choose(m, "where", s.ch)
	_, _, o = s.interaction()
	only("choice's data", data(o), "component_type custom_id id values resolved")
	for _, c := range data(o)["resolved"].(object)["channels"].(object) {
		only("partial channel", c.(object), "id name type permissions last_message_id nsfw parent_id guild_id flags rate_limit_per_user topic position")
	}
	s.answer(id, token, form(labelled(input(nil))))
	s.ann.Complete(s.ch, "want", "pieces", "8", nil)
	_, _, o = s.interaction()
	only("autocomplete", o, inGuild)
	only("focused option", data(o)["options"].([]any)[0].(object), "name type value focused")
	s.ann.Slash(s.ann.DM(), "want", nil)
	_, _, o = s.interaction()
	only("in private", o, always+"user ")
	if p := o["app_permissions"]; p != "442368" { // ATTACH_FILES | EMBED_LINKS | MENTION_EVERYONE | USE_EXTERNAL_EMOJIS = 2^15 + 2^14 + 2^17 + 2^18
		t.Errorf("in private the application may %v", p)
	}
}
