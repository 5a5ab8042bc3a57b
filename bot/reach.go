package bot

import (
	"context"
	"errors"
	"strings"

	"spareounce/store"
)

// reach sets how the speaker may be spoken to unasked: "reach message", "reach thread", "reach visit". Nobody who never
// said gets a private message.
func (b *Bot) reach(ctx context.Context, t turn) (Reply, error) {
	how := store.Reach(strings.ToLower(t.rest))
	said, ok := map[store.Reach]phrase{
		store.ReachMessage: reachMessage, store.ReachThread: reachThread, store.ReachVisit: reachVisit,
	}[how]
	if !ok {
		return Reply{}, sentence(reachHow.with())
	}
	return Reply{Text: said.with()}, b.store.SaveAccount(ctx, t.speaker.Account, store.Account{Reach: how})
}

// begins says where a group stands with its first steps, and what the next ones are.
func (b *Bot) begins(ctx context.Context, t turn) (Reply, error) {
	spot, err := b.spotNow(ctx, t.group)
	if err != nil {
		return Reply{}, err
	}
	w, err := b.store.Weekly(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	week := weeklyNone.with()
	if w != nil {
		week = b.weeklySaid(t.group, *w)
	}
	lines := []string{
		beginHead.with(), beginZone.with("zone", t.group.Zone, "now", b.when(t.group, b.now())),
		beginCurrency.with("currency", t.group.Currency), beginSpot.with("spot", spot), week,
	}
	if all := t.codes(); len(all) > 0 {
		lines = append(lines, beginSeries.with("list", strings.Join(all, ", ")))
	} else {
		lines = append(lines, beginNoSeries.with())
	}
	return Reply{Text: strings.Join(append(lines, beginThen.with()), "\n")}, nil
}

// forget deletes what the speaker told us, after asking whether they are sure.
func (b *Bot) forget(ctx context.Context, t turn) (Reply, error) {
	if !strings.EqualFold(t.rest, "everything") {
		return Reply{Text: forgetSure.with(), Buttons: []Button{{Label: "Delete everything", Says: "forget everything"}}}, nil
	}
	err := b.store.Forget(ctx, t.speaker, somebodyGone.with())
	if _, ok := errors.AsType[*store.InAgreedTradeError](err); ok {
		return Reply{}, sentence(forgetPending.with())
	}
	if err != nil {
		return Reply{}, t.refuseEdit(err)
	}
	return Reply{Text: forgotten.with()}, nil
}
