package bot

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strconv"

	"spareounce/match/series"
	"spareounce/store"
)

// have records what the speaker holds: at least one of each piece, or as many as they say.
func (b *Bot) have(ctx context.Context, t turn) (Reply, error) {
	return b.hold(ctx, t, func(shelf *store.Shelf, key store.HoldingKey, p pick) error {
		return shelf.Hold(key, p.Quantity, p.Counted)
	})
}

// drop records that pieces are gone.
func (b *Bot) drop(ctx context.Context, t turn) (Reply, error) {
	return b.hold(ctx, t, func(shelf *store.Shelf, key store.HoldingKey, p pick) error {
		return shelf.Remove(key, p.Quantity, p.Counted)
	})
}

// keep takes pieces off the speaker's spares.
func (b *Bot) keep(ctx context.Context, t turn) (Reply, error) {
	return b.hold(ctx, t, func(shelf *store.Shelf, key store.HoldingKey, p pick) error {
		return shelf.Keep(key, p.Quantity, p.Counted)
	})
}

// hold edits holdings and reads back each set it touched.
func (b *Bot) hold(ctx context.Context, t turn, edit func(*store.Shelf, store.HoldingKey, pick) error) (Reply, error) {
	before, after, picks, err := b.change(ctx, t, series.ForHoldings, func(shelf *store.Shelf, p pick) error {
		key := shelf.Row(p.Series, p.Pieces[0], p.about.condition)
		had := shelf.Holdings[key].Quantity
		if err := edit(shelf, key, p); err != nil {
			return err
		}
		shelf.Describe(key, p.about.describe)
		if more := shelf.Holdings[key].Quantity - had; more > 0 {
			shelf.Fulfil(key, more)
		}
		return nil
	})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Text: t.readBack(after, codesOf(picks))}
	if struck := t.struckOff(before, after); struck != "" {
		reply.Text += "\n" + t.Say(noLongerWanted, "list", struck)
	}
	return reply, nil
}

// describe writes what was said about a piece into its row; silence changes nothing.
func (a about) describe(h *store.Holding) {
	if a.ask != nil {
		h.Ask = a.ask
	}
	if a.quiet {
		h.Quiet = true
	}
	if a.gift {
		h.Gift, h.Ask = true, nil
	}
	if a.note != "" {
		h.Note = a.note
	}
}

// spare offers pieces to the group. What a member spares without having said that they hold it, they hold.
func (b *Bot) spare(ctx context.Context, t turn) (Reply, error) { return b.putUp(ctx, t, 0, maySpare) }

// double offers pieces of which the speaker keeps one.
func (b *Bot) double(ctx context.Context, t turn) (Reply, error) { return b.putUp(ctx, t, 1, maySpare) }

// give offers pieces for nothing.
func (b *Bot) give(ctx context.Context, t turn) (Reply, error) {
	if at, name := t.recipient(); name != "" {
		return b.giveTo(ctx, t, at, name)
	}
	return b.putUp(ctx, t, 0, givesAway)
}

func (b *Bot) putUp(ctx context.Context, t turn, kept int, said phrase) (Reply, error) {
	before, after, picks, err := b.change(ctx, t, series.ForHoldings, func(shelf *store.Shelf, p pick) error {
		key := shelf.Row(p.Series, p.Pieces[0], p.about.condition)
		if err := shelf.Offer(key, p.Quantity, p.Counted); err != nil {
			return err
		}
		row := shelf.Holdings[key]
		if err := shelf.Hold(key, max(row.Quantity, row.Spare+kept), true); err != nil {
			return err
		}
		p.about.gift = p.about.gift || said == givesAway
		shelf.Describe(key, p.about.describe)
		return nil
	})
	if err != nil {
		return Reply{}, err
	}
	return b.offered(ctx, t, before, after, picks, said)
}

// offered says to the group what is on offer and how many members want it.
func (b *Bot) offered(ctx context.Context, t turn, before, after *store.Shelf, picks []pick, said phrase) (Reply, error) {
	wanted := map[string]bool{}
	var last string
	for _, p := range picks {
		key := after.Row(p.Series, p.Pieces[0], p.about.condition)
		n, err := b.store.Wanters(ctx, t.speaker, key)
		if err != nil {
			return Reply{}, err
		}
		if n > 0 {
			wanted[pieceName(t.catalogue, key)] = true
			last = strconv.Itoa(n)
		}
	}
	shown := &store.Shelf{Holdings: maps.Clone(after.Holdings)}
	if said == givesAway { // the sentence says so already
		for key, h := range shown.Holdings {
			h.Gift = false
			shown.Holdings[key] = h
		}
	}
	if t.anyQuiet(after, picks) {
		return Reply{Private: true, Text: t.Say(quietNow, "list", t.spareList(shown, picks))}, nil
	}
	reply := Reply{Text: t.Say(said, "name", t.speaker.Name, "list", t.spareList(shown, picks))}
	switch {
	case len(wanted) == 1 && len(picks) == 1:
		reply.Text += " " + t.Say(membersWant, "n", last)
	case len(wanted) > 0:
		reply.Text += " " + t.Say(someWanted, "n", len(wanted), "of", len(picks))
	}
	if said == givesAway && len(wanted) > 0 {
		suggested, err := b.suggest(ctx, t, after, picks)
		if err != nil {
			return Reply{}, err
		}
		reply.Text += suggested
	}
	if line := t.keepOneToo(before, after, picks); line != "" {
		reply.Buttons = []Button{{Label: t.Say(pressKeepOne), Says: line}}
	}
	return reply, nil
}

// anyQuiet reports whether any of the spares that a line is about is shown to nobody.
func (t turn) anyQuiet(shelf *store.Shelf, picks []pick) bool {
	return slices.ContainsFunc(picks, func(p pick) bool {
		return shelf.Holdings[shelf.Row(p.Series, p.Pieces[0], p.about.condition)].Quiet
	})
}

// keepOneToo is the line by which a member says that they hold one more than they spare, when what they said before left
// it open: a piece spared that they had not said they hold.
func (t turn) keepOneToo(before, after *store.Shelf, picks []pick) string {
	if len(picks) != 1 {
		return ""
	}
	p := picks[0]
	key := after.Row(p.Series, p.Pieces[0], p.about.condition)
	h := after.Holdings[key]
	if _, known := before.Holdings[key]; known || h.Quantity > h.Spare {
		return ""
	}
	return "have " + pieceName(t.catalogue, key) + " x" + strconv.Itoa(h.Quantity+1) + conditionTail(key.Condition)
}

func conditionTail(c series.Condition) string {
	if c == series.Unsaid {
		return ""
	}
	return " " + c.String()
}

// change reads the line's pieces and lets edit work on the speaker's shelf, pick by pick, all or nothing. A change
// that others cross is tried again from the start, so edit must change nothing but the shelf it is given.
func (b *Bot) change(ctx context.Context, t turn, purpose series.For, edit func(*store.Shelf, pick) error) (before, after *store.Shelf, picks []pick, err error) {
	before, after, err = b.store.Change(ctx, t.speaker, t.said+" "+t.rest, func(shelf *store.Shelf) error {
		if picks, err = t.read(purpose, shelf); err != nil {
			return err
		}
		for _, p := range picks {
			if err := edit(shelf, p); err != nil {
				return t.refuseEdit(err)
			}
		}
		return nil
	})
	return before, after, picks, err
}

// lookUp reads the line's pieces for a question about them, which changes nothing.
func (b *Bot) lookUp(ctx context.Context, t turn, purpose series.For) (shelf *store.Shelf, picks []pick, err error) {
	if shelf, err = b.store.Shelf(ctx, t.speaker); err != nil {
		return nil, nil, err
	}
	picks, err = t.read(purpose, shelf)
	return shelf, picks, err
}

// refuseEdit words why a shelf would not take an edit.
func (t turn) refuseEdit(err error) error {
	if promised, ok := errors.AsType[*store.PromisedError](err); ok {
		return sentence(t.Say(isPromised, "piece", t.nameOf(promised.Series, promised.Piece), "n", promised.Promised))
	}
	if missing, ok := errors.AsType[*store.NotHeldError](err); ok {
		return sentence(t.Say(notOnShelf, "piece", t.nameOf(missing.Series, missing.Piece)))
	}
	return err
}

// undo takes back the last thing the speaker changed.
func (b *Bot) undo(ctx context.Context, t turn) (Reply, error) {
	said, err := b.store.Undo(ctx, t.speaker)
	if errors.Is(err, store.ErrNothingToUndo) {
		return Reply{}, sentence(t.Say(nothingToUndo))
	}
	if deed, ok := errors.AsType[*store.DeedError](err); ok {
		return Reply{}, b.refuseUndo(ctx, t, deed)
	}
	if overtaken, ok := errors.AsType[*store.OvertakenError](err); ok && overtaken.Trade > 0 {
		return Reply{}, sentence(t.Say(undoTradeMoved, "said", overtaken.Said, "n", overtaken.Trade))
	}
	if overtaken, ok := errors.AsType[*store.OvertakenError](err); ok {
		return Reply{}, sentence(t.Say(undoOvertaken, "said", overtaken.Said))
	}
	if err != nil {
		return Reply{}, t.refuseEdit(err)
	}
	return Reply{Text: t.Say(undone, "said", said)}, nil
}
