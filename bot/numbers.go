package bot

import (
	"context"
	"strings"

	"spareounce/bot/money"
	"spareounce/match/melt"
)

// numbers sets how the speaker reads amounts at the counter: "numbers de-CH", "numbers plain".
func (b *Bot) numbers(ctx context.Context, t turn) (Reply, error) {
	m := t.speaker
	switch tag, ok := money.Locale(t.rest); {
	case strings.EqualFold(t.rest, "plain"), strings.EqualFold(t.rest, "off"):
		m.Locale = ""
	case ok:
		m.Locale = tag
	case t.rest != "":
		return Reply{}, sentence(t.Say(numbersHow))
	}
	t.speaker = m
	digits, _ := t.group.Currency.Digits()
	sample := int64(12345)
	for range digits {
		sample = sample*10 + 6
	}
	reply := Reply{Text: t.Say(numbersNow, "sample", t.inMoney(melt.Minor(sample)))}
	if t.rest == "" {
		return reply, nil
	}
	return reply, b.store.SaveMember(ctx, m)
}
