package chattest

import (
	"strconv"
	"unicode/utf8"
)

// callbackRules hold for the first answers to interactions.
func callbackRules(c *call, v *verdict) {
	b := c.body()
	v.keys("", b, []string{"type", "data"})
	data, _ := b["data"].(object)
	switch kind := number(b["type"]); kind {
	case newMessage, updateMessage:
		v.keys("data", data, []string{
			"tts", "content", "embeds", "allowed_mentions", "flags", "components", "attachments", "poll", "nonce", "enforce_nonce",
		})
		if data["enforce_nonce"] == true {
			v.remark("enforce_nonce does nothing in an answer to an interaction")
		}
		var was *message
		if kind == updateMessage {
			was = c.updated()
			if was == nil {
				return // the handler says what is wrong
			}
		}
		v.message("data", data, c.uploads, was)
	case deferMessage:
		v.keys("data", data, []string{"flags"})
		if flagsOf(data)&^flagEphemeral != 0 {
			v.remark("of a deferral's flags only EPHEMERAL counts; IS_COMPONENTS_V2 belongs into the edit")
		}
	case deferUpdate:
		v.keys("data", data, nil)
	case offerChoices:
		v.keys("data", data, []string{"choices"})
		v.choices(c, data)
	case openModal:
		v.keys("data", data, []string{"custom_id", "title", "components"})
		v.modal(data)
	}
}

// updated gives a copy of the message that an update changes.
func (c *call) updated() *message {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	i := c.s.interactions[c.part("token")]
	if i == nil || i.message == nil {
		return nil
	}
	cp := *i.message
	return &cp
}

// choices checks what an autocomplete offers.
func (v *verdict) choices(c *call, data object) {
	offers, ok := data["choices"].([]any)
	if !ok {
		v.wrong = append(v.wrong, required("data.choices"))
		return
	}
	if len(offers) > 25 {
		v.wrong = append(v.wrong, badLength("data.choices", 0, 25))
	}
	c.s.mu.Lock()
	i := c.s.interactions[c.part("token")]
	c.s.mu.Unlock()
	kind := optString
	if i != nil {
		kind = i.focusedType()
	}
	for n, o := range objects(offers) {
		path := "data.choices." + strconv.Itoa(n)
		v.keys(path, o, []string{"name", "name_localizations", "value"})
		v.choice(path, o, kind)
	}
}

// choice checks a choice of an option or of an autocomplete.
func (v *verdict) choice(path string, o object, kind int) {
	if n := utf8.RuneCountInString(text(o["name"])); n < 1 || n > 100 {
		v.wrong = append(v.wrong, badLength(path+".name", 1, 100))
	}
	switch value := o["value"].(type) {
	case string:
		if kind != optString {
			v.add(path+".value", "NUMBER_TYPE_COERCE", "Value %q is not a number.", value)
		}
		if n := utf8.RuneCountInString(value); n > 100 {
			v.wrong = append(v.wrong, tooLong(path+".value", 100))
		}
	case float64:
		if kind == optString {
			v.add(path+".value", "STRING_TYPE_CONVERT", "Could not interpret \"%v\" as string.", value)
		}
	default:
		v.wrong = append(v.wrong, required(path+".value"))
	}
}

// focusedType is the type of the option that is being typed in.
func (i *Interaction) focusedType() int {
	data, _ := i.payload["data"].(object)
	kind := optString
	var dig func(o object)
	dig = func(o object) {
		for _, c := range list(o["options"]) {
			if c["focused"] == true {
				kind = number(c["type"])
			}
			dig(c)
		}
	}
	dig(data)
	return kind
}

// modal checks a form that is to be opened.
func (v *verdict) modal(data object) {
	top := list(data["components"])
	if n := len(top); n < 1 || n > 5 {
		v.wrong = append(v.wrong, badLength("data.components", 1, 5))
	}
	if n := utf8.RuneCountInString(text(data["title"])); n < 1 || n > 45 {
		v.wrong = append(v.wrong, badLength("data.title", 1, 45))
	}
	if n := utf8.RuneCountInString(text(data["custom_id"])); n < 1 || n > 100 {
		v.wrong = append(v.wrong, badLength("data.custom_id", 1, 100))
	}
	ids := map[string]bool{}
	for i, c := range top {
		path := "data.components." + strconv.Itoa(i)
		kind := number(c["type"])
		v.keys(path, c, append([]string{"type", "id"}, componentKeys[kind]...))
		switch kind {
		case actionRow:
			if in := list(c["components"]); len(in) != 1 || number(in[0]["type"]) != textInput {
				v.add(path+".components", "BASE_TYPE_BAD_LENGTH", "A row of a modal holds one text input")
			}
		case label:
			if _, ok := c["component"].(object); !ok {
				v.wrong = append(v.wrong, required(path+".component"))
			}
			if n := utf8.RuneCountInString(text(c["label"])); n < 1 || n > 45 {
				v.wrong = append(v.wrong, badLength(path+".label", 1, 45))
			}
		case textDisplay:
		default:
			v.add(path+".type", "UNION_TYPE_CHOICES", "Value of field \"type\" must be one of (1, 10, 18).")
		}
		for n, in := range children(c) {
			at := childPath(path, c, n)
			v.component(at, in, ids)
			v.field(at, in)
			if number(in["type"]) == textInput {
				v.input(at, in, kind == label)
			}
		}
	}
}

// field checks what holds for every input of a modal.
func (v *verdict) field(path string, c object) {
	if c["disabled"] == true {
		v.add(path+".disabled", "COMPONENT_DISABLED_INVALID", "Modals cannot have disabled components")
	}
	if n, given := c["min_values"].(float64); given && n < 1 && c["required"] != false {
		v.add(path+".min_values", "COMPONENT_REQUIRED_MIN_VALUES", "min_values must be at least 1 unless required is false")
	}
	offers := list(c["options"])
	least, most := 0, 25
	switch number(c["type"]) {
	case radioGroup:
		least, most = 2, 10
	case checkboxGroup:
		least, most = 1, 10
	case fileUpload:
		if number(c["max_values"]) > 10 {
			v.add(path+".max_values", "NUMBER_TYPE_MAX", "int value should be less than or equal to 10.")
		}
		return
	default:
		return
	}
	if len(offers) < least || len(offers) > most {
		v.wrong = append(v.wrong, badLength(path+".options", least, most))
	}
	v.offers(path+".options", offers, most)
}

// input checks a text input. Inside a label it has no label of its own.
func (v *verdict) input(path string, c object, labelled bool) {
	if !labelled && text(c["label"]) == "" {
		v.wrong = append(v.wrong, required(path+".label"))
	}
	if labelled && c["label"] != nil {
		v.remark("%s.label is deprecated inside a label", path)
	}
	least, most := max(number(c["min_length"]), 0), 4000
	if n := number(c["max_length"]); n >= 0 {
		most = n
	}
	if least > most {
		v.add(path+".min_length", "TEXT_INPUT_COMPONENT_MIN_LENGTH_EXCEEDS_MAX", "min_length cannot exceed max_length")
	}
	n := utf8.RuneCountInString(text(c["value"]))
	if n > most {
		v.wrong = append(v.wrong, tooLong(path+".value", most))
	}
	if n > 0 && n < least {
		v.add(path+".value", "BASE_TYPE_MIN_LENGTH", "Must be %d or more in length.", least)
	}
}
