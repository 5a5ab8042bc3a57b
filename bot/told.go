package bot

import (
	"slices"

	"spareounce/match"
	"spareounce/match/trade"
)

// after says what an event by the viewer has come to.
func (v view) after(e trade.Event) Reply {
	n := v.trade.Number
	said := func(p phrase, pairs ...any) Reply {
		return Reply{Text: v.Say(p, append([]any{"n", n}, pairs...)...), Buttons: v.buttons()}
	}
	if v.trade.State == trade.Closed {
		return Reply{Text: v.Say(closedThanks, "n", n)}
	}
	switch e := e.(type) {
	case trade.Decline:
		return Reply{Text: v.Say(youDeclined, "n", n)}
	case trade.Ship:
		return Reply{Text: v.Say(youSent, "n", n, "name", v.gives())}
	case trade.PassOn:
		return Reply{Text: v.Say(youPassedOn, "n", n)}
	case trade.Arrive:
		return said(youArrived, "list", v.pieces(v.toMe), "at", v.when(v.group, v.from().Due))
	case trade.Receive:
		return Reply{Text: v.Say(youChecked, "n", n, "list", v.pieces(v.toMe))}
	case trade.Object:
		return said(youObjected, "problem", problemWord(v.voice, e.Problem), "name", v.name(v.from().Member), "at", v.when(v.group, v.from().Due))
	case trade.Pay:
		return Reply{Text: v.Say(youPaid, "n", n, "names", v.And(v.payees()))}
	case trade.GetPaid:
		return Reply{Text: v.Say(youGotPaid, "n", n)}
	case trade.LeaveOut, trade.Counter:
		return Reply{Text: v.Say(youCountered, "n", n, "give", v.gives(), "get", v.gets())}
	}
	if v.trade.State == trade.Agreed {
		return Reply{Text: v.Say(youAgreedLast, "n", n)}
	}
	return Reply{Text: v.Say(youAccepted, "n", n, "state", v.standing())}
}

// from is the party who gives to the viewer.
func (v view) from() trade.Party {
	for i := range v.trade.Parties {
		if v.next(i).Member == v.me {
			return v.trade.Parties[i]
		}
	}
	return trade.Party{}
}

func (v view) payees() (names []string) {
	for _, pay := range v.trade.TopUps {
		if pay.From == v.me {
			names = append(names, v.name(pay.To))
		}
	}
	return names
}

// told words what has happened to an agreed trade for one who must hear of it. What is what it says, by the name of the
// notice; about is whose deed it was, or on whom it waits.
func (v view) told(what string, about match.Member) Reply {
	n, name := v.trade.Number, v.name(about)
	said := func(p phrase, pairs ...any) Reply {
		return Reply{Text: v.Say(p, append([]any{"n", n, "name", name}, pairs...)...), Buttons: v.buttons()}
	}
	mine, toMe := v.pieces(v.mine), v.pieces(v.toMe)
	from := v.from()
	switch what {
	case trade.YourTurn.String():
		return said(yourTurnNow, "list", v.gives(), "at", v.when(v.group, v.party(v.me).Due))
	case trade.AcceptedNow.String():
		return said(acceptedYours, "list", mine)
	case trade.ProblemSaid.String():
		problem := problemWord(v.voice, v.party(about).Problem)
		if !v.trade.Has(v.me) {
			return said(problemForKeeper, "problem", problem, "from", v.giverTo(about))
		}
		return said(problemOfYours, "list", mine, "problem", problem, "at", v.when(v.group, v.party(v.me).Due))
	case trade.PaidToYou.String():
		return said(paidToYou, "amount", v.owed(about, v.me))
	case trade.MoneyCame.String():
		return said(moneyHasCome)
	case trade.PartyLeft.String():
		return said(leftMidTrade)
	case trade.SendDue.String():
		return said(remindSend, "list", v.gives())
	case trade.ArrivalDue.String():
		return said(remindArrival, "list", toMe)
	case trade.CheckDue.String():
		return said(remindCheck, "list", toMe, "at", v.when(v.group, from.Due))
	case trade.PassOnDue.String():
		return said(remindPassOn)
	case trade.ProblemDue.String():
		return said(remindProblem, "problem", problemWord(v.voice, v.party(about).Problem))
	case trade.PayDue.String():
		return said(remindPay, "amount", v.owed(v.me, about))
	case trade.MoneyDue.String():
		return said(remindMoney, "amount", v.owed(about, v.me))
	case trade.CountedDone.String():
		return said(countedDone, "list", toMe)
	case trade.KeeperNeeded.String():
		return said(v.stuck(about), "times", trade.Reminders, "at", v.when(v.group, v.endsBy()))
	}
	return said(tradeNow, "state", v.standing())
}

// stuck is how a viewer is told that a trade waits for somebody, or with nobody for two to settle a problem.
func (v view) stuck(slow match.Member) phrase {
	party := v.trade.Has(v.me)
	switch {
	case slow == v.me:
		return keeperAskedOfYou
	case slow == "" && party:
		return problemStuck
	case slow == "":
		return problemForYou
	case party:
		return keeperAsked
	}
	return keeperNeeded
}

// giverTo is the name of who gives to a party.
func (v view) giverTo(m match.Member) string {
	for i, p := range v.trade.Parties {
		if v.next(i).Member == m {
			return v.name(p.Member)
		}
	}
	return ""
}

// owed is what one party is to pay another.
func (v view) owed(from, to match.Member) string {
	i := slices.IndexFunc(v.trade.TopUps, func(pay trade.TopUp) bool { return pay.From == from && pay.To == to })
	if i < 0 {
		return v.money(0)
	}
	return v.money(v.trade.TopUps[i].Amount)
}

// refusals are why a trade did not move, where the reason alone decides the words.
var refusals = map[trade.Why]phrase{
	trade.AlreadyDone: refusedAlready, trade.StaleVersion: refusedStale, trade.NotOpen: refusedNotOpen,
	trade.NotAgreed: refusedNotAgreed, trade.TooLate: refusedTooLate, trade.EmptiesALeg: refusedEmpties,
	trade.PassesOnTooMuch: refusedPassesOn, trade.NothingToSend: refusedNothingToSend,
	trade.NothingToGet: refusedNothingToGet, trade.NotYourTurn: refusedNotYourTurn, trade.NotSent: refusedNotSent,
	trade.HasArrived: refusedHasArrived, trade.AlreadyAccepted: refusedOver, trade.NothingToPay: refusedNothingToPay,
	trade.NoMoneyDue: refusedNoMoneyDue, trade.NotTheMiddle: refusedNotMiddle, trade.NotAllSent: refusedNotAllSent,
	trade.SameTerms: refusedSameTerms, trade.OfARound: refusedOfARound, trade.NoTopUp: refusedNoTopUp,
}

// refusal words why the trade did not move. A limit is told to whoever set it, and to nobody else.
func (v view) refusal(r *trade.Refusal) string {
	said, ok := refusals[r.Why]
	switch {
	case r.Why == trade.AboveLimit && r.By == v.me:
		said = refusedYourLimit
	case r.Why == trade.AboveLimit:
		said = refusedTheirLimit
	case !ok:
		said = refusedOther
	}
	return v.Say(said, "n", v.trade.Number, "name", v.name(r.By), "names", v.name(v.from().Member), "amount", v.money(r.Amount),
		"limit", v.money(r.Limit), "state", v.standing())
}
