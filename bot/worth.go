package bot

import (
	"cmp"
	"context"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// stack is some of a member's pieces, as metal.
type stack struct {
	pieces  int
	unknown int         // pieces of whose metal too little is known
	fine    melt.Weight // of the others
}

func (s *stack) add(m melt.Metal, n int) {
	all, err := m.Times(n)
	if !m.Known() || m.Check() != nil || err != nil {
		s.unknown += n
		return
	}
	s.pieces += n
	s.fine += all.FineWeight()
}

// at is what the metal is worth at a price; false when there is none, or none of it.
func (s stack) at(price *store.Spot) (melt.Minor, bool) {
	if price == nil || s.fine == 0 {
		return 0, false
	}
	value, err := melt.Value(melt.Metal{Fine: s.fine}, price.Price, price.Currency)
	return value, err == nil
}

// melt tells the speaker what the metal in their pieces is worth: all of it, or a series'.
func (b *Bot) melt(ctx context.Context, t turn) (Reply, error) {
	only, err := t.onlySeries()
	if err != nil {
		return Reply{}, err
	}
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	rules, last, err := b.rulesAndLast(ctx, t.group, t.group.Currency)
	if err != nil {
		return Reply{}, err
	}
	before, err := b.store.SpotBefore(ctx, t.group.ID, t.group.Currency, b.now().AddDate(0, 0, -7))
	if err != nil {
		return Reply{}, err
	}
	all, by := t.stacks(shelf, only)
	if all.pieces+all.unknown == 0 {
		return Reply{}, sentence(t.Say(nothingOwned))
	}
	var lines []string
	now, priced := all.at(last)
	if priced {
		lines = append(lines, t.Say(meltMine, "n", ounces(all.fine), "pieces", t.several(all.pieces, onePiece, manyPieces), "melt", t.inMoney(now)))
	} else {
		lines = append(lines, t.Say(meltUnpriced, "n", ounces(all.fine), "pieces", t.several(all.pieces, onePiece, manyPieces)))
	}
	if all.unknown > 0 {
		lines = append(lines, t.Say(metalUnknown, "pieces", t.several(all.unknown, onePiece, manyPieces)))
	}
	if then, ok := all.at(before); ok && priced && !before.At.Equal(last.At) {
		lines = append(lines, t.Say(meltWeekAgo, "price", price(before.Price), "melt", t.inMoney(then), "change", t.signed(now-then)))
	} else {
		before = nil
	}
	if priced && len(by) > 1 {
		lines = append(lines, t.moved(by, last, before))
	}
	paid, err := b.paidSaid(ctx, t, shelf, only, last)
	if err != nil {
		return Reply{}, err
	}
	if paid != "" {
		lines = append(lines, paid)
	}
	lines = append(lines, b.priceSaid(t.voice, t.group, rules, last))
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// onlySeries is the code of the series that the line names, "" when it names none.
func (t turn) onlySeries() (string, error) {
	if t.rest == "" || strings.EqualFold(t.rest, "all") || strings.EqualFold(t.rest, "mine") {
		return "", nil
	}
	one, err := t.seriesNamed(t.rest)
	return one.Code, err
}

// stacks weighs what a shelf holds, together and by series.
func (t turn) stacks(shelf *store.Shelf, only string) (all stack, by map[string]stack) {
	by = map[string]stack{}
	for key, h := range shelf.Holdings {
		if only != "" && key.Series != only {
			continue
		}
		metal := t.metalOf(key)
		all.add(metal, h.Quantity)
		one := by[key.Series]
		one.add(metal, h.Quantity)
		by[key.Series] = one
	}
	return all, by
}

func (t turn) metalOf(key store.HoldingKey) melt.Metal {
	one, _ := t.catalogue.Series(key.Series)
	p, ok := one.Piece(key.Piece)
	if !ok {
		return melt.Metal{}
	}
	return one.MetalOf(p)
}

// moved lists the series of a member with what they are worth, those first that moved most.
func (t turn) moved(by map[string]stack, last, before *store.Spot) string {
	type line struct {
		code        string
		now, change melt.Minor
	}
	var all []line
	for _, one := range t.catalogue.All() {
		now, ok := by[one.Code].at(last)
		if !ok {
			continue
		}
		l := line{code: one.Code, now: now}
		if then, ok := by[one.Code].at(before); ok {
			l.change = now - then
		}
		all = append(all, l)
	}
	slices.SortStableFunc(all, func(a, b line) int {
		return cmp.Or(cmp.Compare(max(b.change, -b.change), max(a.change, -a.change)), cmp.Compare(b.now, a.now))
	})
	var said []string
	for _, l := range all {
		if before == nil {
			said = append(said, t.Say(meltSeries1, "series", l.code, "melt", t.inMoney(l.now)))
		} else {
			said = append(said, t.Say(meltSeries, "series", l.code, "melt", t.inMoney(l.now), "change", t.signed(l.change)))
		}
	}
	return t.Say(meltMoved, "list", strings.Join(said, ", "))
}

// signed writes an amount with its sign.
func (t turn) signed(a melt.Minor) string {
	if a > 0 {
		return "+" + t.inMoney(a)
	}
	return t.inMoney(a)
}

// paidSaid holds what the speaker paid against what the metal is worth, for the pieces that they still hold. Of a piece of
// which some have gone, each counts with the mean of what they paid.
func (b *Bot) paidSaid(ctx context.Context, t turn, shelf *store.Shelf, only string, last *store.Spot) (string, error) {
	bought, err := b.store.Purchases(ctx, t.speaker)
	if err != nil {
		return "", err
	}
	type sum struct {
		n     int
		money melt.Minor
	}
	paid := map[store.HoldingKey]sum{}
	for _, p := range bought {
		key := store.HoldingKey{Series: p.Key.Series, Piece: p.Key.Piece}
		if p.Currency == t.group.Currency && (only == "" || key.Series == only) {
			s := paid[key]
			paid[key] = sum{s.n + p.Quantity, s.money + p.Price*melt.Minor(p.Quantity)}
		}
	}
	cost := new(big.Rat)
	var metal stack
	for key, s := range paid {
		held := min(shelf.Held(key.Series)[key.Piece], s.n)
		if m := t.metalOf(key); held > 0 && m.Known() {
			metal.add(m, held)
			cost.Add(cost, big.NewRat(int64(s.money)*int64(held), int64(s.n)))
		}
	}
	value, ok := metal.at(last)
	if !ok {
		return "", nil
	}
	total := rounded(cost)
	stands := t.Say(standsEven)
	switch over := value - total; {
	case over > 0:
		stands = t.Say(standsAbove, "amount", t.inMoney(over))
	case over < 0:
		stands = t.Say(standsBelow, "amount", t.inMoney(-over))
	}
	return t.Say(meltPaid, "pieces", metal.pieces, "cost", t.inMoney(total), "melt", t.inMoney(value), "stands", stands), nil
}

// rounded is an exact amount rounded half up to the minor unit.
func rounded(r *big.Rat) melt.Minor {
	twice := new(big.Int).Lsh(r.Num(), 1)
	twice.Add(twice, r.Denom())
	return melt.Minor(twice.Div(twice, new(big.Int).Lsh(r.Denom(), 1)).Int64())
}

// mostCosts is how many purchases one answer lists.
const mostCosts = 12

// cost tells the speaker the premium in each price they paid, and the spot at which melt has made up for it.
func (b *Bot) cost(ctx context.Context, t turn) (Reply, error) {
	only, err := t.onlySeries()
	if err != nil {
		return Reply{}, err
	}
	bought, err := b.store.Purchases(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	bought = slices.DeleteFunc(bought, func(p store.Purchase) bool {
		return p.Currency != t.group.Currency || only != "" && p.Key.Series != only
	})
	if len(bought) == 0 {
		return Reply{}, sentence(t.Say(costNothing))
	}
	var lines []string
	var paid melt.Minor
	var all stack
	for i, p := range slices.Backward(bought) {
		if len(lines) < mostCosts {
			lines = append(lines, b.costLine(t, p))
		} else if len(lines) == mostCosts {
			lines = append(lines, t.Say(costMore, "n", i+1))
		}
		if m := t.metalOf(p.Key); m.Known() {
			all.add(m, p.Quantity)
			paid += p.Price * melt.Minor(p.Quantity)
		}
	}
	if even, ok := t.evenAt(paid, melt.Metal{Fine: all.fine}); ok && len(bought) > 1 {
		lines = append(lines, t.Say(costAll, "pieces", t.several(all.pieces, onePiece, manyPieces), "paid", t.inMoney(paid), "fine", ounces(all.fine), "even", even))
	}
	rules, last, err := b.rulesAndLast(ctx, t.group, t.group.Currency)
	if err != nil {
		return Reply{}, err
	}
	lines = append(lines, b.priceSaid(t.voice, t.group, rules, last))
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

func (b *Bot) costLine(t turn, p store.Purchase) string {
	name := t.nameOf(p.Key.Series, p.Key.Piece)
	if p.Quantity > 1 {
		name += fmt.Sprintf(" x%d", p.Quantity)
	}
	at := t.date(t.group, p.At)
	metal := t.metalOf(p.Key)
	even, ok := t.evenAt(p.Price, metal)
	if !ok {
		return t.Say(costUnknown, "piece", name, "paid", t.inMoney(p.Price), "at", at)
	}
	if p.Spot == nil {
		return t.Say(costNoSpot, "piece", name, "paid", t.inMoney(p.Price), "at", at, "even", even)
	}
	value, err1 := melt.Value(metal, *p.Spot, p.Currency)
	above, err2 := melt.PremiumOf(p.Price, metal, *p.Spot, p.Currency)
	if err1 != nil || err2 != nil {
		return t.Say(costUnknown, "piece", name, "paid", t.inMoney(p.Price), "at", at)
	}
	said := costLine
	if above.Money < 0 {
		said = costUnder
	}
	return t.Say(said, "piece", name, "paid", t.inMoney(p.Price), "at", at, "melt", t.inMoney(value), "spot", price(*p.Spot),
		"premium", t.inMoney(max(above.Money, -above.Money)), "percent", above.PercentString(), "even", even)
}

// evenAt is the price of a troy ounce at which the metal is worth an amount.
func (t turn) evenAt(amount melt.Minor, m melt.Metal) (string, bool) {
	digits, ok := t.group.Currency.Digits()
	if !ok || !m.Known() || m.FineOunces().Sign() <= 0 || amount <= 0 {
		return "", false
	}
	perMajor := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil)
	major := new(big.Rat).SetFrac(big.NewInt(int64(amount)), perMajor)
	even, err := melt.PriceOf(major.Quo(major, m.FineOunces()))
	if err != nil {
		return "", false
	}
	return even.Rat().FloatString(2) + " " + string(t.group.Currency), true
}

// year tells what silver cost in the year of a piece, beside now.
func (b *Bot) year(ctx context.Context, t turn) (Reply, error) {
	_, picks, err := b.lookUp(ctx, t, series.ForWants)
	if err != nil {
		return Reply{}, err
	}
	rules, last, err := b.rulesAndLast(ctx, t.group, t.group.Currency)
	if err != nil {
		return Reply{}, err
	}
	var lines []string
	seen := map[string]bool{}
	for _, p := range picks {
		for _, code := range p.Pieces {
			if id := p.Series + "/" + code; !seen[id] && len(lines) < 8 {
				seen[id] = true
				lines = append(lines, t.yearLine(p.Series, code, last))
			}
		}
	}
	lines = append(lines, t.Say(yearFrom, "source", melt.YearSource))
	if last != nil {
		lines = append(lines, b.priceSaid(t.voice, t.group, rules, last))
	}
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

func (t turn) yearLine(code, piece string, last *store.Spot) string {
	one, _ := t.catalogue.Series(code)
	p, _ := one.Piece(piece)
	name := t.nameOf(code, piece)
	if p.Year == 0 {
		return t.Say(yearUndated, "piece", name)
	}
	then, ok := melt.YearPrice(p.Year)
	metal := one.MetalOf(p)
	value, err := melt.Value(metal, max(then, 1), "USD")
	if !ok || err != nil {
		return t.Say(yearNoPrice, "piece", name, "year", p.Year)
	}
	said := t.Say(yearWas, "piece", name, "year", p.Year, "price", then, "melt", melt.Currency("USD").Format(value))
	if last == nil {
		return said
	}
	if now, err := melt.Value(metal, last.Price, last.Currency); err == nil {
		said += " " + t.Say(yearNow, "price", price(last.Price), "currency", last.Currency, "melt", t.inMoney(now))
	}
	return said
}

// premiums lists what pieces fetched above melt in the group.
func (b *Bot) premiums(ctx context.Context, t turn) (Reply, error) {
	only, err := t.onlySeries()
	if err != nil {
		return Reply{}, err
	}
	all, err := b.store.ObservedPremiums(ctx, t.group)
	if err != nil {
		return Reply{}, err
	}
	lines := []string{t.Say(seenHead)}
	for _, o := range all {
		if only == "" || o.Series == only {
			lines = append(lines, t.Say(seenLine, "piece", t.nameOf(o.Series, o.Piece), "median", t.signed(o.Median), "low", t.signed(o.Low),
				"high", t.signed(o.High), "n", o.Count, "age", t.age(b.now().Sub(o.Newest))))
		}
	}
	if len(lines) == 1 {
		return Reply{Text: t.Say(seenNone, "n", store.LeastObserved, "days", store.ObservedDays)}, nil
	}
	return Reply{Text: strings.Join(append(lines, t.Say(seenUse)), "\n")}, nil
}
