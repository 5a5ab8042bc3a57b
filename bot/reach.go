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
		return Reply{}, sentence(t.Say(reachHow))
	}
	return Reply{Text: t.Say(said)}, b.store.SaveAccount(ctx, t.speaker.Account, store.Account{Reach: how})
}

// begins says where a group stands with its first steps, and what the next ones are.
func (b *Bot) begins(ctx context.Context, t turn) (Reply, error) {
	spot, err := b.spotNow(ctx, t.voice, t.group)
	if err != nil {
		return Reply{}, err
	}
	w, err := b.store.Weekly(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	week := t.Say(weeklyNone)
	if w != nil {
		week = b.weeklySaid(t.voice, t.group, *w)
	}
	lines := []string{
		t.Say(beginHead), t.Say(beginZone, "zone", t.group.Zone, "now", t.when(t.group, b.now())),
		t.Say(beginLanguage, "language", ownName(t.group.Language)), t.Say(beginCurrency, "currency", t.group.Currency), t.Say(beginSpot, "spot", spot), week,
	}
	if all := t.codes(); len(all) > 0 {
		lines = append(lines, t.Say(beginSeries, "list", strings.Join(all, ", ")))
	} else {
		lines = append(lines, t.Say(beginNoSeries))
	}
	return Reply{Text: strings.Join(append(lines, t.Say(beginThen)), "\n")}, nil
}

// forget deletes what the speaker told us, after asking whether they are sure.
func (b *Bot) forget(ctx context.Context, t turn) (Reply, error) {
	if !strings.EqualFold(t.rest, "everything") {
		return Reply{Text: t.Say(forgetSure), Buttons: []Button{{Label: t.Say(pressForget), Says: "forget everything"}}}, nil
	}
	err := b.store.Forget(ctx, t.speaker, voiceFor(t.group.Language).Say(somebodyGone))
	if _, ok := errors.AsType[*store.InAgreedTradeError](err); ok {
		return Reply{}, sentence(t.Say(forgetPending))
	}
	if err != nil {
		return Reply{}, t.refuseEdit(err)
	}
	return Reply{Text: t.Say(forgotten)}, nil
}
