package spot

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
)

// mostRows is how many rows of a list are read: a price a day for a hundred years.
const mostRows = 40_000

// ReadList reads dates and prices, a row each, parted by tabs, semicolons or commas (RFC 4180), and returns them oldest
// first. A head may name the columns; without one the date is in the first and the price in the second. Of more columns
// the price is in the one named after the feed's currency, or "price". Dates are ISO 8601 or those of Read. Where commas
// do not part columns, "31,20" is a number.
//
// It is all or nothing: a row that is no date and price refuses the list. Errors are *Refusal.
func (f Feed) ReadList(body string) ([]Quote, error) {
	body = strings.TrimPrefix(body, "\uFEFF")
	r := csv.NewReader(strings.NewReader(body))
	r.Comma = separator(body)
	r.Comment = '#'
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = r.Comma != '\t'
	l := list{feed: f, decimalComma: r.Comma != ','}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return l.sorted()
		}
		if err != nil {
			return nil, &Refusal{Why: BadRow, Word: "", Detail: strconv.Itoa(len(l.all) + 1), Cause: err}
		}
		line, _ := r.FieldPos(0)
		if err := l.take(row, line); err != nil {
			return nil, err
		}
		if len(l.all) > mostRows {
			return nil, &Refusal{Why: TooLarge, Detail: strconv.Itoa(mostRows)}
		}
	}
}

// separator is what parts the columns, judged by the first line that is not a remark.
func separator(body string) rune {
	for line := range strings.Lines(body) {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		for _, c := range []rune{'\t', ';'} {
			if strings.ContainsRune(line, c) {
				return c
			}
		}
		break
	}
	return ','
}

// list is what has been read of one.
type list struct {
	feed         Feed
	decimalComma bool
	known        bool // where the columns are
	date, price  int
	all          []Quote
}

func (l *list) take(row []string, line int) error {
	bad := &Refusal{Why: BadRow, Word: short(strings.Join(row, " ")), Detail: strconv.Itoa(line)}
	if !l.known {
		l.known = true
		if _, ok := readDay(row[0]); ok && len(row) >= 2 {
			l.date, l.price = 0, 1
		} else {
			if !l.head(row) {
				return bad
			}
			return nil
		}
	}
	if len(row) <= max(l.date, l.price) {
		return bad
	}
	at, ok := readDay(row[l.date])
	if !ok {
		return bad
	}
	said := strings.TrimSpace(row[l.price])
	if l.decimalComma && !strings.Contains(said, ".") {
		said = strings.Replace(said, ",", ".", 1)
	}
	value, ok := number(said)
	if !ok {
		return bad
	}
	price, err := l.feed.price(value)
	if err != nil {
		return err
	}
	l.all = append(l.all, Quote{Price: price, Currency: l.feed.Currency, At: at})
	return nil
}

// head finds the columns by their names.
func (l *list) head(row []string) bool {
	l.date, l.price = -1, -1
	for i, name := range row {
		name = strings.ToLower(strings.TrimSpace(name))
		switch {
		case l.date < 0 && (name == "date" || name == "day" || name == "month" || name == "time" || name == "timestamp"):
			l.date = i
		case name == strings.ToLower(string(l.feed.Currency)), l.price < 0 && name == "price":
			l.price = i
		}
	}
	if l.price < 0 && len(row) == 2 && l.date >= 0 {
		l.price = 1 - l.date
	}
	return l.date >= 0 && l.price >= 0
}

// readDay is readTime, and a month as its beginning.
func readDay(said string) (time.Time, bool) {
	if at, err := time.Parse("2006-01", strings.TrimSpace(said)); err == nil && at.Unix() >= 0 && at.Unix() < latest {
		return at, true
	}
	return readTime(said)
}

// sorted puts the rows in order and refuses two prices for one time.
func (l *list) sorted() ([]Quote, error) {
	if len(l.all) == 0 {
		return nil, &Refusal{Why: NoRows}
	}
	slices.SortStableFunc(l.all, func(a, b Quote) int { return a.At.Compare(b.At) })
	for i := 1; i < len(l.all); i++ {
		if l.all[i].At.Equal(l.all[i-1].At) && l.all[i].Price != l.all[i-1].Price {
			return nil, &Refusal{Why: TwicePriced, Word: l.all[i].At.Format(time.DateOnly)}
		}
	}
	return slices.CompactFunc(l.all, func(a, b Quote) bool { return a.At.Equal(b.At) }), nil
}

// Typed is the description of a list that a keeper types: prices of a troy ounce in one currency.
func Typed(c melt.Currency) Feed {
	f, _ := ParseFeed("https://typed.invalid list", c) // RFC 6761: .invalid is nowhere
	return f
}
