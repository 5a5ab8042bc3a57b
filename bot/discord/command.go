package discord

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spareounce/bot"
)

// used is what an interaction says of a command.
type used struct {
	Name     string   `json:"name"`
	Type     int      `json:"type"`
	Target   string   `json:"target_id"`
	Options  []option `json:"options"`
	Resolved resolved `json:"resolved"`
}

type option struct {
	Name    string          `json:"name"`
	Value   json.RawMessage `json:"value"`
	Focused bool            `json:"focused"`
	Options []option        `json:"options"`
}

// text is an option's value as it was typed, whatever its type.
func (o option) text() string {
	var text string
	if json.Unmarshal(o.Value, &text) == nil {
		return text
	}
	return strings.TrimSuffix(strings.Trim(string(o.Value), `"`), ".0") // a whole number, however it is written
}

type resolved struct {
	Users       map[string]user        `json:"users"`
	Members     map[string]guildMember `json:"members"`
	Messages    map[string]seenMessage `json:"messages"`
	Attachments map[string]upload      `json:"attachments"`
	Channels    map[string]struct {
		Name string `json:"name"`
	} `json:"channels"`
	Roles map[string]struct {
		Name string `json:"name"`
	} `json:"roles"`
}

// The kinds of command.
const (
	slashCommand   = 1
	memberCommand  = 2
	messageCommand = 3
)

// command does what a command asks.
func (s *Service) command(ctx context.Context, e *exchange) error {
	var u used
	if err := decode(e.i.Data, &u); err != nil {
		return fmt.Errorf("read a command: %w", err)
	}
	switch u.Type {
	case memberCommand:
		return s.inGroup(ctx, e, "", "", func(h bot.Heard) error { return s.aboutMember(ctx, e, h, u) })
	case messageCommand:
		return s.inGroup(ctx, e, "", "", func(h bot.Heard) error { return s.takeMessage(ctx, e, h, u.Resolved.Messages[u.Target]) })
	}
	c, ok := commandNamed(u.Name)
	if !ok {
		return e.tell(ctx, e.words(bot.ChatStale)) // of an earlier version
	}
	filled, trouble := s.fill(ctx, e.i.Locale, c, u)
	if trouble != "" {
		return e.tell(ctx, trouble)
	}
	if takesText(c) && filled[textOf(c)] == "" && filled["file"] == "" {
		if shown, err := s.showForm(ctx, e, c, filled); shown || err != nil {
			return err
		}
	}
	return s.hearLine(ctx, e, "", c.Line(filled), e.direct())
}

// fill reads what was filled in, fetching an attached file.
func (s *Service) fill(ctx context.Context, language string, c bot.Command, u used) (filled map[string]string, trouble string) {
	filled = map[string]string{}
	for _, o := range u.Options {
		filled[o.Name] = o.text()
	}
	for _, f := range c.Fields {
		if id := filled[f.Name]; f.Kind == bot.TextFile && id != "" {
			text, trouble := s.fetch(ctx, language, u.Resolved.Attachments[id], c.List)
			if trouble != "" {
				return nil, trouble
			}
			filled[f.Name] = text
		}
	}
	return filled, ""
}

// takesText reports whether a command takes a text that can be longer than an option is comfortable for.
func takesText(c bot.Command) bool { return c.List && c.Name != "who" || c.Name == "import" }

// textOf is the field of a command that the text of a form stands in.
func textOf(c bot.Command) string {
	for _, f := range c.Fields {
		if f.Kind == bot.PieceList {
			return f.Name
		}
	}
	return "file"
}

// showForm shows a form for a long list. It can only be the first answer; when it is too late for that, nothing is shown.
func (s *Service) showForm(ctx context.Context, e *exchange, c bot.Command, filled map[string]string) (shown bool, err error) {
	rest := url.Values{}
	for name, value := range filled {
		rest.Set(name, value)
	}
	id, err := s.seal.pack(ctx, s.bot, sealed{fillsForm, e.i.Guild, e.i.account(), c.Name + "|" + rest.Encode()})
	if err != nil {
		return false, err
	}
	e.mu.Lock()
	late := e.deferred
	e.answered = e.answered || !late
	e.mu.Unlock()
	if late {
		return false, nil
	}
	label, hint := e.words(bot.ChatModalLabel), e.words(bot.ChatModalHint)
	if c.Name == "import" {
		label, hint = e.words(bot.ChatModalImport), ""
	}
	field := component{Type: textField, ID: "text", Style: paragraph, MaxLength: 4000, Placeholder: shorten(hint, 100)}
	return true, e.callback(ctx, map[string]any{"type": showsForm, "data": map[string]any{
		"custom_id": id, "title": shorten(e.words(bot.ChatModalTitle, "verb", c.Name), 45),
		"components": []component{{Type: labelled, Label: shorten(label, 45), Component: &field}},
	}}, nil)
}

// form hears a form that was sent.
func (s *Service) form(ctx context.Context, e *exchange) error {
	var sent struct {
		ID         string          `json:"custom_id"`
		Components []formComponent `json:"components"`
	}
	if err := decode(e.i.Data, &sent); err != nil {
		return fmt.Errorf("read a form: %w", err)
	}
	v, ok, err := s.unseal(ctx, e, sent.ID)
	if err != nil || !ok {
		return err
	}
	name, rest, _ := strings.Cut(v.line, "|")
	c, known := commandNamed(commandName(name))
	before, err := url.ParseQuery(rest)
	if v.kind != fillsForm || !known || err != nil {
		return e.tell(ctx, e.words(bot.ChatStale))
	}
	filled := map[string]string{}
	for key := range before {
		filled[key] = before.Get(key)
	}
	filled[textOf(c)] = textIn(sent.Components)
	return s.hearLine(ctx, e, v.group, c.Line(filled), e.direct())
}

// formComponent is a part of a form that came back: in a label or, as it used to be, in a row.
type formComponent struct {
	Value      string          `json:"value"`
	Component  *formComponent  `json:"component"`
	Components []formComponent `json:"components"`
}

func textIn(parts []formComponent) string {
	var texts []string
	for _, p := range parts {
		if p.Value != "" {
			texts = append(texts, p.Value)
		}
		if p.Component != nil {
			texts = append(texts, textIn([]formComponent{*p.Component}))
		}
		texts = append(texts, textIn(p.Components))
	}
	return strings.TrimSpace(strings.Join(texts, "\n"))
}

// takeMessage reads the list in a message, with what text is attached to it: the service's own clients attach what is too
// long to be written as "message.txt".
func (s *Service) takeMessage(ctx context.Context, e *exchange, h bot.Heard, m seenMessage) error {
	text := m.Content
	for _, f := range m.Attachments {
		if !textual(f) {
			continue
		}
		more, trouble := s.fetch(ctx, e.i.Locale, f, tabular(f))
		if trouble != "" {
			return e.tell(ctx, trouble)
		}
		text += "\n" + more
	}
	return s.reply(ctx, e, h.Group, s.bot.TakeText(ctx, h, text))
}

// aboutMember answers what a member can spare that the speaker lacks.
func (s *Service) aboutMember(ctx context.Context, e *exchange, h bot.Heard, u used) error {
	name := u.Resolved.Members[u.Target].Nick
	if name == "" {
		name = u.Resolved.Users[u.Target].name()
	}
	return s.reply(ctx, e, h.Group, s.bot.SparesForMe(ctx, h, u.Target, name))
}

// suggest offers what may be filled into the field that is being typed in. It is silent rather than late.
func (s *Service) suggest(ctx context.Context, i *interaction) {
	ctx, cancel := context.WithDeadline(ctx, i.received.Add(s.timing.dead-500*time.Millisecond))
	defer cancel()
	e := s.exchange(i)
	choices := s.choices(ctx, e)
	if err := e.callback(ctx, map[string]any{"type": offersChoices, "data": map[string]any{"choices": choices}}, nil); err != nil {
		s.log.InfoContext(ctx, "nothing was suggested", "err", err)
	}
}

type suggestion struct {
	Name  string `json:"name"`
	Value any    `json:"value"` // of the option's type
}

// suggestionOf makes a suggestion that the service takes: of the option's type, and within its lengths.
func suggestionOf(found bot.Suggestion, kind bot.FieldKind) (suggestion, bool) {
	one := suggestion{shorten(found.Label, longestOption), found.Value}
	if kind == bot.TradeNumber {
		n, err := strconv.Atoi(found.Value)
		one.Value = n
		return one, err == nil
	}
	return one, found.Value != "" && length(found.Value) <= longestOption
}

// choices are what may be filled in, at most as many and as long as the service takes.
func (s *Service) choices(ctx context.Context, e *exchange) []suggestion {
	offered := []suggestion{}
	var u used
	if decode(e.i.Data, &u) != nil {
		return offered
	}
	c, ok := commandNamed(u.Name)
	if !ok {
		return offered
	}
	g, speaker, err := s.where(ctx, e, "")
	if err != nil || g.Chat == "" {
		return offered
	}
	for _, o := range u.Options {
		if !o.Focused {
			continue
		}
		for _, f := range c.Fields {
			if f.Name != o.Name {
				continue
			}
			for _, found := range s.bot.Suggest(ctx, bot.Heard{Group: g.Chat, From: speaker, Private: true}, c, f, o.text()) {
				if one, ok := suggestionOf(found, f.Kind); ok && len(offered) < mostOptions && !slices.Contains(offered, one) {
					offered = append(offered, one)
				}
			}
		}
	}
	return offered
}
