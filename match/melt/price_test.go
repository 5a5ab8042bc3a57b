package melt_test

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

func TestParsePrice(t *testing.T) {
	for text, want := range map[string]melt.Price{
		"31.20":        31_20000000,
		"31,20":        31_20000000,
		" 31 ":         31_00000000,
		".5":           50000000,
		"0,999":        99900000,
		"60.61747286":  60_61747286,
		"60.617472860": 60_61747286,
		"60.617":       60_61700000,
		"1,091.44":     1091_44000000,
		"1.091,44":     1091_44000000,
		"1,234,567":    1234567_00000000,
		"9545.8755":    9545_87550000,
		"6.061747e1":   60_61747000,
		"3120E-2":      31_20000000,
		"0.00000001":   1,
	} {
		if got, err := melt.ParsePrice(text); err != nil || got != want {
			t.Errorf("%q = %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParsePricePointsAtTheWord(t *testing.T) {
	for text, word := range map[string]string{
		"":                   "",
		"silver":             "silver",
		"-31.20":             "-31.20",
		"0":                  "0",
		"0.00":               "0.00",
		"31.":                "31.",
		".":                  ".",
		"31,205":             "31,205",
		"1,23,456":           "1,23,456",
		"1.2.3":              "1.2.3",
		"1,,2":               "1,,2",
		"31.20 USD":          "USD",
		"31.20/oz":           "/oz",
		"31 20":              "20",
		"0.000000001":        "0.000000001",
		"31.20e9999999999":   "9999999999",
		"1e31":               "31",
		"1e":                 "",
		"1e30":               "1e30",
		"99999999999999":     "99999999999999",
		"NaN":                "NaN",
		"0x1f":               "x1f",
		"1_000":              "_000",
		"١٢":                 "١٢", // digits, but not those the rest of us can check
		"1" + zeros(40):      "1" + zeros(40),
		" 1" + zeros(80):     " 1" + zeros(62),
		"31.20 and more, so": "and more, so",
	} {
		_, err := melt.ParsePrice(text)
		bad, ok := errors.AsType[*melt.SyntaxError](err)
		if !ok || bad.Word != word {
			t.Errorf("%q: %v; want it to point at %q", text, err, word)
		}
	}
}

func zeros(n int) string { return strings.Repeat("0", n) }

func TestPriceOf(t *testing.T) {
	// A feed that quotes ounces per dollar, 0.016496894, means 60.61747138 dollars an ounce.
	got, err := melt.PriceOf(new(big.Rat).Inv(big.NewRat(16_496_894, 1_000_000_000)))
	if err != nil || got.String() != "60.61747139" { // 60.617471386…
		t.Errorf("got %v, %v", got, err)
	}
	for value, want := range map[*big.Rat]error{
		big.NewRat(0, 1):                melt.ErrNoPrice,
		big.NewRat(-1, 1):               melt.ErrNoPrice,
		big.NewRat(1, 1e9):              melt.ErrNoPrice,
		big.NewRat(math.MaxInt64, 1):    melt.ErrTooLarge,
		big.NewRat(math.MinInt64, 1):    melt.ErrTooLarge,
		big.NewRat(100_000_000_000, 1):  melt.ErrTooLarge,
		big.NewRat(-100_000_000_000, 1): melt.ErrTooLarge,
	} {
		if got, err := melt.PriceOf(value); !errors.Is(err, want) || got != 0 {
			t.Errorf("%v: %v, %v; want %v", value, got, err, want)
		}
	}
}

func TestPriceReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := melt.Price(rapid.Int64Range(1, math.MaxInt64).Draw(t, "price"))
		if again, err := melt.ParsePrice(p.String()); err != nil || again != p {
			t.Fatalf("%d is written %s and read %d, %v", p, p, again, err)
		}
	})
}

func FuzzParsePrice(f *testing.F) {
	for _, seed := range []string{"31.20", "31,20", "1,234.5", "6.06e1", "-1", "", "1e999999999", "１２", "31.20 USD"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := melt.ParsePrice(text)
		if err != nil {
			pointsAtText(t, text, err)
			return
		}
		if again, err := melt.ParsePrice(p.String()); p <= 0 || err != nil || again != p {
			t.Fatalf("%q read as %v, which reads as %v, %v", text, p, again, err)
		}
	})
}

// pointsAtText fails unless err points at a word of text, or asks about one.
func pointsAtText(t *testing.T, text string, err error) {
	t.Helper()
	col, word := -1, ""
	if bad, ok := errors.AsType[*melt.SyntaxError](err); ok {
		col, word = bad.Col, bad.Word
		if bad.Reason == "" {
			t.Fatalf("%q: no reason given", text)
		}
	} else if asks, ok := errors.AsType[*melt.Ambiguous](err); ok {
		col, word = asks.Col, asks.Word
		if len(asks.Readings) < 2 {
			t.Fatalf("%q: a question with %d answers", text, len(asks.Readings))
		}
	} else {
		t.Fatalf("%q: %v is of no type a caller can use", text, err)
	}
	if col < 0 || col+len(word) > len(text) || text[col:col+len(word)] != word {
		t.Fatalf("%q: points astray, %d %q", text, col, word)
	}
}
