package bot

import (
	"context"
	"strings"

	"spareounce/match/series"
)

// help lists what can be said, or says more about one thing.
func (b *Bot) help(_ context.Context, t turn) (Reply, error) {
	if t.rest != "" {
		about, _, _ := findVerb(t.rest, t.voice)
		switch {
		case about.run != nil:
			return Reply{Text: t.Say(about.help) + "\n" + t.Say(helpExample, "example", t.line(about.example))}, nil
		case strings.EqualFold(t.rest, "shorthand"):
			return Reply{Text: t.Say(helpShorthand)}, nil
		case strings.EqualFold(t.rest, "all"):
			return Reply{Text: t.everyVerb()}, nil
		}
		return Reply{}, sentence(t.Say(helpUnknown, "word", t.rest))
	}
	reply := Reply{Text: t.Say(helpStart)}
	for _, topic := range []string{"want", "spare", "gaps", "trades"} {
		reply.Buttons = append(reply.Buttons, Button{Label: t.Say(pressHelp, "topic", t.command(topic)), Says: "help " + topic})
	}
	reply.Buttons = append(reply.Buttons, Button{Label: t.Say(pressHelp, "topic", t.Say(theShorthand)), Says: "help shorthand"})
	return reply, nil
}

func (t turn) everyVerb() string {
	var lines []string
	for _, v := range verbs {
		if v.keeper && !t.speaker.Keeper {
			continue
		}
		lines = append(lines, t.line(v.example))
	}
	return t.Say(helpAll, "lines", strings.Join(lines, "\n"))
}

// series lists what the group collects, or the pieces of one series and the words for them.
func (b *Bot) series(_ context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		all := t.catalogue.All()
		if len(all) == 0 {
			return Reply{Text: t.Say(noSeries)}, nil
		}
		var lines []string
		reply := Reply{}
		for _, one := range all {
			lines = append(lines, t.Say(seriesLine, "code", one.Code, "name", one.Name, "maker", one.Maker, "n", len(one.Pieces)))
			if len(reply.Buttons) < 10 {
				reply.Buttons = append(reply.Buttons, Button{Label: one.Code, Says: "series " + one.Code})
			}
		}
		reply.Text = strings.Join(lines, "\n")
		return reply, nil
	}
	one, err := t.seriesNamed(t.rest)
	if err != nil {
		return Reply{}, err
	}
	return Reply{Text: describeSeries(t.voice, one)}, nil
}

// describeSeries has a line for the series and one for each piece, with how to tell it from its neighbours.
func describeSeries(in voice, one series.Series) string {
	lines := []string{in.Say(seriesHead, "name", one.Name, "maker", one.Maker, "country", one.Country,
		"weight", one.Metal.Gross, "fineness", one.Metal.Fineness, "metal", in.Say(phrase(one.MetalName)))}
	if one.Declared > 0 && one.Declared != len(one.Pieces) {
		lines = append(lines, in.Say(seriesCount, "declared", one.Declared, "listed", len(one.Pieces)))
	}
	for _, p := range one.Pieces {
		line := p.Label
		if p.Scarcity != series.Common {
			line += " (" + in.Say(phrase(p.Scarcity.String())) + ")"
		}
		if p.TellApart != "" {
			line += ": " + p.TellApart
		}
		lines = append(lines, line)
	}
	if len(lines) > 45 {
		lines = append(lines[:45], in.Say(linesMore, "n", len(lines)-45))
	}
	return strings.Join(lines, "\n")
}
