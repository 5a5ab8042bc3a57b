package melt_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// Every current code of ISO 4217 has the digits the standard gives it, and no other code has any.
func TestCurrencyDigitsAreThoseOfISO4217(t *testing.T) {
	rows := readTable(t, "testdata/iso4217.csv")
	standard := make(map[string]string)
	for _, row := range rows {
		standard[row["code"]] = row["minor_unit"]
	}
	if len(standard) < 170 {
		t.Fatalf("only %d codes read", len(standard))
	}
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			for c := 'A'; c <= 'Z'; c++ {
				code := string([]rune{a, b, c})
				digits, ok := melt.Currency(code).Digits()
				want, err := strconv.Atoi(standard[code])
				if ok != (err == nil) || ok && digits != want {
					t.Errorf("%s has digits %d, %v; ISO 4217 says %q", code, digits, ok, standard[code])
				}
				if _, err := melt.ParseCurrency(code); (err == nil) != ok {
					t.Errorf("ParseCurrency(%q): %v", code, err)
				}
			}
		}
	}
}

// readTable reads a table of testdata with its column names in the first row.
func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	rows, err := reader.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	table := make([]map[string]string, len(rows)-1)
	for i, row := range rows[1:] {
		table[i] = make(map[string]string)
		for j, cell := range row {
			table[i][rows[0][j]] = cell
		}
	}
	return table
}

func TestParseCurrency(t *testing.T) {
	for _, text := range []string{"USD", "usd", " Usd "} {
		if c, err := melt.ParseCurrency(text); err != nil || c != "USD" {
			t.Errorf("%q = %q, %v", text, c, err)
		}
	}
	for text, word := range map[string]string{"": "", "XAG": "XAG", "dollars": "dollars", " $": "$", "ZZZ": "ZZZ"} {
		_, err := melt.ParseCurrency(text)
		if bad, ok := errors.AsType[*melt.SyntaxError](err); !ok || bad.Word != word {
			t.Errorf("%q: %v; want it to point at %q", text, err, word)
		}
	}
}

func TestParseAmount(t *testing.T) {
	for _, c := range []struct {
		currency melt.Currency
		text     string
		want     melt.Minor
	}{
		{"USD", "31.20", 31_20},
		{"USD", "31.2", 31_20},
		{"USD", "31,20", 31_20},
		{"USD", "31", 31_00},
		{"USD", " 31 ", 31_00},
		{"USD", ".50", 50},
		{"USD", "0", 0},
		{"USD", "$31.20", 31_20},
		{"USD", "US$ 31.20", 31_20},
		{"USD", "USD 31.20", 31_20},
		{"USD", "31.20 usd", 31_20},
		{"USD", "31.20USD", 31_20},
		{"USD", "1,234.50", 1234_50},
		{"USD", "1,234", 1234_00}, // dollars have no third decimal
		{"USD", "1,234,567", 1_234_567_00},
		{"CAD", "$31.20", 31_20},
		{"CAD", "C$31.20", 31_20},
		{"EUR", "31,20 €", 31_20},
		{"EUR", "1.234,50", 1234_50},
		{"GBP", "£31", 31_00},
		{"JPY", "¥3,120", 3120},
		{"JPY", "3120 JPY", 3120},
		{"KWD", "9.125", 9125},
		{"KWD", "1,234.500", 1_234_500},
		{"CLF", "0.0001", 1},
		{"SEK", "300 kr", 300_00},
		{"USD", "92233720368547758.07", math.MaxInt64},
	} {
		if got, err := c.currency.Parse(c.text); err != nil || got != c.want {
			t.Errorf("%s %q = %d, %v; want %d", c.currency, c.text, got, err, c.want)
		}
		if got, err := c.currency.ParseSigned(c.text); err != nil || got != c.want {
			t.Errorf("%s %q signed = %d, %v; want %d", c.currency, c.text, got, err, c.want)
		}
	}
}

func TestParseSignedAmount(t *testing.T) {
	for text, want := range map[string]melt.Minor{
		"-0.40": -40, "USD -0.40": -40, "-$0.40": -40, "$-0.40": -40, "−5": -5_00, "-USD 5": -5_00, "5": 5_00,
		"-92233720368547758.08": math.MinInt64,
	} {
		if got, err := melt.Currency("USD").ParseSigned(text); err != nil || got != want {
			t.Errorf("%q = %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParseAmountPointsAtTheWord(t *testing.T) {
	for _, c := range []struct {
		currency melt.Currency
		text     string
		word     string
	}{
		{"USD", "", ""},
		{"USD", "free", "free"},
		{"USD", "about 31", "about"},
		{"USD", "$", "$"},
		{"USD", "31.205", "31.205"},
		{"USD", "31.200", "31.200"}, // thirty-one thousand two hundred, or thirty-one twenty?
		{"EUR", "1.234", "1.234"},
		{"JPY", "3120.5", "3120.5"},
		{"KWD", "1,234", "1,234"},
		{"USD", "€31", "€"},
		{"USD", "31 EUR", "EUR"},
		{"USD", "USD 31 EUR", "EUR"},
		{"USD", "$31 USD", "USD"},
		{"EUR", "$31", "$"},
		{"USD", "31 bucks", "bucks"},
		{"USD", "31e2", "e2"},
		{"USD", "31 20", "20"},
		{"USD", "-5", "-5"},
		{"USD", " USD -5 ", "USD -5"},
		{"USD", "--5", "-5"},
		{"USD", "92233720368547758.08", "92233720368547758.08"},
		{"USD", "1'234.50", "'234.50"},
		{"XAG", "31", "31"},
		{"ZZZ", "31", "31"},
	} {
		_, err := c.currency.Parse(c.text)
		bad, ok := errors.AsType[*melt.SyntaxError](err)
		if !ok || bad.Word != c.word {
			t.Errorf("%s %q: %v; want it to point at %q", c.currency, c.text, err, c.word)
		}
	}
}

func TestFormatAmount(t *testing.T) {
	for _, c := range []struct {
		currency melt.Currency
		amount   melt.Minor
		want     string
	}{
		{"USD", 31_20, "USD 31.20"},
		{"USD", 5, "USD 0.05"},
		{"USD", -40, "USD -0.40"},
		{"JPY", 3120, "JPY 3120"},
		{"KWD", 9125, "KWD 9.125"},
		{"CLF", 1, "CLF 0.0001"},
		{"USD", math.MinInt64, "USD -92233720368547758.08"},
		{"XAG", 5, "XAG 5 minor units"},
	} {
		if got := c.currency.Format(c.amount); got != c.want {
			t.Errorf("%s %d is written %q, want %q", c.currency, c.amount, got, c.want)
		}
	}
}

func anyCurrency() *rapid.Generator[melt.Currency] {
	return rapid.SampledFrom([]melt.Currency{"USD", "EUR", "JPY", "KWD", "CLF", "ISK", "IQD", "MXN"})
}

func TestAmountReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, amount := anyCurrency().Draw(t, "currency"), melt.Minor(rapid.Int64().Draw(t, "amount"))
		if again, err := c.ParseSigned(c.Format(amount)); err != nil || again != amount {
			t.Fatalf("%d is written %s and read %d, %v", amount, c.Format(amount), again, err)
		}
		if _, err := c.Parse(c.Format(amount)); (err == nil) != (amount >= 0) {
			t.Fatalf("%s: %v", c.Format(amount), err)
		}
	})
}

func FuzzParseAmount(f *testing.F) {
	for _, seed := range []string{"31.20", "USD 31.20", "$31", "1,234", "-5", "€ 31,20", "--1", "31 kr", "9.125", "1e9"} {
		for _, c := range []string{"USD", "KWD", "JPY", "XAG"} {
			f.Add(c, seed)
		}
	}
	f.Fuzz(func(t *testing.T, code, text string) {
		c := melt.Currency(code)
		amount, err := c.ParseSigned(text)
		if err != nil {
			pointsAtText(t, text, err)
			return
		}
		if again, err := c.ParseSigned(c.Format(amount)); err != nil || again != amount {
			t.Fatalf("%q read as %d, written %q, read as %d, %v", text, amount, c.Format(amount), again, err)
		}
		if _, err := c.Parse(text); (err == nil) != (amount >= 0) {
			t.Fatalf("%q read as %d, but Parse says %v", text, amount, err)
		} else if err != nil {
			pointsAtText(t, text, err)
		}
	})
}

func FuzzParseCurrency(f *testing.F) {
	f.Add("usd")
	f.Add("XAG")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := melt.ParseCurrency(text)
		if err != nil {
			pointsAtText(t, text, err)
		} else if _, ok := c.Digits(); !ok {
			t.Fatalf("%q read as %q, which has no minor unit", text, c)
		}
	})
}
