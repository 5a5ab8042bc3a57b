package discord

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"spareounce/bot"
)

// Flags of a message (Discord, Resources, Message).
const (
	noPreviews  = 1 << 2 // links get no embed: members' words may hold some
	onlyForYou  = 1 << 6
	ofParts     = 1 << 15 // laid out with components only
	longestText = 2000    // units of a message's content
)

// message is one that we send. Nobody is pinged by any, whatever stands in it.
type message struct {
	Content    string       `json:"content,omitempty"`
	Flags      int          `json:"flags,omitempty"`
	Mentions   *mentions    `json:"allowed_mentions"`
	Components []component  `json:"components,omitempty"`
	Attached   []attachment `json:"attachments,omitempty"`
	Nonce      string       `json:"nonce,omitempty"`
	Once       bool         `json:"enforce_nonce,omitempty"`
	files      []file
}

// mentions says who may be pinged.
type mentions struct {
	Parse []string `json:"parse"`
	Users []string `json:"users,omitempty"`
}

var nobody = &mentions{Parse: []string{}}

type attachment struct {
	ID          string `json:"id"` // the number of the file in the form
	Filename    string `json:"filename"`
	Description string `json:"description,omitempty"`
}

// component is a part of a message or form (Discord, Components, Reference).
type component struct {
	Type        int         `json:"type"`
	Style       int         `json:"style,omitempty"`
	Label       string      `json:"label,omitempty"`
	Description string      `json:"description,omitempty"`
	ID          string      `json:"custom_id,omitempty"`
	Placeholder string      `json:"placeholder,omitempty"`
	Options     []choice    `json:"options,omitempty"`
	Content     string      `json:"content,omitempty"`
	Items       []shown     `json:"items,omitempty"`
	Kinds       []int       `json:"channel_types,omitempty"`
	MaxLength   int         `json:"max_length,omitempty"`
	MinValues   *int        `json:"min_values,omitempty"`
	File        *media      `json:"file,omitempty"`
	Components  []component `json:"components,omitempty"`
	Component   *component  `json:"component,omitempty"`
}

type choice struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

type media struct {
	URL string `json:"url"`
}

type shown struct {
	Media       media  `json:"media"`
	Description string `json:"description,omitempty"`
}

// The types of component that we send.
const (
	row         = 1
	button      = 2
	linesMenu   = 3
	textField   = 4
	roleMenu    = 6
	channelMenu = 8
	textPart    = 10
	gallery     = 12
	filePart    = 13
	labelled    = 18
)

const (
	styleSecondary = 2
	paragraph      = 2
	perRow         = 5
	mostButtons    = 10 // before a menu is easier to choose from
	mostOptions    = 25
	longestLabel   = 80
	longestOption  = 100
	longestAlt     = 1024
	mostParts      = 4 // messages before a text becomes a file
	mostFiles      = 10
	mostUpload     = 10 << 20 // bytes of a file, where nobody pays for more
	mostRequest    = 24 << 20 // bytes of all files of a message: a request may have 25 MiB
)

func (m message) noNonce() message {
	m.Nonce, m.Once, m.Mentions = "", false, nobody
	return m
}

// edit is a message as a change of another: what it does not have is taken away.
func (m message) edit() map[string]any {
	body := map[string]any{"allowed_mentions": nobody, "components": m.Components, "attachments": m.Attached}
	if m.Components == nil {
		body["components"] = []component{}
	}
	if m.Attached == nil {
		body["attachments"] = []attachment{}
	}
	if flags := m.Flags & (ofParts | noPreviews); flags != 0 {
		body["flags"] = flags // the others can't be changed
	}
	if m.Flags&ofParts == 0 {
		body["content"] = m.Content
	}
	return body
}

// compose makes messages of what the bot says to an account in a group: the text in parts that fit, pictures below it with
// the words that stand for them, and the buttons last.
func (s *Service) compose(ctx context.Context, group, account string, r bot.Reply) ([]message, error) {
	rows, err := s.rows(ctx, group, account, r)
	if err != nil {
		return nil, err
	}
	parts := split(plain(r.Text), longestText-100)
	var messages []message
	var files []file
	if len(parts) > mostParts {
		files = append(files, file{"spareounce.txt", "text/plain; charset=utf-8", []byte(r.Text), ""})
		parts = []string{parts[0] + "\n" + plain(bot.Words(r.Language, bot.ChatMore))}
	}
	for _, f := range r.Files {
		files = append(files, file{f.Name, f.Type, f.Bytes, f.About})
	}
	files, left := fitting(files, r.Pictures)
	if len(left) > 0 {
		parts[len(parts)-1] += "\n" + plain(bot.Words(r.Language, bot.ChatTooLarge, "list", strings.Join(left, ", ")))
	}
	for _, part := range parts {
		messages = append(messages, message{Content: part, Flags: noPreviews, Mentions: nobody})
	}
	if len(r.Pictures) > 0 {
		text := messages[len(messages)-1].Content
		messages[len(messages)-1] = withPictures(text, r.Pictures)
	}
	messages[len(messages)-1].attach(files)
	last := &messages[len(messages)-1]
	if last.Content == "" && last.Flags&ofParts == 0 {
		last.Content = "…"
	}
	last.Components = append(last.Components, rows...)
	return messages, nil
}

// fitting are the files that the service takes beside pictures, and the names of those that are too large for it.
func fitting(files []file, beside []bot.Picture) (fit []file, left []string) {
	total := 0
	for _, p := range beside {
		total += len(p.PNG)
	}
	for _, f := range files {
		if len(f.data) > mostUpload || total+len(f.data) > mostRequest {
			left = append(left, f.name)
			continue
		}
		total += len(f.data)
		fit = append(fit, f)
	}
	return fit, left
}

// attach adds files below a message.
func (m *message) attach(files []file) {
	for _, f := range files[:min(len(files), mostFiles-len(m.files))] {
		name := fileName(f.name)
		m.Attached = append(m.Attached, attachment{ID: strconv.Itoa(len(m.files)), Filename: name, Description: shorten(f.about, longestAlt)})
		m.files = append(m.files, file{name, f.kind, f.data, ""})
		if m.Flags&ofParts != 0 { // there, what no part shows is not shown
			m.Components = append(m.Components, component{Type: filePart, File: &media{"attachment://" + name}})
		}
	}
}

// withPictures lays a message out in parts, each picture with its words.
func withPictures(text string, pictures []bot.Picture) message {
	m := message{Flags: ofParts, Mentions: nobody}
	if text != "" {
		m.Components = append(m.Components, component{Type: textPart, Content: text})
	}
	wall := component{Type: gallery}
	for i, p := range pictures[:min(len(pictures), mostFiles)] {
		name := fileName(p.Name)
		alt := shorten(p.Alt, longestAlt)
		wall.Items = append(wall.Items, shown{media{"attachment://" + name}, alt})
		m.Attached = append(m.Attached, attachment{ID: strconv.Itoa(i), Filename: name, Description: alt})
		m.files = append(m.files, file{name, "image/png", p.PNG, ""})
	}
	m.Components = append(m.Components, wall)
	return m
}

// rows lays out buttons five in a row; many become menus. Each says its line for the account it was made for, or for
// anyone when that is "".
func (s *Service) rows(ctx context.Context, group, account string, r bot.Reply) ([]component, error) {
	var parts []component
	seen := map[string]bool{}
	for _, b := range r.Buttons {
		id, err := s.seal.pack(ctx, s.bot, sealed{saysLine, group, account, b.Says})
		if err != nil {
			return nil, err
		}
		if seen[id] {
			continue // two buttons that say the same are one
		}
		seen[id] = true
		parts = append(parts, component{Type: button, Style: styleSecondary, Label: shorten(b.Label, longestLabel), ID: id})
	}
	if len(parts) > mostButtons {
		return s.menus(ctx, group, account, r.Language, parts)
	}
	var rows []component
	for five := range slices.Chunk(parts, perRow) {
		rows = append(rows, component{Type: row, Components: five})
	}
	return rows, nil
}

// menus makes menus of buttons, twenty-five choices each and at most five of them.
func (s *Service) menus(ctx context.Context, group, account, language string, buttons []component) ([]component, error) {
	var rows []component
	for many := range slices.Chunk(buttons, mostOptions) {
		if len(rows) == perRow {
			break
		}
		id, err := s.seal.pack(ctx, s.bot, sealed{menuOfLines, group, account, string(rune('a' + len(rows)))})
		if err != nil {
			return nil, err
		}
		menu := component{Type: linesMenu, ID: id, Placeholder: bot.Words(language, bot.ChatPickAnswer)}
		if len(rows) > 0 {
			menu.Placeholder = bot.Words(language, bot.ChatPickMore)
		}
		for _, b := range many {
			menu.Options = append(menu.Options, choice{shorten(b.Label, longestOption), b.ID})
		}
		rows = append(rows, component{Type: row, Components: []component{menu}})
	}
	return rows, nil
}
