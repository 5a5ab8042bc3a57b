package chattest

// The component types (Discord, Components, Reference).
const (
	actionRow         = 1
	button            = 2
	stringSelect      = 3
	textInput         = 4
	userSelect        = 5
	roleSelect        = 6
	mentionableSelect = 7
	channelSelect     = 8
	section           = 9
	textDisplay       = 10
	thumbnail         = 11
	mediaGallery      = 12
	fileComponent     = 13
	separator         = 14
	container         = 17
	label             = 18
	fileUpload        = 19
	radioGroup        = 21
	checkboxGroup     = 22
	checkbox          = 23
)

// buttonLink and buttonPremium are the button styles that carry no custom_id.
const (
	buttonLink    = 5
	buttonPremium = 6
)

// children are the components inside a component: of rows, sections with their accessory, containers and labels.
func children(c object) []object {
	inside, _ := c["components"].([]any)
	out := objects(inside)
	for _, key := range []string{"accessory", "component"} {
		if o, ok := c[key].(object); ok {
			out = append(out, o)
		}
	}
	return out
}

// walk calls f for every component, parents first.
func walk(list []object, f func(object)) {
	for _, c := range list {
		f(c)
		walk(children(c), f)
	}
}

// A Button is a button of a message.
type Button struct {
	Label, CustomID, URL string
	Disabled             bool
}

// Buttons lists a message's buttons, from top to bottom.
func (m *Message) Buttons() []Button {
	var out []Button
	walk(m.Components, func(c object) {
		if number(c["type"]) == button {
			off, _ := c["disabled"].(bool)
			out = append(out, Button{buttonLabel(c), text(c["custom_id"]), text(c["url"]), off})
		}
	})
	return out
}

// A Select is a menu of a message or modal.
type Select struct {
	Placeholder, CustomID string
	Choices               []Choice // of a string select
	Disabled              bool
}

// Selects lists a message's menus, from top to bottom.
func (m *Message) Selects() []Select {
	var out []Select
	walk(m.Components, func(c object) {
		switch number(c["type"]) {
		case stringSelect, userSelect, roleSelect, mentionableSelect, channelSelect:
			off, _ := c["disabled"].(bool)
			out = append(out, Select{text(c["placeholder"]), text(c["custom_id"]), options(c), off})
		}
	})
	return out
}

func options(c object) []Choice {
	var out []Choice
	list, _ := c["options"].([]any)
	for _, o := range objects(list) {
		out = append(out, Choice{text(o["label"]), o["value"]})
	}
	return out
}

// componentsOut gives a message's components as answers carry them: with the ids and defaults that Discord fills in.
func (m *message) componentsOut() []any {
	next := 0
	return fillIn(m.components, &next, m)
}

func fillIn(in []any, next *int, m *message) []any {
	out := []any{}
	for _, c := range objects(in) {
		out = append(out, fillOne(c, next, m))
	}
	return out
}

func fillOne(in object, next *int, m *message) object {
	*next++
	c := object{"id": *next}
	for k, v := range in {
		if v != nil && !(k == "id" && number(v) <= 0) {
			c[k] = v
		}
	}
	fallback := func(key string, v any) {
		if _, ok := c[key]; !ok {
			c[key] = v
		}
	}
	switch number(c["type"]) {
	case stringSelect, userSelect, roleSelect, mentionableSelect, channelSelect:
		fallback("min_values", 1)
		fallback("max_values", 1)
	case separator:
		fallback("spacing", 1)
		fallback("divider", true)
	case container:
		fallback("accent_color", nil)
		fallback("spoiler", false)
	case thumbnail:
		fallback("description", nil)
		fallback("spoiler", false)
		c["media"] = m.media(c["media"])
	case fileComponent:
		fallback("spoiler", false)
		c["file"] = m.media(c["file"])
		fallback("name", nil)
		fallback("size", nil)
	case mediaGallery:
		items := []any{}
		list, _ := c["items"].([]any)
		for _, i := range objects(list) {
			item := object{"media": m.media(i["media"]), "description": i["description"], "spoiler": i["spoiler"] == true}
			items = append(items, item)
		}
		c["items"] = items
	}
	if inside, ok := c["components"].([]any); ok {
		c["components"] = fillIn(inside, next, m)
	}
	for _, key := range []string{"accessory", "component"} {
		if o, ok := c[key].(object); ok {
			c[key] = fillOne(o, next, m)
		}
	}
	return c
}

// media resolves attachment://NAME to the uploaded file.
func (m *message) media(v any) object {
	o, _ := v.(object)
	url := text(o["url"])
	out := object{"id": m.id, "url": url, "proxy_url": url, "width": nil, "height": nil, "content_type": nil}
	for _, f := range m.attachments {
		if url == "attachment://"+f.name {
			out["url"], out["proxy_url"], out["content_type"], out["attachment_id"] = f.url, f.url, f.kind, f.id
		}
	}
	return out
}
