package bot

import (
	"context"
	"regexp"
	"slices"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// bought records that pieces have come in and what each cost: "bought harbour 87 @75, bars 5oz @310".
func (b *Bot) bought(ctx context.Context, t turn) (Reply, error) {
	var again, fresh []pick
	before, after, err := b.store.Buy(ctx, t.group, t.speaker, tapsIn(t.rest), func(shelf *store.Shelf, recorded []string) (said string, paid []store.Purchase, err error) {
		again, fresh = nil, nil
		picks, err := t.read(series.ForHoldings, shelf)
		if err != nil {
			return "", nil, err
		}
		for _, p := range picks {
			if p.about.tap != "" && slices.Contains(recorded, p.about.tap) {
				again = append(again, p)
				continue
			}
			fresh = append(fresh, p)
			key := shelf.Row(p.Series, p.Pieces[0], p.about.condition)
			shelf.Add(key, p.quantity())
			shelf.Describe(key, p.about.describe)
			shelf.Fulfil(key, p.quantity())
			if p.about.price != nil {
				paid = append(paid, store.Purchase{Key: key, Quantity: p.quantity(), Price: *p.about.price, Currency: t.group.Currency, Tap: p.about.tap})
			}
		}
		if len(again) > 0 {
			return t.said + " " + t.countedList(fresh), paid, nil
		}
		return t.said + " " + withoutTaps(t.rest), paid, nil
	})
	if err != nil {
		return Reply{}, err
	}
	var lines []string
	if len(again) > 0 {
		lines = append(lines, t.Say(boughtBefore, "list", t.countedList(again)))
	}
	if len(fresh) > 0 {
		worth, err := b.store.Values(ctx, t.group, t.catalogue)
		if err != nil {
			return Reply{}, err
		}
		for _, p := range fresh {
			if p.about.price != nil {
				lines = append(lines, t.paidLine(p, worth))
			}
		}
		lines = append(lines, t.readBack(after, codesOf(fresh)))
		if struck := t.struckOff(before, after); struck != "" {
			lines = append(lines, t.Say(noLongerWanted, "list", struck))
		}
	}
	return Reply{Text: strings.Join(lines, "\n")}, nil
}

// paidLine says what was paid, and the premium in it at the price of the day.
func (t turn) paidLine(p pick, values store.Values) string {
	line := t.Say(boughtAt, "piece", t.counted(p, p.quantity()), "price", t.inMoney(*p.about.price))
	w, ok := values.Of(p.Series, p.Pieces[0])
	if !ok {
		return t.Say(asSentence, "reason", line)
	}
	return t.Say(asSentence, "reason", line+", "+t.overMelt(*p.about.price, w.Metal, values.Spot.Price))
}

// overMelt says how far a price is above or below melt: "12.3% over melt".
func (t turn) overMelt(price melt.Minor, m melt.Metal, spot melt.Price) string {
	premium, err := melt.PremiumOf(price, m, spot, t.group.Currency)
	if err != nil {
		return t.Say(meltUnknown)
	}
	percent := strings.TrimSuffix(premium.PercentString(), "%")
	switch under, negative := strings.CutPrefix(percent, "-"); {
	case negative:
		return t.Say(underMelt, "percent", t.number(under))
	case percent == "0.0":
		return t.Say(atMelt)
	}
	return t.Say(aboveMelt, "percent", t.number(percent))
}

// countedList names pieces with their numbers: "harbour 87 x2, bars 5oz".
func (t turn) countedList(picks []pick) string {
	names := make([]string, len(picks))
	for i, p := range picks {
		names[i] = t.counted(p, p.quantity())
	}
	return strings.Join(names, ", ")
}

// tapsIn lists the taps of a line.
func tapsIn(line string) []string {
	taps := []string{}
	for word := range strings.FieldsFuncSeq(strings.ToLower(line), func(r rune) bool { return strings.ContainsRune(" ,;\t\n", r) }) {
		if isTap(word) {
			taps = append(taps, word[1:])
		}
	}
	return taps
}

// typedTap is a tap within a line, with the space before it.
var typedTap = regexp.MustCompile(`\s*#[0-9a-zA-Z]{4,20}\b`)

// withoutTaps is a line as its speaker would have typed it.
func withoutTaps(line string) string { return typedTap.ReplaceAllString(line, "") }
