package series

import (
	"slices"
	"strings"
)

// token is a word or mark of a line, told apart by its look; [col, end) is its place in the text.
type token struct {
	kind     tokenKind
	col, end int
	plain    string  // as names are compared
	from, to string  // the digits of years; letters glued to a year are in to; a share of no unit is in from
	count    int     // of a tokenCount; -1 when there is no such number
	reason   Wording // of a tokenBad
	pieces   []int   // of a tokenName, the pieces that go by it
	slot     int     // of a tokenName that is a slot's, its place from 1
	dated    bool    // a tokenName that says its own year
	undated  bool    // a tokenName of pieces that all bear no year
}

type tokenKind int

const (
	tokenWord      tokenKind = iota
	tokenName                // words that name pieces of the series that is read
	tokenYear                // 82, 1982, '82
	tokenRange               // 82-86
	tokenOpen                // 82-
	tokenSlash               // 84/85, 1985/6
	tokenGlued               // 84e
	tokenCross               // 84x12: either may be the year
	tokenDigits              // digits that are no year
	tokenSize                // 1/10oz
	tokenLead                // 3x: stands before what it counts
	tokenCount               // x3, (3): stands after it
	tokenTimes               // x or *, between spaces
	tokenUndated             // ND
	tokenAll                 // all
	tokenRest                // rest
	tokenBoth                // both, every
	tokenAny                 // any, either
	tokenOr                  // or
	tokenExcept              // except
	tokenTo                  // to, or a dash between spaces
	tokenOf                  // of, the: say nothing between all or a number and what it is of
	tokenAnd                 // and, &, +
	tokenComma               // ,
	tokenGroup               // ; or a new line
	tokenBracket             // (
	tokenBracketed           // )
	tokenBad                 // cannot be read, for a reason
)

// separates reports whether a token ends an entry.
func (k tokenKind) separates() bool { return k == tokenAnd || k == tokenComma || k == tokenGroup }

// keywords mean the same in every series.
var keywords = map[string]tokenKind{
	"nd": tokenUndated, "n/d": tokenUndated, "n.d.": tokenUndated, "n.d": tokenUndated,
	"undated": tokenUndated, "dateless": tokenUndated, "no-date": tokenUndated,
	"all": tokenAll, "everything": tokenAll, "rest": tokenRest, "missing": tokenRest, "remaining": tokenRest,
	"both": tokenBoth, "every": tokenBoth, "any": tokenAny, "either": tokenAny, "or": tokenOr,
	"except": tokenExcept, "but": tokenExcept, "without": tokenExcept, "not": tokenExcept, "minus": tokenExcept,
	"to": tokenTo, "thru": tokenTo, "through": tokenTo, "until": tokenTo, "till": tokenTo, "-": tokenTo,
	"of": tokenOf, "the": tokenOf, "and": tokenAnd, "&": tokenAnd, "+": tokenAnd, "plus": tokenAnd, "x": tokenTimes, "*": tokenTimes,
}

// most is how many of one piece a line may speak of.
const most = 9999

// tokens splits a text into words and marks, and puts together those that belong together.
func tokens(text string) []token {
	l := plainly(text)
	all := make([]token, 0, len(l.plain)/3+1)
	for i := 0; i < len(l.plain); {
		var next int
		all, next = l.next(all, i)
		i = next
	}
	return together(all, text)
}

// next adds the token that begins at plain[i], if one does, and says where to go on.
func (l line) next(all []token, i int) ([]token, int) {
	one := func(kind tokenKind, end int) ([]token, int) {
		return append(all, token{kind: kind, col: l.col(i), end: l.col(end), plain: l.plain[i:end]}), end
	}
	switch c := l.plain[i]; c {
	case ' ', '"':
		return all, i + 1
	case ',':
		return one(tokenComma, i+1)
	case ';', '\n':
		return one(tokenGroup, i+1)
	case ')':
		return one(tokenBracketed, i+1)
	case '(':
		if count, end := bracketedCount(l.plain, i); end > 0 {
			return append(all, token{kind: tokenCount, col: l.col(i), end: l.col(end), plain: l.plain[i:end], count: count}), end
		}
		return one(tokenBracket, i+1)
	}
	end := i
	for end < len(l.plain) && strings.IndexByte(" \",;()\n", l.plain[end]) < 0 {
		end++
	}
	word := l.plain[i:end]
	if _, ok := keywords[word]; !ok {
		word = strings.TrimRight(word, ".!?:")
		if strings.Trim(word, "-•·|") == "" {
			return all, end // punctuation alone, or the bullet of a pasted list
		}
	}
	return l.word(all, i, i+len(word)), end
}

// bracketedCount reads "(2)", "(x2)" or "( 2x )" at i; end is 0 when it is none. Four digits in brackets are a year.
func bracketedCount(plain string, i int) (count, end int) {
	closing := strings.IndexByte(plain[i:min(len(plain), i+12)], ')')
	if closing < 0 {
		return 0, 0
	}
	inner := strings.Trim(plain[i+1:i+closing], " ")
	digits := strings.Trim(strings.TrimSuffix(strings.TrimPrefix(inner, "x"), "x"), " ")
	if !allDigits(digits) || len(digits) > 3 {
		return 0, 0
	}
	return number(digits), i + closing + 1
}

// word adds the tokens of one word, plain[i:end].
func (l line) word(all []token, i, end int) []token {
	part := func(from, to int) token {
		t := look(l.plain[from:to])
		t.col, t.end = l.col(from), l.col(to)
		return t
	}
	word := l.plain[i:end]
	for _, mark := range []string{"/", "+", "&"} { // 84/85/87, 84+85
		years := strings.Split(word, mark)
		if len(years) < 2 || mark == "/" && len(years) == 2 || slices.ContainsFunc(years, func(y string) bool { return !isYear(y) }) {
			continue
		}
		for n, year := range years {
			if n > 0 {
				all = append(all, token{kind: tokenComma, col: l.col(i - 1), end: l.col(i), plain: mark})
			}
			all = append(all, part(i, i+len(year)))
			i += len(year) + 1
		}
		return all
	}
	if at := countIn(word); at > 0 {
		all = append(all, part(i, i+at))
		i += at
	}
	return append(all, part(i, end))
}

// countIn finds where a word such as "2x84", "84x2" or "82-86x2" falls apart; 0 when it does not.
func countIn(word string) int {
	i := strings.LastIndexByte(word, 'x')
	if i <= 0 || i == len(word)-1 {
		return 0
	}
	left, right := word[:i], word[i+1:]
	switch {
	case isYear(left) && isYear(right) && len(left) == len(right): // either may be the year
		return 0
	case allDigits(right) && len(right) < 4 && countable(left):
		return i
	case allDigits(left) && (countable(right) || i == strings.IndexByte(word, 'x') && len(left) < 4 && !allDigits(right)):
		return i + 1
	}
	return 0
}

// countable reports whether a word names something by its look.
func countable(word string) bool {
	switch look(word).kind {
	case tokenYear, tokenRange, tokenGlued, tokenSize:
		return true
	}
	return false
}
