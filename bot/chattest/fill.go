package chattest

import (
	"fmt"
	"slices"
	"strings"
)

// resolved gathers the users, members, roles, channels, messages and attachments that an interaction refers to.
type resolved struct {
	i  *Interaction
	in object
}

func (r *resolved) put(kind, id string, o object) {
	if r.in == nil {
		r.in = object{}
	}
	if r.in[kind] == nil {
		r.in[kind] = object{}
	}
	r.in[kind].(object)[id] = o
}

// add resolves a value to its id, or gives the value itself if it is plain.
func (r *resolved) add(v any) any {
	c := r.i.Channel
	switch v := v.(type) {
	case *Member:
		r.put("users", v.ID, v.user())
		if c.guild != nil && c.guild.joined[v.ID] != nil {
			o := c.guild.joined[v.ID].wire()
			delete(o, "mute")
			delete(o, "deaf")
			o["permissions"] = c.permissions(v).String()
			r.put("members", v.ID, o)
		}
		return v.ID
	case *Role:
		r.put("roles", v.ID, v.wire())
		return v.ID
	case *Channel:
		r.put("channels", v.ID, v.brief(r.i.Member))
		return v.ID
	case *Message:
		r.put("messages", v.ID, r.i.s.messages[v.ID].wire())
		return v.ID
	case File:
		f := v.upload(r.i.s, c, ephemeralAttachments)
		f.ephemeral = true
		o := f.wire(r.i.s)
		if v.Size != 0 {
			o["size"] = v.Size
		}
		r.put("attachments", f.id, o)
		return f.id
	}
	return v
}

func (r *resolved) into(data object) {
	if r.in != nil {
		data["resolved"] = r.in
	}
}

// lie gives a file the false host it was asked to tell.
func (f *storedFile) lie(from File) {
	if from.Host != "" {
		f.url = strings.Replace(f.url, cdnHost, from.Host, 1)
	}
}

// fillCommand fills in a slash command, or an autocomplete when one option is focused.
func (i *Interaction) fillCommand(name string, values Values, focused string) string {
	words := strings.Fields(name)
	cmd := i.find(words[0], slashCommand)
	if cmd == nil {
		return "is not offered /" + words[0]
	}
	i.command = cmd
	data := object{"id": cmd.id, "name": cmd.name, "type": cmd.kind}
	if cmd.guild != "" {
		data["guild_id"] = cmd.guild
	}
	i.payload["data"] = data
	spec, at := cmd.form, data
	for _, w := range words[1:] {
		opts := optionsOf(spec)
		n := slices.IndexFunc(opts, func(o object) bool { return o["name"] == w && number(o["type"]) <= optGroup })
		if n < 0 {
			return "finds no " + w + " in /" + name
		}
		spec = opts[n]
		next := object{"name": w, "type": number(spec["type"])}
		at["options"] = []any{next}
		at = next
	}
	r := &resolved{i: i}
	list := []any{}
	left := Values{}
	for k, v := range values {
		left[k] = v
	}
	for _, o := range optionsOf(spec) {
		if number(o["type"]) <= optGroup {
			return "must name a sub-command of /" + name
		}
		v, given := values[text(o["name"])]
		delete(left, text(o["name"]))
		if !given {
			if o["required"] == true && focused == "" {
				return fmt.Sprintf("must fill in %v of /%s", o["name"], name)
			}
			continue
		}
		opt := object{"name": o["name"], "type": number(o["type"])}
		if o["name"] == focused {
			if o["autocomplete"] != true {
				return fmt.Sprintf("gets no suggestions for %v of /%s", o["name"], name)
			}
			opt["focused"] = true
		} else if wrong := fits(o, v); wrong != "" {
			return fmt.Sprintf("cannot give %v of /%s as %v: %s", o["name"], name, v, wrong)
		}
		opt["value"] = r.add(v)
		list = append(list, opt)
	}
	for k := range left {
		return "finds no option " + k + " in /" + name
	}
	if len(list) > 0 {
		at["options"] = list
	}
	r.into(data)
	return ""
}

func (i *Interaction) find(name string, kind int) *command {
	for _, c := range i.s.commandsFor(i.Member, i.Channel) {
		if c.name == name && c.kind == kind {
			return c
		}
	}
	return nil
}

// fits says why a member's client would not take a value for an option, or nothing.
func fits(opt object, v any) string {
	kind := number(opt["type"])
	ok := false
	switch v.(type) {
	case string:
		ok = kind == optString
	case int:
		ok = kind == optInteger || kind == optNumber
	case float64:
		ok = kind == optNumber
	case bool:
		ok = kind == optBoolean
	case *Member:
		ok = kind == optUser || kind == optMentionable
	case *Role:
		ok = kind == optRole || kind == optMentionable
	case *Channel:
		ok = kind == optChannel
	case File:
		ok = kind == optAttachment
	}
	if !ok {
		return fmt.Sprintf("the option is of type %d", kind)
	}
	if offers, given := opt["choices"].([]any); given && len(offers) > 0 {
		if !slices.ContainsFunc(objects(offers), func(o object) bool { return fmt.Sprint(o["value"]) == fmt.Sprint(v) }) {
			return "it is none of the choices"
		}
	}
	return inRange(opt, v)
}

func inRange(opt object, v any) string {
	size, least, most := 0.0, "min_value", "max_value"
	switch v := v.(type) {
	case string:
		size, least, most = float64(len([]rune(v))), "min_length", "max_length"
		if v == "" {
			return "it is empty"
		}
		if size > 6000 {
			return "it is longer than 6000"
		}
	case int:
		size = float64(v)
	case float64:
		size = v
	default:
		return ""
	}
	if n, ok := opt[least].(float64); ok && size < n {
		return fmt.Sprintf("the least is %v", n)
	}
	if n, ok := opt[most].(float64); ok && size > n {
		return fmt.Sprintf("the most is %v", n)
	}
	return ""
}

// fillMenu fills in a command on a member or a message.
func (i *Interaction) fillMenu(name string, target any) string {
	kind := userCommand
	switch t := target.(type) {
	case *Member:
		i.target = t.ID
	case *Message:
		kind, i.target = messageCommand, t.ID
		if i.s.messages[t.ID] == nil {
			return "finds that message gone"
		}
	default:
		return "can use a command on a member or a message only"
	}
	cmd := i.find(name, kind)
	if cmd == nil {
		return "is not offered " + name
	}
	i.command = cmd
	data := object{"id": cmd.id, "name": cmd.name, "type": cmd.kind, "target_id": i.target}
	if cmd.guild != "" {
		data["guild_id"] = cmd.guild
	}
	r := &resolved{i: i}
	r.add(target)
	r.into(data)
	i.payload["data"] = data
	return ""
}

// fillComponent fills in a button press, or a choice from a menu when there are values.
func (i *Interaction) fillComponent(id, what string, values []any) string {
	m := i.s.messages[id]
	if m == nil || m.onlyFor != nil && m.onlyFor != i.Member {
		return "finds that message gone"
	}
	var found object
	walk(objects(m.componentsOut()), func(c object) {
		named := c["custom_id"] == what || buttonLabel(c) == what || c["placeholder"] == what || c["label"] == what
		if found == nil && named && c["custom_id"] != nil && (number(c["type"]) == button) == (values == nil) {
			found = c
		}
	})
	if found == nil {
		return fmt.Sprintf("finds no %q in: %s", what, m.look().Text())
	}
	if found["disabled"] == true {
		return fmt.Sprintf("cannot use %q: it is switched off", what)
	}
	i.message = m
	i.payload["message"] = m.wire()
	data := object{"component_type": number(found["type"]), "custom_id": found["custom_id"], "id": found["id"]}
	i.payload["data"] = data
	if values == nil {
		return ""
	}
	return i.fillChoice(found, data, values)
}

// fillChoice fills in what was chosen from a menu.
func (i *Interaction) fillChoice(menu, data object, values []any) string {
	least, most := 1, 1
	if n := number(menu["min_values"]); n >= 0 {
		least = n
	}
	if n := number(menu["max_values"]); n >= 0 {
		most = n
	}
	if len(values) < least || len(values) > most {
		return fmt.Sprintf("must choose %d to %d", least, most)
	}
	r := &resolved{i: i}
	chosen := []any{}
	for _, v := range values {
		if number(menu["type"]) == stringSelect {
			offers, _ := menu["options"].([]any)
			n := slices.IndexFunc(objects(offers), func(o object) bool { return o["value"] == v || o["label"] == v })
			if n < 0 {
				return fmt.Sprintf("is not offered %v", v)
			}
			v = objects(offers)[n]["value"]
		}
		chosen = append(chosen, r.add(v))
	}
	data["values"] = chosen
	r.into(data)
	return ""
}
