package density

import (
	"cmp"
	"fmt"
	"slices"
)

// A SyntaxError points at the word that could not be read: text[Col:Col+len(Word)] == Word.
type SyntaxError struct {
	Col    int
	Word   string
	Reason string // what to write instead, without a full stop
}

func (e *SyntaxError) Error() string { return fmt.Sprintf("%q: %s", e.Word, e.Reason) }

// Readings are what someone read off a scale, calipers and a thermometer. What was not read is 0.
type Readings struct {
	Mass      float64 // dry
	Wet       float64 // hanging under water, as the scale shows it
	Displaced float64 // what a tared cup of water gained
	Size      Size
	Celsius   float64
	Warm      bool    // a temperature was read
	Step      float64 // of the scale: as said, else the last decimal that was written
}

// What may be read: the smallest scrap to the largest bar, and water that one can put a hand in.
const (
	mostGrams  = 100_000
	mostLength = 1_000
	coldest    = 0
	hottest    = 60
)

// Read reads what people type when they have weighed and measured a piece: "31.1g 40.6mm 2.98mm", "31.10 dry 28.14 wet
// 21C", "dry 31.10 displaced 2.96", "1000.2 g 118x52x18mm", "31.1 g scale 0.1". A word for what was measured stands before
// its number throughout or after it throughout. Of two lengths the larger is the diameter; three are a bar. The error is
// a *SyntaxError.
func Read(text string) (Readings, error) {
	words, err := wordsOf(text)
	if err != nil {
		return Readings{}, err
	}
	all, err := measures(words)
	if err != nil {
		return Readings{}, err
	}
	return readings(all)
}

// readings puts the measures in their places.
func readings(all []measure) (Readings, error) {
	var r Readings
	var lengths []measure
	once := map[kind]bool{}
	for _, m := range all {
		v := m.value()
		if m.kind == unsaid {
			return r, m.wrong("say what this is: g, mm, dry, wet, displaced, thick, C or scale")
		}
		if m.kind != length && once[m.kind] {
			return r, m.wrong("this was said before")
		}
		once[m.kind] = true
		if err := m.check(v); err != nil {
			return r, err
		}
		switch m.kind {
		case dry:
			r.Mass = v
		case wet:
			r.Wet = v
		case displaced:
			r.Displaced = v
		case warmth:
			r.Celsius, r.Warm = v, true
		case across:
			r.Size.Diameter = v
		case thick:
			r.Size.Thickness = v
		case length:
			lengths = append(lengths, m)
		}
		r.finer(m)
	}
	for _, m := range all {
		if m.kind == step {
			r.Step = m.value()
		}
	}
	return r.sized(lengths)
}

// check refuses what cannot have been read.
func (m measure) check(v float64) error {
	switch {
	case m.kind == warmth && !(v >= coldest && v <= hottest):
		return m.wrong("the water should be between 0 and 60 °C")
	case m.kind != warmth && !(v > 0):
		return m.wrong("this is more than nothing")
	case (m.kind == dry || m.kind == wet || m.kind == displaced || m.kind == step) && v > mostGrams:
		return m.wrong("this is heavier than a piece can be")
	case (m.kind == length || m.kind == across || m.kind == thick) && v > mostLength:
		return m.wrong("this is larger than a piece can be")
	}
	return nil
}

// finer takes the finest decimal that was written as the instrument's step.
func (r *Readings) finer(m measure) {
	step := &r.Step
	switch m.kind {
	case across, thick, length:
		step = &r.Size.Step
	case dry, wet, displaced:
	default:
		return
	}
	if *step == 0 || m.step() < *step {
		*step = m.step()
	}
}

// sized gives lengths without a role their places: of what is left, the largest lie in the face and the smallest is the
// thickness.
func (r Readings) sized(lengths []measure) (Readings, error) {
	slices.SortStableFunc(lengths, func(a, b measure) int { return cmp.Compare(b.value(), a.value()) })
	n := len(lengths)
	if n > 0 && r.Size.Thickness == 0 && (n > 1 || r.Size.Diameter > 0) {
		r.Size.Thickness = lengths[n-1].value()
		n--
	}
	switch {
	case n == 0:
	case n == 1 && r.Size.Diameter == 0:
		r.Size.Diameter = lengths[0].value()
	case n == 2 && r.Size.Diameter == 0:
		r.Size.Length, r.Size.Width = lengths[0].value(), lengths[1].value()
	default:
		return r, lengths[n-1].wrong("that is one length too many: a diameter and a thickness, or a bar's three")
	}
	return r, nil
}
