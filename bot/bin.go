package bot

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"

	"spareounce/match/basket"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// lot is one line of a bin.
type lot struct {
	pick
	offer basket.Offer
	worth store.Worth
	known bool        // the worth is
	most  *melt.Minor // the most the speaker should pay for one; nil when nothing is known
	mine  bool        // it would fill a gap of theirs at some price
	other bool        // ... of somebody else
}

// bin says of what lies in a dealer's bin what to buy and what to leave, and the best under a budget.
func (b *Bot) bin(ctx context.Context, t turn) (Reply, error) {
	if t.rest == "" {
		return Reply{}, sentence(t.Say(binHow, "example", t.line(t.verb.example)))
	}
	budget, t, err := t.budget()
	if err != nil {
		return Reply{}, err
	}
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	picks, err := t.read(series.ForHoldings, shelf)
	if err != nil {
		return Reply{}, t.keepBudget(err, budget)
	}
	values, err := b.store.Values(ctx, t.group, t.catalogue)
	if err != nil {
		return Reply{}, err
	}
	places, err := b.placesFor(ctx, t, shelf, codesOf(picks))
	if err != nil {
		return Reply{}, err
	}
	lots := make([]lot, len(picks))
	for i, p := range picks {
		lots[i] = newLot(p, places, values)
	}
	return b.weighUp(t, lots, places, values, budget)
}

// placesFor are the gaps that pieces of some series could fill: the speaker's, then the others'.
func (b *Bot) placesFor(ctx context.Context, t turn, shelf *store.Shelf, codes []string) ([]place, error) {
	var places []place
	for _, code := range codes {
		one, _ := t.catalogue.Series(code)
		gaps := myPlaces(shelf, one)
		places = append(append(places, gaps...), movable(shelf, one, gaps)...)
	}
	others, err := b.store.OthersWants(ctx, t.speaker, codes)
	return append(places, othersPlaces(others)...), err
}

// newLot finds out what a line of the bin could be good for.
func newLot(p pick, places []place, values store.Values) lot {
	l := lot{pick: p}
	l.worth, l.known = values.Of(p.Series, p.Pieces[0])
	if l.known {
		l.most, l.offer.Melt = &l.worth.Usual, l.worth.Melt
	}
	if p.about.price != nil {
		l.offer.Price, l.offer.Count = *p.about.price, p.quantity()
	}
	for i, place := range places {
		if !place.takes(p.Series, p.Pieces[0], p.about.condition) {
			continue
		}
		most := place.most(values, p.Series, p.Pieces[0])
		if place.mine() && !l.mine {
			l.most = most
		}
		l.mine, l.other = l.mine || place.mine(), l.other || !place.mine()
		if most == nil {
			most = &l.offer.Price // worth is unknown: the gap alone speaks for it
		}
		l.offer.Fills = append(l.offer.Fills, basket.Fill{Place: i, Most: *most})
	}
	return l
}

// withoutBudget is more than a bin can cost.
const withoutBudget = melt.Minor(1e15)

// weigh decides what to buy of the lots. What stands in places that could make room is on offer for nothing, and worth more
// than money, so that it is always used.
func weigh(lots []lot, places []place, budget melt.Minor) (basket.Basket, error) {
	var offers []basket.Offer
	for _, l := range lots {
		offers = append(offers, l.offer)
	}
	open := make([]basket.Place, len(places))
	for i, p := range places {
		open[i] = p.Place
		if p.had == "" {
			continue
		}
		held := basket.Offer{Count: 1}
		for at, q := range places {
			if q.slot && q.series == p.series && slices.Contains(q.pieces, p.had) {
				held.Fills = append(held.Fills, basket.Fill{Place: at, Most: worthKeeping})
			}
		}
		offers = append(offers, held)
	}
	best, err := basket.Best(offers, open, budget)
	if err != nil {
		return basket.Basket{}, err
	}
	best.Takes = best.Takes[:len(lots)]
	best.Gain = basket.Gain{}
	for _, take := range best.Takes {
		for _, p := range take.Places {
			best.Gain.Filled[places[p].Rank]++
		}
	}
	return best, nil
}

// worthKeeping is more than any price can save.
const worthKeeping = melt.Minor(1e12)

// weighUp decides and says it.
func (b *Bot) weighUp(t turn, lots []lot, places []place, values store.Values, budget *melt.Minor) (Reply, error) {
	all, err := weigh(lots, places, withoutBudget)
	best := all
	if err == nil && budget != nil {
		best, err = weigh(lots, places, *budget)
	}
	if errors.Is(err, basket.ErrTooMuch) {
		return Reply{}, sentence(t.Say(binTooMuch))
	}
	if err != nil {
		return Reply{}, err
	}
	var lines []string
	for i, l := range lots {
		lines = append(lines, t.lotLine(l, all.Takes[i], places, values))
	}
	lines = append(lines, t.basketLine(lots, best, budget), b.pricedAt(t.voice, t.group, values))
	return Reply{Text: strings.Join(lines, "\n"), Buttons: b.boughtButtons(t, lots, best)}, nil
}

// lotLine is what to do with one line of the bin, and why.
func (t turn) lotLine(l lot, take basket.Take, places []place, values store.Values) string {
	if l.about.price == nil {
		verdict := binNobodys
		if l.mine {
			verdict = binWouldFill
		} else if l.other {
			verdict = binWouldTheirs
		}
		return strings.TrimSpace(t.Say(binUnpriced, "piece", t.counted(l.pick, l.quantity()), "verdict", t.Say(verdict), "worth", t.worthOf(l, values)))
	}
	verdict, why := l.verdict(t.voice, take, places)
	return strings.TrimSpace(t.Say(binLine, "piece", t.counted(l.pick, l.quantity()), "price", t.inMoney(l.offer.Price),
		"verdict", verdict, "why", why, "worth", t.worthOf(l, values)))
}

// verdict is buy or leave, and the reason as it follows the price.
func (l lot) verdict(in voice, take basket.Take, places []place) (verdict, why string) {
	if take.Count() == 0 {
		switch {
		case l.mine && l.most != nil && l.offer.Price <= *l.most, l.mine && l.most == nil:
			why = in.Say(binInstead)
		case l.mine:
			why = in.Say(binAbove)
		case l.other:
			why = in.Say(binAboveTheirs)
		}
		return in.Say(binLeave), why
	}
	mine := 0
	for _, p := range take.Places {
		if places[p].mine() {
			mine++
		}
	}
	for _, reason := range []struct {
		n         int
		one, many phrase
	}{{mine, binFillsMine, binFillsMines}, {len(take.Places) - mine, binFillsTheirs, binFillsMany}, {take.Metal, binForMetal, binSomeMetal}} {
		switch {
		case reason.n == 0:
		case reason.n == 1 && take.Count() == 1, reason.n == take.Count() && reason.one == binForMetal:
			why += ", " + in.Say(reason.one)
		default:
			why += ", " + in.Say(reason.many, "n", reason.n)
		}
	}
	if take.Count() == l.quantity() {
		return in.Say(binTake), why
	}
	return in.Say(binTakeSome, "n", take.Count(), "of", l.quantity()), why
}

// worthOf is melt, the premium in the price, and the most to pay; "" when nothing is known.
func (t turn) worthOf(l lot, values store.Values) string {
	switch {
	case !l.known && l.most == nil:
		return ""
	case !l.known:
		return t.Say(binMostAlone, "most", t.inMoney(*l.most))
	case l.about.price == nil:
		return t.Say(binWorthAlone, "melt", t.inMoney(l.worth.Melt), "most", t.inMoney(*l.most))
	}
	return t.Say(binWorth, "melt", t.inMoney(l.worth.Melt), "over", t.overMelt(l.offer.Price, l.worth.Metal, values.Spot.Price), "most", t.inMoney(*l.most))
}

// basketLine sums up what to buy.
func (t turn) basketLine(lots []lot, best basket.Basket, budget *melt.Minor) string {
	var names []string
	for i, take := range best.Takes {
		if n := take.Count(); n > 0 {
			names = append(names, t.counted(lots[i].pick, n))
		}
	}
	switch {
	case !slices.ContainsFunc(lots, func(l lot) bool { return l.about.price != nil }):
		return t.Say(binNoPrices)
	case len(names) == 0 && budget != nil:
		return t.Say(binNoneUnder, "budget", t.inMoney(*budget))
	case len(names) == 0:
		return t.Say(binNothing)
	}
	said, under := binAll, ""
	if budget != nil {
		said, under = binBudget, t.inMoney(*budget)
	}
	return t.Say(said, "budget", under, "list", strings.Join(names, ", "), "cost", t.inMoney(best.Cost), "gain", gainLine(t.voice, best.Gain))
}

// gainLine says which gaps a basket fills.
func gainLine(in voice, g basket.Gain) string {
	var parts []string
	if n := g.Filled[basket.MineSoon] + g.Filled[basket.Mine]; n > 0 {
		parts = append(parts, in.Say(gainMine, "n", n))
	}
	if n := g.Filled[basket.Others]; n > 0 {
		parts = append(parts, in.Say(gainTheirs, "n", n))
	}
	if len(parts) == 0 {
		return in.Say(gainNone)
	}
	return in.Say(gainFills, "list", strings.Join(parts, in.Say(gainAnd)))
}

// boughtButtons record with one tap what was bought: all of it, or a line of it. Each piece bears a word of its own, so
// that all of it after one of it records the rest.
func (b *Bot) boughtButtons(t turn, lots []lot, best basket.Basket) []Button {
	var buttons []Button
	var all []string
	now := strconv.FormatInt(b.now().UnixMilli(), 36)
	for i, take := range best.Takes {
		n := take.Count()
		if n == 0 {
			continue
		}
		name := t.counted(lots[i].pick, n)
		line := name + " @" + t.typed(lots[i].offer.Price) + " #" + now + strconv.FormatInt(int64(i), 36)
		all = append(all, line)
		buttons = append(buttons, Button{Label: t.Say(pressBought, "piece", name), Says: "bought " + line})
	}
	if len(buttons) > 1 {
		buttons = append([]Button{{Label: t.Say(pressBoughtAll), Says: "bought " + strings.Join(all, ", ")}}, buttons...)
	}
	return buttons[:min(len(buttons), mostBought)]
}

// mostBought is how many buttons a bin has at most.
const mostBought = 8
