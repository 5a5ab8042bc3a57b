package bot

import (
	"strconv"

	"spareounce/bot/money"
	"spareounce/match/melt"
)

// inMoney is an amount as the speaker reads it.
func (t turn) inMoney(a melt.Minor) string {
	return money.Amount(a, t.group.Currency, t.speaker.Locale)
}

// number is a decimal number as the speaker reads it.
func (t turn) number(text string) string { return money.Number(text, t.speaker.Locale) }

// decimals is a measured number with so many decimals, as the speaker reads it.
func (t turn) decimals(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	return t.number(text)
}

// counted names a piece and how many: "harbour 84 gull x3".
func (t turn) counted(p pick, n int) string {
	name := t.pickName(p.Pick) + conditionTail(p.about.condition)
	if n != 1 {
		name += " x" + strconv.Itoa(n)
	}
	return name
}
