package bot

import (
	"context"
	"errors"
	"math"
	"strings"

	"spareounce/match/trade"
	"spareounce/store"
)

// problems lists, for a keeper, the agreed trades that are stuck: who waits for whom, and no address or tracking.
func (b *Bot) problems(ctx context.Context, t turn) (Reply, error) {
	stuck, err := b.store.Stuck(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	if len(stuck) == 0 {
		return Reply{Text: t.Say(noProblems)}, nil
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	lines := []string{t.Say(problemsHead)}
	var reply Reply
	for _, one := range stuck {
		v := b.view(t, one, names)
		var who []string
		for _, p := range one.Parties {
			who = append(who, v.names[p.Member])
		}
		lines = append(lines, t.Say(problemLine, "n", one.Number, "names", t.And(who), "age", t.age(b.now().Sub(one.ProposedAt))))
		lines = append(lines, v.record()...)
		switch own := one.Has(v.me) || one.Middle == v.me; {
		case own:
			lines = append(lines, t.Say(problemOwn))
		case len(reply.Buttons) < 10:
			reply.Buttons = append(reply.Buttons, Button{t.Say(pressTrade, "n", one.Number), "trade " + number(one.Number)},
				Button{t.Say(pressEndTrade, "n", one.Number), "break " + number(one.Number)})
		}
	}
	reply.Text = strings.Join(lines, "\n")
	return reply, nil
}

// breakTrade ends an agreed trade that cannot be saved. A keeper who has a part in it is refused.
func (b *Bot) breakTrade(ctx context.Context, t turn) (Reply, error) {
	n, _, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	one, err := b.store.MoveTrade(ctx, t.speaker, n, trade.Break{By: t.speaker.Identity()})
	if refusal, ok := errors.AsType[*trade.Refusal](err); ok && refusal.Why == trade.OwnCase {
		return b.ownCase(ctx, t, n)
	}
	if err != nil {
		return Reply{}, refuseTrade(err, n, b.view(t, one, nil))
	}
	return Reply{Text: t.Say(breakDone, "n", n), About: "trade " + number(n)}, nil
}

// ownCase says who can judge a trade that the speaker has a part in.
func (b *Bot) ownCase(ctx context.Context, t turn, n int64) (Reply, error) {
	v, err := b.viewNumber(ctx, t, n)
	if err != nil {
		return Reply{}, err
	}
	all, err := b.store.Members(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	var others []string
	for _, m := range all {
		if m.Keeper && !m.Gone && !v.trade.Has(m.Identity()) && m.Identity() != v.trade.Middle {
			others = append(others, m.Name)
		}
	}
	who := t.Say(noOtherKeeper)
	if len(others) > 0 {
		who = t.Say(otherKeepers, "names", t.Or(others))
	}
	return Reply{}, sentence(t.Say(refusedOwnCase, "n", n, "who", who))
}

// order sets who sends first: "order together", "order newer first", "order middle Bo".
func (b *Bot) order(ctx context.Context, t turn) (Reply, error) {
	g := t.group
	rule := t.Say(orderTogether)
	if name, ok := cutWord(t.rest, string(store.InMiddle)); ok && name != "" {
		all, err := b.store.Members(ctx, g.ID)
		if err != nil {
			return Reply{}, err
		}
		m, err := memberNamed(t.voice, all, name)
		if err != nil {
			return Reply{}, err
		}
		g.Sending, g.Middle, rule = store.InMiddle, &m.ID, t.Say(orderMiddle, "name", m.Name)
		return Reply{Text: t.Say(orderNow, "rule", rule)}, b.store.SaveGroup(ctx, g)
	}
	switch store.Sending(strings.ToLower(t.rest)) {
	case store.Together:
		g.Sending, g.Middle = store.Together, nil
	case store.NewerFirst:
		g.Sending, g.Middle, rule = store.NewerFirst, nil, t.Say(orderNewer)
	default:
		return Reply{}, sentence(t.Say(orderHow))
	}
	return Reply{Text: t.Say(orderNow, "rule", rule)}, b.store.SaveGroup(ctx, g)
}

// standing says what a member's trades say of them: the one named, or the speaker.
func (b *Bot) standing(ctx context.Context, t turn) (Reply, error) {
	whose := t.speaker
	if t.rest != "" {
		all, err := b.store.Members(ctx, t.group.ID)
		if err != nil {
			return Reply{}, err
		}
		if whose, err = memberNamed(t.voice, all, t.rest); err != nil {
			return Reply{}, err
		}
	}
	s, err := b.store.StandingOf(ctx, whose)
	if err != nil {
		return Reply{}, err
	}
	said := standingIs
	switch {
	case s.Completed == 0 && s.Sent == 0:
		said = standingNone
	case s.Completed == 1:
		said = standingOne
	}
	lines := []string{t.Say(said, "name", whose.Name, "n", s.Completed, "ontime", s.OnTime, "sent", s.Sent,
		"since", t.date(t.group, s.Since))}
	if s.Sent > 0 {
		share := trade.OnTime(s.OnTime, s.Sent)
		lines = append(lines, t.Say(standingRange, "low", math.Round(100*share.Low), "high", math.Round(100*share.High)))
	}
	lines = append(lines, t.Say(standingRules, "days", int(trade.Within(trade.ToSend).Hours()/24)))
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// history says what happened to a trade, and how its terms changed.
func (b *Bot) history(ctx context.Context, t turn) (Reply, error) {
	n, _, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	one, deeds, err := b.store.Deeds(ctx, t.speaker, n)
	if err != nil {
		return Reply{}, refuseTrade(err, n, view{})
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	v := b.view(t, one, names)
	lines := []string{t.Say(historyHead, "n", n)}
	for _, d := range deeds {
		lines = append(lines, v.deed(d))
	}
	if len(lines) > 45 {
		lines = append(lines[:1], lines[len(lines)-44:]...)
	}
	return Reply{Text: strings.Join(lines, "\n"), About: v.about()}, nil
}

// deed is one line of a trade's history. A yes to a proposal is its member's own business until all have said it.
func (v view) deed(d store.Deed) string {
	at, name := v.when(v.group, d.At), v.name(d.By)
	what, known := deedWords[d.What]
	if !known {
		what = phrase(strings.ToLower(d.What))
	}
	switch {
	case d.By == "" && d.What == "Propose":
		name, what = "", historyMatcher
	case d.By == "":
		name = v.Say(historyClock)
	case d.By != v.me && (d.What == "Accept" || d.What == "TakeBack") && !v.wasAgreed():
		name = v.Say(someone)
	}
	if name == "" {
		name = v.Say(historyBot)
	}
	if len(d.Items) == 0 {
		return v.Say(historyLine, "at", at, "name", name, "what", v.Say(what))
	}
	old := v
	old.trade.Items, old.trade.TopUps = d.Items, d.TopUps
	var terms []string
	for _, p := range v.trade.Parties {
		if list := old.pieces(func(item trade.Item) bool { return item.From == p.Member }); list != "" {
			terms = append(terms, v.Say(historyGives, "from", v.name(p.Member), "list", list))
		}
	}
	for _, pay := range d.TopUps {
		terms = append(terms, v.Say(historyPays, "from", v.name(pay.From), "amount", v.money(pay.Amount)))
	}
	return v.Say(historyTerms, "at", at, "name", name, "what", v.Say(what), "version", d.Version, "terms", strings.Join(terms, ", "))
}
