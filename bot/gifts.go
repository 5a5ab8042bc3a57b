package bot

import (
	"context"
	"slices"
	"strings"

	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// recipient finds the member's name in "give lantern 84 to Bo", and where the words before it end.
func (t turn) recipient() (at int, name string) {
	at = strings.LastIndex(strings.ToLower(t.rest), " to ")
	if at < 0 || strings.Contains(strings.ToLower(t.rest), " note ") {
		return 0, ""
	}
	return at, strings.TrimSpace(t.rest[at+len(" to "):])
}

// giveTo offers pieces to one member for nothing. Like anything given, they are put on offer as gifts first.
func (b *Bot) giveTo(ctx context.Context, t turn, at int, name string) (Reply, error) {
	all, err := b.store.Members(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	to, err := memberNamed(t.voice, all, name)
	if err != nil {
		return Reply{}, err
	}
	if to.ID == t.speaker.ID {
		return Reply{}, sentence(t.Say(offerSelf))
	}
	gift := t
	gift.rest = t.rest[:at]
	if _, err := b.putUp(ctx, gift, 0, givesAway); err != nil {
		return Reply{}, gift.point(err)
	}
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	pieces, _, err := t.readStretch(stretch{0, at}, shelf, "")
	if err != nil {
		return Reply{}, err
	}
	reply, err := b.putOffer(ctx, t, store.Offer{To: to, Give: pieces})
	reply.Private = true
	return reply, err
}

// suggest says whose gaps a gift would fill, and whose set it would complete among those who chose to be seen.
func (b *Bot) suggest(ctx context.Context, t turn, mine *store.Shelf, picks []pick) (string, error) {
	var names, complete []string
	for _, p := range picks {
		key := mine.Row(p.Series, p.Pieces[0], p.about.condition)
		wanting, err := b.store.Wanting(ctx, t.speaker, key)
		if err != nil {
			return "", err
		}
		one, _ := t.catalogue.Series(key.Series)
		for _, m := range wanting {
			if !slices.Contains(names, m.Name) {
				names = append(names, m.Name)
			}
			if !m.Seen || slices.Contains(complete, m.Name) {
				continue
			}
			shelf, err := b.store.Shelf(ctx, m)
			if err != nil {
				return "", err
			}
			if lastOf(shelf.Completion(one), key.Piece) {
				complete = append(complete, m.Name)
			}
		}
	}
	line := t.said + " " + strings.TrimSpace(t.rest) + " to " + names[0]
	said := " " + t.Say(wouldFill, "names", t.And(names), "line", line)
	if len(complete) > 0 {
		said = " " + t.Say(wouldComplete, "names", t.And(complete)) + said
	}
	return said, nil
}

// lastOf reports whether a piece is all that a set lacks.
func lastOf(c series.Completion, piece string) bool {
	missing := c.Missing()
	return len(missing) == 1 && slices.Contains(missing[0].Fill, piece)
}

// refuseUndo says why a deed in a trade cannot be taken back, and what can be done instead.
func (b *Bot) refuseUndo(ctx context.Context, t turn, deed *store.DeedError) error {
	v, err := b.viewNumber(ctx, t, deed.Trade)
	if err != nil {
		return err
	}
	hint := t.Say(undoHintAgreed)
	if v.trade.State == trade.Proposed {
		hint = t.Say(undoHintOpen)
	}
	what, ok := deedWords[deed.What]
	if !ok {
		what = phrase(strings.ToLower(deed.What))
	}
	return sentence(t.Say(undoDeed, "what", t.Say(what), "n", deed.Trade, "hint", hint))
}
