package tongue

import (
	"strings"
)

// How names stand in a row. Spanish says "e" for "y" before the sound i, and "u" for "o" before the sound o (Real Academia
// Española, Nueva gramática de la lengua española, manual, 31.2 and 31.3); no other language here has such a rule.
const (
	lastOr       Phrase = "{list} or {last}"
	lastAnd      Phrase = "{list} and {last}"
	spanishOr           = "{list} u {last}"
	spanishAnd          = "{list} e {last}"
	soundsLikeI         = "iíy"
	soundsLikeO         = "oó"
	silentLetter        = 'h'
)

// And writes names in a row, "a, b and c"; Or does it with "or".
func (t *Tongue) And(names []string) string { return t.row(names, lastAnd, spanishAnd, soundsLikeI) }
func (t *Tongue) Or(names []string) string  { return t.row(names, lastOr, spanishOr, soundsLikeO) }

func (t *Tongue) row(names []string, last Phrase, spanish, sounds string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	end := len(names) - 1
	pairs := []any{"list", strings.Join(names[:end], ", "), "last", names[end]}
	if t.Tag() == "es" && begins(names[end], sounds) {
		return fill(spanish, pairs)
	}
	return t.Say(last, pairs...)
}

// begins reports whether a Spanish word begins with one of the sounds: with their letter, perhaps after a silent h, but not
// before another vowel, as in hielo and yeso.
func begins(word, sounds string) bool {
	letters := []rune(strings.ToLower(word))
	if len(letters) > 0 && letters[0] == silentLetter {
		letters = letters[1:]
	}
	if len(letters) == 0 || !strings.ContainsRune(sounds, letters[0]) {
		return false
	}
	if sounds == soundsLikeI && len(letters) > 1 {
		return !strings.ContainsRune("aeouáéóú", letters[1]) || letters[0] == 'í'
	}
	return sounds != soundsLikeI || letters[0] != 'y'
}
