package bot

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"spareounce/bot/picture"
	"spareounce/match/series"
	"spareounce/store"
)

// gaps shows what the speaker lacks: of one series with its set card, of all of them in a line each.
func (b *Bot) gaps(ctx context.Context, t turn) (Reply, error) {
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	if t.rest == "" {
		return t.allGaps(shelf), nil
	}
	one, err := t.seriesNamed(t.rest)
	if err != nil {
		return Reply{}, err
	}
	card := t.setCard(shelf, one, t.date(t.group, b.now()))
	png, err := card.PNG()
	if err != nil {
		return Reply{}, fmt.Errorf("draw the set card: %w", err)
	}
	reply := Reply{
		Text:     t.readBack(shelf, []string{one.Code}),
		Pictures: []Picture{{Name: one.Code + ".png", PNG: png, Alt: card.Alt()}},
	}
	if missing := t.unwanted(shelf, one); len(missing) > 0 {
		reply.Buttons = []Button{{Label: t.Say(pressRest), Says: "want " + one.Code + " rest"}}
	}
	return reply, nil
}

// allGaps has a line for each series the speaker has begun.
func (t turn) allGaps(shelf *store.Shelf) Reply {
	var lines []string
	var reply Reply
	for _, one := range t.catalogue.All() {
		if len(shelf.Held(one.Code)) == 0 {
			continue
		}
		lines = append(lines, t.readBack(shelf, []string{one.Code}))
		if len(reply.Buttons) < 5 {
			reply.Buttons = append(reply.Buttons, Button{Label: t.Say(pressCard, "series", one.Code), Says: "gaps " + one.Code})
		}
	}
	if len(lines) == 0 {
		return Reply{Text: t.Say(nothingHeld)}
	}
	reply.Text = strings.Join(lines, "\n")
	return reply
}

// unwanted lists the missing slots for which the speaker has no want yet.
func (t turn) unwanted(shelf *store.Shelf, one series.Series) []series.Slot {
	return slices.DeleteFunc(shelf.Completion(one).Missing(), func(slot series.Slot) bool { return isWanted(shelf, one.Code, slot) })
}

// isWanted reports whether a want of the member would fill a slot.
func isWanted(shelf *store.Shelf, code string, slot series.Slot) bool {
	for key, w := range shelf.Wants {
		if key.Series != code {
			continue
		}
		for _, piece := range w.Pieces {
			if slices.Contains(slot.Fill, piece) {
				return true
			}
		}
	}
	return false
}

// setCard lays out the speaker's own set of a series.
func (t turn) setCard(shelf *store.Shelf, one series.Series, asOf string) picture.SetCard {
	completion := shelf.Completion(one)
	spare := shelf.Spares(one.Code)
	pieces := map[string]series.Piece{}
	for _, p := range one.Pieces {
		pieces[p.Code] = p
	}
	card := picture.SetCard{
		Title: one.Name, Owner: t.speaker.Name, AsOf: asOf, In: t.Tongue,
		Summary: t.Say(countOf, "n", completion.Had, "of", len(completion.Slots)),
	}
	for i, slot := range completion.Slots {
		tile := picture.Tile{Label: slot.Label}
		for _, code := range slot.Fill {
			p := pieces[code]
			tile.Key = tile.Key || p.Scarcity == series.Key
			tile.SemiKey = tile.SemiKey || p.Scarcity == series.SemiKey
			tile.Count += spare[code]
		}
		filled := completion.Filled[i]
		switch {
		case filled != "" && tile.Count > 0:
			tile.State = picture.Spare
		case filled != "":
			tile.State = picture.Had
		case isWanted(shelf, one.Code, slot):
			tile.State = picture.Wanted
		default:
			tile.State = picture.Missing
		}
		if filled != "" && filled != slot.Fill[0] && len(slot.Fill) > 1 {
			tile.Substitute = pieces[filled].Label
		}
		card.Tiles = append(card.Tiles, tile)
	}
	return card
}

// checklist shows or changes what counts as complete for the speaker: "checklist harbour by year", "… without 84 gull",
// "… with 1/10oz 85", "… 84 gull for 84 heron", "… as made".
func (b *Bot) checklist(ctx context.Context, t turn) (Reply, error) {
	name, words, _ := strings.Cut(t.rest, " ")
	one, err := t.seriesNamed(name)
	if err != nil {
		return Reply{}, err
	}
	words = strings.TrimSpace(words)
	if words == "" {
		shelf, err := b.store.Shelf(ctx, t.speaker)
		if err != nil {
			return Reply{}, err
		}
		return t.checklistNow(shelf, one), nil
	}
	_, after, err := b.store.Change(ctx, t.speaker, t.said+" "+t.rest, func(shelf *store.Shelf) error {
		edits, err := t.editChecklist(shelf, one, words)
		if err != nil {
			return err
		}
		if isZero(edits) {
			delete(shelf.Sets, one.Code)
		} else {
			shelf.Sets[one.Code] = edits
		}
		return nil
	})
	if err != nil {
		return Reply{}, err
	}
	return t.checklistNow(after, one), nil
}

func isZero(e series.Edits) bool {
	return e.Checklist == "" && len(e.Without) == 0 && len(e.With) == 0 && len(e.Also) == 0
}

// editChecklist reads one change of a checklist.
func (t turn) editChecklist(shelf *store.Shelf, one series.Series, words string) (series.Edits, error) {
	edits := shelf.Sets[one.Code]
	edits.Without, edits.With = slices.Clone(edits.Without), slices.Clone(edits.With)
	if strings.EqualFold(words, "as made") {
		return series.Edits{}, nil
	}
	for _, c := range one.Checklists {
		if strings.EqualFold(words, c.Name) || strings.EqualFold(words, c.Code) {
			return series.Edits{Checklist: c.Code}, nil
		}
	}
	if stand, instead, ok := strings.Cut(words, " for "); ok {
		return t.substitute(shelf, one, edits, stand, instead)
	}
	first, rest, _ := strings.Cut(words, " ")
	switch strings.ToLower(first) {
	case "without", "skip":
		picks, err := t.slotsNamed(shelf, one, rest, series.ForWants)
		if err != nil {
			return edits, err
		}
		return withoutSlots(one, edits, picks), nil
	case "with", "add":
		picks, err := t.slotsNamed(shelf, one, rest, series.ForHoldings)
		if err != nil {
			return edits, err
		}
		return withPieces(one, edits, picks), nil
	}
	return edits, pointed{strings.Index(t.rest, words), first, t.Say(checklistWords, "names", t.Or(checklistNames(one)))}
}

// substitute lets pieces stand in slots that they are not meant for: "84 gull for 84 heron".
func (t turn) substitute(shelf *store.Shelf, one series.Series, edits series.Edits, stand, instead string) (series.Edits, error) {
	pieces, err := t.slotsNamed(shelf, one, stand, series.ForHoldings)
	if err != nil {
		return edits, err
	}
	slots, err := t.slotsNamed(shelf, one, instead, series.ForWants)
	if err != nil {
		return edits, err
	}
	also := map[string][]string{}
	for code, codes := range edits.Also {
		also[code] = slices.Clone(codes)
	}
	for _, slot := range slots {
		if slot.Slot == "" {
			return edits, pointed{strings.LastIndex(t.rest, instead), instead, t.Say(notYourSlot)}
		}
		for _, p := range pieces {
			if !slices.Contains(also[slot.Slot], p.Pieces[0]) {
				also[slot.Slot] = append(also[slot.Slot], p.Pieces[0])
			}
		}
	}
	edits.Also = also
	return edits, nil
}

func (t turn) slotsNamed(shelf *store.Shelf, one series.Series, text string, purpose series.For) ([]series.Pick, error) {
	start := strings.Index(t.rest, text)
	mine := t.mine(shelf)
	mine.Default = one.Code
	head := one.Code + " " // the series is said already: nothing of another is meant
	reading, err := t.catalogue.Read(head+text, purpose, mine)
	if question, ok := errors.AsType[*series.Question](err); ok {
		for i, c := range question.Choices {
			question.Choices[i].Text = strings.TrimPrefix(c.Text, head)
		}
		return nil, t.inLine(part{text: text, start: start, end: len(t.rest)}, question)
	}
	if err != nil {
		return nil, t.inLine(part{text: text, start: start - len(head), end: len(t.rest)}, err)
	}
	return reading.Picks, nil
}

// withoutSlots strikes off every slot that the picks would fill.
func withoutSlots(one series.Series, edits series.Edits, picks []series.Pick) series.Edits {
	for _, slot := range one.SlotsFor(edits) {
		for _, p := range picks {
			if p.Slot == slot.Code || slices.ContainsFunc(p.Pieces, func(code string) bool { return slices.Contains(slot.Fill, code) && len(slot.Fill) == 1 }) {
				edits.With = slices.DeleteFunc(edits.With, func(code string) bool { return code == slot.Code || slices.Contains(slot.Fill, code) })
				if !slices.Contains(edits.Without, slot.Code) {
					edits.Without = append(edits.Without, slot.Code)
				}
			}
		}
	}
	return edits
}

// withPieces adds pieces as slots of their own, or gives back slots that were struck off.
func withPieces(one series.Series, edits series.Edits, picks []series.Pick) series.Edits {
	for _, p := range picks {
		piece := p.Pieces[0]
		struck := slices.IndexFunc(one.Slots, func(slot series.Slot) bool {
			return slices.Contains(slot.Fill, piece) && slices.Contains(edits.Without, slot.Code)
		})
		switch {
		case struck >= 0:
			edits.Without = slices.DeleteFunc(edits.Without, func(code string) bool { return code == one.Slots[struck].Code })
		case !slices.Contains(edits.With, piece):
			edits.With = append(edits.With, piece)
		}
	}
	return edits
}

func checklistNames(one series.Series) []string {
	names := make([]string, len(one.Checklists))
	for i, c := range one.Checklists {
		names[i] = c.Name
	}
	return names
}

// checklistNow says what counts for the speaker, and how far they are.
func (t turn) checklistNow(shelf *store.Shelf, one series.Series) Reply {
	slots := one.SlotsFor(shelf.Sets[one.Code])
	reply := Reply{Text: t.Say(countsForYou, "list", one.Code+" "+one.ShorthandSlots(slots), "n", len(slots)) + "\n" + t.readBack(shelf, []string{one.Code})}
	for _, c := range one.Checklists {
		if len(reply.Buttons) < 5 {
			reply.Buttons = append(reply.Buttons, Button{Label: c.Name, Says: "checklist " + one.Code + " " + c.Name})
		}
	}
	return reply
}
