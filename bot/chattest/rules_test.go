package chattest_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"spareounce/bot/chattest"
)

// row is an action row, and press a button in it.
func row(in ...object) object { return object{"type": 1, "components": in} }

func press(id string) object {
	return object{"type": 2, "style": 1, "label": "Accept", "custom_id": id}
}

func times(n int, f func(i int) object) []object {
	var out []object
	for i := range n {
		out = append(out, f(i))
	}
	return out
}

func words(n int) string { return strings.Repeat("x", n) }

// A sample is a form, and the path and code of the error it must meet; no path at all means that it is good.
type sample struct {
	name string
	form object
	path string
	code string
}

// The messages. Limits are those of Discord's documentation; the fourteen that the published description does not hold are
// marked with *.
var messageSamples = []sample{
	{"plain", object{"content": "hello"}, "", ""},
	{"content of 2000", object{"content": words(2000)}, "", ""},
	{"content of 2000 signs that are not ASCII", object{"content": strings.Repeat("é", 2000)}, "", ""},
	{"* content of 2001", object{"content": words(2001)}, "content", "BASE_TYPE_MAX_LENGTH"},
	{"embeds of 6000", object{"embeds": []object{{"description": words(4096)}, {"description": words(1904)}}}, "", ""},
	{"* embeds of 6001", object{"embeds": []object{{"description": words(4096)}, {"description": words(1905)}}}, "embeds", "MAX_EMBED_SIZE_EXCEEDED"},
	{"5 rows", object{"components": times(5, func(i int) object { return row(press(fmt.Sprint(i))) })}, "", ""},
	{"* 6 rows", object{"components": times(6, func(i int) object { return row(press(fmt.Sprint(i))) })}, "components", "BASE_TYPE_BAD_LENGTH"},
	{
		"* button without custom_id",
		object{"components": []object{row(object{"type": 2, "style": 1, "label": "Accept"})}},
		"components.0.components.0", "BUTTON_COMPONENT_CUSTOM_ID_REQUIRED",
	},
	{"link", object{"components": []object{row(object{"type": 2, "style": 5, "label": "Map", "url": "https://example.org"})}}, "", ""},
	{
		"link with custom_id",
		object{"components": []object{row(object{"type": 2, "style": 5, "label": "Map", "url": "https://example.org", "custom_id": "x"})}},
		"components.0.components.0", "BUTTON_COMPONENT_EXCLUSIVE_FIELDS",
	},
	{"* same custom_id twice", object{"components": []object{row(press("a"), press("a"))}}, "components.0.components.1.custom_id", "COMPONENT_CUSTOM_ID_DUPLICATED"},
	{
		"* V2 with content",
		object{"content": "x", "flags": 1 << 15, "components": []object{{"type": 10, "content": "y"}}},
		"content", "MESSAGE_CANNOT_USE_LEGACY_FIELDS_WITH_COMPONENTS_V2",
	},
	{"V2", object{"flags": 1 << 15, "components": []object{{"type": 17, "components": []object{{"type": 10, "content": "y"}, row(press("a"))}}}}, "", ""},
	{"* V2 component without the flag", object{"components": []object{{"type": 10, "content": "y"}}}, "components.0", "COMPONENT_TYPE_INVALID"},
	{"6 buttons in a row", object{"components": []object{row(times(6, func(i int) object { return press(fmt.Sprint(i)) })...)}}, "components.0.components", "BASE_TYPE_BAD_LENGTH"},
	{"label of 81", object{"components": []object{row(object{"type": 2, "style": 1, "label": words(81), "custom_id": "a"})}}, "components.0.components.0.label", "BASE_TYPE_MAX_LENGTH"},
	{"custom_id of 101", object{"components": []object{row(press(words(101)))}}, "components.0.components.0.custom_id", "BASE_TYPE_BAD_LENGTH"},
	{
		"menu of 26", object{"components": []object{row(object{"type": 3, "custom_id": "m", "options": times(26, func(i int) object {
			return object{"label": "x", "value": fmt.Sprint(i)}
		})})}}, "components.0.components.0.options", "BASE_TYPE_BAD_LENGTH",
	},
	{
		"menu with one value twice", object{"components": []object{row(object{"type": 3, "custom_id": "m", "options": times(2, func(int) object {
			return object{"label": "x", "value": "same"}
		})})}}, "components.0.components.0.options.1.value", "SELECT_COMPONENT_OPTION_VALUE_DUPLICATED",
	},
	{"menu beside a button", object{"components": []object{row(press("a"), object{"type": 5, "custom_id": "m"})}}, "components.0.components.1", "COMPONENT_LAYOUT_WIDTH_EXCEEDED"},
	{
		"41 components", object{"flags": 1 << 15, "components": times(21, func(int) object {
			return object{"type": 17, "components": []object{{"type": 10, "content": "y"}}}
		})}, "components", "COMPONENT_MAX_TOTAL_COMPONENTS_EXCEEDED",
	},
	{"text displays of 4001", object{"flags": 1 << 15, "components": []object{{"type": 10, "content": words(4001)}}}, "components", "COMPONENT_DISPLAYABLE_TEXT_SIZE_EXCEEDED"},
	{"file that was not sent", object{"embeds": []object{{"title": "x", "image": object{"url": "attachment://card.png"}}}}, "attachments", "UNFURLED_MEDIA_ITEM_REFERENCED_ATTACHMENT_NOT_FOUND"},
	{"attachment that was not sent", object{"content": "x", "attachments": []object{{"id": 0, "filename": "card.png"}}}, "attachments.0.id", "ATTACHMENT_NOT_FOUND"},
	{"users both listed and parsed", object{"content": "x", "allowed_mentions": object{"parse": []string{"users"}, "users": []string{"1"}}}, "allowed_mentions", "MESSAGE_ALLOWED_MENTIONS_PARSE_EXCLUSIVE"},
	{"nonce of 26", object{"content": "x", "nonce": words(26)}, "nonce", "BASE_TYPE_MAX_LENGTH"},
	{"embed with a field without value", object{"embeds": []object{{"title": "x", "fields": []object{{"name": "n", "value": ""}}}}}, "embeds.0.fields.0.value", "BASE_TYPE_REQUIRED"},
}

func TestMessageRules(t *testing.T) {
	for _, how := range []struct {
		name    string
		options []chattest.Option
	}{{"with the description", nil}, {"by hand", []chattest.Option{chattest.HandWritten()}}} {
		t.Run(how.name, func(t *testing.T) {
			srv := chattest.New(t, append(how.options, chattest.Lenient())...)
			ch := srv.Guild("Larch Lane Collectors").Channel("general")
			for _, s := range messageSamples {
				t.Run(s.name, func(t *testing.T) {
					meets(t, srv, "POST", "/channels/"+ch.ID+"/messages", s.form, s, "")
				})
			}
		})
	}
}

// meets sends a form and looks whether Discord's error stands at the sample's path below root.
func meets(t *testing.T, srv *chattest.Server, method, path string, form any, s sample, root string) {
	t.Helper()
	status, data := call(t, srv, method, path, form)
	if s.code == "" {
		if status >= 300 {
			t.Errorf("a good form is refused: %d %s", status, data)
		}
		return
	}
	var body struct {
		Code   int    `json:"code"`
		Errors object `json:"errors"`
	}
	if err := json.Unmarshal(data, &body); err != nil || status != 400 || body.Code != 50035 {
		t.Fatalf("%d %s, want 400 with code 50035", status, data)
	}
	at := body.Errors
	for _, key := range strings.Split(root+s.path, ".") {
		if key != "" {
			at, _ = at[key].(object)
		}
	}
	if list := fmt.Sprint(at["_errors"]); !strings.Contains(list, s.code) {
		t.Errorf("no %s at %q in %s", s.code, root+s.path, data)
	}
}

// * An empty message has a code of its own.
func TestEmptyMessage(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	ch := srv.Guild("Larch Lane Collectors").Channel("general")
	for _, form := range []object{{}, {"content": ""}, {"embeds": []object{}}, {"content": nil, "components": []object{}}} {
		status, data := call(t, srv, "POST", "/channels/"+ch.ID+"/messages", form)
		if status != 400 || !strings.Contains(string(data), `"code":50006`) {
			t.Errorf("%v: %d %s", form, status, data)
		}
	}
}

// * Discord passes over a misspelt key, so the message is sent; the test that sends one fails all the same.
func TestMisspeltKey(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	ch := srv.Guild("Larch Lane Collectors").Channel("general")
	status, data := call(t, srv, "POST", "/channels/"+ch.ID+"/messages", object{"content": "x", "allowed_mention": object{"parse": []string{}}})
	if status != 200 {
		t.Errorf("%d %s", status, data)
	}
	if p := srv.Problems(); len(p) != 1 || !strings.Contains(p[0], `nobody reads "allowed_mention"`) {
		t.Errorf("problems: %q", p)
	}
}
