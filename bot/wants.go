package bot

import (
	"context"
	"slices"
	"strings"

	"spareounce/match/series"
	"spareounce/store"
)

// want adds wants, or changes what is said about them.
func (b *Bot) want(ctx context.Context, t turn) (Reply, error) {
	_, after, picks, err := b.change(ctx, t, series.ForWants, func(shelf *store.Shelf, p pick) error {
		return shelf.Wish(wantKey(p.Pick), p.Pieces, p.Quantity, p.Counted, p.about.describeWant)
	})
	if err != nil {
		return Reply{}, err
	}
	if slices.ContainsFunc(picks, func(p pick) bool { return after.Wants[wantKey(p.Pick)].Quiet }) {
		return Reply{Private: true, Text: t.Say(quietNow, "list", t.wantList(after, picks))}, nil
	}
	return Reply{Text: t.Say(wantsNow, "name", t.speaker.Name, "list", t.wantList(after, picks))}, nil
}

// unwant takes wants away. A want for any of several pieces goes when one of its words is named.
func (b *Bot) unwant(ctx context.Context, t turn) (Reply, error) {
	_, after, picks, err := b.change(ctx, t, series.ForWants, func(shelf *store.Shelf, p pick) error {
		return shelf.Unwish(wantKey(p.Pick))
	})
	if err != nil {
		return Reply{}, err
	}
	code := picks[0].Series
	left := t.wantsOf(after, code)
	if left == "" {
		return Reply{Text: t.Say(wantsNothingMore, "series", code)}, nil
	}
	return Reply{Text: t.Say(stillWants, "list", left)}, nil
}

// wantKey is what a want is known by: the slot if the words named one, else its pieces.
func wantKey(p series.Pick) store.WantKey {
	if p.Slot != "" {
		return store.WantKey{Series: p.Series, Wanted: p.Slot}
	}
	return store.WantKey{Series: p.Series, Wanted: strings.Join(p.Pieces, "|")}
}

func (a about) describeWant(w *store.Want) {
	if a.priority != nil {
		w.Priority = *a.priority
	}
	if a.least != series.Unsaid {
		w.Least = a.least
	}
	if a.condition != series.Unsaid { // "want 84 bright" means at least bright
		w.Least = a.condition
	}
	if a.top != nil {
		w.Top = a.top
	}
	if a.quiet {
		w.Quiet = true
	}
	if a.note != "" {
		w.Note = a.note
	}
}
