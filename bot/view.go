package bot

import (
	"slices"
	"strings"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
)

// view is a trade as one of its parties sees it.
type view struct {
	voice
	bot       *Bot
	group     store.Group
	catalogue *series.Catalogue
	me        match.Member
	trade     store.Trade
	names     map[match.Member]string
}

func (b *Bot) view(t turn, one store.Trade, names map[int64]string) view {
	return b.viewOf(t.group, t.catalogue, t.speaker, one, names)
}

func (b *Bot) viewOf(g store.Group, catalogue *series.Catalogue, me store.Member, one store.Trade, names map[int64]string) view {
	v := view{voice: voiceFor(me.Language()), bot: b, group: g, catalogue: catalogue, me: me.Identity(), trade: one, names: map[match.Member]string{}}
	for id, name := range names {
		v.names[store.Member{ID: id}.Identity()] = name
	}
	return v
}

// name is what the viewer calls a party.
func (v view) name(m match.Member) string {
	switch {
	case m == v.me:
		return v.Say(you)
	case v.hidden():
		return v.Say(someone)
	}
	return v.names[m]
}

// hidden is true of a silent trade to which not all have said yes: nobody in it is named to the others.
func (v view) hidden() bool {
	return v.trade.Silent && slices.ContainsFunc(v.trade.Parties, func(p trade.Party) bool { return !p.Accepted })
}

// pieces lists the items that fit, in the shorthand: "harbour 85, 87; lantern ND bright".
func (v view) pieces(fits func(trade.Item) bool) string {
	said := &store.Shelf{Holdings: map[store.HoldingKey]store.Holding{}}
	for _, item := range v.trade.Items {
		if fits(item) {
			key := store.ReadPieceID(item.Piece)
			h := said.Holdings[key]
			h.Quantity, h.Spare = h.Quantity+1, h.Spare+1
			said.Holdings[key] = h
		}
	}
	t := turn{voice: v.voice, group: v.group, catalogue: v.catalogue}
	return t.everySeries(func(one series.Series) string { return t.sparesOf(said, one) })
}

func (v view) mine(item trade.Item) bool { return item.From == v.me }
func (v view) toMe(item trade.Item) bool { return item.To == v.me }

// gives and gets say what the viewer gives to whom and gets from whom.
func (v view) gives() string {
	for _, item := range v.trade.Items {
		if v.mine(item) {
			return v.Say(givesTo, "list", v.pieces(v.mine), "name", v.name(item.To))
		}
	}
	return v.Say(nothing)
}

func (v view) gets() string {
	for _, item := range v.trade.Items {
		if v.toMe(item) {
			return v.Say(getsFrom, "list", v.pieces(v.toMe), "name", v.name(item.From))
		}
	}
	return v.Say(nothing)
}

func (v view) value(fits func(trade.Item) bool) (sum melt.Minor) {
	for _, item := range v.trade.Items {
		if fits(item) {
			sum += item.Value
		}
	}
	return sum
}

// standing says where the trade is and what it waits for.
func (v view) standing() string {
	switch v.trade.State {
	case trade.Proposed:
		accepted := 0
		mine := false
		for _, p := range v.trade.Parties {
			if p.Accepted {
				accepted++
				mine = mine || p.Member == v.me
			}
		}
		if v.trade.Waits() {
			return v.Say(waitsForRound)
		}
		return v.Say(v.waiting(mine), "n", accepted, "of", len(v.trade.Parties), "deadline", v.when(v.group, v.trade.Deadline))
	case trade.Agreed:
		return v.Say(onItsWay)
	case trade.Closed:
		return v.Say(allArrived)
	}
	return v.ended()
}

// waiting says whose answer a proposal waits for. Where the number of yeses would give away whose they are, it is not said.
func (v view) waiting(mine bool) phrase {
	switch uncounted := len(v.trade.Parties) == 2 || v.trade.Silent; {
	case uncounted && mine:
		return waitingForOther
	case uncounted:
		return waitingForAnswer
	case mine:
		return waitingForOthers
	}
	return waitingForYou
}

// ended says why a trade is over.
func (v view) ended() string {
	return v.Say(map[trade.Ending]phrase{
		trade.Declined: endedDeclined, trade.Lapsed: endedLapsed, trade.Overtaken: endedOvertaken,
		trade.Withdrawn: endedWithdrawn, trade.Broken: endedBroken, trade.Unfinished: endedUnfinished,
		trade.CalledOff: endedCalledOff,
	}[v.trade.Ending])
}

// whole is everything the viewer should see before they answer, with the buttons that fit.
func (v view) whole() Reply {
	lines := []string{v.Say(tradeHead, "n", v.trade.Number, "shape", v.shape(), "state", v.standing())}
	if v.trade.Has(v.me) {
		lines = append(lines, v.Say(tradeYouGive, "list", v.gives()), v.Say(tradeYouGet, "list", v.gets()))
	}
	if v.wasAgreed() {
		lines = append(lines, v.record()...)
	} else if others := v.others(); others != "" {
		lines = append(lines, others)
	}
	if v.trade.Has(v.me) {
		lines = append(lines, v.balance())
	}
	lines = append(append(append(lines, v.valuedAt()), v.found()...), v.speaks()...)
	return Reply{Private: true, Text: strings.Join(lines, "\n"), About: v.about(), Buttons: v.buttons()}
}

// about is the line that shows the trade.
func (v view) about() string { return "trade " + number(v.trade.Number) }

// shape names a swap, a ring or a chain.
func (v view) shape() string {
	switch {
	case v.trade.Chain:
		return v.Say(shapeChain, "n", len(v.trade.Parties))
	case len(v.trade.Parties) == 2:
		return v.Say(shapeSwap)
	}
	return v.Say(shapeRing, "n", len(v.trade.Parties))
}

// others says what moves between the other parties, who gives what they get.
func (v view) others() string {
	var legs []string
	for _, p := range v.trade.Parties {
		items := slices.DeleteFunc(slices.Clone(v.trade.Items), func(item trade.Item) bool {
			return item.From != p.Member || v.mine(item) || v.toMe(item)
		})
		if len(items) > 0 {
			list := v.pieces(func(item trade.Item) bool { return item.From == p.Member })
			legs = append(legs, v.Say(otherLeg, "from", v.name(p.Member), "list", list, "to", v.name(items[0].To)))
		}
	}
	return strings.Join(legs, " ")
}

// balance says what the viewer gives and gets by value, and who pays whom to even it up.
func (v view) balance() string {
	if v.trade.Chain {
		return v.Say(neverAskedBack)
	}
	line := v.Say(tradeBalance, "give", v.worth(v.value(v.mine)), "get", v.worth(v.value(v.toMe)))
	even := true
	for _, pay := range v.trade.TopUps {
		switch v.me {
		case pay.From:
			line += " " + v.Say(youPay, "amount", v.money(pay.Amount), "name", v.name(pay.To))
			even = false
		case pay.To:
			line += " " + v.Say(paysYou, "amount", v.money(pay.Amount), "name", v.name(pay.From))
			even = false
		}
	}
	if even {
		line += " " + v.Say(noMoneyMoves)
	}
	return line
}

// valuedAt says where the values come from and how old they are.
func (v view) valuedAt() string {
	if v.trade.Spot == nil {
		return v.Say(valuedByWeight)
	}
	return v.Say(valuedAtSpot, "price", price(*v.trade.Spot), "currency", v.trade.Currency, "source", v.trade.SpotSource, "at", v.when(v.group, *v.trade.SpotAt))
}

// buttons are what the viewer can do now, each a line.
func (v view) buttons() []Button {
	n := number(v.trade.Number)
	i := slices.IndexFunc(v.trade.Parties, func(p trade.Party) bool { return p.Member == v.me })
	switch {
	case v.trade.State == trade.Agreed:
		return v.agreedButtons(i)
	case i < 0 || v.trade.State != trade.Proposed:
		return nil
	}
	var buttons []Button
	if !v.trade.Parties[i].Accepted {
		buttons = append(buttons, Button{v.Say(pressAccept), "accept " + n + "." + number(int64(v.trade.Version))})
	}
	buttons = append(buttons, Button{v.Say(pressDecline), "decline " + n})
	return append(buttons, v.leaveOutButtons()...)
}

// leaveOutButtons offer to leave out each piece of a leg that has more than one, at most three.
func (v view) leaveOutButtons() []Button {
	var buttons []Button
	for _, item := range v.trade.Items {
		if !v.mine(item) && !v.toMe(item) || len(buttons) == 3 {
			continue
		}
		leg := slices.DeleteFunc(slices.Clone(v.trade.Items), func(other trade.Item) bool { return other.From != item.From })
		if len(leg) > 1 {
			name := v.pieceName(item.Piece)
			buttons = append(buttons, Button{v.Say(pressWithout, "piece", name), "leave out " + number(v.trade.Number) + "." + number(int64(v.trade.Version)) + " " + name})
		}
	}
	return buttons
}

// pieceName is an item's piece as members say it: "harbour 85 bright".
func (v view) pieceName(p match.Piece) string {
	key := store.ReadPieceID(p)
	return pieceName(v.catalogue, key) + conditionTail(key.Condition)
}

// named finds the piece of the trade that some words name: its whole name, or its label alone if just one has it.
func (v view) named(words string) (match.Piece, bool) {
	words = strings.ToLower(strings.TrimSpace(words))
	var found []match.Piece
	for _, item := range v.trade.Items {
		key := store.ReadPieceID(item.Piece)
		for _, name := range []string{v.pieceName(item.Piece), pieceName(v.catalogue, key), label(v.catalogue, key.Series, key.Piece)} {
			if words != "" && strings.ToLower(name) == words && !slices.Contains(found, item.Piece) {
				found = append(found, item.Piece)
			}
		}
	}
	if len(found) != 1 {
		return "", false
	}
	return found[0], true
}
