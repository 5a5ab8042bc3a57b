package bot

import (
	"context"
	"errors"
	"slices"
	"strings"

	"spareounce/match"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// Tell says notices to a member: matches together in one message, or one about a trade with its buttons. It is the
// store's Duties.
func (b *Bot) Tell(ctx context.Context, g store.Group, m store.Member, notices []store.Notice) error {
	if len(notices) == 0 {
		return nil
	}
	in := voiceFor(m.Language())
	catalogue, err := b.store.Catalogue(ctx, g)
	if err != nil {
		return err
	}
	names, err := b.store.MemberNames(ctx, g.ID)
	if err != nil {
		return err
	}
	reply, err := b.noticeWords(ctx, in, g, catalogue, m, notices, names)
	if err != nil {
		return err
	}
	reply = in.spoken(reply)
	reply.Private = true
	reply.Key = "n" + number(notices[0].Message)
	return b.chat.Tell(ctx, g.Chat, m.Account, reply)
}

// noticeWords words what is told in one message.
func (b *Bot) noticeWords(ctx context.Context, in voice, g store.Group, catalogue *series.Catalogue, m store.Member, notices []store.Notice, names map[int64]string) (Reply, error) {
	n := notices[0]
	switch n.Kind {
	case store.SpareForYou, store.WantOfYours:
		return matchWords(in, g, catalogue, names, notices), nil
	case store.WeWereAway:
		return Reply{Text: in.Say(weWereAway, "from", in.when(g, *n.Body.Since), "to", in.when(g, n.Born))}, nil
	case store.PlaceLacks:
		return placeLacks(in, n), nil
	case store.RoundCleared, store.RoundNothing:
		return b.tellRound(ctx, in, g, n)
	}
	reply, err := b.tradeWords(ctx, in, g, catalogue, m, n, names)
	if errors.Is(err, store.ErrNoTrade) { // a keeper was called, and by now it is nobody else's business
		return Reply{Text: in.Say(settledSince, "n", n.Body.Trade)}, nil
	}
	reply.About = "trade " + number(n.Body.Trade)
	return reply, err
}

// matchWords gathers matches by the other member and by what they are about.
func matchWords(in voice, g store.Group, catalogue *series.Catalogue, names map[int64]string, notices []store.Notice) Reply {
	type about struct {
		kind  store.NoticeKind
		other int64
	}
	var order []about
	pieces := map[about]map[string]map[string]int{}
	for _, n := range notices {
		key := about{n.Kind, n.Body.Other}
		if pieces[key] == nil {
			order = append(order, key)
			pieces[key] = map[string]map[string]int{}
		}
		if pieces[key][n.Body.Series] == nil {
			pieces[key][n.Body.Series] = map[string]int{}
		}
		pieces[key][n.Body.Series][n.Body.Piece] = 1
	}
	var lines []string
	for _, key := range order {
		var lists []string
		for _, one := range catalogue.All() {
			if counts := pieces[key][one.Code]; len(counts) > 0 {
				lists = append(lists, one.Code+" "+one.Shorthand(counts))
			}
		}
		said := spareForYou
		if key.kind == store.WantOfYours {
			said = wantOfYours
		}
		lines = append(lines, in.Say(said, "name", names[key.other], "list", strings.Join(lists, "; ")))
	}
	return Reply{Text: strings.Join(lines, "\n")}
}

// tradeWords says what happened to a trade. A proposal that has moved on since the notice was born is told as it stands.
func (b *Bot) tradeWords(ctx context.Context, in voice, g store.Group, catalogue *series.Catalogue, m store.Member, n store.Notice, names map[int64]string) (Reply, error) {
	one, err := b.store.TradeOf(ctx, m, n.Body.Trade)
	if err != nil {
		return Reply{}, err
	}
	v := b.viewOf(g, catalogue, m, one, names)
	other := names[n.Body.Other]
	switch {
	case n.Kind == store.TradeAsked && one.State == trade.Proposed:
		return v.proposal(other), nil
	case n.Kind == store.TradeAsks && one.State == trade.Proposed:
		reply := v.whole()
		reply.Text = in.Say(termsChanged, "name", other, "n", one.Number) + "\n" + reply.Text
		return reply, nil
	case n.Kind == store.PieceSent:
		return v.sentWords(aboutWhom(n)), nil
	case n.Kind == store.TradeDeed:
		return v.told(n.Body.What, aboutWhom(n)), nil
	case n.Body.State == trade.Agreed.String():
		return v.brief(), nil
	case n.Body.State == trade.Closed.String():
		return Reply{Text: in.Say(tradeClosed, "n", one.Number)}, nil
	case n.Body.State == trade.Ended.String():
		return v.endWords(other), nil
	}
	return Reply{Text: in.Say(tradeNow, "n", one.Number, "state", v.standing())}, nil
}

// aboutWhom is the member a notice is about, "" for nobody.
func aboutWhom(n store.Notice) match.Member {
	if n.Body.Other == 0 {
		return ""
	}
	return store.Member{ID: n.Body.Other}.Identity()
}

// proposal is the first a party hears of a trade: who offers it or what it does for whom, then all of it.
func (v view) proposal(by string) Reply {
	reply := v.whole()
	why := v.reason()
	switch {
	case v.hidden():
		why = v.Say(quietProposal)
	case by != "" && v.trade.Chain:
		why = v.Say(giftOfferedBy, "name", by)
	case by != "":
		why = v.Say(offeredBy, "name", by)
	}
	reply.Text = why + "\n" + reply.Text
	return reply
}

// sentWords say that something is on its way: to who gets it, or to who stands in the middle.
func (v view) sentWords(by match.Member) Reply {
	said, list := sentToYou, v.pieces(v.toMe)
	if v.me == v.trade.Middle {
		said, list = toTheMiddle, v.pieces(func(item trade.Item) bool { return item.From == by })
	}
	reply := Reply{Text: v.Say(said, "name", v.name(by), "n", v.trade.Number, "list", list), Buttons: v.buttons()}
	if tracking := v.trade.Parcels[by].Tracking; tracking != "" {
		reply.Text += " " + v.Say(followIt, "tracking", tracking)
	}
	return reply
}

// endWords say that a trade is over without effect: why, and of one that was agreed who had done what.
func (v view) endWords(other string) Reply {
	why := v.endedBy(other)
	if !v.wasAgreed() || !v.underWay() {
		said := v.Say(tradeEnded, "n", v.trade.Number, "why", why)
		if mine := v.pieces(v.mine); mine != "" {
			said += " " + v.Say(youKeep, "list", mine)
		}
		return Reply{Text: said}
	}
	lines := append([]string{v.Say(tradeEnded, "n", v.trade.Number, "why", why), v.Say(whoDidWhat)}, v.record()...)
	if me := v.party(v.me); me.Shipped && me.Stage != trade.Done {
		lines = append(lines, v.Say(onTheWayStill))
	}
	return Reply{Text: strings.Join(lines, "\n")}
}

// underWay reports whether anything was sent or paid.
func (v view) underWay() bool {
	return slices.ContainsFunc(v.trade.Parties, func(p trade.Party) bool { return p.Shipped }) ||
		slices.ContainsFunc(v.trade.TopUps, func(pay trade.TopUp) bool { return pay.Paid })
}

// reason says whose gaps the trade fills: "Fills your harbour 87; Bo gets harbour ND."
func (v view) reason() string {
	parts := []string{v.Say(youGiveAGift)}
	if mine := v.pieces(v.toMe); mine != "" {
		parts[0] = v.Say(fillsYours, "list", mine)
	}
	for _, p := range v.trade.Parties {
		if p.Member == v.me {
			continue
		}
		list := v.pieces(func(item trade.Item) bool { return item.To == p.Member })
		if list != "" {
			parts = append(parts, v.Say(fillsTheirs, "name", v.name(p.Member), "list", list))
		}
	}
	return strings.Join(parts, " ")
}

// endedBy says why a trade is over and, where that matters, by whom.
func (v view) endedBy(other string) string {
	if other != "" && v.trade.Ending != trade.Lapsed && v.trade.Ending != trade.Overtaken {
		return v.ended() + " (" + other + ")"
	}
	return v.ended()
}
