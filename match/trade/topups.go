package trade

import (
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
