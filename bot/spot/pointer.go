package spot

import (
	"encoding/json"
	"errors"
	"net/url"
	"strconv"
	"strings"
)

// Pointer is a JSON pointer (RFC 6901), in its string form: "" is the whole document, "/rates/XAG~1USD" a member of it.
type Pointer string

// ParsePointer reads a pointer in its string form, or as a URI fragment ("#/a%20b", RFC 6901 section 6), in which blanks
// can be written.
func ParsePointer(text string) (Pointer, error) {
	if fragment, ok := strings.CutPrefix(text, "#"); ok {
		plain, err := url.PathUnescape(fragment)
		if err != nil {
			return "", &Refusal{Why: NoPointer, Word: text}
		}
		return parsePlain(plain, text)
	}
	return parsePlain(text, text)
}

func parsePlain(plain, said string) (Pointer, error) {
	if plain != "" && plain[0] != '/' {
		return "", &Refusal{Why: NoPointer, Word: said}
	}
	for i := range len(plain) {
		if plain[i] == '~' && (i+1 == len(plain) || plain[i+1] != '0' && plain[i+1] != '1') {
			return "", &Refusal{Why: NoPointer, Word: said}
		}
	}
	return Pointer(plain), nil
}

// String writes p so that ParsePointer reads it back and no blank stands in it.
func (p Pointer) String() string {
	if strings.ContainsFunc(string(p), func(r rune) bool { return r <= ' ' || r == '"' || r >= 0x7f }) || p == "" {
		return "#" + (&url.URL{Path: string(p)}).EscapedPath()
	}
	return string(p)
}

var errNothingThere = errors.New("nothing there")

// in finds what p points at in a document that was decoded with json.Number for numbers.
func (p Pointer) in(document any) (any, error) {
	if p == "" {
		return document, nil
	}
	unescape := strings.NewReplacer("~1", "/", "~0", "~") // in one pass, so that ~01 is ~1 and not /
	for token := range strings.SplitSeq(string(p[1:]), "/") {
		token = unescape.Replace(token)
		switch here := document.(type) {
		case map[string]any:
			next, ok := here[token]
			if !ok {
				return nil, errNothingThere
			}
			document = next
		case []any:
			i, err := index(token)
			if err != nil || i >= len(here) {
				return nil, errNothingThere
			}
			document = here[i]
		default:
			return nil, errNothingThere
		}
	}
	return document, nil
}

// index reads an array index: digits without a leading zero. "-" is the element after the last, where nothing is.
func index(token string) (int, error) {
	if token == "" || len(token) > 9 || len(token) > 1 && token[0] == '0' || strings.Trim(token, "0123456789") != "" {
		return 0, errNothingThere
	}
	return strconv.Atoi(token)
}

// text is a JSON string, or a number as it was written; false for all else.
func text(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case json.Number:
		return v.String(), true
	}
	return "", false
}
