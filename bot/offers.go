package bot

import (
	"context"
	"errors"
	"slices"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// stretch is a part of a line, by its bytes in the rest of it.
type stretch struct{ from, to int }

// readStretch reads the pieces of a part of the line as if they stood alone, and points into the whole line.
func (t turn) readStretch(s stretch, shelf *store.Shelf, fallback string) ([]store.Asked, string, error) {
	part := t
	part.rest, part.fallback = t.rest[s.from:s.to], fallback
	picks, err := part.read(series.ForHoldings, shelf)
	if bad, ok := errors.AsType[pointed](err); ok {
		bad.col += s.from
		return nil, "", bad
	}
	if question, ok := errors.AsType[asking](err); ok {
		for i, b := range question.Buttons {
			line := strings.TrimPrefix(b.Says, t.said+" ")
			question.Buttons[i].Says = strings.Join(strings.Fields(t.said+" "+t.rest[:s.from]+" "+line+" "+t.rest[s.to:]), " ")
		}
		return nil, "", question
	}
	if err != nil {
		return nil, "", err
	}
	var all []store.Asked
	for _, p := range picks {
		all = append(all, store.Asked{Key: store.HoldingKey{Series: p.Series, Piece: p.Pieces[0], Condition: p.about.condition}, Count: p.Quantity})
		fallback = p.Series
	}
	return all, fallback, nil
}

// side reads one side of an offer, "lantern 84, 85 plus 5" or "nothing": its pieces, and the money that goes with them.
func (t turn) side(s stretch, shelf *store.Shelf, fallback string) (pieces []store.Asked, money melt.Minor, code string, err error) {
	for _, plus := range []string{"plus", "+"} {
		if at := t.findWord(plus, s); at >= 0 {
			amount := strings.TrimSpace(t.rest[at+len(plus) : s.to])
			if money, err = t.amount(amount); err == nil && money == 0 {
				err = pointed{max(strings.Index(t.rest, amount), 0), amount, t.Say(amountUnread, "currency", t.group.Currency)}
			}
			if err != nil {
				return nil, 0, "", err
			}
			s.to = at
			break
		}
	}
	words := strings.ToLower(strings.TrimSpace(t.rest[s.from:s.to]))
	if words == t.Say(nothing) || words == "" && money > 0 {
		return nil, money, fallback, nil
	}
	pieces, code, err = t.readStretch(s, shelf, fallback)
	return pieces, money, code, err
}

// findWord finds a word that stands alone in a part of the line; -1 where there is none.
func (t turn) findWord(word string, s stretch) int {
	for i := s.from; i < s.to; {
		said, next := wordAt(t.rest, i)
		if next > s.to || said == "" {
			return -1
		}
		if strings.EqualFold(said, word) {
			return next - len(said)
		}
		i = next
	}
	return -1
}

// readOffer reads "lantern 84 for lantern 88 plus 5" from a place in the line on.
func (b *Bot) readOffer(ctx context.Context, t turn, from int) (o store.Offer, err error) {
	whole := stretch{from, len(t.rest)}
	middle := t.findWord("for", whole)
	if middle < 0 {
		return o, sentence(t.Say(offerHow, "example", t.line(t.verb.example)))
	}
	shelf, err := b.store.Shelf(ctx, t.speaker)
	if err != nil {
		return o, err
	}
	var code string
	if o.Give, o.Pays, code, err = t.side(stretch{from, middle}, shelf, ""); err != nil {
		return o, err
	}
	o.Get, o.Paid, _, err = t.side(stretch{middle + len("for"), len(t.rest)}, shelf, code)
	return o, err
}

// offer puts a trade to another member: "offer Bo lantern 84 for lantern 88 plus 5".
func (b *Bot) offer(ctx context.Context, t turn) (Reply, error) {
	all, err := b.store.Members(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	to, from, err := t.memberFirst(all)
	if err != nil {
		return Reply{}, err
	}
	o, err := b.readOffer(ctx, t, from)
	if err != nil {
		return Reply{}, err
	}
	o.To = to
	return b.putOffer(ctx, t, o)
}

// memberFirst finds the member whose name the line begins with, and where what follows begins. Names may have several words.
func (t turn) memberFirst(all []store.Member) (store.Member, int, error) {
	if t.rest == "" {
		return store.Member{}, 0, sentence(t.Say(offerHow, "example", t.line(t.verb.example)))
	}
	for _, m := range all {
		name := strings.TrimPrefix(t.rest, "@")
		if rest, ok := cutWord(name, m.Name); ok && strings.Contains(m.Name, " ") {
			return m, len(t.rest) - len(rest), nil
		}
	}
	word, next := wordAt(t.rest, 0)
	m, err := memberNamed(t.voice, all, word)
	return m, next, err
}

func (b *Bot) putOffer(ctx context.Context, t turn, o store.Offer) (Reply, error) {
	if o.To.ID == t.speaker.ID {
		return Reply{}, sentence(t.Say(offerSelf))
	}
	one, err := b.store.OfferTrade(ctx, t.group, t.speaker, o)
	if err != nil {
		return Reply{}, b.refuseOffer(t, o.To, err)
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	v := b.view(t, one, names)
	said := offerMade
	if one.Chain {
		said = giftOffered
	}
	return Reply{About: v.about(), Text: t.Say(said, "n", one.Number, "name", o.To.Name, "give", v.pieces(v.mine), "get", v.pieces(v.toMe),
		"deadline", t.when(t.group, one.Deadline)) + "\n" + v.balance() + " " + v.valuedAt()}, nil
}

// refuseOffer words why an offer or a counter-offer was not made.
func (b *Bot) refuseOffer(t turn, other store.Member, err error) error {
	if short, ok := errors.AsType[*store.NotSpareError](err); ok {
		said, name := notToSpare, other.Name
		if short.Member == t.speaker.ID {
			said = youCannotSpare
		}
		return sentence(t.Say(said, "name", name, "n", short.Spare, "piece", t.nameOf(short.Key.Series, short.Key.Piece)+conditionTail(short.Key.Condition)))
	}
	refusal, ok := errors.AsType[*trade.Refusal](err)
	if !ok {
		return err
	}
	said := map[trade.Why]phrase{
		trade.AlreadyDone: refusedOfferOpen, trade.EmptiesALeg: refusedOfferEmpty, trade.NoRing: refusedOfferEmpty, trade.NoTopUp: refusedNoTopUp,
	}[refusal.Why]
	if said == "" {
		return err
	}
	return sentence(t.Say(said))
}

// counter puts other pieces and other money to the other member of a swap: "counter 12 lantern 84 for lantern 88, 89 plus 3".
func (b *Bot) counter(ctx context.Context, t turn) (Reply, error) {
	n, version, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	v, err := b.viewNumber(ctx, t, n)
	if err != nil {
		return Reply{}, err
	}
	if len(v.trade.Parties) != 2 || v.trade.Chain || v.hidden() {
		return Reply{}, sentence(t.Say(onlySwaps, "n", n))
	}
	_, from := wordAt(t.rest, 0)
	o, err := b.readOffer(ctx, t, from)
	if err != nil {
		return Reply{}, err
	}
	one, err := b.store.CounterTrade(ctx, t.group, t.speaker, n, version, o)
	if _, ok := errors.AsType[*store.NotSpareError](err); ok {
		i := slices.IndexFunc(v.trade.Parties, func(p trade.Party) bool { return p.Member != v.me })
		return Reply{}, b.refuseOffer(t, store.Member{Name: v.name(v.trade.Parties[i].Member)}, err)
	}
	if err != nil {
		return Reply{}, refuseTrade(err, n, v)
	}
	v.trade = one
	return Reply{About: v.about(), Text: t.Say(youCountered, "n", n, "give", v.gives(), "get", v.gets()) + "\n" + v.balance()}, nil
}

// upgrade looks for a better example of a piece the speaker has; the old one becomes spare when that has come.
func (b *Bot) upgrade(ctx context.Context, t turn) (Reply, error) {
	_, after, picks, err := b.change(ctx, t, series.ForHoldings, func(shelf *store.Shelf, p pick) error {
		old, err := shelf.Upgrade(p.Series, p.Pieces[0])
		if err != nil {
			return err
		}
		least := max(p.about.condition, p.about.least)
		switch {
		case least == series.Unsaid:
			return sentence(t.Say(upgradeHow, "example", t.line(t.verb.example)))
		case old.Condition >= least:
			return sentence(t.Say(upgradeNoNeed, "old", old.Condition))
		}
		return shelf.Wish(upgradeKey(p), p.Pieces, 1, true, func(w *store.Want) {
			p.about.describeWant(w)
			w.Least, w.Replaces = least, &old.Condition
		})
	})
	if err != nil {
		return Reply{}, err
	}
	lines := make([]string, len(picks))
	for i, p := range picks {
		want := after.Wants[upgradeKey(p)]
		said, old := upgradeAny, series.Unsaid
		if want.Replaces != nil && *want.Replaces != series.Unsaid {
			said, old = upgradeNow, *want.Replaces
		}
		lines[i] = t.Say(said, "piece", t.nameOf(p.Series, p.Pieces[0]), "least", want.Least, "old", old)
	}
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// upgradeKey is what the want for a better example is known by.
func upgradeKey(p pick) store.WantKey { return store.WantKey{Series: p.Series, Wanted: p.Pieces[0]} }
