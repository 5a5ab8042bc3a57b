package main

import (
	"fmt"
	"io"
	"strings"

	"spareounce/match"
	"spareounce/match/melt"
)

// planText prints a plan for people: what each sends to whom, who pays whom, and what it is worth.
type planText struct {
	pool *match.Pool
	out  io.Writer
}

func (t planText) write(plan match.Plan, b match.Bound) {
	index := match.NewIndex(t.pool)
	pieces := 0
	for n, one := range plan.Trades {
		if n > 0 {
			fmt.Fprintln(t.out)
		}
		t.trade(n+1, one, index.Explain(one))
		for _, leg := range one.Legs {
			pieces += len(leg.Items)
		}
	}
	if len(plan.Trades) == 0 {
		fmt.Fprintln(t.out, "No trade would leave everyone in it better off.")
	} else {
		fmt.Fprintf(t.out, "\n%s in %s: together worth %s to the members beyond value, after postage.\n",
			count(pieces, "piece changes hands", "pieces change hands"), count(len(plan.Trades), "trade", "trades"), t.money(plan.Gain))
	}
	switch {
	case b.Optimal:
		fmt.Fprintln(t.out, "Proved: no other plan is worth more.")
	default:
		fmt.Fprintf(t.out, "Not proved best: another plan could be worth up to %s, %.2f %% more. A greater --budget narrows that.\n",
			t.money(b.Gain), 100*float64(b.Gain-plan.Gain)/float64(max(1, plan.Gain)))
	}
}

func (t planText) trade(n int, one match.Trade, why match.Reasons) {
	shape := "a swap"
	if one.Kind == match.Chain {
		shape = fmt.Sprintf("a gift chain of %d", len(one.Members()))
	} else if len(one.Legs) > 2 {
		shape = fmt.Sprintf("a ring of %d", len(one.Legs))
	}
	fmt.Fprintf(t.out, "Trade %d, %s, worth %s:\n", n, shape, t.money(one.Gain))
	for i, leg := range one.Legs {
		names := make([]string, len(leg.Items))
		for j, item := range leg.Items {
			names[j] = string(item.Piece)
		}
		fmt.Fprintf(t.out, "  %s sends %s to %s", leg.From, strings.Join(names, ", "), leg.To)
		fmt.Fprintf(t.out, " (value %s", t.money(why.Sides[i].ValueOfGives))
		if post := why.Sides[i].Postage; post > 0 {
			fmt.Fprintf(t.out, ", postage %s", t.money(post))
		}
		fmt.Fprintln(t.out, ")")
	}
	for _, pay := range one.TopUps {
		fmt.Fprintf(t.out, "  %s pays %s %s to even it up\n", pay.From, pay.To, t.money(pay.Amount))
	}
}

func (t planText) money(a melt.Minor) string {
	if t.pool.Currency == "" {
		return fmt.Sprint(int64(a))
	}
	return melt.Currency(t.pool.Currency).Format(a)
}

func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
