package chattest

import "fmt"

// A Modal is a form that the bot opened before a member.
type Modal struct {
	CustomID string
	Title    string
	Fields   []Field
	opener   *Interaction
	form     []any
}

// A Field is one input of a modal.
type Field struct {
	CustomID, Label, Description, Placeholder, Value string
	Type                                             int // the component type
	Required                                         bool
	spec                                             object
}

func newModal(i *Interaction, data object) *Modal {
	m := &Modal{CustomID: text(data["custom_id"]), Title: text(data["title"]), opener: i}
	m.form, _ = data["components"].([]any)
	for _, c := range objects(m.form) {
		for _, in := range children(c) {
			f := Field{
				CustomID: text(in["custom_id"]), Label: text(in["label"]), Placeholder: text(in["placeholder"]),
				Value: text(in["value"]), Type: number(in["type"]), Required: in["required"] != false, spec: in,
			}
			if number(c["type"]) == label {
				f.Label, f.Description = text(c["label"]), text(c["description"])
			}
			m.Fields = append(m.Fields, f)
		}
	}
	return m
}

// fillModal fills in a modal's submission: every component of the form, with what the member put in.
func (i *Interaction) fillModal(m *Modal, values Values) string {
	i.opener, i.message = m.opener, m.opener.message
	if i.message != nil {
		i.payload["message"] = i.message.wire()
	}
	data := object{"custom_id": m.CustomID}
	i.payload["data"] = data
	r := &resolved{i: i}
	used := map[string]bool{}
	n := 0
	list := []any{}
	for _, c := range objects(m.form) {
		n++
		o := object{"type": number(c["type"]), "id": n}
		filled := []any{}
		for _, in := range children(c) {
			n++
			f, wrong := m.fill(text(in["custom_id"]), values, used, r)
			if wrong != "" {
				return wrong
			}
			f["id"] = n
			filled = append(filled, f)
		}
		switch number(c["type"]) {
		case actionRow:
			o["components"] = filled
		case label:
			o["component"] = filled[0]
		}
		list = append(list, o)
	}
	for k := range values {
		if !used[k] {
			return fmt.Sprintf("finds no field %q in the form %q", k, m.Title)
		}
	}
	data["components"] = list
	r.into(data)
	return ""
}

// fill is the submission of one field.
func (m *Modal) fill(id string, values Values, used map[string]bool, r *resolved) (object, string) {
	var f Field
	for _, x := range m.Fields {
		if x.CustomID == id {
			f = x
		}
	}
	out := object{"type": f.Type, "custom_id": f.CustomID}
	v, given := values[f.CustomID]
	used[f.CustomID] = true
	if !given {
		v, given = values[f.Label]
		used[f.Label] = true
	}
	switch f.Type {
	case textInput:
		s := f.Value
		if given {
			s = fmt.Sprint(v)
		}
		if wrong := f.takes(s); wrong != "" {
			return nil, wrong
		}
		out["value"] = s
	case radioGroup, checkbox:
		if given {
			out["value"] = v
		} else if f.Type == checkbox {
			out["value"] = f.spec["default"] == true
		} else {
			out["value"] = nil
		}
	default:
		chosen := []any{}
		if list, ok := v.([]any); ok {
			for _, x := range list {
				chosen = append(chosen, r.add(x))
			}
		} else if given {
			chosen = append(chosen, r.add(v))
		}
		if len(chosen) == 0 && f.Required {
			return nil, fmt.Sprintf("must fill in %q", f.Label)
		}
		out["values"] = chosen
	}
	return out, ""
}

// takes says why the client would not send a text off, or nothing.
func (f Field) takes(s string) string {
	n := len([]rune(s))
	least, most := max(number(f.spec["min_length"]), 0), 4000
	if k := number(f.spec["max_length"]); k > 0 {
		most = k
	}
	switch {
	case n == 0 && f.Required:
		return fmt.Sprintf("must fill in %q", f.Label)
	case n > most:
		return fmt.Sprintf("cannot write more than %d in %q", most, f.Label)
	case n < least && n > 0:
		return fmt.Sprintf("must write at least %d in %q", least, f.Label)
	}
	return ""
}
