package bot

import (
	"context"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
)

// zone sets the group's time zone.
func (b *Bot) zone(ctx context.Context, t turn) (Reply, error) {
	if _, err := time.LoadLocation(t.rest); err != nil || t.rest == "" || t.rest == "Local" {
		return Reply{}, sentence(zoneHow.with("word", t.rest))
	}
	g := t.group
	g.Zone = t.rest
	return Reply{Text: zoneSet.with("zone", g.Zone, "now", b.when(g, b.now()))}, b.store.SaveGroup(ctx, g)
}

// currency sets the money the group counts in.
func (b *Bot) currency(ctx context.Context, t turn) (Reply, error) {
	c, err := melt.ParseCurrency(t.rest)
	if err != nil {
		return Reply{}, pointed{0, t.rest, currencyUnknown.with()}
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
	return Reply{Text: currencySet.with("currency", c)}, b.store.SaveGroup(ctx, g)
}

// premium sets what the group usually pays over melt for an ounce of a piece that has no premium of its own.
func (b *Bot) premium(ctx context.Context, t turn) (Reply, error) {
	amount, err := t.amount(t.rest)
	if err != nil {
		return Reply{}, err
	}
	g := t.group
	g.PremiumPerOunce = amount
	return Reply{Text: premiumSet.with("amount", g.Currency.Format(amount))}, b.store.SaveGroup(ctx, g)
}

// ring sets how many members may stand in one ring. Rings of more than three are found in rounds alone.
func (b *Bot) ring(ctx context.Context, t turn) (Reply, error) {
	n, err := strconv.Atoi(t.rest)
	if err != nil || n < 2 || n > 5 {
		return Reply{}, sentence(ringHow.with("word", t.rest))
	}
	g := t.group
	g.Ring = n
	said := ringSet
	if n > 3 {
		said = ringSetLong
	}
	return Reply{Text: said.with("n", n)}, b.store.SaveGroup(ctx, g)
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
		return Reply{}, sentence(lapseHow.with("word", t.rest))
	}
	g := t.group
	g.Lapse = time.Duration(n) * length
	return Reply{Text: lapseSet.with("time", age(g.Lapse))}, b.store.SaveGroup(ctx, g)
}

// when writes an instant on the group's clock.
func (b *Bot) when(g store.Group, at time.Time) string {
	return at.In(g.Location()).Format("2 Jan 15:04")
}

// today is the group's date.
func (b *Bot) today(g store.Group) string {
	return b.now().In(g.Location()).Format("2 Jan 2006")
}

// age writes a length of time in the one unit that tells most.
func age(d time.Duration) string {
	unit := func(n int, word string) string {
		if n == 1 {
			return "1 " + word
		}
		return strconv.Itoa(n) + " " + word + "s"
	}
	switch {
	case d < time.Hour:
		return unit(max(int(d.Minutes()), 0), "minute")
	case d < 48*time.Hour:
		return unit(int(d.Hours()), "hour")
	}
	return unit(int(d.Hours())/24, "day")
}
