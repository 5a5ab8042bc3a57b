package chattest

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The limits of messages (Discord, Resources, Message).
const (
	mostContent    = 2000
	mostEmbedText  = 6000
	mostTextInV2   = 4000
	mostComponents = 40
	mostRows       = 5
)

// messageKeys are what a new message's form may name; Discord passes over others, and the meaning of a misspelt key.
var messageKeys = []string{
	"content", "nonce", "tts", "embeds", "allowed_mentions", "message_reference", "components", "sticker_ids", "attachments",
	"flags", "enforce_nonce", "poll", "shared_client_theme",
}

// newMessageRules hold for a message in a channel.
func newMessageRules(c *call, v *verdict) {
	b := c.body()
	v.keys("", b, messageKeys)
	v.message("", b, c.uploads, nil)
	if n := text(b["nonce"]); len(n) > 25 {
		v.wrong = append(v.wrong, tooLong("nonce", 25))
	}
	if b["enforce_nonce"] == true && b["nonce"] == nil {
		v.remark("enforce_nonce without a nonce does nothing")
	}
	if flagsOf(b)&flagEphemeral != 0 {
		v.remark("EPHEMERAL counts only in answers to interactions")
	}
}

// editMessageRules hold for an edit of a message that is there, of whatever origin.
func editMessageRules(c *call, v *verdict) {
	b := c.body()
	v.keys("", b, messageKeys)
	c.s.mu.Lock()
	var old *message
	if c.route.open {
		if i := c.s.interactions[c.part("token")]; i != nil {
			id := c.part("message")
			if id == "" {
				id = i.answerID
			}
			old = c.s.messages[id]
		}
	} else {
		old = c.s.messages[c.part("message")]
	}
	var was *message
	if old != nil {
		cp := *old
		was = &cp
	}
	c.s.mu.Unlock()
	if was == nil {
		return // the handler says that it is not there
	}
	v.message("", b, c.uploads, was)
}

// webhookRules hold for follow-ups.
func webhookRules(c *call, v *verdict) {
	v.keys("", c.body(), append([]string{"username", "avatar_url", "thread_name", "applied_tags"}, messageKeys...))
	v.message("", c.body(), c.uploads, nil)
}

// message checks a form of a message that stands at a path; was is the message that it edits, if any.
func (v *verdict) message(at string, b object, uploads []upload, was *message) {
	in := func(key string) string { return strings.TrimPrefix(at+"."+key, ".") }
	content, embeds := text(b["content"]), list(b["embeds"])
	components := list(b["components"])
	flags := flagsOf(b)
	if was != nil {
		flags |= was.flags & flagComponentsV2
		if _, given := b["components"]; !given {
			components = objects(was.components)
		}
	}
	if n := utf8.RuneCountInString(content); n > mostContent {
		v.wrong = append(v.wrong, tooLong(in("content"), mostContent))
	}
	v.embeds(in("embeds"), embeds)
	if b["components"] != nil {
		v.layout(in("components"), list(b["components"]), flags&flagComponentsV2 != 0)
	}
	v.mentions(in("allowed_mentions"), b)
	v.attachments(at, b, uploads, was)
	if flags&flagComponentsV2 != 0 {
		for _, key := range []string{"content", "embeds", "poll", "sticker_ids"} {
			if full(b[key]) {
				v.add(in(key), "MESSAGE_CANNOT_USE_LEGACY_FIELDS_WITH_COMPONENTS_V2",
					"The '%s' field cannot be used when using MessageFlags.IS_COMPONENTS_V2", key)
			}
		}
		if was != nil && was.flags&flagComponentsV2 == 0 && was.flags&flagLoading == 0 && was.content != "" && b["content"] == nil {
			if _, cleared := b["content"]; !cleared {
				v.add(in("content"), "MESSAGE_CANNOT_USE_LEGACY_FIELDS_WITH_COMPONENTS_V2",
					"The 'content' field cannot be used when using MessageFlags.IS_COMPONENTS_V2")
			}
		}
	}
	if v.nothing(b, uploads, components, was) {
		v.empty = true
	}
}

// full reports whether a field says something: neither null nor an empty string or list.
func full(x any) bool {
	switch x := x.(type) {
	case nil:
		return false
	case string:
		return x != ""
	case []any:
		return len(x) > 0
	}
	return true
}

// nothing reports whether a message would have nothing in it.
func (v *verdict) nothing(b object, uploads []upload, components []object, was *message) bool {
	if len(components) > 0 || len(uploads) > 0 || full(b["poll"]) || full(b["sticker_ids"]) || full(b["shared_client_theme"]) {
		return false
	}
	left := func(key string, old bool) bool {
		if x, given := b[key]; given {
			return full(x)
		}
		return old
	}
	old := was != nil && was.flags&flagLoading == 0
	return !left("content", old && was.content != "") && !left("embeds", old && len(was.embeds) > 0) &&
		!left("attachments", old && len(was.attachments) > 0)
}

func list(x any) []object {
	l, _ := x.([]any)
	return objects(l)
}

// embeds checks what all embeds of a message hold together, and each (Discord, Embed Limits).
func (v *verdict) embeds(at string, embeds []object) {
	total := 0
	for i, e := range embeds {
		path := at + "." + strconv.Itoa(i)
		v.keys(path, e, []string{"title", "type", "description", "url", "timestamp", "color", "footer", "image", "thumbnail", "video", "provider", "author", "fields"})
		author, _ := e["author"].(object)
		footer, _ := e["footer"].(object)
		read := []string{text(e["title"]), text(e["description"]), text(author["name"]), text(footer["text"])}
		for k, f := range list(e["fields"]) {
			read = append(read, text(f["name"]), text(f["value"]))
			for _, key := range []string{"name", "value"} {
				if strings.TrimSpace(text(f[key])) == "" {
					v.wrong = append(v.wrong, required(path+".fields."+strconv.Itoa(k)+"."+key))
				}
			}
		}
		for _, s := range read {
			total += utf8.RuneCountInString(s)
		}
		if strings.Join(read, "") == "" && e["image"] == nil && e["thumbnail"] == nil {
			v.add(path, "EMBED_EMPTY", "An embed must have something in it")
		}
	}
	if total > mostEmbedText {
		v.add(at, "MAX_EMBED_SIZE_EXCEEDED", "Embed size exceeds maximum size of %d", mostEmbedText)
	}
}

// mentions checks allowed_mentions (Discord, Allowed Mentions Object).
func (v *verdict) mentions(at string, b object) {
	m, ok := b["allowed_mentions"].(object)
	if !ok {
		return
	}
	v.keys(at, m, []string{"parse", "roles", "users", "replied_user"})
	kinds, _ := m["parse"].([]any)
	for _, key := range []string{"users", "roles"} {
		ids, _ := m[key].([]any)
		if len(ids) > 100 {
			v.add(at+"."+key, "BASE_TYPE_MAX_LENGTH", "Must be 100 or fewer in length.")
		}
		if len(ids) > 0 && slices.Contains(kinds, any(key)) {
			v.add(at, "MESSAGE_ALLOWED_MENTIONS_PARSE_EXCLUSIVE", "parse:[%q] and %s: [ids...] are mutually exclusive.", key, key)
		}
	}
	if _, given := m["parse"]; given && m["parse"] == nil {
		v.remark("allowed_mentions with parse: null; an empty list is what pings nobody")
	}
}

// attachments checks that files and what refers to them fit together (Discord, Uploading Files).
func (v *verdict) attachments(at string, b object, uploads []upload, was *message) {
	path := strings.TrimPrefix(at+".attachments", ".")
	names := map[string]bool{}
	if was != nil {
		for _, f := range was.attachments {
			names[f.name] = true
		}
	}
	given := map[string]bool{}
	for _, u := range uploads {
		names[u.name] = true
		given[strings.TrimSuffix(strings.TrimPrefix(u.field, "files["), "]")] = true
		if !strings.HasPrefix(u.field, "files[") {
			v.remark("the file part is called %q, not files[n]", u.field)
		}
	}
	for i, a := range list(b["attachments"]) {
		id := plainID(a["id"])
		known := was != nil && slices.ContainsFunc(was.attachments, func(f *storedFile) bool { return f.id == id })
		if !given[id] && !known {
			v.add(path+"."+strconv.Itoa(i)+".id", "ATTACHMENT_NOT_FOUND", "Unknown attachment %s", id)
		}
		if utf8.RuneCountInString(text(a["description"])) > 1024 {
			v.wrong = append(v.wrong, tooLong(path+"."+strconv.Itoa(i)+".description", 1024))
		}
		if name := text(a["filename"]); name != "" {
			names[name] = true
		}
	}
	if len(uploads) > 10 {
		v.add(path, "BASE_TYPE_MAX_LENGTH", "Must be 10 or fewer in length.")
	}
	refers(b, func(url string) {
		if name, ok := strings.CutPrefix(url, "attachment://"); ok && !names[name] {
			v.add(path, "UNFURLED_MEDIA_ITEM_REFERENCED_ATTACHMENT_NOT_FOUND", "Referenced attachment %q not found", name)
		}
	})
}

// refers calls f for every url in a form.
func refers(x any, f func(string)) {
	switch x := x.(type) {
	case []any:
		for _, o := range x {
			refers(o, f)
		}
	case object:
		for k, o := range x {
			if s, ok := o.(string); ok && k == "url" {
				f(s)
			}
			refers(o, f)
		}
	}
}

// plainID reads an id that may be a number or a string.
func plainID(x any) string {
	if n, ok := x.(float64); ok {
		return strconv.FormatFloat(n, 'f', -1, 64)
	}
	return text(x)
}

// keys remarks on what a form names that nobody reads: misspelt, it would be missing in silence.
func (v *verdict) keys(at string, o object, known []string) {
	for k := range o {
		if !slices.Contains(known, k) {
			v.remark("nobody reads %q", strings.TrimPrefix(at+"."+k, "."))
		}
	}
}
