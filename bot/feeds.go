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

// feed lists the sources of the price, adds one that answers, or takes one away: "feed drop 1".
func (b *Bot) feed(ctx context.Context, t turn) (Reply, error) {
	all, err := b.store.Sources(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	rules, err := b.store.PriceRules(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	word, value, _ := strings.Cut(t.rest, " ")
	switch {
	case t.rest == "":
		return b.feedsSaid(t.voice, all, rules), nil
	case strings.EqualFold(word, "drop"):
		n, err := strconv.Atoi(strings.TrimSpace(value))
		if err != nil || n < 1 || n > len(all) {
			return Reply{}, sentence(t.Say(feedNoSuch, "word", strings.TrimSpace(value)))
		}
		return Reply{Text: t.Say(feedDropped, "n", n)}, b.store.DropSource(ctx, t.group.ID, all[n-1].ID)
	}
	return b.addFeed(ctx, t, rules, len(all)+1)
}

// addFeed tries a source and adds it when it has a price, so that nobody waits an hour to learn of a slip.
func (b *Bot) addFeed(ctx context.Context, t turn, rules store.PriceRules, n int) (Reply, error) {
	feed, err := spot.ParseFeed(t.rest, t.group.Currency)
	if r, ok := errors.AsType[*spot.Refusal](err); ok {
		return Reply{}, pointed{r.Col, r.Word, explain(t.voice, r)}
	}
	last, err := b.store.SpotBefore(ctx, t.group.ID, feed.Currency, b.now())
	if err != nil {
		return Reply{}, err
	}
	reading := b.ask(ctx, t.voice, feed, rules, store.Source{}, last)
	if reading.Spot == nil && reading.Held == nil {
		return Reply{}, sentence(t.Say(feedRefused, "why", reading.Why))
	}
	err = b.store.AddSource(ctx, t.group.ID, feed.String(), feed.Currency, reading)
	if errors.Is(err, store.ErrSourceKnown) {
		return Reply{}, sentence(t.Say(feedKnown))
	}
	if err != nil {
		return Reply{}, err
	}
	if reading.Held != nil {
		return Reply{Text: t.Say(feedAddHeld, "n", n, "why", reading.Why), Buttons: yesTo(t.voice, reading.Held.Price)}, nil
	}
	s := reading.Spot
	said := t.Say(feedAdded, "price", price(s.Price), "currency", s.Currency, "at", t.when(t.group, s.At), "n", n, "every", t.each(rules.Every))
	if s.Currency != t.group.Currency {
		said += " " + t.Say(feedOther, "currency", t.group.Currency)
	}
	return Reply{Text: said}, nil
}

func yesTo(in voice, p melt.Price) []Button {
	return []Button{{in.Say(spotYes, "price", price(p)), "spot confirm"}}
}

// feedsSaid lists sources with what came of asking them.
func (b *Bot) feedsSaid(in voice, all []store.Source, rules store.PriceRules) Reply {
	if len(all) == 0 {
		return Reply{Text: in.Say(noFeeds)}
	}
	var lines []string
	var reply Reply
	for i, src := range all {
		state := in.Say(feedWaiting)
		switch {
		case src.Held != nil:
			state = in.Say(feedHeld, "price", price(*src.Held), "currency", src.Currency, "why", src.Why)
			reply.Buttons = yesTo(in, *src.Held)
		case src.Why != "":
			state = in.Say(feedBad, "why", src.Why)
		case src.Price != nil && src.ReadAt != nil:
			state = in.Say(feedGood, "price", price(*src.Price), "currency", src.Currency, "age", in.age(b.now().Sub(*src.ReadAt)))
		}
		lines = append(lines, in.Say(feedLine, "n", i+1, "feed", src.Feed, "state", state))
	}
	lines = append(lines, in.Say(feedsOrder, "every", in.each(rules.Every)))
	reply.Text = strings.Join(lines, "\n")
	return reply
}

// Read asks a source for its price. It is the store's Duties.
func (b *Bot) Read(ctx context.Context, g store.Group, rules store.PriceRules, src store.Source, last *store.Spot) (store.Reading, error) {
	in := voiceFor(g.Language)
	feed, err := spot.ParseFeed(src.Feed, src.Currency)
	if r, ok := errors.AsType[*spot.Refusal](err); ok {
		return store.Reading{Why: explain(in, r)}, nil // a description of an older version of ours
	}
	r := b.ask(ctx, in, feed, rules, src, last)
	if r.Why != "" {
		b.log.InfoContext(ctx, "no good price from a source", "group", g.ID, "source", src.ID, "why", r.Why)
	}
	return r, nil
}

// ask asks a feed and judges its answer.
func (b *Bot) ask(ctx context.Context, in voice, feed spot.Feed, rules store.PriceRules, src store.Source, last *store.Spot) store.Reading {
	answer, err := b.feeds.Fetch(ctx, feed, spot.Seen{ETag: src.ETag, Modified: src.Modified})
	reading := store.Reading{ETag: answer.Seen.ETag, Modified: answer.Seen.Modified, Wait: answer.Wait}
	var q spot.Quote
	switch {
	case err != nil:
	case answer.Unchanged && feed.Time == nil && !feed.List && src.Price != nil:
		q = spot.Quote{Price: *src.Price, Currency: feed.Currency} // it still says what it said
	case answer.Unchanged && last != nil && !rules.Stale(last.At, b.now()):
		reading.Unchanged = true // what it says has a time, and that is in the history
		return reading
	case answer.Unchanged:
		old := rules.StaleAfter
		if last != nil {
			old = b.now().Sub(last.At)
		}
		return store.Reading{Why: in.Say(whyStalePrice, "detail", in.age(old))}
	default:
		q, err = feed.Read(answer.Body)
	}
	if err == nil {
		q, err = guard(rules).Check(q, b.now(), quoted(last))
	}
	r, _ := errors.AsType[*spot.Refusal](err)
	found := &store.Spot{At: q.At.UTC(), Currency: feed.Currency, Price: q.Price, Source: nameOf(in, feed)}
	switch {
	case err == nil:
		reading.Spot = found
	case r != nil && r.Why == spot.Jump:
		reading.Held, reading.Why = found, explain(in, r)
	case r != nil:
		reading.Why = explain(in, r)
	default:
		reading.Why = in.Say(whyUnreachable, "detail", feed.Host())
	}
	return reading
}

// nameOf is what a feed is called beside its prices.
func nameOf(in voice, feed spot.Feed) string {
	if feed.Time == nil && !feed.List {
		return in.Say(feedUndated, "host", feed.Host())
	}
	return feed.Host()
}

func sourceName(in voice, src store.Source) string {
	feed, err := spot.ParseFeed(src.Feed, src.Currency)
	if err != nil {
		return src.Feed
	}
	return nameOf(in, feed)
}

// explain words a refusal.
func explain(in voice, r *spot.Refusal) string {
	said := map[spot.Why]phrase{
		spot.NoAddress: whyNoAddress, spot.NoPointer: whyNoPointer, spot.NoPrice: whyNoPrice, spot.UnknownWord: whyUnknownWord,
		spot.MissingAfter: whyMissingAfter, spot.BadUnit: whyBadUnit, spot.BadCurrency: currencyUnknown, spot.BadScale: whyBadScale,
		spot.BadKey: whyBadKey, spot.KeyElsewhere: whyKeyElsewhere, spot.Unreachable: whyUnreachable, spot.NotPublic: whyNotPublic,
		spot.BadStatus: whyBadStatus, spot.TooLarge: whyTooLarge, spot.NotJSON: whyNotJSON, spot.NothingThere: whyNothingThere,
		spot.NoNumber: whyNoNumber, spot.NotTheSameBack: whyNotTheSameBack, spot.NoTime: whyNoTime, spot.NoRows: whyNoRows,
		spot.BadRow: whyBadRow, spot.TwicePriced: whyTwicePriced, spot.NotPositive: whyNotPositive, spot.OutsideBand: whyOutsideBand,
		spot.Stale: whyStalePrice, spot.FromTheFuture: whyFromTheFuture, spot.Jump: whyJump, spot.UnknownCurrency: whyUnknownCurrency,
	}[r.Why]
	detail := r.Detail
	if old, err := time.ParseDuration(detail); r.Why == spot.Stale && err == nil {
		detail = in.age(old)
	}
	return in.Say(said, "word", r.Word, "price", price(r.Price), "detail", detail)
}

// past keeps earlier prices that a keeper pastes below "prices past".
func (b *Bot) past(ctx context.Context, t turn, pasted string) (Reply, error) {
	if pasted = strings.TrimSpace(pasted); pasted == "" {
		return Reply{Text: t.Say(pastHow, "currency", t.group.Currency)}, nil
	}
	all, err := spot.Typed(t.group.Currency).ReadList(pasted)
	if r, ok := errors.AsType[*spot.Refusal](err); ok {
		return Reply{}, sentence(t.Say(pastBad, "why", explain(t.voice, r)))
	}
	source := t.Say(pastFrom, "name", t.speaker.Name)
	spots := make([]store.Spot, len(all))
	for i, q := range all {
		spots[i] = store.Spot{At: q.At, Currency: q.Currency, Price: q.Price, Source: source}
	}
	newest := all[len(all)-1].At
	if newest.After(b.now()) {
		return Reply{}, sentence(t.Say(pastBad, "why", t.Say(pastAhead, "word", t.Date(newest))))
	}
	if err := b.store.SaveSpots(ctx, t.group.ID, spots...); err != nil {
		return Reply{}, err
	}
	return Reply{Text: t.Say(pastKept, "n", len(all), "from", t.Date(all[0].At), "to", t.Date(newest))}, nil
}
