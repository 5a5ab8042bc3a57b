package spot

import (
	"fmt"
	"math/big"
	"time"

	"spareounce/match/melt"
)

// Guard is what a price must be like to be taken.
type Guard struct {
	Low, High melt.Price    // the band, both ends allowed; both zero for the usual one of the currency
	Stale     time.Duration // how old a price may be
	Jump      int           // the most it may differ from the last good one, in percent of that; 0 for no limit
}

// ahead is how far a feed's clock may be ahead of ours.
const ahead = 10 * time.Minute

// Check returns nil for a price that may be taken, else a *Refusal. Last is the last good price in the same currency, nil
// when there is none. A Jump is for people to confirm; all else is wrong.
//
// A quote without a time is taken to be of now. One of a date that has begun east of UTC but not here yet is of now too;
// Check returns it so dated.
func (g Guard) Check(q Quote, now time.Time, last *Quote) (Quote, error) {
	if q.At.IsZero() || q.At.After(now) && q.At.Sub(now) <= 14*time.Hour && q.At.Equal(q.At.Truncate(24*time.Hour)) {
		q.At = now
	}
	if q.Price <= 0 {
		return q, &Refusal{Why: NotPositive, Price: q.Price, Word: q.Price.String()}
	}
	low, high := g.Low, g.High
	if low == 0 && high == 0 {
		var ok bool
		if low, high, ok = UsualBand(q.Currency); !ok && last == nil {
			return q, &Refusal{Why: UnknownCurrency, Price: q.Price, Detail: string(q.Currency)}
		} else if !ok {
			low, high = last.Price/10, last.Price*10
		}
	}
	switch {
	case q.Price < low || q.Price > high:
		return q, &Refusal{Why: OutsideBand, Price: q.Price, Detail: fmt.Sprintf("%v–%v", low, high)}
	case q.At.Sub(now) > ahead:
		return q, &Refusal{Why: FromTheFuture, Price: q.Price, Detail: q.At.UTC().Format("2 Jan 2006 15:04 UTC")}
	case now.Sub(q.At) > g.Stale:
		return q, &Refusal{Why: Stale, Price: q.Price, Detail: now.Sub(q.At).Truncate(time.Minute).String()}
	}
	if last != nil && g.Jump > 0 && jumps(q.Price, last.Price, g.Jump) {
		return q, &Refusal{Why: Jump, Price: q.Price, Detail: Change(last.Price, q.Price)}
	}
	return q, nil
}

// jumps reports whether price differs from last by more than percent of last.
func jumps(price, last melt.Price, percent int) bool {
	return changed(last, price).Cmp(big.NewRat(int64(percent), 100)) > 0 || changed(last, price).Cmp(big.NewRat(-int64(percent), 100)) < 0
}

// changed is the change from one price to another as a share of the first, exactly.
func changed(from, to melt.Price) *big.Rat {
	c := new(big.Rat).Sub(to.Rat(), from.Rat())
	return c.Quo(c, from.Rat())
}

// Change writes the change from one price to another in percent of the first, to one decimal: "+4.3%", "-0.9%".
func Change(from, to melt.Price) string {
	c := changed(from, to)
	text := c.Mul(c, big.NewRat(100, 1)).FloatString(1)
	switch {
	case text == "-0.0" || text == "0.0":
		return "0.0%"
	case text[0] != '-':
		text = "+" + text
	}
	return text + "%"
}

// bandWidth is how many times above or below the price of one day the usual band reaches: enough for a decade, too narrow
// for gold (some 60 times the price of silver) and for a price that was to be inverted.
const bandWidth = 10

// oneDay is the price of a troy ounce on 2026-09-29 by currency, in tenths of its major unit. Source: a daily snapshot of
// exchange rates, npm package @fawazahmed0/currency-api 2026.9.29, CC0 1.0; rounded here to what a band needs.
var oneDay = map[melt.Currency]melt.Price{
	"USD": 606, "EUR": 534, "GBP": 458, "CAD": 860, "AUD": 864, "NZD": 1071, "CHF": 505, "JPY": 95459, "MXN": 10914,
	"INR": 58245, "SEK": 6050, "NOK": 5787, "DKK": 3988, "ZAR": 9966, "KWD": 187, "BHD": 228, "KRW": 823300, "CLP": 586616,
}

// UsualBand is the band in which a price of silver is believed where nobody has set one; false for a currency of which we
// know no price.
func UsualBand(c melt.Currency) (low, high melt.Price, ok bool) {
	price, ok := oneDay[c]
	price *= melt.PriceUnit / 10
	return price / bandWidth, price * bandWidth, ok
}
