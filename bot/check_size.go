package bot

import (
	"context"
	"errors"
	"math"
	"strings"

	"spareounce/match/density"
)

// size holds the rim against how thick a solid piece would be.
func (e exam) size() string {
	area := e.Size.Area()
	if area == 0 || e.Mass == 0 {
		return ""
	}
	if e.Size.Thickness == 0 {
		mean := density.MeanThickness(e.Mass, e.expected.Range.Middle(), area)
		return e.Say(checkMeanOnly, "metal", e.expected.Name, "mean", e.decimals(mean, 2))
	}
	expected := e.Size.Seat(e.expected, e.Mass, e.Step)
	var fits, no []density.Material
	for _, z := range e.Size.Fits(e.Mass, e.Step) {
		switch z.Fit {
		case density.Usual:
			fits = append(fits, z.Material)
		case density.NoRoom:
			no = append(no, z.Material)
		}
	}
	said := checkRimFits
	switch {
	case expected.Fit == density.NoRoom:
		said = checkRimNoRoom
	case expected.Fit == density.Sunken:
		said = checkRimSunken
	}
	lines := []string{e.Say(said, "metal", e.expected.Name, "mean", e.decimals(expected.Mean, 2), "rim", e.decimals(e.Size.Thickness, 2),
		"share", e.decimals(100*expected.Mean/e.Size.Thickness, 0))}
	if len(fits) > 0 {
		lines = append(lines, e.Say(checkRimOthers, "list", materialNames(e.voice, fits)))
	}
	if len(no) > 0 {
		lines = append(lines, e.Say(checkRimExcluded, "list", materialNames(e.voice, no)))
	}
	return strings.Join(lines, "\n")
}

// limits is what the test cannot tell.
func (e exam) limits() string {
	w, weighed := e.weighing()
	if !weighed {
		if e.Size.Area() > 0 && e.Mass > 0 && e.Size.Thickness > 0 {
			return e.Say(checkRimLimits)
		}
		return e.Say(checkWeighToo)
	}
	m, err := w.Measure()
	if err != nil {
		return ""
	}
	var lines []string
	if !m.Excludes(e.expected) {
		alike := density.LookAlikes()
		lines = append(lines, e.Say(checkLookAlikes, "lead", e.decimals(100*alike[0].Share, 0), "tungsten", e.decimals(100*alike[1].Share, 0)))
	}
	if reach := density.ReachOf(e.Step); e.Mass < reach.FromSterling {
		lines = append(lines, e.reach(reach, checkReach))
	}
	return strings.Join(lines, "\n")
}

// reach says the smallest pieces that a scale can judge.
func (t turn) reach(r density.Reach, said phrase) string {
	return t.Say(said, "sterling", t.grams(r.FromSterling), "copper", t.grams(r.FromCopper), "lead", t.grams(r.FromLead))
}

// grams writes a mass to two figures, rounded up: it is a least.
func (t turn) grams(g float64) string {
	decimals := max(1-int(math.Floor(math.Log10(g))), 0)
	up := math.Ceil(g*math.Pow10(decimals)-1e-9) / math.Pow10(decimals)
	return t.decimals(up, decimals)
}

// scale holds the speaker's scale against coins: "scale 50 x US 5c 249.8".
func (b *Bot) scale(_ context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		return Reply{}, sentence(t.Say(scaleHow, "coins", coinNames()))
	}
	c, err := density.ReadScale(t.rest)
	if bad, ok := errors.AsType[*density.SyntaxError](err); ok {
		if bad.Word == "" {
			return Reply{}, sentence(t.Say(scaleHow, "coins", coinNames()))
		}
		return Reply{}, pointed{bad.Col, bad.Word, bad.Reason + "."}
	}
	if err != nil {
		return Reply{}, err
	}
	said := scaleGood
	switch {
	case c.Off() && c.Bias() > 0:
		said = scaleHigh
	case c.Off():
		said = scaleLow
	}
	sure := density.Coverage * c.U()
	lines := []string{
		t.Say(scaleLegal, "n", c.Count, "coin", c.Coin.Name, "legal", t.decimals(c.Legal(), 2), "reading", t.decimals(c.Reading, decimalsOf(c.Step))),
		t.Say(said, "bias", t.decimals(100*math.Abs(c.Bias()), 2), "sure", t.decimals(100*sure, 2)),
	}
	if c.Count < fewCoins {
		lines = append(lines, t.Say(scaleFew))
	}
	lines = append(lines, t.reach(density.ReachOf(c.Step), scaleReach), t.Say(scaleWorn))
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// fewCoins is how many coins a scale check should have at least.
const fewCoins = 20

func coinNames() string {
	var names []string
	for _, c := range density.Coins() {
		names = append(names, c.Name)
	}
	return strings.Join(names, ", ")
}
