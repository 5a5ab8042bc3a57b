package bot

import (
	"fmt"
	"strings"
)

// phrase is a sentence of ours with {named} places in it. All of them stand in words.go.
type phrase string

// with fills the places, given as name and value in turn.
func (p phrase) with(pairs ...any) string {
	if len(pairs) == 0 {
		return string(p)
	}
	places := make([]string, 0, len(pairs))
	for i := 0; i+1 < len(pairs); i += 2 {
		places = append(places, "{"+pairs[i].(string)+"}", fmt.Sprint(pairs[i+1]))
	}
	return strings.NewReplacer(places...).Replace(string(p))
}

// list writes names in a row: "a", "a or b", "a, b or c".
func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}
