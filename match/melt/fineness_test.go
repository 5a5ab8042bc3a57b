package melt_test

import (
	"errors"
	"testing"

	"spareounce/match/melt"
)

func TestParseFineness(t *testing.T) {
	for text, want := range map[string]melt.Fineness{
		"999":               9990,
		".999":              9990,
		"0.999":             9990,
		"0,999":             9990,
		"999.9":             9999,
		"999,9":             9999,
		"9999":              9999,
		".9999":             9999,
		"99.99%":            9999,
		"99.9 %":            9990,
		"99.9":              9990,
		"925":               9250,
		"92.5":              9250,
		"92,5%":             9250,
		"0.925":             9250,
		"925/1000":          9250,
		"37/40":             9250, // as the Coinage Act 1870 writes sterling
		"sterling":          9250,
		"Sterling Silver":   9250,
		"925 sterling":      9250,
		"958.4":             9584,
		"Britannia":         9584,
		"coin":              9000,
		"coin silver":       9000,
		"90%":               9000,
		"90 percent":        9000,
		"90 per cent":       9000,
		"900":               9000,
		"0.9027":            9027, // the Mexican monetary law of 1905
		"40%":               4000,
		"35 pct silver":     3500,
		"800":               8000,
		"835 ‰":             8350,
		"835 per thousand":  8350,
		".999 fine":         9990,
		"999 fine silver":   9990,
		"Ag 999":            9990,
		"three nines":       9990,
		"four nines fine":   9999,
		"1.000":             10_000,
		"1000":              10_000,
		"100%":              10_000,
		"1/2":               5000,
		"½":                 5000,
		"0.0001":            1,
		"0.01%":             1,
		"100.1":             1001,
		" 999 ":             9990,
		"9250":              9250,
		"999.0":             9990,
		"99.900%":           9990,
		"nine hundred is 0": 0,
	} {
		got, err := melt.ParseFineness(text)
		if want == 0 {
			if err == nil {
				t.Errorf("%q = %v; want an error", text, got)
			}
			continue
		}
		if err != nil || got != want {
			t.Errorf("%q = %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParseFinenessAsks(t *testing.T) {
	for text, want := range map[string][2]melt.Fineness{
		"90":          {9000, 900},
		"1":           {100, 10},
		"100":         {10_000, 1000},
		"fine":        {9990, 9999},
		"Fine silver": {9990, 9999},
		" pure":       {9990, 9999},
	} {
		_, err := melt.ParseFineness(text)
		asks, ok := errors.AsType[*melt.Ambiguous](err)
		if !ok {
			t.Errorf("%q: %v; want a question", text, err)
			continue
		}
		for i, r := range asks.Readings {
			if got, err := melt.ParseFineness(r.Text); err != nil || got != want[i] {
				t.Errorf("%q offers %q = %d, %v; want %d", text, r.Text, got, err, want[i])
			}
		}
	}
}

func TestParseFinenessPointsAtTheWord(t *testing.T) {
	for text, word := range map[string]string{
		"":              "",
		"gold":          "gold",
		"22k":           "k",
		".99999":        ".99999",
		"11/12":         "11/12",
		"958.45":        "958.45",
		"1000.1":        "1000.1",
		"1984":          "1984",
		"101%":          "101",
		"0":             "0",
		"0.0":           "0.0",
		"-999":          "-999",
		"999 925":       "925",
		"900 sterling":  "sterling",
		"10001":         "10001",
		"1/0":           "1/0",
		"999 gold":      "gold",
		"1,234":         "1,234",
		"99.9 % gold":   "gold",
		"sterling gold": "sterling gold",
	} {
		_, err := melt.ParseFineness(text)
		bad, ok := errors.AsType[*melt.SyntaxError](err)
		if !ok || bad.Word != word {
			t.Errorf("%q: %v; want it to point at %q", text, err, word)
		}
	}
}

func TestEveryFinenessReadsBack(t *testing.T) {
	for f := melt.Fineness(1); f <= melt.Pure; f++ {
		if again, err := melt.ParseFineness(f.String()); err != nil || again != f {
			t.Fatalf("%d is written %s and read %d, %v", int32(f), f, again, err)
		}
	}
	for f, want := range map[melt.Fineness]string{9990: "999", 9999: "999.9", 9584: "958.4", 9250: "925", 1000: "100‰", 1: "0.1‰", 0: "0‰"} {
		if f.String() != want {
			t.Errorf("%d is written %v, want %s", int32(f), f, want)
		}
	}
}

func FuzzParseFineness(f *testing.F) {
	for _, seed := range []string{"999", ".999", "sterling", "90%", "90", "958.4", "37/40", "fine", "Ag 925", "835‰", "925 sterling"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := melt.ParseFineness(text)
		if err != nil {
			pointsAtText(t, text, err)
			return
		}
		if again, err := melt.ParseFineness(got.String()); got <= 0 || got > melt.Pure || err != nil || again != got {
			t.Fatalf("%q read as %v, which reads as %v, %v", text, got, again, err)
		}
	})
}
