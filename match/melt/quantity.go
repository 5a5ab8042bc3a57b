package melt

import (
	"math/big"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A quantity is a number, a fraction or a number and a fraction, as typed: "2.5", "1/10", "1 1/2", "½", "half a".
type quantity struct {
	word           // the digits, or the word that stood for them
	digits string  // how to write it in digits: "1/2" for "half a"
	number *number // set when it is a plain decimal number
	value  *big.Rat
}

// vulgarFractions are the single characters people's telephones make of a typed fraction (Unicode, Number Forms).
var vulgarFractions = map[rune]string{
	'½': "1/2", '¼': "1/4", '¾': "3/4", '⅓': "1/3", '⅔': "2/3", '⅕': "1/5", '⅛': "1/8", '⅒': "1/10",
}

// numberWords are the sizes pieces are made in, as said aloud.
var numberWords = map[string]string{
	"one": "1", "two": "2", "five": "5", "ten": "10", "half": "1/2", "quarter": "1/4", "tenth": "1/10", "twentieth": "1/20",
}

// quantity reads a quantity. Decimals are not limited, so a comma before three digits is refused; see number.
func (r *reader) quantity() (quantity, error) {
	if q, ok := r.numberWord(); ok {
		return q, nil
	}
	start := r.at
	if value, ok := r.vulgarFraction(); ok {
		return r.quantityFrom(start, value), nil
	}
	n, err := r.number(longestNumber)
	if err != nil {
		return quantity{}, err
	}
	if r.takeAny("/", "⁄") {
		value, err := r.divide(n)
		if err != nil {
			return quantity{}, err
		}
		return r.quantityFrom(start, value), nil
	}
	plain := r.quantityFrom(start, n.value)
	plain.number = &n
	if n.decimals > 0 { // no fraction follows decimals
		return plain, nil
	}
	if value, ok := r.vulgarFraction(); ok {
		return r.quantityFrom(start, value.Add(value, n.value)), nil
	}
	after := *r
	if top, err := after.number(0); err == nil && after.takeAny("/", "⁄") {
		value, err := after.divide(top)
		if err != nil {
			return quantity{}, err
		}
		r.at = after.at
		return r.quantityFrom(start, value.Add(value, n.value)), nil
	}
	return plain, nil
}

// quantityFrom is the quantity whose text began at start and ends here.
func (r *reader) quantityFrom(start int, value *big.Rat) quantity {
	text := r.text[start:r.at]
	trimmed := strings.TrimLeftFunc(text, unicode.IsSpace)
	return quantity{
		word:   word{trimmed, r.at - len(trimmed)},
		digits: trimmed,
		value:  value,
	}
}

// divide reads what a fraction is divided by.
func (r *reader) divide(top number) (*big.Rat, error) {
	bottom, err := r.number(0)
	if err != nil {
		return nil, err
	}
	fraction := word{r.text[top.col:r.at], top.col}
	if !top.value.IsInt() || !bottom.value.IsInt() {
		return nil, fraction.wrong("a fraction is made of whole numbers, like 1/10")
	}
	if bottom.value.Sign() == 0 {
		return nil, fraction.wrong("nothing can be divided by 0")
	}
	return new(big.Rat).Quo(top.value, bottom.value), nil
}

func (r *reader) vulgarFraction() (*big.Rat, bool) {
	r.skipSpace()
	c, size := utf8.DecodeRuneInString(r.text[r.at:])
	text, ok := vulgarFractions[c]
	if !ok {
		return nil, false
	}
	r.at += size
	value, _ := new(big.Rat).SetString(text)
	return value, true
}

// numberWord reads "half", "half an", "a tenth of an", "one" and the like. Small words count only beside one of
// numberWords.
func (r *reader) numberWord() (quantity, bool) {
	after := *r
	after.takeSmallWords()
	w := after.take(unicode.IsLetter)
	digits, ok := numberWords[strings.ToLower(w.text)]
	if !ok {
		return quantity{}, false
	}
	r.at = after.at
	after.takeSmallWords()
	r.at = after.at
	value, _ := new(big.Rat).SetString(digits)
	return quantity{word: w, digits: digits, value: value}, true
}

func (r *reader) takeSmallWords() {
	for {
		after := *r
		switch strings.ToLower(after.take(unicode.IsLetter).text) {
		case "a", "an", "of":
			r.at = after.at
		default:
			return
		}
	}
}
