package series

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// line is a text made plain: lower case, with the fancies of phone keyboards and pasted lists turned into what they
// stand for. Its words are read from plain; at finds the place in the text of every byte of plain, and of its end.
type line struct {
	text  string
	plain string
	at    []int
}

// col is where plain[i] stands in the text.
func (l line) col(i int) int { return l.at[i] }

// plainly makes a text plain. A text that holds no UTF-8 is plain as well: its odd bytes are letters no name has.
func plainly(text string) line {
	l := line{text: text, at: make([]int, 0, len(text)+1)}
	var b strings.Builder
	b.Grow(len(text))
	afterDigit := false
	for i := 0; i < len(text); {
		r, width := utf8.DecodeRuneInString(text[i:])
		before := b.Len()
		if r == 'ー' && afterDigit {
			r = '-' // the key of the dash, on a Japanese keyboard
		}
		if share, ok := shares[r]; ok && !afterDigit {
			b.WriteString(share)
		} else if r = plainRune(r); r >= 0 {
			b.WriteRune(r)
		}
		for range b.Len() - before {
			l.at = append(l.at, i)
		}
		if b.Len() > before {
			afterDigit = isDigit(b.String()[b.Len()-1])
		}
		i += width
	}
	l.at = append(l.at, len(text))
	l.plain = b.String()
	return l
}

// shares are fractions in one character. After a digit they are left alone, for 1½ is not 11/2.
var shares = map[rune]string{
	'½': "1/2", '⅓': "1/3", '¼': "1/4", '¾': "3/4", '⅕': "1/5", '⅛': "1/8", '⅒': "1/10",
}

// plainRune is what a character stands for; -1 for what is not seen: marks of direction, joiners, the look of a
// pictograph. Full-width forms lie 0xFEE0 above ASCII (Unicode, Halfwidth and Fullwidth Forms).
func plainRune(r rune) rune {
	switch {
	case r == '\n' || r == '\u0085' || r == '\u2028' || r == '\u2029':
		return '\n'
	case unicode.IsSpace(r) || r == '\u200b':
		return ' '
	case unicode.Is(unicode.Cf, r) || r >= '\ufe00' && r <= '\ufe0f' || r == '\u20e3':
		return -1
	case unicode.Is(unicode.Pd, r) || r == '−' || r == '～':
		return '-'
	case r >= '！' && r <= '～':
		r -= 0xfee0
	case r >= '٠' && r <= '٩':
		return r - '٠' + '0'
	case r >= '۰' && r <= '۹':
		return r - '۰' + '0'
	}
	switch r {
	case '‘', '’', '‛', '′', 'ʼ', '´', '`':
		return '\''
	case '“', '”', '„', '‟', '″', '«', '»':
		return '"'
	case '×', '✕', '✖':
		return 'x'
	case '⁄', '∕':
		return '/'
	case '、', '،', '､':
		return ','
	case '؛':
		return ';'
	}
	return unicode.ToLower(r)
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func allDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// isYear reports whether digits are as many as a year has.
func isYear(s string) bool { return allDigits(s) && (len(s) == 2 || len(s) == 4) }

// number is the value of digits; -1 when they are none, or too many to be meant.
func number(digits string) int {
	if !allDigits(digits) || len(digits) > 9 {
		return -1
	}
	n := 0
	for i := range len(digits) {
		n = n*10 + int(digits[i]-'0')
	}
	return n
}
