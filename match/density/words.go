package density

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// word is a number or a run of letters, and where it stood.
type word struct {
	text     string
	col      int
	typed    float64
	decimals int
	number   bool
}

func (w word) wrong(reason string) *SyntaxError { return &SyntaxError{w.col, w.text, reason} }

const longestText = 400 // bytes

// wordsOf splits a text between numbers and letters, so that "31.1g" is two words.
func wordsOf(text string) ([]word, error) {
	if len(text) > longestText {
		return nil, &SyntaxError{0, text[:0], "that is too long to be readings"}
	}
	var all []word
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		switch {
		case isDigit(text[i]) || text[i] == '.' && i+1 < len(text) && isDigit(text[i+1]):
			w, err := number(text, i)
			if err != nil {
				return nil, err
			}
			all, i = append(all, w), i+len(w.text)
		case unicode.IsLetter(r) || r == '×' || r == '°' || r == '"' || r == '″':
			end := i + size
			for end < len(text) {
				next, n := utf8.DecodeRuneInString(text[end:])
				if !unicode.IsLetter(next) || r == '×' || r == '"' || r == '″' {
					break
				}
				end += n
			}
			all, i = append(all, word{text: text[i:end], col: i}), end
		case unicode.IsSpace(r) || strings.ContainsRune(",;:=@", r):
			i += size
		default:
			return nil, &SyntaxError{i, text[i : i+size], "leave this out"}
		}
	}
	return all, nil
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// number reads digits with at most one point or comma among them.
func number(text string, i int) (word, error) {
	end, mark := i, -1
	for end < len(text) && (isDigit(text[end]) || mark < 0 && (text[end] == '.' || text[end] == ',') && end+1 < len(text) && isDigit(text[end+1])) {
		if !isDigit(text[end]) {
			mark = end
		}
		end++
	}
	w := word{text: text[i:end], col: i, number: true}
	if mark >= 0 {
		w.decimals = end - mark - 1
	}
	value, err := strconv.ParseFloat(strings.Replace(w.text, ",", ".", 1), 64)
	if err != nil || w.decimals > 6 {
		return w, w.wrong("this is no number a scale or calipers show")
	}
	w.typed = value
	return w, nil
}

// kind is what a number is of.
type kind int

const (
	unsaid kind = iota
	dry
	wet
	displaced
	length // a diameter, unless a thickness is said
	across
	thick
	warmth
	step
)

// units say of which kind a number is, and how many grams, millimetres or degrees one is.
var units = map[string]struct {
	kind  kind
	scale float64
}{
	"g": {dry, 1}, "gm": {dry, 1}, "gram": {dry, 1}, "grams": {dry, 1}, "kg": {dry, 1000}, "mg": {dry, 0.001},
	"ozt": {dry, 31.1034768}, "toz": {dry, 31.1034768}, "dwt": {dry, 1.55517384},
	"mm": {length, 1}, "cm": {length, 10}, "inch": {length, 25.4}, "inches": {length, 25.4}, `"`: {length, 25.4}, "″": {length, 25.4},
	"c": {warmth, 1}, "°c": {warmth, 1}, "°": {warmth, 1}, "f": {warmth, 0}, "°f": {warmth, 0},
}

// roles are the words that say what was measured.
var roles = map[string]kind{
	"dry": dry, "air": dry, "weight": dry, "weighs": dry, "mass": dry, "wet": wet, "water": wet, "underwater": wet, "under": wet,
	"displaced": displaced, "displaces": displaced, "cup": displaced, "diameter": across, "dia": across, "wide": across,
	"thick": thick, "thickness": thick, "rim": thick, "edge": thick, "temperature": warmth, "temp": warmth,
	"scale": step, "step": step,
}

// small words mean nothing by themselves.
var small = map[string]bool{"in": true, "is": true, "at": true, "and": true, "the": true, "of": true, "to": true, "it": true}

// measure is a number with what was said of it.
type measure struct {
	word
	kind  kind
	scale float64 // by its unit; 0 for Fahrenheit
	unit  bool
	end   int // of the unit, or of the number
}

// measures gives every number its unit and its role.
func measures(words []word) ([]measure, error) {
	before := len(words) > 0 && roles[strings.ToLower(words[0].text)] != unsaid // the role stands before its number
	var all []measure
	var role word
	chained := -1 // where a chain of lengths, "118x52x18mm", began
	for i := 0; i < len(words); i++ {
		w, lower := words[i], strings.ToLower(words[i].text)
		last := len(all) - 1
		unit, isUnit := units[lower]
		switch said := roles[lower]; {
		case w.number:
			m := measure{word: w, scale: 1, end: w.col + len(w.text)}
			if role.text != "" {
				m.kind, role = roles[strings.ToLower(role.text)], word{}
			}
			all = append(all, m)
		case (lower == "x" || lower == "×" || lower == "by") && last >= 0 && i+1 < len(words) && words[i+1].number:
			if chained < 0 {
				chained = last
			}
		case isUnit && last >= 0 && !all[last].unit && i > 0 && words[i-1].number:
			from := last
			if chained >= 0 {
				from, chained = chained, -1
			}
			for n := from; n <= last; n++ {
				if err := all[n].measuredIn(w, unit.kind, unit.scale); err != nil {
					return nil, err
				}
			}
		case said == step || said != unsaid && before:
			if role.text != "" && roles[strings.ToLower(role.text)] != said {
				return nil, role.wrong("a number should follow this")
			}
			role = w
		case said != unsaid && last >= 0:
			if err := all[last].called(w, said); err != nil {
				return nil, err
			}
		case small[lower]:
		default:
			return nil, w.wrong("say what was measured: g, mm, dry, wet, displaced, thick, C or scale")
		}
	}
	if role.text != "" {
		return nil, role.wrong("a number should follow this")
	}
	return all, nil
}

// measuredIn gives a number its unit.
func (m *measure) measuredIn(w word, k kind, scale float64) error {
	same := m.kind == unsaid || m.kind == k || k == dry && (m.kind == wet || m.kind == displaced || m.kind == step) ||
		k == length && (m.kind == across || m.kind == thick) || k == warmth && m.kind == wet
	if !same {
		return w.wrong("this unit does not go with what was measured")
	}
	m.unit, m.scale, m.end = true, scale, w.col+len(w.text)
	if m.kind == unsaid || k == warmth {
		m.kind = k
	}
	return nil
}

// called gives a number its role by a word after it. "21C water" is the water's temperature.
func (m *measure) called(w word, said kind) error {
	switch {
	case m.kind == warmth && said == wet, m.kind == said:
		return nil
	case m.kind == unsaid, m.kind == dry && (said == wet || said == displaced), m.kind == length && (said == across || said == thick):
		m.kind = said
		return nil
	}
	return w.wrong("this does not go with what was measured")
}

// value is the measure in grams, millimetres or °C.
func (m measure) value() float64 {
	if m.kind == warmth && m.scale == 0 {
		return (m.typed - 32) * 5 / 9
	}
	return m.typed * cmp.Or(m.scale, 1)
}

// step is what the last written decimal counts.
func (m measure) step() float64 { return math.Pow10(-m.decimals) * cmp.Or(m.scale, 1) }
