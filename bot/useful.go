package bot

import (
	"context"
	"strings"

	"spareounce/store"
)

// useful says which pieces, bought by any member, would open the most trades in the group.
func (b *Bot) useful(ctx context.Context, t turn) (Reply, error) {
	lines, err := b.mostUseful(ctx, t, mostUsefulSaid)
	if err != nil {
		return Reply{}, err
	}
	if len(lines) == 0 {
		return Reply{Text: t.Say(usefulNothing)}, nil
	}
	lines = append([]string{t.Say(usefulHead)}, append(lines, t.Say(usefulSure))...)
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// mostUsefulSaid is how many pieces are named.
const mostUsefulSaid = 3

// mostUseful has a line for each of the most helpful purchases; none when no single one would help.
func (b *Bot) mostUseful(ctx context.Context, t turn, most int) ([]string, error) {
	found, err := b.store.MostUseful(ctx, t.group.ID, most)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	values, err := b.store.Values(ctx, t.group, t.catalogue)
	if err != nil {
		return nil, err
	}
	lines := make([]string, len(found))
	for i, u := range found {
		lines[i] = t.Say(usefulLine, "piece", t.nameOf(u.Key.Series, u.Key.Piece), "n", u.Wanted, "worth", t.usualWorth(values, u))
	}
	return lines, nil
}

// usualWorth is what a piece costs here as a rule; "" when nobody knows.
func (t turn) usualWorth(values store.Values, u store.UsefulPiece) string {
	w, ok := values.Of(u.Key.Series, u.Key.Piece)
	if !ok {
		return ""
	}
	return t.Say(usefulWorth, "melt", t.inMoney(w.Melt), "usual", t.inMoney(w.Usual))
}
