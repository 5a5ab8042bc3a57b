package bot

import (
	"context"
	"strings"

	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// Tell says notices to a member: matches together in one message, or one about a trade with its buttons. It is the
// store's Duties.
func (b *Bot) Tell(ctx context.Context, g store.Group, m store.Member, notices []store.Notice) error {
	catalogue, err := b.store.Catalogue(ctx, g)
	if err != nil {
		return err
	}
	names, err := b.store.MemberNames(ctx, g.ID)
	if err != nil {
		return err
	}
	if len(notices) == 0 {
		return nil
	}
	var reply Reply
	if n := notices[0]; n.Kind == store.SpareForYou || n.Kind == store.WantOfYours {
		reply = matchWords(g, catalogue, names, notices)
	} else if reply, err = b.tradeWords(ctx, g, catalogue, m, n, names); err != nil {
		return err
	} else {
		reply.About = "trade " + number(n.Body.Trade)
	}
	reply.Private = true
	reply.Key = "n" + number(notices[0].Message)
	return b.chat.Tell(ctx, g.Chat, m.Account, reply)
}

// matchWords gathers matches by the other member and by what they are about.
func matchWords(g store.Group, catalogue *series.Catalogue, names map[int64]string, notices []store.Notice) Reply {
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
		lines = append(lines, said.with("name", names[key.other], "list", strings.Join(lists, "; ")))
	}
	return Reply{Text: strings.Join(lines, "\n")}
}

// tradeWords says what happened to a trade. A proposal that has moved on since the notice was born is told as it stands.
func (b *Bot) tradeWords(ctx context.Context, g store.Group, catalogue *series.Catalogue, m store.Member, n store.Notice, names map[int64]string) (Reply, error) {
	one, err := b.store.TradeOf(ctx, m, n.Body.Trade)
	if err != nil {
		return Reply{}, err
	}
	v := b.viewOf(g, catalogue, m, one, names)
	other := names[n.Body.Other]
	switch {
	case n.Kind == store.TradeAsked && one.State == trade.Proposed:
		return v.proposal(), nil
	case n.Kind == store.TradeAsks && one.State == trade.Proposed:
		reply := v.whole()
		reply.Text = termsChanged.with("name", other, "n", one.Number) + "\n" + reply.Text
		return reply, nil
	case n.Kind == store.PieceSent:
		return Reply{Text: sentToYou.with("name", other, "n", one.Number, "list", v.pieces(v.toMe)), Buttons: v.buttons()}, nil
	case n.Body.State == trade.Agreed.String():
		return v.brief(), nil
	case n.Body.State == trade.Closed.String():
		return Reply{Text: tradeClosed.with("n", one.Number)}, nil
	case n.Body.State == trade.Ended.String():
		return Reply{Text: tradeEnded.with("n", one.Number, "list", v.pieces(v.mine), "why", v.endedBy(other))}, nil
	}
	return Reply{Text: tradeNow.with("n", one.Number, "state", v.standing())}, nil
}

// proposal is the first a party hears of a trade: what it does for whom, then all of it.
func (v view) proposal() Reply {
	reply := v.whole()
	reply.Text = v.reason() + "\n" + reply.Text
	return reply
}

// reason says whose gaps the trade fills: "Fills your harbour 87; Bo gets harbour ND."
func (v view) reason() string {
	parts := []string{youGiveAGift.with()}
	if mine := v.pieces(v.toMe); mine != "" {
		parts[0] = fillsYours.with("list", mine)
	}
	for _, p := range v.trade.Parties {
		if p.Member == v.me {
			continue
		}
		list := v.pieces(func(item trade.Item) bool { return item.To == p.Member })
		if list != "" {
			parts = append(parts, fillsTheirs.with("name", v.name(p.Member), "list", list))
		}
	}
	return strings.Join(parts, " ")
}

// brief is what a party of an agreed trade must know: what to send to whom, what comes from whom, and the cautions.
func (v view) brief() Reply {
	lines := []string{tradeAgreed.with("n", v.trade.Number), tradeYouGive.with("list", v.gives()), tradeYouGet.with("list", v.gets()), v.balance()}
	lines = append(lines, agreedHow.with())
	return Reply{Text: strings.Join(lines, "\n"), Buttons: v.buttons()}
}

// endedBy says why a trade is over and, where that matters, by whom.
func (v view) endedBy(other string) string {
	if v.trade.Ending == trade.Declined || v.trade.Ending == trade.Withdrawn || v.trade.Ending == trade.Broken {
		return v.ended() + " (" + other + ")"
	}
	return v.ended()
}
