package melt

import (
	"fmt"
	"math/big"
)

// namedFineness are the standards with a name. Sources: sterling 925 and Britannia 958.4, Hallmarking Act 1973 Schedule
// 2 (UK); sterling and coin as trade words, 16 CFR 23 (US); three and four nines, common practice.
var namedFineness = map[string]Fineness{
	"sterling": 9250, "sterling silver": 9250,
	"coin": 9000, "coin silver": 9000,
	"britannia": 9584, "britannia silver": 9584,
	"three nines": 9990, "three nines fine": 9990,
	"four nines": 9999, "four nines fine": 9999,
}

// vagueFineness are words for metal as pure as it is sold, which is 999 or 999.9.
var vagueFineness = map[string]bool{"fine": true, "fine silver": true, "pure": true, "pure silver": true}

// scaleWords are words after a number that say how many parts the whole has.
var scaleWords = map[string]int64{
	"percent": 100, "per cent": 100, "pct": 100, "permille": 1000, "per mille": 1000, "per thousand": 1000,
}

// ParseFineness reads a fineness as people type it and as makers stamp it: parts per thousand ("999", "958.4"), a
// fraction of one (".999", "0.925", "900/1000", "37/40"), percent ("90%", "92.5"), four nines ("9999") or a name
// ("sterling", "coin", "Britannia"). "silver" or "fine" may follow.
//
// A whole number of 1 to 100 without a sign ("90") may be percent or parts per thousand, and "fine silver" may be 999
// or 999.9: they come back as an *Ambiguous. All else that cannot be read is a *SyntaxError, among it what is finer than
// four figures can say (".99999") and what is not exact in four figures ("11/12").
func ParseFineness(text string) (Fineness, error) {
	r, err := newReader(text)
	if err != nil {
		return 0, err
	}
	name := phrase(r.words())
	if f, ok := namedFineness[name]; ok {
		return f, nil
	}
	r.at = 0
	whole := r.rest()
	if vagueFineness[name] {
		return 0, &Ambiguous{Col: whole.col, Word: whole.text, Readings: []Reading{
			{"999", "three nines"},
			{"999.9", "four nines"},
		}}
	}
	r.takeAny("Ag", "ag", "AG")
	q, err := r.quantity()
	if err != nil {
		return 0, err
	}
	scale, words := r.finenessScale()
	if err := belongsToFineness(words); err != nil {
		return 0, err
	}
	if scale == 0 {
		if scale, err = bareScale(q); err != nil {
			return 0, err
		}
	}
	f, err := finenessOf(q, scale)
	if err != nil {
		return 0, err
	}
	if named, ok := namedFineness[phrase(words)]; ok && named != f {
		return 0, words[0].wrong("%s is %v, not %v", phrase(words), named, f)
	}
	return f, nil
}

// finenessOf is q parts of scale as a Fineness.
func finenessOf(q quantity, scale int64) (Fineness, error) {
	parts := new(big.Rat).Mul(q.value, big.NewRat(int64(Pure), scale))
	switch {
	case parts.Sign() <= 0:
		return 0, q.wrong("a fineness is above 0")
	case parts.Cmp(big.NewRat(int64(Pure), 1)) > 0:
		return 0, q.wrong("nothing is finer than 1000 parts per thousand")
	case !parts.IsInt():
		return 0, q.wrong("a fineness has four figures, like 999.9")
	}
	return Fineness(parts.Num().Int64()), nil
}

// finenessScale reads the sign or word after the number that says how many parts the whole has, 0 when there is none. It
// returns the words that follow as well.
func (r *reader) finenessScale() (int64, []word) {
	if r.takeAny("%") {
		return 100, r.words()
	}
	if r.takeAny("‰") {
		return 1000, r.words()
	}
	words := r.words()
	for n := 1; n <= len(words) && n <= 2; n++ {
		if scale, ok := scaleWords[phrase(words[:n])]; ok {
			return scale, words[n:]
		}
	}
	return 0, words
}

// belongsToFineness allows "silver", "fine" and the name of a standard after the number.
func belongsToFineness(words []word) error {
	name := phrase(words)
	if _, ok := namedFineness[name]; ok {
		return nil
	}
	switch name {
	case "", "silver", "fine", "fine silver", "ag":
		return nil
	}
	return words[0].wrong("this does not belong to a fineness")
}

// leastPerTenThousand is the least whole number above 1000 that is taken as parts per ten thousand. Below it stand the
// years, which have strayed from another field.
const leastPerTenThousand = 3000

// bareScale judges by the number alone how many parts the whole has.
func bareScale(q quantity) (int64, error) {
	if q.number == nil { // a fraction says so itself
		return 1, nil
	}
	atMost := func(n int64) bool { return q.value.Cmp(big.NewRat(n, 1)) <= 0 }
	decimals := q.number.decimals > 0
	switch {
	case decimals && atMost(1):
		return 1, nil
	case decimals && atMost(100):
		return 100, nil
	case !decimals && atMost(100) && q.value.Sign() > 0:
		return 0, &Ambiguous{Col: q.col, Word: q.text, Readings: []Reading{
			{q.digits + "%", "percent"},
			{q.digits + "‰", "parts per thousand"},
		}}
	case decimals || atMost(leastPerTenThousand-1):
		return 1000, nil
	}
	return int64(Pure), nil
}

// readsAsPermille is the least fineness that, written as a bare number, is read as parts per thousand.
const readsAsPermille Fineness = 1001

// String writes f in parts per thousand, "999" or "958.4", with the sign ‰ where the bare number would be read
// otherwise. It reads back.
func (f Fineness) String() string {
	text := formatDecimal(int64(f), 1, 0)
	if f < readsAsPermille {
		return fmt.Sprint(text, "‰")
	}
	return text
}
