package series

import (
	"fmt"
	"strings"
)

// Wording is what we say to a member, in English, with {named} places and what stands in them. Who speaks another language
// says Text in it; the places stay.
type Wording struct {
	Text   string
	Places []any // name and value in turn
}

// say is a wording with its places filled, given as name and value in turn.
func say(text string, places ...any) Wording { return Wording{text, places} }

// plain is a wording that is the same in every language: a year, a label, a list in the shorthand.
func plain(text string) Wording { return Wording{Text: text} }

func (w Wording) String() string {
	var filled []string
	for i := 0; i+1 < len(w.Places); i += 2 {
		filled = append(filled, "{"+fmt.Sprint(w.Places[i])+"}", fmt.Sprint(w.Places[i+1]))
	}
	return strings.NewReplacer(filled...).Replace(w.Text)
}
