package chattest

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Message flags (Discord, Resources, Message).
const (
	flagSuppressEmbeds = 1 << 2
	flagEphemeral      = 1 << 6
	flagLoading        = 1 << 7
	flagSilent         = 1 << 12
	flagComponentsV2   = 1 << 15
)

// A message is what the server keeps of one.
type message struct {
	id          string
	channel     *Channel
	author      *Member
	content     string
	embeds      []any
	components  []any
	attachments []*storedFile
	flags       int
	nonce       any
	edited      time.Time
	onlyFor     *Member      // of an ephemeral message
	from        *Interaction // the interaction it answers
	reply       string       // the message it replies to
	mentions    []*Member    // who is pinged, after allowed_mentions
	everyone    bool
	deleted     bool
	revision    int
	kind        int // recipientAdded; 0 of what somebody wrote
}

// recipientAdded is the type of the line that says who was added to a thread (Discord, Resources, Message, Message Types).
const recipientAdded = 1

// A Message is a message as a member finds it on the screen; it does not change when the message does.
type Message struct {
	ID          string
	Channel     *Channel
	Author      *Member
	Content     string
	Embeds      []map[string]any
	Components  []map[string]any
	Attachments []Attachment
	Ephemeral   bool // shown to one member only
	Thinking    bool // a deferred answer that is not there yet
	V2          bool // laid out with components only
	Silent      bool
	Revision    int // how often it was edited
	Deleted     bool
	Pinged      []*Member // who was pinged by it
	Everyone    bool      // whether it pinged @everyone or @here
	ReplyTo     string
	Nonce       string // that the bot gave it
}

// An Attachment is a file in a message.
type Attachment struct {
	Name, Description, ContentType, URL string
	Data                                []byte
}

// look gives the message as it is now. The caller holds s.mu.
func (m *message) look() *Message {
	out := &Message{
		ID: m.id, Channel: m.channel, Author: m.author, Content: m.content, Ephemeral: m.onlyFor != nil,
		Thinking: m.flags&flagLoading != 0, V2: m.flags&flagComponentsV2 != 0, Silent: m.flags&flagSilent != 0,
		Revision: m.revision, Deleted: m.deleted, Pinged: slices.Clone(m.mentions), Everyone: m.everyone, ReplyTo: m.reply,
		Embeds: objects(m.embeds), Components: objects(m.components),
	}
	if m.nonce != nil {
		out.Nonce = fmt.Sprint(m.nonce)
	}
	for _, f := range m.attachments {
		out.Attachments = append(out.Attachments, Attachment{f.name, f.description, f.kind, f.url, f.data})
	}
	return out
}

func objects(list []any) []map[string]any {
	var out []map[string]any
	for _, x := range list {
		if o, ok := x.(object); ok {
			out = append(out, o)
		}
	}
	return out
}

// wire is the wire form of a message.
func (m *message) wire() object {
	s := m.channel.s
	o := object{
		"id": m.id, "type": m.kind, "channel_id": m.channel.ID, "author": m.author.user(), "content": m.content,
		"timestamp": stamp(BornAt(m.id)), "edited_timestamp": nil, "tts": false, "mention_everyone": m.everyone,
		"mention_roles": []string{}, "pinned": false, "flags": m.flags,
	}
	mentions, attachments := []object{}, []object{}
	for _, u := range m.mentions {
		mentions = append(mentions, u.user())
	}
	for _, f := range m.attachments {
		attachments = append(attachments, f.wire(s))
	}
	o["mentions"], o["attachments"] = mentions, attachments
	o["embeds"], o["components"] = embedsOut(m.embeds), m.componentsOut()
	if !m.edited.IsZero() {
		o["edited_timestamp"] = stamp(m.edited)
	}
	if m.nonce != nil {
		o["nonce"] = m.nonce
	}
	if m.reply != "" {
		o["type"] = 19
		o["message_reference"] = object{"type": 0, "channel_id": m.channel.ID, "message_id": m.reply}
	}
	if m.from != nil {
		if m.from.kind == commandInteraction && m.from.answerID == m.id {
			o["type"] = 20
			if m.from.command != nil && m.from.command.kind != slashCommand {
				o["type"] = 23
			}
		}
		o["application_id"], o["webhook_id"] = s.app.ID, s.app.ID
		o["interaction_metadata"] = m.from.metadata()
	}
	return o
}

func embedsOut(in []any) []any {
	out := []any{}
	for _, e := range objects(in) {
		c := object{"type": "rich"}
		for k, v := range e {
			if v != nil {
				c[k] = v
			}
		}
		if f, ok := c["fields"].([]any); ok {
			for i, field := range objects(f) {
				g := object{"inline": false}
				for k, v := range field {
					g[k] = v
				}
				f[i] = g
			}
		}
		out = append(out, c)
	}
	return out
}

// Text is all there is to read in a message, from top to bottom: the content, the embeds, the components' texts, labels
// and placeholders in brackets, and the names and descriptions of the files.
func (m *Message) Text() string {
	var b strings.Builder
	line := func(format string, a ...any) {
		if text := strings.TrimRight(fmt.Sprintf(format, a...), " "); text != "" {
			b.WriteString(text + "\n")
		}
	}
	line("%s", m.Content)
	for _, e := range m.Embeds {
		readEmbed(e, line)
	}
	for _, c := range m.Components {
		readComponent(c, line)
	}
	for _, f := range m.Attachments {
		line("(%s) %s", f.Name, f.Description)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func readEmbed(e object, line func(string, ...any)) {
	name := func(key, field string) string {
		o, _ := e[key].(object)
		return text(o[field])
	}
	line("%s", name("author", "name"))
	line("%s", text(e["title"]))
	line("%s", text(e["description"]))
	fields, _ := e["fields"].([]any)
	for _, f := range objects(fields) {
		line("%s: %s", text(f["name"]), text(f["value"]))
	}
	line("%s", name("footer", "text"))
}

func readComponent(c object, line func(string, ...any)) {
	switch number(c["type"]) {
	case button:
		line("[%s]", buttonLabel(c))
	case stringSelect, userSelect, roleSelect, mentionableSelect, channelSelect:
		line("[%s ▾]", text(c["placeholder"]))
	case textDisplay:
		line("%s", text(c["content"]))
	}
	if d := text(c["description"]); d != "" && number(c["type"]) == thumbnail {
		line("(%s)", d)
	}
	items, _ := c["items"].([]any)
	for _, i := range objects(items) {
		line("(%s)", text(i["description"]))
	}
	for _, child := range children(c) {
		readComponent(child, line)
	}
}

func buttonLabel(c object) string {
	label := text(c["label"])
	if e, ok := c["emoji"].(object); ok {
		label = strings.TrimSpace(text(e["name"]) + " " + label)
	}
	return label
}

func text(v any) string {
	s, _ := v.(string)
	return s
}

// number reads a JSON number that must be whole; -1 if it is none.
func number(v any) int {
	switch n := v.(type) {
	case float64:
		return int(n)
	case int:
		return n
	}
	return -1
}
