package bot

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"spareounce/match/melt"
)

// tapWord names the press of one button. A bin's buttons bear one for each piece, so that pressing twice buys once.
var tapWord = regexp.MustCompile(`^#[0-9a-z]{4,20}$`)

func isTap(word string) bool { return tapWord.MatchString(word) }

// countWord is how many, said after a price: "@62 x3".
var countWord = regexp.MustCompile(`^(?:x([0-9]{1,3})|([0-9]{1,3})x)$`)

// beginsPrice reports whether a word is, or begins, a price: "@62", "@$62", "@". "@bo" is somebody's name.
func beginsPrice(word string) bool {
	after, ok := strings.CutPrefix(word, "@")
	if !ok {
		return false
	}
	r, _ := utf8.DecodeRuneInString(after)
	return after == "" || unicode.IsDigit(r) || unicode.Is(unicode.Sc, r) || r == '.'
}

// readPrice reads the words of a price at i, if any stand there: "@62", and after one "each" and "x3"; and a tap.
func (t turn) readPrice(line string, i int, said *about) (end int, ok bool, err error) {
	word, next := wordAt(line, i)
	lower := strings.ToLower(word)
	switch m := countWord.FindStringSubmatch(lower); {
	case isTap(lower):
		said.tap = lower[1:]
		return next, true, nil
	case beginsPrice(lower):
		if !t.verb.priced {
			return 0, false, pointed{i, word, t.Say(priceElsewhere)}
		}
		at := next - len(word) + 1
		price, next, err := t.money(line, at)
		if err == nil && *price > mostPrice {
			err = pointed{at, line[at:next], t.Say(priceTooHigh)}
		}
		if err != nil {
			return 0, false, err
		}
		said.price = price
		if t.verb.name == "spare" || t.verb.name == "double" { // what one asks
			said.ask = price
		}
		return next, true, nil
	case said.price != nil && (lower == "each" || lower == "ea" || lower == "apiece"):
		return next, true, nil
	case said.price != nil && m != nil:
		said.count, _ = strconv.Atoi(m[1] + m[2])
		return next, said.count > 0, nil
	}
	return 0, false, nil
}

// mostPrice is more than any piece costs in any currency's minor unit, and far from where sums would not fit.
const mostPrice = melt.Minor(1e11)

// quantity is how many of a pick are meant: as the shorthand counts them, else as was said after the price.
func (p pick) quantity() int {
	if !p.Counted && p.about.count > 0 {
		return p.about.count
	}
	return p.Quantity
}

// typed is an amount as it can be typed after "@" in the group's currency.
func (t turn) typed(a melt.Minor) string {
	return strings.TrimPrefix(t.group.Currency.Format(a), string(t.group.Currency)+" ")
}
