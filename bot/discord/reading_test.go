package discord

import (
	"fmt"
	"slices"
	"strings"

	"spareounce/bot/chattest"
)

// reading is a message as a member reads it.
type reading struct{ lines, labels []string }

func (r *reading) add(more reading) {
	r.lines = append(r.lines, more.lines...)
	r.labels = append(r.labels, more.labels...)
}

func (r reading) line(to string) string {
	head := "bot> "
	if to != "" {
		head = "bot to " + to + "> "
	}
	lines := slices.Clone(r.lines)
	if len(r.labels) > 0 {
		lines = append(lines, strings.Join(r.labels, " "))
	}
	return head + strings.Join(lines, "\n  ")
}

func (p *stagePlayer) read(m *chattest.Message) reading {
	var r reading
	text := m.Content
	for _, c := range m.Components {
		if words, ok := c["content"].(string); ok {
			text += words
		}
	}
	r.lines = strings.Split(asShown(text), "\n")
	for _, f := range m.Attachments {
		if f.ContentType == "image/png" {
			r.lines = append(r.lines, "(picture: "+strings.ReplaceAll(f.Description, "\n", " ")+")")
		} else {
			r.lines = append(r.lines, fmt.Sprintf("(file %s: %s)", f.Name, f.Description))
		}
	}
	for _, b := range m.Buttons() {
		r.labels = append(r.labels, "["+b.Label+"]")
	}
	for _, menu := range m.Selects() {
		for _, c := range menu.Choices {
			r.labels = append(r.labels, "["+c.Name+"]")
		}
	}
	return r
}

// asShown takes the escapes out of a text, as the service's clients do.
func asShown(text string) string {
	var b strings.Builder
	escaped := false
	for _, r := range text {
		if r == '\\' && !escaped {
			escaped = true
			continue
		}
		if r != '\u200b' {
			b.WriteRune(r)
		}
		escaped = false
	}
	return b.String()
}
