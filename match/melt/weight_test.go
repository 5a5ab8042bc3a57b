package melt_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

func TestParseWeight(t *testing.T) {
	for text, want := range map[string]melt.Weight{
		"1 ozt":                   melt.TroyOunce,
		"1ozt":                    melt.TroyOunce,
		"1 oz t":                  melt.TroyOunce,
		"1 oz. t.":                melt.TroyOunce,
		"1 Troy Ounce":            melt.TroyOunce,
		"1-troy-ounce":            melt.TroyOunce,
		"5 toz":                   5 * melt.TroyOunce,
		"1/10 ozt":                melt.TroyOunce / 10,
		"1⁄10 ozt":                melt.TroyOunce / 10,
		"½ ozt":                   melt.TroyOunce / 2,
		"1½ ozt":                  melt.TroyOunce * 3 / 2,
		"1 1/2 ozt":               melt.TroyOunce * 3 / 2,
		"half a troy ounce":       melt.TroyOunce / 2,
		"a tenth of a troy oz":    melt.TroyOunce / 10,
		"Quarter ozt":             melt.TroyOunce / 4,
		"2.5 ozt":                 melt.TroyOunce * 5 / 2,
		"2,5 ozt":                 melt.TroyOunce * 5 / 2,
		"100g":                    100 * melt.Gram,
		"100 Grams":               100 * melt.Gram,
		"31.1035 g":               31_103_500_000,
		"31,1035 g":               31_103_500_000,
		"0,999 g":                 999_000_000,
		"1,000.5 g":               1_000_500_000_000,
		"250 mg":                  melt.Gram / 4,
		"1 kg":                    melt.Kilogram,
		"kilo":                    melt.Kilogram,
		"half a kilo":             melt.Kilogram / 2,
		"412.5 grains":            melt.Grain * 825 / 2,
		"4800/11 grain":           28_275_888_000, // 4800/11 × 64798910 is whole
		"20 dwt":                  melt.TroyOunce,
		"1 oz av":                 melt.AvoirdupoisOunce,
		"1 avoirdupois ounce":     melt.AvoirdupoisOunce,
		"1 lb t":                  melt.TroyPound,
		"1 lb av":                 melt.AvoirdupoisPound,
		"1/3 g":                   333_333_333,
		"0.0000000005 g":          1, // rounded half up to the nanogram
		" 1\tozt ":                melt.TroyOunce,
		"9223372036.854775807 g ": math.MaxInt64,
	} {
		if got, err := melt.ParseWeight(text); err != nil || got != want {
			t.Errorf("%q = %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParseWeightAsks(t *testing.T) {
	for text, want := range map[string][]melt.Weight{
		"1oz":         {melt.TroyOunce, melt.AvoirdupoisOunce},
		"1 oz.":       {melt.TroyOunce, melt.AvoirdupoisOunce},
		"1/10 oz":     {melt.TroyOunce / 10, 2_834_952_313}, // 2.8349523125 g, to the nanogram
		"half an oz":  {melt.TroyOunce / 2, 14_174_761_563},
		"½ ounce":     {melt.TroyOunce / 2, 14_174_761_563},
		"1 pound":     {melt.AvoirdupoisPound, melt.TroyPound},
		"412.5 gr":    {412_500_000_000, melt.Grain * 825 / 2},
		"  10 ounces": {10 * melt.TroyOunce, 10 * melt.AvoirdupoisOunce},
	} {
		_, err := melt.ParseWeight(text)
		asks, ok := errors.AsType[*melt.Ambiguous](err)
		if !ok || len(asks.Readings) != len(want) {
			t.Errorf("%q: %v; want a question", text, err)
			continue
		}
		for i, r := range asks.Readings {
			if got, err := melt.ParseWeight(r.Text); err != nil || got != want[i] {
				t.Errorf("%q offers %q = %d, %v; want %d", text, r.Text, got, err, want[i])
			}
		}
	}
}

func TestAmbiguousAsksAMember(t *testing.T) {
	_, err := melt.ParseWeight("1oz")
	asks, _ := errors.AsType[*melt.Ambiguous](err)
	const want = "“1oz” can mean two things. Do you mean 1 ozt (troy ounces, 31.1034768 g each) " +
		"or 1 oz av (avoirdupois ounces, 28.349523125 g each)?"
	if got := asks.Plain(); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestParseWeightPointsAtTheWord(t *testing.T) {
	for text, word := range map[string]string{
		"":                "",
		"100":             "100",
		"1 stone":         "stone",
		"1 ozt silver":    "silver",
		"1 ozt fine":      "fine",
		"10 x 1 ozt":      "x",
		"heavy":           "heavy",
		"-1 ozt":          "-1 ozt",
		"0 g":             "0 g",
		"1/0 ozt":         "1/0",
		"1/2.5 ozt":       "1/2.5",
		"1.5/2 ozt":       "1.5/2",
		"1.5 1/2 ozt":     "1/2",
		"1,000 g":         "1,000",
		"99999999999 kg":  "99999999999 kg",
		"0.0000000004 g":  "0.0000000004 g",
		"1 lb 2 oz":       "2",
		"1e3 g":           "e3",
		"half":            "half",
		"1/10/10 ozt":     "/10",
		"a troy ounce of": "a troy ounce of",
	} {
		_, err := melt.ParseWeight(text)
		bad, ok := errors.AsType[*melt.SyntaxError](err)
		if !ok || bad.Word != word {
			t.Errorf("%q: %v; want it to point at %q", text, err, word)
		}
	}
}

func TestWeightIsWrittenAsPiecesAreMade(t *testing.T) {
	for w, want := range map[melt.Weight]string{
		melt.TroyOunce:         "1 ozt",
		melt.TroyOunce / 10:    "1/10 ozt",
		melt.TroyOunce / 3:     "1/3 ozt",
		melt.TroyOunce * 5 / 2: "2.5 ozt",
		1000 * melt.TroyOunce:  "1000 ozt",
		melt.Pennyweight:       "1/20 ozt",
		melt.Kilogram:          "1 kg",
		100 * melt.Gram:        "100 g",
		31_103_500_000:         "31.1035 g",
		melt.Grain:             "0.06479891 g",
		1:                      "0.000000001 g",
		0:                      "0 g",
		-melt.Gram:             "-1 g",
		-melt.TroyOunce:        "-1 ozt",
		math.MinInt64:          "-9223372036.854775808 g",
	} {
		if got := w.String(); got != want {
			t.Errorf("%d is written %q, want %q", int64(w), got, want)
		}
	}
}

func TestWeightReadsBack(t *testing.T) {
	anyWeight := rapid.OneOf(
		rapid.Int64Range(1, math.MaxInt64),
		rapid.Map(rapid.Int64Range(1, 100_000), func(n int64) int64 { return n * int64(melt.TroyOunce) / 100 }),
		rapid.Map(rapid.Int64Range(1, 480), func(n int64) int64 { return int64(melt.TroyOunce) / n }),
		rapid.Map(rapid.Int64Range(1, 9_000_000), func(n int64) int64 { return n * int64(melt.Kilogram) }),
	)
	rapid.Check(t, func(t *rapid.T) {
		w := melt.Weight(anyWeight.Draw(t, "weight"))
		if again, err := melt.ParseWeight(w.String()); err != nil || again != w {
			t.Fatalf("%d is written %s and read %d, %v", int64(w), w, again, err)
		}
	})
}

func FuzzParseWeight(f *testing.F) {
	for _, seed := range []string{"1 ozt", "1oz", "1/10 oz", "½ oz", "half an ounce", "100g", "1,000 g", "1 1/2 lb", "kilo", "1/0 g", "½"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		w, err := melt.ParseWeight(text)
		if err != nil {
			pointsAtText(t, text, err)
			if asks, ok := errors.AsType[*melt.Ambiguous](err); ok {
				for _, r := range asks.Readings {
					if _, err := melt.ParseWeight(r.Text); err != nil {
						t.Fatalf("%q offers %q: %v", text, r.Text, err)
					}
				}
			}
			return
		}
		if again, err := melt.ParseWeight(w.String()); w <= 0 || err != nil || again != w {
			t.Fatalf("%q read as %v, which reads as %v, %v", text, w, again, err)
		}
	})
}
