package bot

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"time"

	"spareounce/bot/spot"
	"spareounce/match/melt"
	"spareounce/store"
)

// spot says the last silver price and how old it is. A keeper may set it, "spot 31.20", or say yes to one that waits:
// "spot confirm".
func (b *Bot) spot(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		said, err := b.spotNow(ctx, t.voice, t.group)
		return Reply{Text: said}, err
	}
	if !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.Say(spotWith)))
	}
	if strings.EqualFold(t.rest, "confirm") {
		return b.confirm(ctx, t)
	}
	text, sure := strings.CutSuffix(t.rest, " sure")
	p, err := melt.ParsePrice(strings.TrimSpace(strings.TrimPrefix(text, string(t.group.Currency))))
	if err != nil {
		return Reply{}, pointed{0, t.rest, t.Say(priceUnread, "currency", t.group.Currency)}
	}
	if !sure {
		if err := b.doubt(ctx, t, p); err != nil {
			return Reply{}, err
		}
	}
	s := store.Spot{At: b.now().UTC(), Currency: t.group.Currency, Price: p, Source: t.speaker.Name}
	if err := b.store.SaveSpot(ctx, t.group.ID, s); err != nil {
		return Reply{}, err
	}
	return Reply{Text: t.Say(spotSet, "price", price(p), "currency", t.group.Currency, "name", t.speaker.Name)}, nil
}

// doubt asks back about a typed price that a feed would not be believed: a keeper may be right where a guard is not, but a
// slip of the thumb is likelier.
func (b *Bot) doubt(ctx context.Context, t turn, p melt.Price) error {
	rules, last, err := b.rulesAndLast(ctx, t.group, t.group.Currency)
	if err != nil {
		return err
	}
	_, err = guard(rules).Check(spot.Quote{Price: p, Currency: t.group.Currency}, b.now(), quoted(last))
	r, ok := errors.AsType[*spot.Refusal](err)
	if !ok || r.Why == spot.UnknownCurrency {
		return nil
	}
	return asking{Reply{
		Text:    t.Say(spotSure, "price", price(p), "currency", t.group.Currency, "why", explain(t.voice, r)),
		Buttons: []Button{{t.Say(spotYes, "price", price(p)), "spot " + p.String() + " sure"}},
	}}
}

func (b *Bot) rulesAndLast(ctx context.Context, g store.Group, c melt.Currency) (store.PriceRules, *store.Spot, error) {
	rules, err := b.store.PriceRules(ctx, g.ID)
	if err != nil {
		return rules, nil, err
	}
	last, err := b.store.SpotBefore(ctx, g.ID, c, b.now())
	return rules, last, err
}

func guard(r store.PriceRules) spot.Guard {
	return spot.Guard{Low: r.Low, High: r.High, Stale: r.StaleAfter, Jump: r.Jump}
}

func quoted(s *store.Spot) *spot.Quote {
	if s == nil {
		return nil
	}
	return &spot.Quote{Price: s.Price, Currency: s.Currency, At: s.At}
}

// confirm takes the prices that wait for a keeper's yes.
func (b *Bot) confirm(ctx context.Context, t turn) (Reply, error) {
	taken, err := b.store.ConfirmHeld(ctx, t.group.ID, func(src store.Source) string { return sourceName(voiceFor(t.group.Language), src) })
	if err != nil {
		return Reply{}, err
	}
	if len(taken) == 0 {
		return Reply{}, sentence(t.Say(nothingWaits))
	}
	return Reply{Text: t.Say(confirmed, "list", b.beside(t.voice, taken))}, nil
}

// spotNow says the group's price with its age and source, how it stood a week ago, and prices in other money.
func (b *Bot) spotNow(ctx context.Context, in voice, g store.Group) (string, error) {
	rules, last, err := b.rulesAndLast(ctx, g, g.Currency)
	if err != nil {
		return "", err
	}
	others, err := b.store.SpotsInOtherMoney(ctx, g)
	if err != nil {
		return "", err
	}
	said := []string{b.priceSaid(in, g, rules, last)}
	if last != nil {
		before, err := b.store.SpotBefore(ctx, g.ID, g.Currency, b.now().AddDate(0, 0, -7))
		if err != nil {
			return "", err
		}
		if before != nil && !before.At.Equal(last.At) {
			said = append(said, in.Say(spotWeekAgo, "price", price(before.Price), "change", spot.Change(before.Price, last.Price)))
		}
	}
	if len(others) > 0 {
		said = append(said, in.Say(spotBeside, "list", b.beside(in, others)))
	}
	return strings.Join(said, " "), nil
}

// priceSaid says a price with its age and source, and that it is not today's when it is not.
func (b *Bot) priceSaid(in voice, g store.Group, rules store.PriceRules, s *store.Spot) string {
	if s == nil {
		return in.Say(spotUnknown)
	}
	said := in.Say(spotIs, "price", price(s.Price), "currency", s.Currency, "source", s.Source, "at", in.when(g, s.At), "age", in.age(b.now().Sub(s.At)))
	if rules.Stale(s.At, b.now()) {
		said += " " + in.Say(spotStale, "limit", in.age(rules.StaleAfter))
	}
	return said
}

// price writes a price to four decimals at most, as many as markets quote; what is worked out from it is worked out from
// the whole of it.
func price(p melt.Price) string {
	const step = melt.PriceUnit / 10_000
	if p < melt.PriceUnit {
		return p.String() // of a price below one, four decimals might be too little
	}
	return ((p + step/2) / step * step).String()
}

func (b *Bot) beside(in voice, all []store.Spot) string {
	var said []string
	for _, s := range all {
		said = append(said, in.Say(spotBesides, "price", price(s.Price), "currency", s.Currency, "source", s.Source, "age", in.age(b.now().Sub(s.At))))
	}
	return strings.Join(said, "; ")
}

// prices says and sets what a price must be like: "prices stale 24 hours", "prices jump 20", "prices band 20-90",
// "prices every 1 hour".
func (b *Bot) prices(ctx context.Context, t turn) (Reply, error) {
	rules, err := b.store.PriceRules(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	if t.rest == "" {
		return Reply{Text: t.rulesSaid(rules)}, nil
	}
	word, _ := wordAt(t.rest, 0)
	value := strings.TrimSpace(t.rest[len(word):])
	ok := false
	switch strings.ToLower(word) {
	case "past":
		return b.past(ctx, t, value)
	case "stale":
		rules.StaleAfter, ok = readLength(value, time.Hour, 30*24*time.Hour)
	case "every":
		rules.Every, ok = readLength(value, 5*time.Minute, 7*24*time.Hour)
	case "jump":
		rules.Jump, err = strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(value), "%")))
		ok = err == nil && rules.Jump >= 1 && rules.Jump <= 1000
	case "band":
		rules.Low, rules.High, ok = readBand(value)
	}
	if !ok {
		return Reply{}, sentence(t.Say(pricesHow))
	}
	return Reply{Text: t.rulesSaid(rules)}, b.store.SavePriceRules(ctx, t.group.ID, rules)
}

func (t turn) rulesSaid(r store.PriceRules) string {
	c := t.group.Currency
	band := t.Say(bandSet, "low", r.Low, "high", r.High)
	if r.Low == 0 {
		band = t.Say(bandNone, "currency", c)
		if low, high, ok := spot.UsualBand(c); ok {
			band = t.Say(bandUsual, "currency", c, "low", low, "high", high)
		}
	}
	return t.Say(pricesAre, "limit", t.age(r.StaleAfter), "jump", r.Jump, "band", band, "every", t.each(r.Every))
}

// readLength reads a length of time: "36 hours", "2 days", "30 minutes", "1 hour".
func readLength(text string, least, most time.Duration) (time.Duration, bool) {
	words := strings.Fields(strings.ToLower(text))
	if len(words) != 2 {
		return 0, false
	}
	n, err := strconv.Atoi(words[0])
	unit := map[string]time.Duration{"minute": time.Minute, "hour": time.Hour, "day": 24 * time.Hour, "week": 7 * 24 * time.Hour}[strings.TrimSuffix(words[1], "s")]
	if err != nil || unit == 0 || n < 1 || n > 10_000 {
		return 0, false
	}
	length := time.Duration(n) * unit
	return length, length >= least && length <= most
}

// readBand reads two prices, "20-90" or "20 to 90", or "usual".
func readBand(text string) (low, high melt.Price, ok bool) {
	text = strings.TrimSpace(text)
	if strings.EqualFold(text, "usual") {
		return 0, 0, true
	}
	from, to, cut := strings.Cut(strings.NewReplacer("–", "-", " to ", "-").Replace(text), "-")
	low, err1 := melt.ParsePrice(strings.TrimSpace(from))
	high, err2 := melt.ParsePrice(strings.TrimSpace(to))
	return low, high, cut && err1 == nil && err2 == nil && low < high
}

// counted lets the speaker's holdings count in the group's totals, or no longer.
func (b *Bot) counted(ctx context.Context, t turn) (Reply, error) {
	switch strings.ToLower(t.rest) {
	case "on", "yes", "me":
		return Reply{Text: t.Say(countedOn, "n", store.LeastCounted)}, b.store.Count(ctx, t.speaker.ID, true)
	case "off", "no":
		return Reply{Text: t.Say(countedOff)}, b.store.Count(ctx, t.speaker.ID, false)
	}
	return Reply{}, sentence(t.Say(countedHow))
}
