package melt

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A SyntaxError points at the word that could not be read: text[Col:Col+len(Word)] == Word. Word is empty when nothing
// was there to read.
type SyntaxError struct {
	Col    int    // where Word begins, in bytes
	Word   string // as typed
	Reason string // what is wrong with it and what to write instead, without a full stop
}

func (e *SyntaxError) Error() string { return fmt.Sprintf("%q: %s", e.Word, e.Reason) }

// Plain is the sentence for the member who typed it.
func (e *SyntaxError) Plain() string {
	if e.Word == "" {
		return fmt.Sprintf("Something is missing: %s.", e.Reason)
	}
	return fmt.Sprintf("I cannot read “%s”: %s.", e.Word, e.Reason)
}

// An Ambiguous is a question, not a mistake: what was typed has more than one honest reading, and choosing one silently
// would misstate a piece. text[Col:Col+len(Word)] == Word, as in a SyntaxError.
type Ambiguous struct {
	Col      int
	Word     string    // as typed
	Readings []Reading // the likeliest in this trade first
}

// A Reading is one answer to an Ambiguous.
type Reading struct {
	Text    string // what to type to mean this; it reads without a question
	Meaning string // in words: "troy ounces, 31.1034768 g each"
}

func (e *Ambiguous) Error() string { return fmt.Sprintf("%q may mean %s", e.Word, e.choices()) }

// Plain is the question for the member who typed it.
func (e *Ambiguous) Plain() string {
	return fmt.Sprintf("“%s” can mean two things. Do you mean %s?", e.Word, e.choices())
}

func (e *Ambiguous) choices() string {
	choices := make([]string, len(e.Readings))
	for i, r := range e.Readings {
		choices[i] = fmt.Sprintf("%s (%s)", r.Text, r.Meaning)
	}
	return strings.Join(choices, " or ")
}

const (
	longestText   = 64 // bytes; a longer text is no weight, fineness or price
	longestNumber = 30 // bytes
)

// A word is a part of what was typed and where it stood.
type word struct {
	text string
	col  int
}

func (w word) wrong(reason string, args ...any) *SyntaxError {
	return &SyntaxError{Col: w.col, Word: w.text, Reason: fmt.Sprintf(reason, args...)}
}

// A reader goes through a typed text from left to right.
type reader struct {
	text string
	at   int
}

// newReader refuses a text that is too long to be meant.
func newReader(text string) (*reader, error) {
	if len(text) > longestText {
		end := longestText
		for end > 0 && !utf8.RuneStart(text[end]) {
			end--
		}
		return nil, word{text[:end], 0}.wrong("the text is too long")
	}
	return &reader{text: text}, nil
}

// take returns the word made of the runes from here on that are in, after any space.
func (r *reader) take(in func(rune) bool) word {
	r.skipSpace()
	rest := r.text[r.at:]
	end := strings.IndexFunc(rest, func(c rune) bool { return !in(c) })
	if end < 0 {
		end = len(rest)
	}
	w := word{rest[:end], r.at}
	r.at += end
	return w
}

// takeAny consumes one of the given prefixes and reports whether one stood there, after any space.
func (r *reader) takeAny(prefixes ...string) bool {
	r.skipSpace()
	for _, p := range prefixes {
		if strings.HasPrefix(r.text[r.at:], p) {
			r.at += len(p)
			return true
		}
	}
	return false
}

// rest is all that is left, without the space around it.
func (r *reader) rest() word {
	r.skipSpace()
	return word{strings.TrimRightFunc(r.text[r.at:], unicode.IsSpace), r.at}
}

// words is all that is left, in words: what stands between spaces, full stops and hyphens, in small letters. Each keeps
// its place in the text.
func (r *reader) words() []word {
	between := func(c rune) bool { return unicode.IsSpace(c) || c == '.' || c == '-' }
	var list []word
	for r.at < len(r.text) {
		w := r.take(func(c rune) bool { return !between(c) })
		if w.text != "" {
			list = append(list, w)
			continue
		}
		r.take(between)
	}
	return list
}

func (r *reader) skipSpace() {
	r.at = len(r.text) - len(strings.TrimLeftFunc(r.text[r.at:], unicode.IsSpace))
}

// phrase joins words as the tables of this package spell them.
func phrase(words []word) string {
	texts := make([]string, len(words))
	for i, w := range words {
		texts[i] = strings.ToLower(w.text)
	}
	return strings.Join(texts, " ")
}

func isDigit(c rune) bool   { return '0' <= c && c <= '9' }
func isNumeral(c rune) bool { return isDigit(c) || c == '.' || c == ',' }

// A number is a decimal number as typed. decimals counts the digits typed after the point, zeros included.
type number struct {
	word
	value    *big.Rat
	decimals int
}

// number reads a decimal number of at most that many decimals. Point and comma both serve as either separator:
// "1234.5", "1234,5", "1,234.5", "1.234,5" and "1,234,567" can only mean one thing. A single point is the decimal
// point. A single comma before three digits ("1,234") marks thousands where so many decimals cannot be meant, and is
// refused where they can.
func (r *reader) number(mostDecimals int) (number, error) {
	w := r.take(isNumeral)
	if w.text == "" {
		return number{}, r.rest().wrong("a number should stand here")
	}
	if len(w.text) > longestNumber {
		return number{}, w.wrong("the number is too long")
	}
	whole, fraction, reason := splitNumber(w.text, mostDecimals)
	if reason != "" {
		return number{}, w.wrong("%s", reason)
	}
	value, ok := new(big.Rat).SetString(whole + "." + fraction + "0") // digits only, so no exponent can hide in it
	if !ok {
		return number{}, w.wrong("this is not a number")
	}
	return number{w, value, len(fraction)}, nil
}

// splitNumber returns the digits before and after the decimal point, or the reason why there is no telling.
func splitNumber(text string, mostDecimals int) (whole, fraction, reason string) {
	parts := strings.Split(strings.ReplaceAll(text, ",", "."), ".")
	last := len(parts) - 1
	if parts[last] == "" {
		return "", "", "a digit is missing at the end"
	}
	if last == 1 && parts[0] == "" { // .999
		return "0", parts[1], ""
	}
	if slices.Contains(parts, "") {
		return "", "", "there is one point or comma too many"
	}
	commas := strings.Count(text, ",")
	switch {
	case last == 0:
		return text, "", ""
	case last == 1 && (commas == 0 || !grouped(parts)):
		return parts[0], parts[1], ""
	case last == 1 && mostDecimals >= 3:
		return "", "", fmt.Sprintf("the comma may mark thousands or decimals; write %s%s or %s.%s",
			parts[0], parts[1], parts[0], parts[1])
	case (commas == 0 || commas == last) && grouped(parts): // 1,234 and 1,234,567
		return strings.Join(parts, ""), "", ""
	case oddOneLast(text) && grouped(parts[:last]): // 1,234.5
		return strings.Join(parts[:last], ""), parts[last], ""
	}
	return "", "", "thousands and decimals cannot be told apart; write it without separators for thousands"
}

// oddOneLast reports whether the last separator in text is of one kind and all before it are of the other.
func oddOneLast(text string) bool {
	point, comma := strings.Index(text, "."), strings.Index(text, ",")
	return point > strings.LastIndex(text, ",") && point == strings.LastIndex(text, ".") ||
		comma > strings.LastIndex(text, ".") && comma == strings.LastIndex(text, ",")
}

// grouped reports whether parts are the groups of a number with separators for thousands: 1,234,567.
func grouped(parts []string) bool {
	if len(parts[0]) > 3 || parts[0][0] == '0' {
		return false
	}
	for _, p := range parts[1:] {
		if len(p) != 3 {
			return false
		}
	}
	return true
}

// formatDecimal writes n units of 10^-digits exactly, with as few decimals as it takes but no fewer than least.
func formatDecimal(n int64, digits, least int) string {
	sign, text := "", strconv.FormatInt(n, 10)
	if n < 0 {
		sign, text = "-", text[1:]
	}
	if short := digits + 1 - len(text); short > 0 {
		text = strings.Repeat("0", short) + text
	}
	whole, fraction := text[:len(text)-digits], text[len(text)-digits:]
	for len(fraction) > least && fraction[len(fraction)-1] == '0' {
		fraction = fraction[:len(fraction)-1]
	}
	if fraction == "" {
		return sign + whole
	}
	return sign + whole + "." + fraction
}
