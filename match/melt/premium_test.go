package melt_test

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"spareounce/match/melt"
)

func TestPremiums(t *testing.T) {
	for _, row := range readTable(t, "testdata/premiums.csv") {
		t.Run(row["note"], func(t *testing.T) {
			fine := rational(t, row["fine_ozt"])
			fine.Mul(fine, inUnit(melt.TroyOunce, 1))
			nanograms := new(big.Int).Quo(fine.Num(), fine.Denom()).Int64()
			spot, err := melt.ParsePrice(row["spot"])
			if err != nil {
				t.Fatal(err)
			}
			paid := amount(t, "USD", row["paid"])
			p, err := melt.PremiumOf(paid, melt.Metal{Fine: melt.Weight(nanograms)}, spot, "USD")
			if err != nil {
				t.Fatal(err)
			}
			// The table carries mills in money, so it agrees with cents to half a cent.
			if want := new(big.Rat).Mul(rational(t, row["money"]), big.NewRat(100, 1)); !within(p.Money, want, big.NewRat(1, 2)) {
				t.Errorf("premium %d, want %v", p.Money, want.FloatString(2))
			}
			if want := new(big.Rat).Mul(rational(t, row["per_ozt"]), big.NewRat(100, 1)); !within(p.PerOunce, want, big.NewRat(51, 100)) {
				t.Errorf("premium per ounce %d, want %v", p.PerOunce, want.FloatString(2))
			}
			if got := p.Percent.FloatString(2); rational(t, got).Cmp(rational(t, row["percent"])) != 0 {
				t.Errorf("premium %s %%, want %s", got, row["percent"])
			}
		})
	}
}

func within(a melt.Minor, want, most *big.Rat) bool {
	apart := new(big.Rat).Sub(big.NewRat(int64(a), 1), want)
	return apart.Abs(apart).Cmp(most) <= 0
}

func TestPercentIsShownToOneDecimal(t *testing.T) {
	for want, percent := range map[string]*big.Rat{
		"4.3%":   big.NewRat(427, 100),
		"-0.9%":  big.NewRat(-93, 100),
		"0.1%":   big.NewRat(5, 100),
		"-0.1%":  big.NewRat(-5, 100),
		"0.0%":   big.NewRat(-4, 100),
		"300.4%": big.NewRat(3004, 10),
	} {
		if got := (melt.Premium{Percent: percent}).PercentString(); got != want {
			t.Errorf("%v is shown as %s, want %s", percent, got, want)
		}
	}
	if got := (melt.Premium{}).PercentString(); got != "0.0%" {
		t.Errorf("no premium is shown as %s", got)
	}
}

// A maker who promises a full ounce of fine metal is held to it; one who does not gets gross times fineness.
func TestStatedFineWeightWins(t *testing.T) {
	m := melt.Metal{Gross: 31_134_600_000, Fineness: 9990, Fine: melt.TroyOunce}
	if got, err := melt.Value(m, 60*dollar, "USD"); err != nil || got != 60_00 || m.FineWeight() != melt.TroyOunce {
		t.Errorf("stated fine: %d, %v, %v", got, m.FineWeight(), err)
	}
	m.Fine = 0
	if got, err := melt.Value(m, 60*dollar, "USD"); err != nil || got != 60_00 || m.FineWeight() != 31_103_465_400 {
		t.Errorf("gross times fineness: %d, %v, %v", got, m.FineWeight(), err) // 0.99999963 oz t
	}
	m.Gross = melt.TroyOunce
	if got, err := melt.Value(m, 60*dollar, "USD"); err != nil || got != 59_94 {
		t.Errorf("an ounce gross: %d, %v", got, err)
	}
}

func TestValueWithMarkup(t *testing.T) {
	round := melt.Metal{Gross: melt.TroyOunce, Fineness: 9990} // 59.94 at 60
	for _, c := range []struct {
		name   string
		markup melt.Markup
		want   melt.Minor
		err    error
	}{
		{"none", melt.Markup{}, 59_94, nil},
		{"five percent", melt.Markup{BasisPoints: 500}, 62_94, nil}, // 62.937
		{"an eighth of a percent", melt.Markup{BasisPoints: 12}, 60_01, nil},
		{"two fifty an ounce", melt.Markup{PerOunce: 2_50}, 62_44, nil}, // 59.94 + 2.4975
		{"three a piece", melt.Markup{PerPiece: 3_00}, 62_94, nil},
		{"all together", melt.Markup{BasisPoints: 500, PerOunce: 2_50, PerPiece: 3_00}, 68_43, nil}, // 68.4345
		{"a discount", melt.Markup{BasisPoints: -200}, 58_74, nil},                                  // 58.7412
		{"given away", melt.Markup{BasisPoints: -10_000}, 0, nil},
		{"and money with it", melt.Markup{BasisPoints: -10_001}, 0, melt.ErrBelowZero},
		{"past all counting", melt.Markup{PerPiece: math.MaxInt64}, 0, melt.ErrTooLarge},
	} {
		got, err := melt.ValueWith(round, 60*dollar, "USD", c.markup)
		if got != c.want || !errors.Is(err, c.err) {
			t.Errorf("%s: %d, %v; want %d, %v", c.name, got, err, c.want, c.err)
		}
	}
	if _, err := melt.ValueWith(melt.Metal{}, 60*dollar, "USD", melt.Markup{PerPiece: 3_00}); !errors.Is(err, melt.ErrUnknownMetal) {
		t.Errorf("unknown metal: %v", err)
	}
}

func TestPremiumOfRefuses(t *testing.T) {
	ounce := melt.Metal{Fine: melt.TroyOunce}
	speck := melt.Metal{Fine: 1}
	for name, c := range map[string]struct {
		price melt.Minor
		metal melt.Metal
		want  error
	}{
		"unknown metal":            {1, melt.Metal{}, melt.ErrUnknownMetal},
		"far below":                {math.MinInt64, ounce, melt.ErrTooLarge},
		"a fortune for a nanogram": {math.MaxInt64, speck, melt.ErrTooLarge},
	} {
		if _, err := melt.PremiumOf(c.price, c.metal, 60*dollar, "USD"); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}
