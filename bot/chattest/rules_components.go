package chattest

import (
	"slices"
	"strconv"
	"unicode/utf8"
)

// componentKeys are what each component type may name (Discord, Components, Reference).
var componentKeys = map[int][]string{
	actionRow:         {"components"},
	button:            {"style", "label", "emoji", "custom_id", "sku_id", "url", "disabled"},
	stringSelect:      {"custom_id", "options", "placeholder", "min_values", "max_values", "required", "disabled"},
	textInput:         {"custom_id", "style", "label", "min_length", "max_length", "required", "value", "placeholder"},
	userSelect:        {"custom_id", "placeholder", "default_values", "min_values", "max_values", "required", "disabled"},
	roleSelect:        {"custom_id", "placeholder", "default_values", "min_values", "max_values", "required", "disabled"},
	mentionableSelect: {"custom_id", "placeholder", "default_values", "min_values", "max_values", "required", "disabled"},
	channelSelect:     {"custom_id", "placeholder", "default_values", "min_values", "max_values", "required", "disabled", "channel_types"},
	section:           {"components", "accessory"},
	textDisplay:       {"content"},
	thumbnail:         {"media", "description", "spoiler"},
	mediaGallery:      {"items"},
	fileComponent:     {"file", "spoiler", "name", "size"},
	separator:         {"divider", "spacing"},
	container:         {"components", "accent_color", "spoiler"},
	label:             {"label", "description", "component"},
	fileUpload:        {"custom_id", "min_values", "max_values", "required"},
	radioGroup:        {"custom_id", "options", "required"},
	checkboxGroup:     {"custom_id", "options", "min_values", "max_values", "required"},
	checkbox:          {"custom_id", "default"},
}

// v2Only are the types that need the flag IS_COMPONENTS_V2.
var v2Only = []int{section, textDisplay, thumbnail, mediaGallery, fileComponent, separator, container}

// layout checks the components of a message.
func (v *verdict) layout(at string, top []object, v2 bool) {
	count, read := 0, 0
	ids, numbers := map[string]bool{}, map[int]bool{}
	var visit func(path string, c object)
	visit = func(path string, c object) {
		count++
		kind := number(c["type"])
		if !v2 && slices.Contains(v2Only, kind) {
			v.add(path, "COMPONENT_TYPE_INVALID", "The specified component type is invalid in this context: it needs MessageFlags.IS_COMPONENTS_V2")
		}
		if kind == textDisplay {
			read += utf8.RuneCountInString(text(c["content"]))
			if text(c["content"]) == "" {
				v.wrong = append(v.wrong, required(path+".content"))
			}
		}
		if id := number(c["id"]); id > 0 {
			if numbers[id] {
				v.add(path+".id", "COMPONENT_DUPLICATED_ID", "Component ids must be unique within a message")
			}
			numbers[id] = true
		}
		v.component(path, c, ids)
		for i, child := range children(c) {
			visit(childPath(path, c, i), child)
		}
	}
	for i, c := range top {
		path := at + "." + strconv.Itoa(i)
		if kind := number(c["type"]); kind == button || kind >= stringSelect && kind <= channelSelect || kind == thumbnail || kind >= label {
			v.add(path+".type", "UNION_TYPE_CHOICES", "Value of field \"type\" must be one of (1, 9, 10, 12, 13, 14, 17).")
			continue
		}
		visit(path, c)
	}
	if !v2 && len(top) > mostRows {
		v.add(at, "BASE_TYPE_BAD_LENGTH", "Must be between 1 and %d in length.", mostRows)
	}
	if count > mostComponents {
		v.add(at, "COMPONENT_MAX_TOTAL_COMPONENTS_EXCEEDED", "A message may have %d components at most, and has %d", mostComponents, count)
	}
	if read > mostTextInV2 {
		v.add(at, "COMPONENT_DISPLAYABLE_TEXT_SIZE_EXCEEDED", "Text displays may hold %d signs in all, and hold %d", mostTextInV2, read)
	}
}

// childPath is the path of a component's i-th child.
func childPath(path string, c object, i int) string {
	if inside := list(c["components"]); i < len(inside) {
		return path + ".components." + strconv.Itoa(i)
	}
	if _, ok := c["accessory"].(object); ok {
		return path + ".accessory"
	}
	return path + ".component"
}

// component checks one component; ids gathers the custom_ids seen.
func (v *verdict) component(path string, c object, ids map[string]bool) {
	kind := number(c["type"])
	if known, ok := componentKeys[kind]; ok {
		v.keys(path, c, append([]string{"type", "id"}, known...))
	}
	id, has := c["custom_id"].(string)
	if has && id != "" {
		if ids[id] {
			v.add(path+".custom_id", "COMPONENT_CUSTOM_ID_DUPLICATED", "Component custom id cannot be duplicated")
		}
		ids[id] = true
		if n := utf8.RuneCountInString(id); n > 100 {
			v.wrong = append(v.wrong, badLength(path+".custom_id", 1, 100))
		}
	}
	switch kind {
	case actionRow:
		v.row(path, list(c["components"]))
	case button:
		v.button(path, c)
	case stringSelect, userSelect, roleSelect, mentionableSelect, channelSelect:
		if id == "" {
			v.wrong = append(v.wrong, required(path+".custom_id"))
		}
		v.menu(path, c)
	case textInput, fileUpload, radioGroup, checkboxGroup, checkbox:
		if id == "" {
			v.wrong = append(v.wrong, required(path+".custom_id"))
		}
	case section:
		if n := len(list(c["components"])); n < 1 || n > 3 {
			v.wrong = append(v.wrong, badLength(path+".components", 1, 3))
		}
		if _, ok := c["accessory"].(object); !ok {
			v.wrong = append(v.wrong, required(path+".accessory"))
		}
	case mediaGallery:
		if n := len(list(c["items"])); n < 1 || n > 10 {
			v.wrong = append(v.wrong, badLength(path+".items", 1, 10))
		}
	}
}

// row checks an action row: up to five buttons, or one menu.
func (v *verdict) row(path string, in []object) {
	if len(in) < 1 || len(in) > 5 {
		v.wrong = append(v.wrong, badLength(path+".components", 1, 5))
	}
	for i, c := range in {
		if number(c["type"]) != button && len(in) > 1 {
			v.add(path+".components."+strconv.Itoa(i), "COMPONENT_LAYOUT_WIDTH_EXCEEDED", "The specified component exceeds the maximum width")
			return
		}
	}
}

// button checks that a button has what its style asks for, and nothing else.
func (v *verdict) button(path string, c object) {
	style := number(c["style"])
	needs := map[string]bool{"custom_id": style < buttonLink, "url": style == buttonLink, "sku_id": style == buttonPremium}
	for _, key := range []string{"custom_id", "url", "sku_id"} {
		given := text(c[key]) != ""
		switch {
		case needs[key] && !given:
			v.add(path, "BUTTON_COMPONENT_"+upper(key)+"_REQUIRED", "A %s is required", key)
		case !needs[key] && given:
			v.add(path, "BUTTON_COMPONENT_EXCLUSIVE_FIELDS", "A button of style %d cannot have a %s", style, key)
		}
	}
	if style != buttonPremium && text(c["label"]) == "" && c["emoji"] == nil {
		v.add(path, "BUTTON_COMPONENT_INVALID", "A button must have a label or an emoji")
	}
	if n := utf8.RuneCountInString(text(c["label"])); n > 80 {
		v.wrong = append(v.wrong, tooLong(path+".label", 80))
	}
}

func upper(key string) string {
	b := []byte(key)
	for i, c := range b {
		if c >= 'a' && c <= 'z' {
			b[i] = c - 'a' + 'A'
		}
	}
	return string(b)
}

// menu checks a select.
func (v *verdict) menu(path string, c object) {
	offers := list(c["options"])
	least, most := 1, 1
	if n := number(c["min_values"]); n >= 0 {
		least = n
	}
	if n := number(c["max_values"]); n >= 0 {
		most = n
	}
	if least > most {
		v.add(path+".min_values", "SELECT_COMPONENT_MIN_VALUES_EXCEEDS_MAX", "min_values cannot exceed max_values")
	}
	if utf8.RuneCountInString(text(c["placeholder"])) > 150 {
		v.wrong = append(v.wrong, tooLong(path+".placeholder", 150))
	}
	if number(c["type"]) != stringSelect {
		return
	}
	if len(offers) < 1 || len(offers) > 25 {
		v.wrong = append(v.wrong, badLength(path+".options", 1, 25))
	}
	if most > len(offers) {
		v.add(path+".max_values", "SELECT_COMPONENT_MAX_VALUES_EXCEEDED", "max_values cannot exceed the number of options")
	}
	v.offers(path+".options", offers, most)
}

// offers checks the options of a menu: what they say, that their values differ, and how many are chosen beforehand.
func (v *verdict) offers(at string, offers []object, most int) {
	seen := map[string]bool{}
	chosen := 0
	for i, o := range offers {
		path := at + "." + strconv.Itoa(i)
		v.keys(path, o, []string{"label", "value", "description", "emoji", "default"})
		value := text(o["value"])
		if seen[value] {
			v.add(path+".value", "SELECT_COMPONENT_OPTION_VALUE_DUPLICATED", "The specified option value is already used")
		}
		seen[value] = true
		for _, key := range []string{"label", "value", "description"} {
			if utf8.RuneCountInString(text(o[key])) > 100 {
				v.wrong = append(v.wrong, tooLong(path+"."+key, 100))
			}
		}
		if o["default"] == true {
			chosen++
		}
	}
	if chosen > most {
		v.add(at, "SELECT_COMPONENT_TOO_MANY_DEFAULT_VALUES", "More options are chosen beforehand than max_values allows")
	}
}
