package spot

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math/big"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
)

// Read finds the price in an answer of the feed: exact until it is rounded once, to a hundred-millionth of a major unit.
// Errors are *Refusal.
func (f Feed) Read(body []byte) (Quote, error) {
	if f.List {
		all, err := f.ReadList(string(body))
		if err != nil {
			return Quote{}, err
		}
		return all[len(all)-1], nil
	}
	document, err := decode(body)
	if err != nil {
		return Quote{}, &Refusal{Why: NotJSON, Cause: err}
	}
	value, err := numberAt(document, f.Price)
	if err != nil {
		return Quote{}, err
	}
	if f.Against != nil {
		back, err := numberAt(document, *f.Against)
		if err != nil {
			return Quote{}, err
		}
		if err := agree(value, back); err != nil {
			return Quote{}, err
		}
	}
	q := Quote{Currency: f.Currency}
	if q.Price, err = f.price(value); err != nil {
		return Quote{}, err
	}
	if f.Time != nil {
		if q.At, err = timeAt(document, *f.Time); err != nil {
			return Quote{}, err
		}
	}
	return q, nil
}

// decode reads one JSON document and nothing after it. Numbers stay as they are written.
func decode(body []byte) (document any, err error) {
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	if err := d.Decode(&document); err != nil {
		return nil, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("more than one document")
	}
	return document, nil
}

func numberAt(document any, p Pointer) (*big.Rat, error) {
	found, err := p.in(document)
	if err != nil {
		return nil, &Refusal{Why: NothingThere, Word: p.String()}
	}
	said, ok := text(found)
	if !ok {
		kind, _ := json.Marshal(found)
		return nil, &Refusal{Why: NoNumber, Word: short(string(kind))}
	}
	n, ok := number(strings.TrimSpace(said))
	if !ok {
		return nil, &Refusal{Why: NoNumber, Word: short(said)}
	}
	return n, nil
}

// short is what of a foreign text is worth repeating.
func short(text string) string {
	text = strings.ToValidUTF8(text, "")
	if runes := []rune(text); len(runes) > 24 {
		return string(runes[:24]) + "…"
	}
	return text
}

// price turns the feed's number into money for a troy ounce.
func (f Feed) price(value *big.Rat) (melt.Price, error) {
	if value.Sign() <= 0 {
		return 0, &Refusal{Why: NotPositive, Word: value.RatString()}
	}
	perUnit := new(big.Rat).Set(value)
	if f.Inverse {
		perUnit.Inv(perUnit)
	}
	perUnit.Mul(perUnit, f.Scale)
	perUnit.Mul(perUnit, big.NewRat(int64(melt.TroyOunce), int64(f.Per)))
	price, err := melt.PriceOf(perUnit)
	if err != nil {
		return 0, &Refusal{Why: NotPositive, Word: perUnit.FloatString(8), Cause: err}
	}
	return price, nil
}

// apart is how far the product of a price and its inverse may be from one. What is published with eight digits each is
// within a few parts in a hundred million; a rounded inverse, 0.0165, is within half a percent.
var apart = big.NewRat(5, 1000)

// agree holds a number against the same price the other way round.
func agree(value, back *big.Rat) error {
	product := new(big.Rat).Mul(value, back)
	off := new(big.Rat).Sub(product, big.NewRat(1, 1))
	if off.Abs(off).Cmp(apart) > 0 {
		return &Refusal{Why: NotTheSameBack, Detail: product.FloatString(6)}
	}
	return nil
}

func timeAt(document any, p Pointer) (time.Time, error) {
	found, err := p.in(document)
	if err != nil {
		return time.Time{}, &Refusal{Why: NothingThere, Word: p.String()}
	}
	said, ok := text(found)
	if !ok {
		return time.Time{}, &Refusal{Why: NoTime, Word: short(p.String())}
	}
	at, ok := readTime(said)
	if !ok {
		return time.Time{}, &Refusal{Why: NoTime, Word: short(said)}
	}
	return at, nil
}

// layouts are the ways in which times are written, besides seconds and milliseconds since 1970. A time without a zone is
// taken as UTC, a date as its beginning there: the price is made no younger than it is.
var layouts = []string{time.RFC3339Nano, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04", time.DateOnly, http.TimeFormat, time.RFC1123Z}

// A bare number of seconds since 1970 is told from one of milliseconds by its size.
const (
	fewestSeconds = 100_000_000   // 1973: less is a year, or a slip
	latest        = 4_102_444_800 // 2100, in seconds
)

var bareSeconds = regexp.MustCompile(`^([0-9]{9,13})(\.[0-9]+)?$`)

func readTime(said string) (time.Time, bool) {
	said = strings.TrimSpace(said)
	if m := bareSeconds.FindStringSubmatch(said); m != nil {
		n, err := strconv.ParseInt(m[1], 10, 64)
		switch {
		case err != nil || n < fewestSeconds || n >= 1000*latest:
			return time.Time{}, false
		case n < latest:
			return time.Unix(n, 0).UTC(), true
		}
		return time.UnixMilli(n).UTC(), true
	}
	for _, layout := range layouts {
		if at, err := time.Parse(layout, said); err == nil && at.Unix() >= 0 && at.Unix() < latest {
			return at.UTC(), true
		}
	}
	return time.Time{}, false
}
