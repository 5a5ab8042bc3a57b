package chattest_test

import (
	"fmt"
	"maps"
	"testing"

	"spareounce/bot/chattest"
)

func cmd(change object) object {
	o := object{"name": "want", "description": "what you want"}
	maps.Copy(o, change)
	return o
}

func opt(name string, change object) object {
	o := object{"type": 3, "name": name, "description": "d"}
	maps.Copy(o, change)
	return o
}

var commandSamples = []sample{
	{"plain", cmd(nil), "", ""},
	{"in another script", cmd(object{"name": "欲しい", "name_localizations": object{"ja": "欲しい", "de": "wünsche"}}), "", ""},
	{"permissions as a string", cmd(object{"default_member_permissions": "32"}), "", ""},
	{"menu on a member", object{"type": 2, "name": "What can they spare", "description": ""}, "", ""},
	{"* upper case", cmd(object{"name": "Want"}), "name", "APPLICATION_COMMAND_INVALID_NAME"},
	{"name with a space", cmd(object{"name": "i want"}), "name", "APPLICATION_COMMAND_INVALID_NAME"},
	{"name of 33", cmd(object{"name": words(33)}), "name", "APPLICATION_COMMAND_INVALID_NAME"},
	{"* unknown locale", cmd(object{"name_localizations": object{"de-AT": "wunsch"}}), "name_localizations.de-AT", "BASE_TYPE_CHOICES"},
	{"translated name in upper case", cmd(object{"name_localizations": object{"de": "Wunsch"}}), "name_localizations.de", "APPLICATION_COMMAND_INVALID_NAME"},
	{
		"* required after optional", cmd(object{"options": []object{opt("a", nil), opt("b", object{"required": true})}}),
		"options.1", "APPLICATION_COMMAND_OPTIONS_REQUIRED_INVALID",
	},
	{"* no description", object{"name": "want"}, "description", "BASE_TYPE_REQUIRED"},
	{"description of 101", cmd(object{"description": words(101)}), "description", "BASE_TYPE_BAD_LENGTH"},
	{"26 options", cmd(object{"options": times(26, func(i int) object { return opt(fmt.Sprint("o", i), nil) })}), "options", "BASE_TYPE_BAD_LENGTH"},
	{"one option twice", cmd(object{"options": []object{opt("a", nil), opt("a", nil)}}), "options.1.name", "APPLICATION_COMMAND_OPTIONS_NAME_ALREADY_EXISTS"},
	{
		"26 choices", cmd(object{"options": []object{opt("a", object{"choices": times(26, func(i int) object {
			return object{"name": fmt.Sprint(i), "value": fmt.Sprint(i)}
		})})}}), "options.0.choices", "BASE_TYPE_BAD_LENGTH",
	},
	{
		"choices and autocomplete", cmd(object{"options": []object{opt("a", object{"autocomplete": true, "choices": []object{{"name": "x", "value": "x"}}})}}),
		"options.0", "APPLICATION_COMMAND_OPTIONS_AUTOCOMPLETE_INVALID",
	},
	{
		"choice of the wrong type", cmd(object{"options": []object{opt("a", object{"type": 4, "choices": []object{{"name": "x", "value": "x"}}})}}),
		"options.0.choices.0.value", "NUMBER_TYPE_COERCE",
	},
	{
		"sub-command beside an option", cmd(object{"options": []object{{"type": 1, "name": "add", "description": "d"}, opt("a", nil)}}),
		"options", "APPLICATION_COMMAND_OPTIONS_TYPE_INVALID",
	},
	{
		"sub-commands in a group", cmd(object{"options": []object{{"type": 2, "name": "g", "description": "d", "options": []object{
			{"type": 1, "name": "add", "description": "d", "options": []object{opt("a", object{"required": true})}},
		}}}}), "", "",
	},
	{
		"over 8000 signs", cmd(object{"options": times(25, func(i int) object {
			return opt(fmt.Sprintf("o%02d", i), object{"description": words(100), "choices": times(5, func(k int) object {
				return object{"name": fmt.Sprint(words(50), k), "value": fmt.Sprint(words(50), k)}
			})})
		})}), "", "APPLICATION_COMMAND_TOO_LARGE",
	},
	{"menu with a description", object{"type": 3, "name": "Take as my list", "description": "takes it"}, "description", "APPLICATION_COMMAND_CONTEXT_MENU_DESCRIPTION_INVALID"},
}

func TestCommandRules(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	byHand := chattest.New(t, chattest.Lenient(), chattest.HandWritten())
	for _, s := range commandSamples {
		t.Run(s.name, func(t *testing.T) {
			for _, srv := range []*chattest.Server{srv, byHand} {
				path := "/applications/" + srv.ApplicationID() + "/commands"
				meets(t, srv, "PUT", path, []object{s.form}, s, "0.")
				meets(t, srv, "POST", path, s.form, s, "")
			}
		})
	}
}

// Overwriting keeps ids, counts only new commands against the 200 a day, and refuses two of one name.
func TestOverwrite(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	path := "/applications/" + srv.ApplicationID() + "/commands"
	twice := []object{cmd(nil), cmd(nil)}
	if status, data := call(t, srv, "PUT", path, twice); status != 400 {
		t.Errorf("two of one name: %d %s", status, data)
	}
	hundred := func(prefix string) []object {
		return times(100, func(i int) object { return cmd(object{"name": fmt.Sprint(prefix, i)}) })
	}
	for _, prefix := range []string{"a", "a", "b", "b"} { // 200 new ones in four writes
		if status, data := call(t, srv, "PUT", path, hundred(prefix)); status != 200 {
			t.Fatalf("%d %s", status, data)
		}
	}
	if status, data := call(t, srv, "PUT", path, append(hundred("b")[:99], cmd(nil))); status != 400 {
		t.Errorf("the 201st creation of the day: %d %s", status, data)
	}
	if status, _ := call(t, srv, "PUT", path, append(hundred("c"), cmd(nil))); status != 400 {
		t.Error("101 commands are taken")
	}
}
