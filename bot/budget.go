package bot

import (
	"errors"
	"strings"

	"spareounce/match/melt"
	"spareounce/store"
)

// budget takes "budget 300" out of a line, and leaves blanks so that what else is pointed at stands where it stood.
func (t turn) budget() (*melt.Minor, turn, error) {
	var budget *melt.Minor
	line := t.rest
	for i := 0; i < len(line); {
		word, next := wordAt(line, i)
		if !strings.EqualFold(word, "budget") {
			i = max(next, i+1)
			continue
		}
		start := next - len(word)
		amount, end, err := t.money(line, next)
		if err == nil && budget != nil {
			err = pointed{start, word, t.Say(budgetTwice)}
		}
		if err != nil {
			return nil, t, err
		}
		budget = amount
		line = line[:start] + strings.Repeat(" ", end-start) + line[end:]
		i = end
	}
	t.rest = line
	return budget, t, nil
}

// keepBudget has the answers to a question keep the budget.
func (t turn) keepBudget(err error, budget *melt.Minor) error {
	question, ok := errors.AsType[asking](err)
	if !ok || budget == nil {
		return err
	}
	for i := range question.Buttons {
		question.Buttons[i].Says = strings.TrimRight(question.Buttons[i].Says, " ,") + " budget " + t.typed(*budget)
	}
	return question
}

// pricedAt says which silver price was counted with, and how old it is.
func (b *Bot) pricedAt(in voice, g store.Group, v store.Values) string {
	if v.Spot == nil {
		return in.Say(priceOfNobody)
	}
	return b.priceSaid(in, g, v.Rules, v.Spot)
}
