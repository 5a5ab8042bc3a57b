package series

import "strings"

// look tells what a plain word is by its look alone.
func look(word string) token {
	t := token{plain: word}
	if kind, ok := keywords[word]; ok {
		t.kind = kind
		if kind == tokenUndated {
			t.plain = "nd"
		}
		return t
	}
	switch {
	case t.isCount(word), t.isSize(word), t.isYears(word), t.isGlued(word):
	case allDigits(strings.TrimPrefix(word, "'")):
		t.kind = tokenDigits
	}
	return t
}

// isCount reads "x3" and "3x", and "12x84", in which either may be the year.
func (t *token) isCount(word string) bool {
	left, right, ok := strings.Cut(word, "x")
	switch {
	case !ok:
		return false
	case left == "" && allDigits(right):
		t.kind, t.count = tokenCount, number(right)
	case right == "" && allDigits(left):
		t.kind, t.count = tokenLead, number(left)
	case len(left) == 2 && isYear(left) && len(right) == 2 && isYear(right):
		t.kind, t.from, t.to = tokenCross, left, right
	default:
		return false
	}
	return true
}

// units are the words for a unit of weight after its number, and how sizes are written. An ounce of this trade is troy.
var units = map[string]string{
	"oz": "oz", "ozt": "oz", "ounce": "oz", "ounces": "oz", "toz": "oz",
	"g": "g", "gram": "g", "grams": "g", "gramme": "g", "grammes": "g",
	"kg": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg",
}

// isSize reads "1/10oz", "5oz", "2.5oz", "100g" and, for a part of an ounce, "1/2". Two or four digits with a g are a
// year with a letter: see index.size.
func (t *token) isSize(word string) bool {
	end := 0
	for end < len(word) && (isDigit(word[end]) || word[end] == '/' || word[end] == '.') {
		end++
	}
	amount, unit := word[:end], strings.TrimPrefix(word[end:], "-")
	if unit == "" {
		if !strings.HasPrefix(amount, "1/") || word != amount {
			return false
		}
		t.from, unit = amount, "oz"
	}
	written, ok := units[unit]
	if !ok || unit == "g" && isYear(amount) {
		return false
	}
	size, ok := sized(amount, written)
	if ok {
		t.kind, t.plain = tokenSize, size
	}
	return ok
}

// sized writes an amount of a unit as sizes are written: "1/10oz".
func sized(amount, unit string) (size string, ok bool) {
	over, under, share := strings.Cut(amount, "/")
	if share {
		if !allDigits(over) || !allDigits(under) || len(over) > 2 || len(under) > 3 || number(over) < 1 || number(under) <= number(over) {
			return "", false
		}
		return amount + unit, true
	}
	whole, part, point := strings.Cut(amount, ".")
	if part = strings.TrimRight(part, "0"); point && part != "" && !allDigits(part) || !allDigits(whole) || len(whole) > 4 || len(part) > 3 {
		return "", false
	}
	whole = strings.TrimLeft(whole, "0")
	switch {
	case whole == "" && part == "":
		return "", false
	case part == "":
		return whole + unit, true
	case whole == "":
		whole = "0"
	}
	return whole + "." + part + unit, true
}

// isYears reads "82", "'82", "84's", "82-86", "1982-5", "82-", "84/85" and "1985/6".
func (t *token) isYears(word string) bool {
	from, to, dash := strings.Cut(word, "-")
	slash := false
	if !dash {
		from, to, slash = strings.Cut(word, "/")
	}
	if !dash && !slash {
		from = strings.TrimSuffix(from, "'s")
	}
	from, to = strings.TrimPrefix(from, "'"), strings.TrimPrefix(to, "'")
	if !isYear(from) {
		return false
	}
	end := isYear(to) || len(to) == 1 && allDigits(to)
	switch {
	case !dash && !slash:
		t.kind, t.plain = tokenYear, from
	case dash && to == "":
		t.kind = tokenOpen
	case dash && end:
		t.kind = tokenRange
	case slash && end:
		t.kind = tokenSlash
	default:
		return false
	}
	t.from, t.to = from, to
	return true
}

// isGlued reads a year with letters at its end, "84e". An x counts.
func (t *token) isGlued(word string) bool {
	word = strings.TrimPrefix(word, "'")
	year := strings.TrimRight(word, "abcdefghijklmnopqrstuvwxyz")
	if !isYear(year) || year == word || word[len(year)] == 'x' {
		return false
	}
	t.kind, t.plain, t.from, t.to = tokenGlued, word, year, word[len(year):]
	return true
}

// mistyped is a word with letters in place of digits, made right: "2O12" is 2012 with the letter O. It has a real digit.
func mistyped(word string) (year string, ok bool) {
	word = strings.TrimPrefix(word, "'")
	year = strings.NewReplacer("o", "0", "l", "1", "i", "1").Replace(word)
	return year, isYear(year) && year != word && strings.ContainsAny(word, "0123456789")
}

// together puts tokens together that are one: "82 - 84", "3 x 84", "x 3", "5 oz", "half ounce", "no date"; and leaves
// out what says nothing, as "of" and "the" in "the rest of".
func together(all []token, text string) []token {
	out := all[:0:len(all)]
	for i := 0; i < len(all); i++ {
		t := all[i]
		var last token
		if len(out) > 0 {
			last = out[len(out)-1]
		} else {
			last.kind = tokenComma
		}
		span := func(kind tokenKind, first token) token {
			return token{kind: kind, col: first.col, end: t.end, plain: t.plain, from: first.from, to: t.to}
		}
		switch {
		case t.kind == tokenTimes:
			out, i = times(out, all, i)
		case sizeOfTwo(last, t) != "":
			one := span(tokenSize, last)
			one.plain = sizeOfTwo(last, t)
			out[len(out)-1] = one
		case t.kind == tokenWord && t.plain == "date" && last.kind == tokenWord && last.plain == "no":
			one := span(tokenUndated, last)
			one.plain = "nd"
			out[len(out)-1] = one
		case t.kind == tokenYear && last.kind == tokenOpen: // "82- 84"
			one := span(tokenRange, last)
			one.to, one.plain = t.from, last.plain+t.plain
			out[len(out)-1] = one
		case t.kind == tokenWord && last.kind == tokenYear && len(t.plain) > 1 && t.plain[0] == '-' && isYear(t.plain[1:]): // "82 -84"
			one := span(tokenRange, last)
			one.to, one.plain = t.plain[1:], last.plain+t.plain
			out[len(out)-1] = one
		case t.kind == tokenTo && t.plain == "-" && last.kind != tokenYear: // punctuation
		case t.kind == tokenOf && !sayingSomething(last, all[i+1:]):
		default:
			out = append(out, t)
		}
	}
	return out
}

// times reads an x between spaces at all[i]: "3 x 84", "84 x 3", "3 x wren", "wren x 3".
func times(out, all []token, i int) (left []token, at int) {
	x := all[i]
	count := func(t token) bool { return t.kind == tokenDigits || t.kind == tokenYear && len(t.from) == 2 }
	var before, after token
	if len(out) > 0 {
		before = out[len(out)-1]
	}
	if i+1 < len(all) {
		after = all[i+1]
	}
	isUnit := i+2 < len(all) && sizeOfTwo(after, all[i+2]) != ""
	switch {
	case before.kind == tokenYear && after.kind == tokenYear && len(before.from) == 2 && len(after.from) == 2 && !isUnit:
		before.kind, before.to, before.end = tokenCross, after.from, after.end
		before.plain = before.from + "x" + before.to
		out[len(out)-1] = before
		return out, i + 1
	case count(after) && len(out) > 0 && !before.kind.separates() && before.kind != tokenDigits && !isUnit:
		return append(out, token{kind: tokenCount, col: x.col, end: after.end, plain: "x" + after.plain, count: number(after.plain)}), i + 1
	case count(before) && i+1 < len(all) && !after.kind.separates():
		out[len(out)-1] = token{kind: tokenLead, col: before.col, end: x.end, plain: before.plain + "x", count: number(before.plain)}
		return out, i
	}
	if x.plain == "*" { // the bullet of a pasted list
		return out, i
	}
	x.kind, x.reason = tokenBad, say("how many? Write x3 for three.")
	return append(out, x), i
}

// shareWords are the parts of an ounce that have a word.
var shareWords = map[string]string{"half": "1/2", "quarter": "1/4", "fifth": "1/5", "tenth": "1/10", "twentieth": "1/20"}

// sizeOfTwo is the size that a number and a unit make, or "half" and "ounce"; "" when they make none. A g after two
// digits may be a variety of that year.
func sizeOfTwo(amount, unit token) string {
	written, ok := units[unit.plain]
	if !ok || unit.kind != tokenWord || unit.plain == "g" && amount.kind == tokenYear {
		return ""
	}
	number := amount.plain
	switch amount.kind {
	case tokenDigits, tokenYear:
	case tokenSize:
		number = amount.from
	case tokenWord:
		if share, ok := shareWords[number]; ok {
			number = share
		}
	default:
		return ""
	}
	size, _ := sized(number, written)
	return size
}

// sayingSomething reports whether an "of" or "the" says more than that all, or a number, is of what follows.
func sayingSomething(last token, following []token) bool {
	switch last.kind {
	case tokenAll, tokenRest, tokenBoth, tokenAny, tokenLead, tokenDigits, tokenOf:
		return false
	}
	return len(following) == 0 || following[0].kind != tokenRest && following[0].kind != tokenAll
}
