package bot

import (
	"context"
	"strconv"
	"strings"

	"spareounce/match/melt"
	"spareounce/store"
)

// mute stops notices of matches: about a series, or about all of them.
func (b *Bot) mute(ctx context.Context, t turn) (Reply, error) { return b.muting(ctx, t, true) }

// unmute lets them through again.
func (b *Bot) unmute(ctx context.Context, t turn) (Reply, error) { return b.muting(ctx, t, false) }

func (b *Bot) muting(ctx context.Context, t turn, mute bool) (Reply, error) {
	if t.rest == "" || strings.EqualFold(t.rest, "all") || strings.EqualFold(t.rest, "everything") {
		m := t.speaker
		m.Muted = mute
		if err := b.store.SaveMember(ctx, m); err != nil {
			return Reply{}, err
		}
		if mute {
			return Reply{Text: t.Say(mutedAll)}, nil
		}
		return Reply{Text: t.Say(unmutedAll)}, nil
	}
	one, err := t.seriesNamed(t.rest)
	if err != nil {
		return Reply{}, err
	}
	if err := b.store.Mute(ctx, t.speaker.ID, one.Code, mute); err != nil {
		return Reply{}, err
	}
	if mute {
		return Reply{Text: t.Say(mutedSeries, "series", one.Code)}, nil
	}
	return Reply{Text: t.Say(unmutedSeries, "series", one.Code)}, nil
}

// quiet sets the hours in which the speaker is told nothing: "quiet 22-7", "quiet off".
func (b *Bot) quiet(ctx context.Context, t turn) (Reply, error) {
	m := t.speaker
	if strings.EqualFold(t.rest, "off") {
		m.QuietFrom, m.QuietTo = nil, nil
		return Reply{Text: t.Say(quietOff)}, b.store.SaveMember(ctx, m)
	}
	words := strings.FieldsFunc(t.rest, func(r rune) bool { return r == '-' || r == '–' || r == ' ' })
	if len(words) == 3 && strings.EqualFold(words[1], "to") {
		words = []string{words[0], words[2]}
	}
	if len(words) != 2 {
		return Reply{}, sentence(t.Say(quietHow))
	}
	from, okFrom := readClock(words[0])
	to, okTo := readClock(words[1])
	if !okFrom || !okTo {
		return Reply{}, sentence(t.Say(quietHow))
	}
	m.QuietFrom, m.QuietTo = &from, &to
	return Reply{Text: t.Say(quietSet, "from", from, "to", to, "zone", t.group.Zone)}, b.store.SaveMember(ctx, m)
}

// digest gathers notices of matches into one a day: "digest 18:30", "digest off".
func (b *Bot) digest(ctx context.Context, t turn) (Reply, error) {
	m := t.speaker
	if strings.EqualFold(t.rest, "off") {
		m.DigestAt = nil
		return Reply{Text: t.Say(digestOff)}, b.store.SaveMember(ctx, m)
	}
	at, ok := readClock(t.rest)
	if !ok {
		return Reply{}, sentence(t.Say(digestHow))
	}
	m.DigestAt = &at
	return Reply{Text: t.Say(digestSet, "at", at, "zone", t.group.Zone)}, b.store.SaveMember(ctx, m)
}

// readClock reads a time of day: 7, 7:30, 19.30, 7pm.
func readClock(text string) (store.Clock, bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	afternoon := strings.HasSuffix(text, "pm")
	half := afternoon || strings.HasSuffix(text, "am")
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(text, "pm"), "am"))
	hours, minutes, cut := strings.Cut(strings.Replace(text, ".", ":", 1), ":")
	h, err := strconv.Atoi(hours)
	if err != nil || h < 0 || h > 24 || half && (h < 1 || h > 12) {
		return 0, false
	}
	m := 0
	if cut {
		if m, err = strconv.Atoi(minutes); err != nil || len(minutes) != 2 || m < 0 || m > 59 {
			return 0, false
		}
	}
	if half {
		h %= 12
		if afternoon {
			h += 12
		}
	}
	return store.Clock((h%24)*60 + m), true
}

// seen lets the group name the speaker as a holder of what they do not spare: "seen on", "seen off".
func (b *Bot) seen(ctx context.Context, t turn) (Reply, error) {
	m := t.speaker
	switch strings.ToLower(t.rest) {
	case "on", "yes":
		m.Seen = true
		return Reply{Text: t.Say(seenOn)}, b.store.SaveMember(ctx, m)
	case "off", "no":
		m.Seen = false
		return Reply{Text: t.Say(seenOff)}, b.store.SaveMember(ctx, m)
	}
	return Reply{}, sentence(t.Say(seenHow))
}

// topUp sets the most the speaker would pay to even up a trade.
func (b *Bot) topUp(ctx context.Context, t turn) (Reply, error) {
	m := t.speaker
	if t.rest == "" {
		limit := t.group.TopUpLimit
		if m.TopUpLimit != nil {
			limit = *m.TopUpLimit
		}
		return Reply{Text: t.Say(topUpNow, "limit", t.group.Currency.Format(limit))}, nil
	}
	limit, err := t.amount(t.rest)
	if err != nil {
		return Reply{}, err
	}
	m.TopUpLimit = &limit
	return Reply{Text: t.Say(topUpNow, "limit", t.group.Currency.Format(limit))}, b.store.SaveMember(ctx, m)
}

// amount reads the whole of a text as money in the group's currency.
func (t turn) amount(text string) (melt.Minor, error) {
	amount, err := t.group.Currency.Parse(text)
	if err != nil {
		return 0, pointed{strings.Index(t.rest, text), text, t.Say(amountUnread, "currency", t.group.Currency)}
	}
	return amount, nil
}

// leave takes the speaker out of the group: their proposals end, their spares and wants come down.
func (b *Bot) leave(ctx context.Context, t turn) (Reply, error) {
	if !strings.EqualFold(t.said, "leave the group") && !strings.EqualFold(t.rest, "the group") {
		return Reply{Text: t.Say(leaveSure), Buttons: []Button{{Label: t.Say(pressLeave), Says: "leave the group"}}}, nil
	}
	if err := b.store.Leave(ctx, t.speaker); err != nil {
		return Reply{}, err
	}
	return Reply{Text: t.Say(hasLeft)}, nil
}
