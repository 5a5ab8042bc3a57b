package spot

import (
	"encoding/csv"
	"math/big"
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

var noon = time.Date(2026, 9, 29, 12, 0, 0, 0, time.UTC)

func TestGuardSaysWhy(t *testing.T) {
	guard := Guard{Stale: 24 * time.Hour, Jump: 20}
	last := &Quote{60 * melt.PriceUnit, "USD", noon.Add(-24 * time.Hour)}
	price := func(major int64) Quote { return Quote{melt.Price(major) * melt.PriceUnit, "USD", noon} }
	at := func(d time.Duration) Quote { return Quote{60 * melt.PriceUnit, "USD", noon.Add(d)} }
	for name, c := range map[string]struct {
		quote Quote
		last  *Quote
		want  Why // 0: taken
	}{
		"the same":              {price(60), last, 0},
		"twenty percent up":     {price(72), last, 0},
		"twenty percent down":   {price(48), last, 0},
		"more up":               {price(73), last, Jump},
		"more down":             {price(47), last, Jump},
		"no last price":         {price(150), nil, 0},
		"an inverse forgotten":  {Quote{1649689, "USD", noon}, nil, OutsideBand}, // 0.01649689
		"gold":                  {Quote{4129_10000000, "USD", noon}, nil, OutsideBand},
		"nothing":               {price(0), nil, NotPositive},
		"below nothing":         {price(-60), nil, NotPositive},
		"a day old":             {at(-24 * time.Hour), last, 0},
		"older":                 {at(-24*time.Hour - time.Second), last, Stale},
		"a clock a bit ahead":   {at(9 * time.Minute), last, 0},
		"a clock far ahead":     {at(11 * time.Minute), last, FromTheFuture},
		"no time":               {Quote{60 * melt.PriceUnit, "USD", time.Time{}}, last, 0},
		"tomorrow in the east":  {at(12 * time.Hour), last, 0}, // midnight UTC of the 30th, said at noon of the 29th
		"the day after that":    {at(36 * time.Hour), last, FromTheFuture},
		"a currency of no band": {Quote{60 * melt.PriceUnit, "PLN", noon}, nil, UnknownCurrency},
		"its second price":      {Quote{63 * melt.PriceUnit, "PLN", noon}, last, 0},
	} {
		q, err := guard.Check(c.quote, noon, c.last)
		switch {
		case c.want == 0 && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.want == 0 && (q.At.IsZero() || q.At.After(noon.Add(ahead))):
			t.Errorf("%s: taken with the time %v", name, q.At)
		case c.want != 0:
			if got := refusal(t, err); got.Why != c.want || got.Price != c.quote.Price {
				t.Errorf("%s: %v of %v, want %v", name, got.Why, got.Price, c.want)
			}
		}
	}
	narrow := Guard{Low: 20 * melt.PriceUnit, High: 40 * melt.PriceUnit, Stale: time.Hour}
	if _, err := narrow.Check(price(60), noon, nil); refusal(t, err).Why != OutsideBand {
		t.Error(err)
	}
}

// Whatever comes, a price that is taken is positive, in the band, within the jump of the last, not stale, not ahead.
func TestGuardLetsNothingElseThrough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := Guard{Stale: time.Duration(rapid.IntRange(1, 100).Draw(t, "hours")) * time.Hour, Jump: rapid.IntRange(0, 60).Draw(t, "jump")}
		price := rapid.Custom(func(t *rapid.T) melt.Price {
			return melt.Price(rapid.Int64Range(-5_00000000, 900_00000000).Draw(t, "price"))
		})
		q := Quote{price.Draw(t, "quote"), "USD", noon.Add(time.Duration(rapid.IntRange(-200, 40).Draw(t, "at")) * time.Hour)}
		last := Quote{max(price.Draw(t, "last"), 1), "USD", noon}
		taken, err := g.Check(q, noon, &last)
		if err != nil {
			return
		}
		low, high, _ := UsualBand("USD")
		change := new(big.Rat).Quo(taken.Price.Rat(), last.Price.Rat())
		if taken.Price < low || taken.Price > high || noon.Sub(taken.At) > g.Stale || taken.At.Sub(noon) > ahead ||
			g.Jump > 0 && (change.Cmp(big.NewRat(int64(100+g.Jump), 100)) > 0 || change.Cmp(big.NewRat(int64(100-g.Jump), 100)) < 0) {
			t.Fatalf("took %v against %v", taken, last)
		}
	})
}

// The usual bands hold every day of the snapshots, in every currency they know, and neither the inverse nor gold, which was
// sixty to ninety times the price on those days.
func TestUsualBandsHoldWhatIsPublished(t *testing.T) {
	f, err := os.Open("testdata/xag_snapshots.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, row := range rows[1:] {
		for i, head := range rows[0] {
			code, ok := strings.CutSuffix(head, "_per_xag")
			if !ok {
				continue
			}
			seen++
			c := melt.Currency(strings.ToUpper(code))
			low, high, ok := UsualBand(c)
			value, _ := new(big.Rat).SetString(row[i])
			if !ok || value.Cmp(low.Rat()) < 0 || value.Cmp(high.Rat()) > 0 {
				t.Errorf("%s %s on %s is outside %v to %v", row[i], c, row[0], low, high)
			}
			if inverse := new(big.Rat).Inv(value); inverse.Cmp(low.Rat()) >= 0 && inverse.Cmp(high.Rat()) <= 0 {
				t.Errorf("the inverse of %s %s is inside", row[i], c)
			}
		}
	}
	if seen != 5*18 {
		t.Errorf("%d prices seen", seen)
	}
}

func TestChangeIsWrittenWithItsSign(t *testing.T) {
	for _, c := range []struct {
		from, to melt.Price
		want     string
	}{{100, 104, "+4.0%"}, {100, 96, "-4.0%"}, {100_000, 100_001, "0.0%"}, {100_000, 99_999, "0.0%"}, {60, 90, "+50.0%"}} {
		if got := Change(c.from, c.to); got != c.want {
			t.Errorf("%v to %v: %s, want %s", c.from, c.to, got, c.want)
		}
	}
}
