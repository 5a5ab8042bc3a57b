package bot

import (
	"context"
	"encoding/csv"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
)

// ledger shows the speaker what came and went by trade in a year, with its value on the day: "ledger", "ledger 2026",
// "ledger 2026 file". Only they see it.
func (b *Bot) ledger(ctx context.Context, t turn) (Reply, error) {
	zone := t.group.Location()
	year := b.now().In(zone).Year()
	word, next := wordAt(t.rest, 0)
	file := strings.EqualFold(word, "file")
	if word != "" && !file {
		n, err := strconv.Atoi(word)
		if err != nil || n < 1900 || n > 9999 {
			return Reply{}, sentence(t.Say(ledgerHow, "word", word, "example", t.line(t.verb.example)))
		}
		year = n
		after, _ := wordAt(t.rest, next)
		file = strings.EqualFold(after, "file") || strings.EqualFold(after, "csv")
	}
	from := time.Date(year, 1, 1, 0, 0, 0, 0, zone)
	entries, err := b.store.Ledger(ctx, t.speaker, from.UTC(), from.AddDate(1, 0, 0).UTC())
	if err != nil {
		return Reply{}, err
	}
	if len(entries) == 0 {
		return Reply{Text: t.Say(ledgerEmpty, "year", year)}, nil
	}
	if file {
		data, err := ledgerFile(t.voice, zone, entries)
		name := "ledger-" + strconv.Itoa(year) + ".csv"
		return Reply{
			Text:  t.Say(ledgerAsFile, "year", year) + "\n" + ledgerSummary(t.voice, entries) + "\n" + t.Say(ledgerCaution),
			Files: []File{{Name: name, Type: "text/csv; charset=utf-8", Bytes: data, About: t.Say(ledgerFileAbout, "year", year)}},
		}, err
	}
	lines := []string{t.Say(ledgerHead, "year", year)}
	shown := entries[max(0, len(entries)-30):]
	if more := len(entries) - len(shown); more > 0 {
		lines = append(lines, t.Say(ledgerMore, "n", more, "year", year))
	}
	for _, e := range shown {
		lines = append(lines, b.ledgerLine(t, e))
	}
	lines = append(lines, ledgerSummary(t.voice, entries), t.Say(ledgerCaution))
	return Reply{Text: strings.Join(lines, "\n"), Buttons: []Button{{t.Say(pressFile), "ledger " + strconv.Itoa(year) + " file"}}}, nil
}

var ways = map[store.Way]phrase{store.Came: ledgerCame, store.Went: ledgerWent, store.Paid: ledgerPaid, store.Got: ledgerGot}

func (b *Bot) ledgerLine(t turn, e store.Entry) string {
	at := t.date(t.group, e.At)
	way := t.Say(ways[e.Way])
	if e.Way == store.Paid || e.Way == store.Got {
		return t.Say(ledgerMoney, "at", at, "n", e.Trade, "amount", t.valueOf(e), "way", way, "other", e.Other)
	}
	worth := t.Say(ledgerNoMelt)
	if e.Melt != nil && e.Spot != nil {
		worth = t.Say(ledgerMelt, "melt", e.Spot.Currency.Format(*e.Melt), "price", e.Spot.Price, "source", e.Spot.Source, "spot", t.when(t.group, e.Spot.At))
	}
	return t.Say(ledgerLine, "at", at, "n", e.Trade, "piece", t.nameOf(e.Key.Series, e.Key.Piece)+conditionTail(e.Key.Condition),
		"way", way, "other", e.Other, "value", t.valueOf(e), "melt", worth)
}

// valueOf writes what was agreed: money, or a fine weight where no price was known.
func (t turn) valueOf(e store.Entry) string {
	if e.Currency == "" {
		return t.fine(e.Value)
	}
	return e.Currency.Format(e.Value)
}

// sums is what a year's entries in one currency come to.
type sums struct{ came, went, meltCame, meltWent, paid, got melt.Minor }

// ledgerSummary adds a year up, each currency by itself.
func ledgerSummary(in voice, entries []store.Entry) string {
	pieces := map[store.Way]int{}
	totals := map[melt.Currency]*sums{}
	var order []melt.Currency
	of := func(c melt.Currency) *sums {
		if totals[c] == nil {
			totals[c] = &sums{}
			order = append(order, c)
		}
		return totals[c]
	}
	for _, e := range entries {
		pieces[e.Way]++
		if e.Currency != "" {
			total := of(e.Currency)
			sum := map[store.Way]*melt.Minor{store.Came: &total.came, store.Went: &total.went, store.Paid: &total.paid, store.Got: &total.got}[e.Way]
			*sum += e.Value
		}
		switch {
		case e.Melt == nil || e.Spot == nil:
		case e.Way == store.Came:
			of(e.Spot.Currency).meltCame += *e.Melt
		case e.Way == store.Went:
			of(e.Spot.Currency).meltWent += *e.Melt
		}
	}
	said := ""
	for _, c := range order {
		s := totals[c]
		said += in.Say(ledgerSums, "currency", c, "in", c.Format(s.came), "out", c.Format(s.went), "meltin", c.Format(s.meltCame),
			"meltout", c.Format(s.meltWent), "paid", c.Format(s.paid), "got", c.Format(s.got))
	}
	return in.Say(ledgerSum, "came", pieces[store.Came], "went", pieces[store.Went], "sums", said)
}

// ledgerFile writes entries as CSV (RFC 4180), amounts as plain numbers.
func ledgerFile(in voice, zone *time.Location, entries []store.Entry) ([]byte, error) {
	var text strings.Builder
	w := csv.NewWriter(&text)
	w.UseCRLF = true
	if err := w.Write(strings.Split(in.Say(ledgerFileHead), ",")); err != nil {
		return nil, err
	}
	for _, e := range entries {
		row := []string{
			e.At.In(zone).Format("2006-01-02"), number(e.Trade), string(e.Way), e.Key.Series, e.Key.Piece, conditionTail(e.Key.Condition),
			plain(e.Currency, e.Value), string(e.Currency), "", "", "", "", "", e.Other,
		}
		if e.Currency == "" {
			row[6], row[7] = number(int64(e.Value)), "mg fine"
		}
		if e.Melt != nil && e.Spot != nil {
			row[8], row[9], row[10] = plain(e.Spot.Currency, *e.Melt), string(e.Spot.Currency), e.Spot.Price.String()
			row[11], row[12] = e.Spot.At.UTC().Format(time.RFC3339), e.Spot.Source
		}
		for i := range row {
			row[i] = harmless(strings.TrimSpace(row[i]))
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return []byte(text.String()), w.Error()
}

// plain is an amount as a number alone.
func plain(c melt.Currency, a melt.Minor) string {
	return strings.TrimPrefix(c.Format(a), string(c)+" ")
}

// harmless keeps a text that a member chose from being taken for a formula by the program that opens the file.
func harmless(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}
