package bot

import (
	"context"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
)

// spot says the last silver price and how old it is; a keeper may set it: "spot 31.20".
func (b *Bot) spot(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		spot, err := b.store.Spot(ctx, t.group)
		if err != nil {
			return Reply{}, err
		}
		return Reply{Text: b.spotNow(t.group, spot)}, nil
	}
	if !t.speaker.Keeper {
		return Reply{}, sentence(keepersOnly.with("verb", "spot with a price"))
	}
	price, err := melt.ParsePrice(strings.TrimSpace(strings.TrimPrefix(t.rest, string(t.group.Currency))))
	if err != nil {
		return Reply{}, pointed{0, t.rest, priceUnread.with("currency", t.group.Currency)}
	}
	spot := store.Spot{At: b.now().UTC(), Currency: t.group.Currency, Price: price, Source: t.speaker.Name}
	if err := b.store.SaveSpot(ctx, t.group.ID, spot); err != nil {
		return Reply{}, err
	}
	return Reply{Text: spotSet.with("price", price, "currency", t.group.Currency, "name", t.speaker.Name)}, nil
}

// spotNow says a price with its age and source.
func (b *Bot) spotNow(g store.Group, spot *store.Spot) string {
	if spot == nil {
		return spotUnknown.with()
	}
	return spotIs.with("price", spot.Price, "currency", spot.Currency, "source", spot.Source, "at", b.when(g, spot.At), "age", age(b.now().Sub(spot.At)))
}

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

// ring sets how many members may stand in one ring.
func (b *Bot) ring(ctx context.Context, t turn) (Reply, error) {
	n, err := strconv.Atoi(t.rest)
	if err != nil || n < 2 || n > 3 {
		return Reply{}, sentence(ringHow.with("word", t.rest))
	}
	g := t.group
	g.Ring = n
	return Reply{Text: ringSet.with("n", n)}, b.store.SaveGroup(ctx, g)
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
