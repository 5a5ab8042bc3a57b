package series

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// atom is a word of a line, told apart by its look alone.
type atom struct {
	kind     atomKind
	col      int    // in bytes
	word     string // as it stands in the text
	from, to string // years
	letters  string // glued to the year
	open     bool
	slash    bool
	size     string
	count    int
	trailing bool // a count that stands after what it counts: x3, (3)
	reason   string
}

func (a atom) end() int { return a.col + len(a.word) }

type atomKind int

const (
	atomWord atomKind = iota
	atomYear
	atomUndated
	atomAll
	atomRest
	atomAny
	atomExcept
	atomTo
	atomSize
	atomCount
	atomComma
	atomGroup
	atomLetterO
	atomBad
)

// keywords are words with a meaning of their own in every series.
var keywords = map[string]atomKind{
	"nd": atomUndated, "n/d": atomUndated, "n.d.": atomUndated, "undated": atomUndated, "dateless": atomUndated,
	"all": atomAll, "everything": atomAll,
	"rest": atomRest, "missing": atomRest,
	"any": atomAny, "either": atomAny,
	"except": atomExcept, "but": atomExcept, "without": atomExcept, "not": atomExcept, "minus": atomExcept,
	"to": atomTo, "thru": atomTo, "through": atomTo, "until": atomTo,
	"and": atomComma, "&": atomComma, "+": atomComma,
}

// atoms splits a text. Phone keyboards' dashes, quotes, wide digits and hard spaces are read as the plain ones.
func atoms(text string) []atom {
	var all []atom
	for col := 0; col < len(text); {
		r, width := utf8.DecodeRuneInString(text[col:])
		switch {
		case unicode.IsSpace(r) && r != '\n' || r == '\u200b' || r == '\ufeff':
		case r == ',' || r == '、' || r == '，':
			all = append(all, atom{kind: atomComma, col: col, word: text[col : col+width]})
		case r == ';' || r == '\n' || r == '；':
			all = append(all, atom{kind: atomGroup, col: col, word: text[col : col+width]})
		case r == '(':
			a := parenthesised(text, col)
			all = append(all, a)
			width = len(a.word)
		default:
			end := col + width
			for end < len(text) {
				next, w := utf8.DecodeRuneInString(text[end:])
				if unicode.IsSpace(next) || strings.ContainsRune(",;(、，；\u200b\ufeff", next) {
					break
				}
				end += w
			}
			all = joined(all, text, col, end)
			width = end - col
		}
		col += width
	}
	return all
}

// parenthesised reads a count in parentheses, "(2)".
func parenthesised(text string, col int) atom {
	end := strings.IndexByte(text[col:], ')')
	if end < 0 {
		return atom{kind: atomBad, col: col, word: text[col : col+1], reason: "its other half is missing."}
	}
	word := text[col : col+end+1]
	n, err := strconv.Atoi(strings.Trim(plain(word), "( )x"))
	if err != nil || len(word) > 12 {
		return atom{kind: atomBad, col: col, word: word, reason: "only a number of pieces stands in parentheses."}
	}
	return atom{kind: atomCount, col: col, word: word, count: n, trailing: true}
}

// split takes a word of several apart: "84/85/87", "2x84", "84x2".
func split(text string, col, end int) []atom {
	p := plain(text[col:end])
	if len(p) != end-col { // fancies: their bytes don't line up
		return []atom{atomOf(text, col, end)}
	}
	if years := strings.Split(p, "/"); len(years) > 2 && !slices.ContainsFunc(years, func(y string) bool { return !isYear(y) }) {
		var all []atom
		for _, y := range years {
			all = append(all, atom{kind: atomYear, col: col, word: text[col : col+len(y)], from: y})
			col += len(y) + 1
		}
		return all
	}
	if left, right, ok := strings.Cut(p, "x"); ok && allDigits(left) && allDigits(right) {
		middle := col + len(left)
		if isYear(right) && (len(left) < 3) {
			return []atom{
				{kind: atomCount, col: col, word: text[col : middle+1], count: number(left)},
				{kind: atomYear, col: middle + 1, word: text[middle+1 : end], from: right},
			}
		}
		if isYear(left) {
			return []atom{
				{kind: atomYear, col: col, word: text[col:middle], from: left},
				{kind: atomCount, col: middle, word: text[middle:end], count: number(right), trailing: true},
			}
		}
	}
	return []atom{atomOf(text, col, end)}
}

// joined adds a word, put together with those before it where they make one: "82 - 84", "x 3", "3 x", "1/10 oz".
func joined(all []atom, text string, col, end int) []atom {
	parts := split(text, col, end)
	a := parts[0]
	if len(all) == 0 || len(parts) > 1 {
		return append(all, parts...)
	}
	last := all[len(all)-1]
	p := plain(a.word)
	switch {
	case p == "-" && last.kind == atomYear && last.to == "" && !last.open:
		return append(all, atom{kind: atomTo, col: col, word: a.word})
	case a.kind == atomYear && a.to == "" && !a.open && last.kind == atomYear && last.open:
		return append(all[:len(all)-1], spanning(text, last.col, end, atom{kind: atomYear, from: last.from, to: a.from}))
	case a.kind == atomYear && plain(last.word) == "x" && len(a.word) <= 2 && last.kind == atomWord:
		return append(all[:len(all)-1], spanning(text, last.col, end, atom{kind: atomCount, count: number(p), trailing: true}))
	case a.kind == atomWord && last.kind == atomBad && strings.EqualFold(p, "x") && number(plain(last.word)) > 0:
		return append(all[:len(all)-1], spanning(text, last.col, end, atom{kind: atomCount, count: number(plain(last.word))}))
	case strings.EqualFold(p, "oz") || strings.EqualFold(p, "ozt"):
		if size, ok := ounces(plain(last.word)); ok && last.kind != atomCount {
			return append(all[:len(all)-1], spanning(text, last.col, end, atom{kind: atomSize, size: size}))
		}
	case a.kind == atomBad && number(p) > 0 && number(p) < 10 && plain(last.word) == "x" && last.kind == atomWord:
		return append(all[:len(all)-1], spanning(text, last.col, end, atom{kind: atomCount, count: number(p), trailing: true}))
	}
	return append(all, a)
}

func spanning(text string, col, end int, a atom) atom {
	a.col, a.word = col, text[col:end]
	return a
}

// plain is a word in lower case with the keyboard's fancies made plain.
func plain(word string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune("‐‑‒–—―−", r):
			return '-'
		case strings.ContainsRune("‘’‛′`´ʼ", r):
			return '\''
		case r == '×' || r == '✕':
			return 'x'
		case r >= '０' && r <= '９':
			return r - '０' + '0'
		case r == '⁄' || r == '／':
			return '/'
		}
		return r
	}, word))
}

func number(digits string) int {
	n, err := strconv.Atoi(digits)
	if err != nil || len(digits) > 9 {
		return -1
	}
	return n
}

func allDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// ounces reads the number of a weight in ounces, "5" or "1/10", and writes it our way.
func ounces(p string) (string, bool) {
	over, under, fraction := strings.Cut(p, "/")
	if !allDigits(over) || len(over) > 4 || fraction && (!allDigits(under) || len(under) > 3) {
		return "", false
	}
	if fraction && (number(under) <= number(over) || number(over) == 0) || !fraction && number(over) == 0 {
		return "", false
	}
	return strings.TrimLeft(p, "0") + "oz", true
}

// atomOf tells what a word is by its look.
func atomOf(text string, col, end int) atom {
	a := atom{col: col, word: text[col:end]}
	p := plain(a.word)
	if kind, ok := keywords[p]; ok {
		a.kind = kind
		return a
	}
	if count, rest, ok := counted(p); ok {
		if rest == "" {
			a.kind, a.count, a.trailing = atomCount, count, strings.HasPrefix(p, "x")
			return a
		}
	}
	if year(&a, p) || sized(&a, p) || glued(&a, p) {
		return a
	}
	if allDigits(strings.TrimPrefix(p, "'")) {
		a.kind, a.reason = atomBad, "not a year: write two or four digits."
	}
	return a
}

// counted splits "x3" or "3x" into its number; "2x84" is for year.
func counted(p string) (count int, rest string, ok bool) {
	if digits, found := strings.CutPrefix(p, "x"); found && allDigits(digits) {
		return max(number(digits), 0), "", true
	}
	if digits, found := strings.CutSuffix(p, "x"); found && allDigits(digits) {
		return max(number(digits), 0), "", true
	}
	return 0, p, false
}

// sized reads "1/10oz", "1/2", "5oz".
func sized(a *atom, p string) bool {
	bare := strings.TrimSuffix(strings.TrimSuffix(p, "t"), "oz")
	if bare == p && !strings.Contains(p, "/") {
		return false
	}
	size, ok := ounces(bare)
	if ok {
		a.kind, a.size = atomSize, size
	}
	return ok
}

// year reads "82", "'82", "1982", "82-86", "82-", "1985/6" and "84/85". A slash with a fraction below one before "oz", or
// of one digit over more, is a size.
func year(a *atom, p string) bool {
	from, to, dash := strings.Cut(p, "-")
	slash := false
	if !dash {
		from, to, slash = strings.Cut(p, "/")
	}
	from, to = strings.TrimPrefix(from, "'"), strings.TrimPrefix(to, "'")
	if !isYear(from) || slash && len(from) < 2 {
		return false
	}
	switch {
	case !dash && !slash:
	case to == "" && dash:
		a.open = true
	case isYear(to), slash && len(to) == 1 && allDigits(to), dash && len(to) == 1 && allDigits(to) && len(from) == 4:
		a.to, a.slash = to, slash
	default:
		return false
	}
	a.kind, a.from = atomYear, from
	return true
}

// glued reads a year with letters at its end, "84e", and marks a number with the letter O for a nought, "2O12".
func glued(a *atom, p string) bool {
	digits := strings.TrimRight(p, "abcdefghijklmnopqrstuvwxyz")
	letters := p[len(digits):]
	digits = strings.TrimPrefix(digits, "'")
	_, keyword := keywords[letters]
	if isYear(digits) && letters != "" && !keyword && !slices.Contains([]string{"oz", "ozt", "x"}, letters) {
		a.kind, a.from, a.letters = atomYear, digits, letters
		return true
	}
	if letterO(p) {
		a.kind = atomLetterO
		return true
	}
	return false
}

// letterO reports whether a word would be a year if its letters O were noughts.
func letterO(p string) bool {
	return strings.ContainsAny(p, "0123456789") && strings.Contains(p, "o") && isYear(strings.ReplaceAll(p, "o", "0"))
}

func isYear(s string) bool { return allDigits(s) && (len(s) == 2 || len(s) == 4) }
