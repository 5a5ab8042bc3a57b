package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"spareounce/bot/money"
	"spareounce/bot/picture"
	"spareounce/match/basket"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// hunt makes the list of what the speaker lacks: of one series, or of all that they have begun or want something of.
func (b *Bot) hunt(ctx context.Context, t turn) (Reply, error) {
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	hunted := t.catalogue.All()
	name := "hunt"
	if t.rest != "" && !strings.EqualFold(t.rest, "all") {
		one, err := t.seriesNamed(t.rest)
		if err != nil {
			return Reply{}, err
		}
		hunted, name = []series.Series{one}, "hunt-"+one.Code
	}
	var codes []string
	for _, one := range hunted {
		codes = append(codes, one.Code)
	}
	values, err := b.store.Values(ctx, t.group, t.catalogue)
	if err != nil {
		return Reply{}, err
	}
	others, err := b.store.OthersWants(ctx, t.speaker, codes)
	if err != nil {
		return Reply{}, err
	}
	list := picture.HuntList{
		Owner: t.speaker.Name, AsOf: t.date(t.group, b.now()), At: b.now().UTC(), Price: b.pricedAt(t.voice, t.group, values),
		Caution: t.Say(huntCaution), In: t.Tongue,
	}
	lines := 0
	for _, one := range hunted {
		section := t.huntSection(shelf, one, values, othersPlaces(others))
		if len(section.Lines) > 0 {
			list.Sections = append(list.Sections, section)
			lines += len(section.Lines)
		}
	}
	if lines == 0 {
		return Reply{Text: t.nothingToHunt(shelf)}, nil
	}
	return huntReply(t.voice, list, name, lines)
}

// nothingToHunt says why there is no list.
func (t turn) nothingToHunt(shelf *store.Shelf) string {
	if len(shelf.Holdings)+len(shelf.Wants) == 0 {
		return t.Say(nothingHeld)
	}
	return t.Say(huntNothing)
}

// huntReply draws the list and writes the page.
func huntReply(in voice, list picture.HuntList, name string, lines int) (Reply, error) {
	png, err := list.PNG()
	if err != nil {
		return Reply{}, fmt.Errorf("draw the hunt list: %w", err)
	}
	pdf, err := list.PDF()
	if err != nil {
		return Reply{}, fmt.Errorf("write the hunt list: %w", err)
	}
	return Reply{
		Text:     in.Say(huntHead, "n", lines, "price", list.Price),
		Pictures: []Picture{{Name: name + ".png", PNG: png, Alt: list.Alt()}},
		Files:    []File{{Name: name + ".pdf", Type: "application/pdf", Bytes: pdf, About: in.Say(huntPage)}},
	}, nil
}

// huntSection has a line for every gap of the speaker in a series.
func (t turn) huntSection(shelf *store.Shelf, one series.Series, values store.Values, others []place) picture.HuntSection {
	completion := shelf.Completion(one)
	section := picture.HuntSection{Name: one.Name, Summary: t.Say(countOf, "n", completion.Had, "of", len(completion.Slots))}
	var places []place
	for _, p := range myPlaces(shelf, one) {
		i := slices.IndexFunc(places, func(q place) bool { return slices.Equal(p.pieces, q.pieces) })
		if i < 0 {
			places = append(places, p)
			continue
		}
		places[i].Count += p.Count
	}
	for _, p := range places {
		section.Lines = append(section.Lines, t.huntLine(one, p, values, others))
	}
	return section
}

// huntLine is one gap: the piece that is meant, or each of those that would do, how to know it, and the most to pay.
func (t turn) huntLine(one series.Series, p place, values store.Values, others []place) picture.HuntLine {
	line := picture.HuntLine{Own: p.top != nil, Soon: p.Rank == basket.MineSoon}
	var labels, tells []string
	for _, code := range p.pieces {
		piece, ok := one.Piece(code)
		if !ok {
			continue
		}
		labels = append(labels, piece.Label)
		if piece.TellApart != "" {
			tells = append(tells, piece.TellApart)
		}
		line.Key = line.Key || piece.Scarcity == series.Key
		line.SemiKey = line.SemiKey || piece.Scarcity == series.SemiKey
	}
	line.Label = t.Or(labels)
	if p.Count > 1 {
		line.Label += fmt.Sprintf(" x%d", p.Count)
	}
	if p.least != series.Unsaid {
		line.Label += ", " + t.Say(huntLeast, "condition", p.least)
	}
	line.TellApart = strings.Join(tells, " ")
	if len(p.pieces) > 0 {
		if w, ok := values.Of(one.Code, p.pieces[0]); ok {
			line.Melt = t.drawnAmount(w.Melt)
		}
		if most := p.most(values, one.Code, p.pieces[0]); most != nil {
			line.Most = t.drawnAmount(*most)
		}
	}
	for _, o := range others {
		for _, code := range p.pieces {
			if o.series == one.Code && o.takes(one.Code, code, series.Sealed) {
				line.Others++
				break
			}
		}
	}
	return line
}

// drawnAmount is an amount as the speaker reads it, or plainly where the pictures' font lacks their digits.
func (t turn) drawnAmount(a melt.Minor) string {
	text := t.inMoney(a)
	if !picture.Draws(t.Tongue, text) {
		return money.Amount(a, t.group.Currency, "")
	}
	return text
}
