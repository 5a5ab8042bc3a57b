package discord

import (
	"strings"
	"unicode/utf16"
)

// plain makes text show as it is: nothing in it becomes formatting, a mention, a link with another name, a timestamp or an
// emoji. What the bot says is plain text with members' words in it, and nobody's words may look like ours.
func plain(text string) string {
	var b strings.Builder
	for i, line := range strings.Split(text, "\n") {
		if i > 0 {
			b.WriteByte('\n')
		}
		plainInto(&b, line)
	}
	return b.String()
}

func plainInto(b *strings.Builder, line string) {
	body := strings.TrimLeft(line, " \t")
	b.WriteString(line[:len(line)-len(body)])
	if startsBlock(body) {
		b.WriteByte('\\')
	}
	for i, r := range body {
		switch {
		case strings.ContainsRune("\\*_~`|<[", r), r == ':' && emojiLike(body[i:]):
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '@' && (strings.HasPrefix(body[i:], "@everyone") || strings.HasPrefix(body[i:], "@here")):
			b.WriteString("@\u200b") // it pings nobody anyway, but would be shown as if it did
		default:
			b.WriteRune(r)
		}
	}
}

// startsBlock reports whether a line would become a heading, a quotation, small print or a list.
func startsBlock(body string) bool {
	for _, mark := range []string{"# ", "## ", "### ", "-# ", "> ", ">>> ", "- ", "+ "} {
		if strings.HasPrefix(body, mark) {
			return true
		}
	}
	return false
}

// emojiLike reports whether a text begins like the name of an emoji, ":wave:".
func emojiLike(text string) bool {
	end := strings.IndexByte(text[1:], ':')
	if end < 1 {
		return false
	}
	for _, r := range text[1 : 1+end] {
		if r != '_' && r != '+' && r != '-' && !('a' <= r && r <= 'z') && !('A' <= r && r <= 'Z') && !('0' <= r && r <= '9') {
			return false
		}
	}
	return !strings.ContainsAny(text[1:1+end], "0123456789") || strings.ContainsAny(text[1:1+end], "abcdefghijklmnopqrstuvwxyz_")
}

// length is how long the service finds a text: in UTF-16 units, of which no character has more than it is counted for.
func length(text string) int {
	n := 0
	for _, r := range text {
		n += utf16.RuneLen(r)
	}
	return n
}

// split cuts a text into parts of at most so many units, at the end of a line if it can, else at a space. An escape stays
// with what it escapes.
func split(text string, most int) []string {
	var parts []string
	for length(text) > most {
		cut := fits(text, most)
		if at := strings.LastIndexByte(text[:cut], '\n'); at > cut/3 {
			cut = at
		} else if at := strings.LastIndexByte(text[:cut], ' '); at > cut/3 {
			cut = at
		} else {
			for slashes := len(text[:cut]) - len(strings.TrimRight(text[:cut], `\`)); slashes%2 == 1; slashes = 0 {
				cut--
			}
		}
		parts = append(parts, strings.TrimRight(text[:cut], " \n"))
		text = strings.TrimLeft(text[cut:], " \n")
	}
	if text != "" || len(parts) == 0 {
		parts = append(parts, text)
	}
	return parts
}

// fits is how many bytes of a text make at most so many units.
func fits(text string, most int) int {
	n := 0
	for i, r := range text {
		if n += utf16.RuneLen(r); n > most {
			return i
		}
	}
	return len(text)
}

// shorten cuts a text to at most so many units, with a sign that it was cut.
func shorten(text string, most int) string {
	if length(text) <= most {
		return text
	}
	return text[:fits(text, most-1)] + "…"
}
