package melt

import (
	"fmt"
	"math/big"
	"strings"
)

// ParseWeight reads a weight as people type it: "1 ozt", "1/10 troy oz", "100g", "half an ounce", "31.1035 g",
// "20 dwt". A quantity that is no whole number of nanograms, as a third of a gram is not, is rounded to the nearest one.
//
// It returns a *SyntaxError for what it cannot read and an *Ambiguous for a unit that means two things: "oz" (troy or
// avoirdupois), "lb" (the same) and "gr" (grain, but gram to many). The first reading is the likelier for precious
// metal. The weight is the piece's, whatever it is made of, so "1 ozt fine" is refused.
func ParseWeight(text string) (Weight, error) {
	r, err := newReader(text)
	if err != nil {
		return 0, err
	}
	if phrase(r.words()) == "kilo" { // said alone, of a bar
		return Kilogram, nil
	}
	r.at = 0
	if whole := r.rest(); r.takeAny("-", "−") {
		return 0, whole.wrong("a weight is more than nothing")
	}
	q, err := r.quantity()
	if err != nil {
		return 0, err
	}
	units, err := r.unit(q)
	if err != nil {
		return 0, err
	}
	w, err := roundToInt64(new(big.Rat).Mul(q.value, new(big.Rat).SetInt64(int64(units[0].weight))))
	whole := word{strings.TrimSpace(text[q.col:]), q.col}
	if err != nil {
		return 0, whole.wrong("the weight is too large")
	}
	if w <= 0 {
		return 0, whole.wrong("a weight is more than nothing")
	}
	if len(units) > 1 {
		return 0, question(whole, q, units)
	}
	return Weight(w), nil
}

// question asks which of the units is meant.
func question(whole word, q quantity, units []unit) *Ambiguous {
	a := &Ambiguous{Col: whole.col, Word: whole.text}
	for _, u := range units {
		a.Readings = append(a.Readings, Reading{
			Text:    q.digits + " " + u.symbol,
			Meaning: fmt.Sprintf("%s, %s each", u.plural, u.weight.grams()),
		})
	}
	return a
}

// unit reads the unit after q: all the rest of the text. More than one unit comes back when the word has more than one
// meaning.
func (r *reader) unit(q quantity) ([]unit, error) {
	words := r.words()
	if len(words) == 0 {
		return nil, q.wrong("a unit is missing; write %s g or %s ozt", q.digits, q.digits)
	}
	for n := len(words); n > 0; n-- {
		units, ok := unitNames[phrase(words[:n])]
		if !ok {
			continue
		}
		if n < len(words) {
			return nil, words[n].wrong("this does not belong to a weight")
		}
		return units, nil
	}
	return nil, words[0].wrong("this is no unit I know; write g, kg, ozt, dwt or grain")
}

// A unit is one of the units of weight and how this package writes it.
type unit struct {
	weight Weight
	symbol string
	plural string
}

var (
	milligram        = unit{Milligram, "mg", "milligrams"}
	gram             = unit{Gram, "g", "grams"}
	kilogram         = unit{Kilogram, "kg", "kilograms"}
	grain            = unit{Grain, "grain", "grains"}
	pennyweight      = unit{Pennyweight, "dwt", "pennyweights"}
	troyOunce        = unit{TroyOunce, "ozt", "troy ounces"}
	troyPound        = unit{TroyPound, "lb t", "troy pounds"}
	avoirdupoisOunce = unit{AvoirdupoisOunce, "oz av", "avoirdupois ounces"}
	avoirdupoisPound = unit{AvoirdupoisPound, "lb av", "avoirdupois pounds"}
)

// unitNames are the spellings of the units, in small letters and without full stops. Symbols after NIST Handbook 44,
// Appendix C (oz t, lb t, dwt, gr) and common practice.
var unitNames = spellings([]spelling{
	{"mg, milligram, milligrams, milligramme, milligrammes", []unit{milligram}},
	{"g, gm, gms, gram, grams, gramme, grammes", []unit{gram}},
	{"kg, kgs, kilo, kilos, kilogram, kilograms, kilogramme, kilogrammes", []unit{kilogram}},
	{"grain, grains", []unit{grain}},
	{"dwt, pwt, pennyweight, pennyweights", []unit{pennyweight}},
	{"gr, grs", []unit{gram, grain}},
	{"ozt, ozts, toz, oz t, ozs t, t oz, oz tr, tr oz, oz troy, ozs troy, troy oz, troy ozs, troyoz", []unit{troyOunce}},
	{"troy ounce, troy ounces, ounce troy, ounces troy", []unit{troyOunce}},
	{"lbt, lb t, lbs t, lb troy, troy lb, troy lbs, troy pound, troy pounds", []unit{troyPound}},
	{"oz av, oz avdp, avdp oz, oz avoirdupois, avoirdupois oz", []unit{avoirdupoisOunce}},
	{"avoirdupois ounce, avoirdupois ounces, ounce avoirdupois, ounces avoirdupois", []unit{avoirdupoisOunce}},
	{"lb av, lb avdp, avdp lb, lb avoirdupois, avoirdupois lb", []unit{avoirdupoisPound}},
	{"avoirdupois pound, avoirdupois pounds, pound avoirdupois, pounds avoirdupois", []unit{avoirdupoisPound}},
	{"oz, ozs, ounce, ounces", []unit{troyOunce, avoirdupoisOunce}},
	{"lb, lbs, pound, pounds", []unit{avoirdupoisPound, troyPound}},
})

// A spelling lists names of what may be more than one unit.
type spelling struct {
	names string
	units []unit
}

func spellings(table []spelling) map[string][]unit {
	byName := make(map[string][]unit)
	for _, s := range table {
		for name := range strings.SplitSeq(s.names, ", ") {
			byName[name] = s.units
		}
	}
	return byName
}

// smallestShare is the smallest part of a troy ounce that is written as such: 1/100 ozt. Below it, and for all that is
// no round part of an ounce, a weight is written in grams.
const smallestShare = 100

// String writes w exactly and so that it reads back: in troy ounces when it is a round number of them or one of the
// fractions pieces are made in ("1 ozt", "1/10 ozt", "2.5 ozt"), otherwise in kilograms or grams ("1 kg", "31.1035 g").
func (w Weight) String() string {
	switch {
	case w == 0:
		return "0 g"
	case w > 0 && TroyOunce%w == 0 && w < TroyOunce && w >= TroyOunce/smallestShare:
		return fmt.Sprintf("1/%d ozt", TroyOunce/w)
	case w%(TroyOunce/smallestShare) == 0:
		return formatDecimal(int64(w/(TroyOunce/smallestShare)), 2, 0) + " ozt"
	case w%Kilogram == 0:
		return formatDecimal(int64(w/Kilogram), 0, 0) + " kg"
	}
	return w.grams()
}

// grams writes w in grams, exactly.
func (w Weight) grams() string { return formatDecimal(int64(w), 9, 0) + " g" }
