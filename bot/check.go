package bot

import (
	"context"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"spareounce/match/density"
	"spareounce/match/melt"
	"spareounce/match/series"
)

// check says what a piece's weight, size and weight in water say of its metal, and what they cannot say:
// "check 31.1g 40.6mm 2.98mm", "check 31.10 dry 28.14 wet 21C", "check harbour 85 31.1g".
func (b *Bot) check(_ context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		return Reply{}, sentence(t.Say(checkHow))
	}
	r, named, err := t.readings()
	if err != nil {
		return Reply{}, err
	}
	e := t.examine(r, named)
	if e.Mass == 0 {
		return Reply{}, sentence(t.Say(checkDryToo))
	}
	if e.Wet >= e.Mass {
		return Reply{}, sentence(t.Say(checkNoWater))
	}
	if question, ok := e.displacedInstead(); ok {
		return Reply{}, question
	}
	var lines []string
	for _, line := range []string{e.weight(), e.water(), e.size(), e.limits()} {
		if line != "" {
			lines = append(lines, line)
		}
	}
	return Reply{Text: strings.Join(append(lines, t.Say(checkElse), t.Say(checkCaution)), "\n")}, nil
}

// readings reads a line: a piece's name, if there is one, and what was measured.
func (t turn) readings() (density.Readings, *named, error) {
	r, err := density.Read(t.rest)
	if err == nil {
		return r, nil, nil
	}
	for at := 0; at < min(len(t.rest), longestNamed); {
		_, next := wordAt(t.rest, at)
		if at = next; at >= len(t.rest) {
			break
		}
		after, failed := density.Read(t.rest[at:])
		if failed != nil {
			continue
		}
		reading, failed := t.catalogue.Read(t.rest[:at], series.ForHoldings, series.Mine{})
		if failed != nil {
			if asksBack(failed) {
				return r, nil, t.inLine(part{text: t.rest[:at], start: 0, end: len(t.rest)}, failed)
			}
			continue
		}
		if len(reading.Picks) == 1 {
			return after, t.namedPiece(reading.Picks[0]), nil
		}
	}
	if bad, ok := errors.AsType[*density.SyntaxError](err); ok {
		err = pointed{bad.Col, bad.Word, t.Say(asSentence, "reason", t.Say(phrase(bad.Reason)))}
	}
	return r, nil, err
}

// longestNamed is how far into a line, in bytes, a piece's name may reach.
const longestNamed = 120

// named is a piece that a line names, and what it should be.
type named struct {
	name  string
	metal melt.Metal
}

func (t turn) namedPiece(p series.Pick) *named {
	one, _ := t.catalogue.Series(p.Series)
	piece, _ := one.Piece(p.Pieces[0])
	return &named{t.pickName(p), one.MetalOf(piece)}
}

// exam is one piece on the table.
type exam struct {
	turn
	density.Readings
	piece    *named
	expected density.Material // what it should be made of
}

func (t turn) examine(r density.Readings, piece *named) exam {
	e := exam{turn: t, Readings: r, piece: piece, expected: density.Silver("fine silver (.999)", 9990)}
	if piece == nil || piece.metal.Fineness == 0 {
		return e
	}
	e.expected = density.Silver(t.Say(checkAlloys, "list", "."+strings.ReplaceAll(piece.metal.Fineness.String(), ".", "")), piece.metal.Fineness)
	for _, one := range density.Materials() {
		if one.Fineness == piece.metal.Fineness {
			e.expected = one
		}
	}
	return e
}

// weighing is the piece in water, if it was weighed there.
func (e exam) weighing() (density.Weighing, bool) {
	w := density.Weighing{Dry: e.Mass, Displaced: e.Displaced, Step: e.Step, Celsius: e.Celsius, Guessed: !e.Warm}
	if !e.Warm {
		w.Celsius = roomTemperature
	}
	if e.Wet > 0 {
		w.Displaced, w.Hung = e.Mass-e.Wet, true
	}
	return w, e.Mass > 0 && (e.Wet > 0 || e.Displaced > 0)
}

// roomTemperature is what water is taken to have when nobody measured it, in °C.
const roomTemperature = 20

// displacedInstead asks whether the weight in water was really what the water gained: a common slip, seen when the first
// gives a density that no piece has and the second one that many have.
func (e exam) displacedInstead() (asking, bool) {
	w, ok := e.weighing()
	if !ok || !w.Hung {
		return asking{}, false
	}
	likely := func(w density.Weighing) bool {
		m, err := w.Measure()
		return err == nil && m.Density > 6 && m.Density < 23
	}
	instead := w
	instead.Displaced, instead.Hung = e.Wet, false
	if likely(w) || !likely(instead) {
		return asking{}, false
	}
	grams := strconv.FormatFloat(e.Wet, 'f', -1, 64)
	line := "check " + strconv.FormatFloat(e.Mass, 'f', -1, 64) + " dry " + grams + " displaced scale " + strconv.FormatFloat(e.Step, 'f', -1, 64)
	if e.Warm {
		line += " " + strconv.FormatFloat(math.Round(e.Celsius*10)/10, 'f', -1, 64) + "C"
	}
	return asking{Reply{Text: e.Say(checkDisplaced, "wet", e.decimals(e.Wet, 2)), Buttons: []Button{{Label: e.Say(pressDisplaced), Says: line}}}}, true
}

// weight holds the weight against what the piece should weigh.
func (e exam) weight() string {
	if e.piece == nil || e.piece.metal.Gross == 0 || e.Mass == 0 {
		return ""
	}
	should := float64(e.piece.metal.Gross) / float64(melt.Gram)
	off := e.Mass - should
	said := checkHeavier
	switch {
	case math.Abs(off) <= density.Coverage*e.Step:
		said = checkAsSaid
	case off < 0:
		said = checkLighter
	}
	return e.Say(said, "piece", e.piece.name, "should", e.decimals(should, 2), "off", e.decimals(math.Abs(off), decimalsOf(e.Step)))
}

// decimalsOf is how many decimals a step has: 2 for 0.01.
func decimalsOf(step float64) int {
	if !(step > 0) {
		return 2
	}
	return min(max(int(math.Round(-math.Log10(step))), 0), 4)
}

// water is the density, and what it fits.
func (e exam) water() string {
	w, ok := e.weighing()
	if !ok {
		return ""
	}
	m, err := w.Measure()
	if err != nil {
		return e.Say(checkNoWater)
	}
	decimals := 2
	if density.Coverage*m.U < 0.01 {
		decimals = 3
	}
	at := e.Say(checkAssumed, "celsius", roomTemperature)
	if e.Warm {
		at = e.Say(checkAt, "celsius", e.decimals(e.Celsius, 0))
	}
	j := density.Judge(m)
	verdict := checkConsistent
	if m.Excludes(e.expected) {
		verdict = checkNotConsistent
	}
	lines := []string{
		e.Say(checkDensity, "density", e.decimals(m.Density, decimals), "u", e.decimals(density.Coverage*m.U, decimals), "at", at,
			"step", e.decimals(e.Step, decimalsOf(e.Step))) + " " + e.Say(verdict, "metal", e.Say(phrase(e.expected.Name))),
	}
	if len(j.Fits) > 0 {
		lines = append(lines, e.Say(checkFits, "list", materialNames(e.voice, j.Fits)))
	} else {
		lines = append(lines, e.Say(checkFitsNone))
	}
	lines = append(lines, e.Say(checkExcluded, "list", materialNames(e.voice, j.Excluded)))
	return strings.Join(lines, "\n")
}

// mostNames is how many metals are named in one list; alloys of silver count as one when they are many.
const mostNames = 6

// materialNames lists metals: "silver of .925, .900 and .800; molybdenum, lead and 3 more".
func materialNames(in voice, all []density.Material) string {
	var names, alloys []string
	for _, one := range all {
		if one.Fineness > 0 {
			alloys = append(alloys, "."+strings.ReplaceAll(one.Fineness.String(), ".", ""))
		}
	}
	together := len(alloys) > 2
	more := 0
	for _, one := range all {
		switch {
		case together && one.Fineness > 0:
		case len(names) < mostNames:
			names = append(names, in.Say(phrase(one.Name)))
		default:
			more++
		}
	}
	text := strings.Join(names, ", ")
	if more > 0 {
		text += in.Say(checkMore, "n", more)
	}
	if !together {
		return text
	}
	slices.Sort(alloys)
	slices.Reverse(alloys)
	return strings.TrimSuffix(in.Say(checkAlloys, "list", strings.Join(alloys, ", "))+"; "+text, "; ")
}
