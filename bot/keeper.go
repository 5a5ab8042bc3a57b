package bot

import (
	"context"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
)

// zone sets the group's time zone.
func (b *Bot) zone(ctx context.Context, t turn) (Reply, error) {
	if _, err := time.LoadLocation(t.rest); err != nil || t.rest == "" || t.rest == "Local" {
		return Reply{}, sentence(t.Say(zoneHow, "word", t.rest))
	}
	g := t.group
	g.Zone = t.rest
	return Reply{Text: t.Say(zoneSet, "zone", g.Zone, "now", t.when(g, b.now()))}, b.store.SaveGroup(ctx, g)
}

// currency sets the money the group counts in.
func (b *Bot) currency(ctx context.Context, t turn) (Reply, error) {
	c, err := melt.ParseCurrency(t.rest)
	if err != nil {
		return Reply{}, pointed{0, t.rest, t.Say(currencyUnknown)}
	}
	g := t.group
	g.Currency = c
	rules, err := b.store.PriceRules(ctx, g.ID)
	if err != nil {
		return Reply{}, err
	}
	if rules.Low != 0 && c != t.group.Currency { // bounds in the old money mean nothing in the new
		rules.Low, rules.High = 0, 0
		if err := b.store.SavePriceRules(ctx, g.ID, rules); err != nil {
			return Reply{}, err
		}
	}
	return Reply{Text: t.Say(currencySet, "currency", c)}, b.store.SaveGroup(ctx, g)
}

// premium sets what the group usually pays over melt for an ounce of a piece that has no premium of its own.
func (b *Bot) premium(ctx context.Context, t turn) (Reply, error) {
	amount, err := t.amount(t.rest)
	if err != nil {
		return Reply{}, err
	}
	g := t.group
	g.PremiumPerOunce = amount
	return Reply{Text: t.Say(premiumSet, "amount", g.Currency.Format(amount))}, b.store.SaveGroup(ctx, g)
}

// ring sets how many members may stand in one ring. Rings of more than three are found in rounds alone.
func (b *Bot) ring(ctx context.Context, t turn) (Reply, error) {
	n, err := strconv.Atoi(t.rest)
	if err != nil || n < 2 || n > 5 {
		return Reply{}, sentence(t.Say(ringHow, "word", t.rest))
	}
	g := t.group
	g.Ring = n
	said := ringSet
	if n > 3 {
		said = ringSetLong
	}
	return Reply{Text: t.Say(said, "n", n)}, b.store.SaveGroup(ctx, g)
}

// lapse sets how long members have to answer a proposal: "lapse 3 days", "lapse 36 hours".
func (b *Bot) lapse(ctx context.Context, t turn) (Reply, error) {
	number, unit, _ := strings.Cut(t.rest, " ")
	n, err := strconv.Atoi(number)
	length := time.Hour
	if strings.HasPrefix(strings.ToLower(unit), "day") {
		length = 24 * time.Hour
	}
	if err != nil || n < 1 || time.Duration(n)*length > 30*24*time.Hour {
		return Reply{}, sentence(t.Say(lapseHow, "word", t.rest))
	}
	g := t.group
	g.Lapse = time.Duration(n) * length
	return Reply{Text: t.Say(lapseSet, "time", t.age(g.Lapse))}, b.store.SaveGroup(ctx, g)
}
