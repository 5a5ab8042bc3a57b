package chattest_test

import (
	"fmt"
	"strings"
	"testing"

	"spareounce/bot/chattest"
)

func form(in ...object) object {
	return object{"type": 9, "data": object{"custom_id": "m", "title": "Your list", "components": in}}
}

func input(change object) object {
	o := object{"type": 4, "custom_id": "text", "style": 1}
	for k, v := range change {
		o[k] = v
	}
	return o
}

func labelled(in object) object { return object{"type": 18, "label": "Pieces", "component": in} }

// The first answers to a command.
var answerSamples = []sample{
	{"nothing beside the type", object{"type": 5}, "", ""},
	{"a form of labels", form(labelled(input(nil))), "", ""},
	{"a form of rows, as it was once done", form(row(input(object{"label": "Pieces"}))), "", ""},
	{"a form with text and a menu", form(object{"type": 10, "content": "x"}, labelled(object{"type": 3, "custom_id": "m", "options": []object{{"label": "x", "value": "x"}}})), "", ""},
	{"* a form of 6 rows", form(times(6, func(i int) object {
		return row(input(object{"label": "x", "custom_id": fmt.Sprint(i)}))
	})...), "data.components", "BASE_TYPE_BAD_LENGTH"},
	{"an input without a label", form(row(input(nil))), "data.components.0.components.0.label", "BASE_TYPE_REQUIRED"},
	{"a title of 46", object{"type": 9, "data": object{"custom_id": "m", "title": words(46), "components": []object{labelled(input(nil))}}}, "data.title", "BASE_TYPE_BAD_LENGTH"},
	{"a custom_id twice", form(labelled(input(nil)), labelled(input(nil))), "data.components.1.component.custom_id", "COMPONENT_CUSTOM_ID_DUPLICATED"},
	{"a button in a form", form(row(press("a"))), "data.components.0.components", "BASE_TYPE_BAD_LENGTH"},
	{"a value longer than may be typed", form(labelled(input(object{"max_length": 3, "value": "82-86"}))), "data.components.0.component.value", "BASE_TYPE_MAX_LENGTH"},
	{"a label of 46", form(object{"type": 18, "label": words(46), "component": input(nil)}), "data.components.0.label", "BASE_TYPE_BAD_LENGTH"},
	{"content of 2001", object{"type": 4, "data": object{"content": words(2001)}}, "data.content", "BASE_TYPE_MAX_LENGTH"},
	{"* V2 without the flag", object{"type": 4, "data": object{"components": []object{{"type": 10, "content": "x"}}}}, "data.components.0", "COMPONENT_TYPE_INVALID"},
	{"a link without a url", object{"type": 4, "data": object{"components": []object{row(object{"type": 2, "style": 5, "label": "x"})}}}, "data.components.0.components.0", "BUTTON_COMPONENT_URL_REQUIRED"},
}

// What an autocomplete of an option of text offers.
var choiceSamples = []sample{
	{"25", object{"type": 8, "data": object{"choices": times(25, func(i int) object { return object{"name": "x", "value": fmt.Sprint(i)} })}}, "", ""},
	{"26", object{"type": 8, "data": object{"choices": times(26, func(i int) object { return object{"name": "x", "value": fmt.Sprint(i)} })}}, "data.choices", "BASE_TYPE_BAD_LENGTH"},
	{"a value of 101", object{"type": 8, "data": object{"choices": []object{{"name": "x", "value": words(101)}}}}, "data.choices.0.value", "BASE_TYPE_MAX_LENGTH"},
	{"a name of 101", object{"type": 8, "data": object{"choices": []object{{"name": words(101), "value": "x"}}}}, "data.choices.0.name", "BASE_TYPE_BAD_LENGTH"},
	{"a number for a text", object{"type": 8, "data": object{"choices": []object{{"name": "x", "value": 82}}}}, "data.choices.0.value", "STRING_TYPE_CONVERT"},
	{"none at all", object{"type": 8, "data": object{"choices": nil}}, "data.choices", "BASE_TYPE_REQUIRED"},
}

func TestAnswerRules(t *testing.T) {
	for name, options := range map[string][]chattest.Option{
		"with the description": {chattest.Lenient()}, "by hand": {chattest.Lenient(), chattest.HandWritten()},
	} {
		s := set(t, options...)
		for _, c := range answerSamples {
			t.Run(name+"/"+c.name, func(t *testing.T) {
				s.ann.Slash(s.ch, "want", nil)
				id, token, _ := s.interaction()
				meets(t, s.srv, "POST", "/interactions/"+id+"/"+token+"/callback", c.form, c, "")
			})
		}
		for _, c := range choiceSamples {
			t.Run(name+"/choices/"+c.name, func(t *testing.T) {
				s.ann.Complete(s.ch, "want", "pieces", "8", nil)
				id, token, _ := s.interaction()
				meets(t, s.srv, "POST", "/interactions/"+id+"/"+token+"/callback", c.form, c, "")
			})
		}
	}
}

// A refused answer does not use the interaction up: the bot may still answer.
func TestRefusedAnswerMayBeMended(t *testing.T) {
	s := set(t, chattest.Lenient())
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	status, body := s.answer(id, token, object{"type": 4, "data": object{"content": words(2001)}})
	s.refused(status, body, 400, 50035)
	if status, body := s.answer(id, token, hello); status != 204 || i.Answer().Content != "hello" {
		t.Errorf("%d %v", status, body)
	}
}

// The layout flag on a deferral has no effect, and is remarked on; on the edit it has.
func TestLayoutAfterDeferral(t *testing.T) {
	s := set(t, chattest.Lenient())
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	if status, body := s.answer(id, token, object{"type": 5, "data": object{"flags": 1 << 15}}); status != 204 {
		t.Fatal(status, body)
	}
	if p := s.srv.Problems(); len(p) != 1 || !strings.Contains(p[0], "only EPHEMERAL counts") {
		t.Errorf("problems %q", p)
	}
	edit := "/webhooks/" + s.srv.ApplicationID() + "/" + token + "/messages/@original"
	layout := object{"components": []object{{"type": 10, "content": "x"}}}
	status, body := s.do("PATCH", edit, layout)
	s.refused(status, body, 400, 50035)
	layout["flags"] = 1 << 15
	if status, body := s.do("PATCH", edit, layout); status != 200 || !i.Answer().V2 {
		t.Errorf("%d %v", status, body)
	}
}

// Buttons and menus: what is pressed and chosen arrives, and what is stale or switched off cannot be used.
func TestComponents(t *testing.T) {
	s := set(t)
	i := s.ann.Slash(s.ch, "want", nil)
	id, token, _ := s.interaction()
	s.answer(id, token, object{"type": 4, "data": object{"content": "which?", "components": []object{
		row(object{"type": 3, "custom_id": "pick", "placeholder": "Pieces", "max_values": 2, "options": times(3, func(i int) object {
			return object{"label": fmt.Sprint("Heron ", 82+i), "value": fmt.Sprint(82 + i)}
		})}), row(object{"type": 5, "custom_id": "who", "placeholder": "Whose"}),
		row(press("yes"), object{"type": 2, "style": 2, "label": "No", "custom_id": "no", "disabled": true}),
	}}})
	m := i.Answer()
	if b := m.Buttons(); len(b) != 2 || b[0].Label != "Accept" || !b[1].Disabled {
		t.Errorf("buttons %v", b)
	}
	if c := m.Selects(); len(c) != 2 || len(c[0].Choices) != 3 || c[0].Choices[0].Name != "Heron 82" {
		t.Errorf("menus %v", c)
	}
	s.bea.Choose(m, "Pieces", "Heron 82", "84")
	id, token, whole := s.interaction()
	data := whole["data"].(object)
	if fmt.Sprint(data["values"]) != "[82 84]" || data["component_type"] != 3.0 || whole["message"].(object)["id"] != m.ID {
		t.Errorf("chosen %v", data)
	}
	press := s.ann.Choose(m, "Whose", s.bea)
	_, _, whole = s.interaction()
	if data := whole["data"].(object); data["resolved"].(object)["users"].(object)[s.bea.ID] == nil {
		t.Errorf("chosen %v", data)
	}
	if press.Failed() {
		t.Error("failed at once")
	}
	if status, body := s.answer(id, token, object{"type": 6}); status != 204 {
		t.Error(status, body)
	}
	edit := "/webhooks/" + s.srv.ApplicationID() + "/" + token + "/messages/@original"
	if status, body := s.do("PATCH", edit, object{"content": "chosen", "components": []object{}}); status != 200 || body["id"] != m.ID {
		t.Errorf("%d %v", status, body)
	}
	if now := m.Now(); now.Text() != "chosen" || now.Revision != 1 {
		t.Errorf("now %q", now.Text())
	}
}
