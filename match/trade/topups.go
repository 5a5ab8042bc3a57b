package trade

import (
	"math"
	"slices"

	"spareounce/match"
	"spareounce/match/melt"
)

// Balance is what a member gets less what they give, by value: above zero they owe, below they are owed.
func (t Trade) Balance(m match.Member) melt.Minor {
	var balance melt.Minor
	for _, item := range t.Items {
		if item.To == m {
			balance += item.Value
		}
		if item.From == m {
			balance -= item.Value
		}
	}
	return balance
}

// evenUp works out who pays whom: the first in ring order that owes pays the first that is owed, and so on, so there are
// fewer payments than parties and nobody both pays and is paid. It refuses a payer above their limit. In a chain no money
// moves, and it refuses whoever would pass on more than comes in.
func (t Trade) evenUp() ([]TopUp, error) {
	open := make([]melt.Minor, len(t.Parties)) // what is still to be paid, or below zero, to be got
	for i, p := range t.Parties {
		balance := t.Balance(p.Member)
		switch {
		case !t.Chain && balance > p.TopUpLimit:
			return nil, &Refusal{Why: AboveLimit, By: p.Member, Amount: balance, Limit: p.TopUpLimit}
		case !t.Chain:
			open[i] = balance
		case balance < 0 && t.gets(i):
			return nil, &Refusal{Why: PassesOnTooMuch, By: p.Member, Amount: -balance}
		}
	}
	var pays []TopUp
	to := 0
	for from := range open {
		for open[from] > 0 {
			for open[to] >= 0 {
				to++ // the balances of a ring add up to nothing, so somebody is owed
			}
			amount := min(open[from], -open[to])
			pays = append(pays, TopUp{From: t.Parties[from].Member, To: t.Parties[to].Member, Amount: amount})
			open[from] -= amount
			open[to] += amount
		}
	}
	return pays, nil
}

// asPutForward keeps of payments what can be put forward: who pays whom how much.
func asPutForward(pays []TopUp) []TopUp {
	var all []TopUp
	for _, pay := range pays {
		all = append(all, TopUp{From: pay.From, To: pay.To, Amount: pay.Amount})
	}
	return all
}

// checkTopUps refuses payments that are none. No limit is held against them: every payer is asked.
func (t Trade) checkTopUps() error {
	var sum melt.Minor
	for i, pay := range t.TopUps {
		same := func(other TopUp) bool { return other.From == pay.From && other.To == pay.To }
		switch {
		case t.Chain || pay.Amount <= 0 || pay.From == pay.To || t.party(pay.From) < 0 || t.party(pay.To) < 0,
			slices.ContainsFunc(t.TopUps[:i], same):
			return &Refusal{Why: NoTopUp, By: pay.From, Amount: pay.Amount}
		case pay.Amount > math.MaxInt64-sum:
			return &Refusal{Why: TooLarge, By: pay.From, Amount: pay.Amount}
		}
		sum += pay.Amount
	}
	return nil
}

func (e Pay) apply(t Trade) (Trade, []Notice, error) {
	mine := func(pay TopUp) bool { return pay.From == e.By && (e.To == "" || pay.To == e.To) }
	if err := t.mayPay(e.By, NothingToPay, mine, func(pay TopUp) bool { return pay.Paid || pay.Got }); err != nil {
		return Trade{}, nil, err
	}
	var notices []Notice
	for i, pay := range t.TopUps {
		if mine(pay) && !pay.Paid && !pay.Got {
			t.TopUps[i].Paid, t.TopUps[i].Clock = true, clockOf(PayWithin, e.At)
			notices = append(notices, Notice{pay.To, PaidToYou, e.By})
		}
	}
	t.setDeadline()
	return t, notices, nil
}

func (e GetPaid) apply(t Trade) (Trade, []Notice, error) {
	mine := func(pay TopUp) bool { return pay.To == e.By && (e.From == "" || pay.From == e.From) }
	if err := t.mayPay(e.By, NoMoneyDue, mine, func(pay TopUp) bool { return pay.Got }); err != nil {
		return Trade{}, nil, err
	}
	var notices []Notice
	for i, pay := range t.TopUps {
		if mine(pay) && !pay.Got {
			t.TopUps[i].Paid, t.TopUps[i].Got, t.TopUps[i].Clock = true, true, Clock{} // what has come was paid
			notices = append(notices, Notice{pay.From, MoneyCame, e.By})
		}
	}
	return t.closeIfAll(e.By, e.At, notices)
}

// mayPay refuses who has no payment of a kind, or only ones of which it has been said.
func (t Trade) mayPay(by match.Member, none Why, mine, said func(TopUp) bool) error {
	open := func(pay TopUp) bool { return mine(pay) && !said(pay) }
	switch {
	case t.party(by) < 0:
		return &Refusal{Why: NotYours, By: by}
	case t.State != Agreed:
		return &Refusal{Why: NotAgreed, By: by}
	case !slices.ContainsFunc(t.TopUps, mine):
		return &Refusal{Why: none, By: by}
	case !slices.ContainsFunc(t.TopUps, open):
		return &Refusal{Why: AlreadyDone, By: by}
	}
	return nil
}
