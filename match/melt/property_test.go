package melt_test

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// anyMetal is a piece of up to a tonne, of which something is known.
func anyMetal() *rapid.Generator[melt.Metal] {
	return rapid.Custom(func(t *rapid.T) melt.Metal {
		m := melt.Metal{
			Gross:    melt.Weight(rapid.Int64Range(1, int64(1000*melt.Kilogram)).Draw(t, "gross")),
			Fineness: melt.Fineness(rapid.Int32Range(1, int32(melt.Pure)).Draw(t, "fineness")),
		}
		if rapid.Bool().Draw(t, "stated") {
			m.Fine = melt.Weight(rapid.Int64Range(1, int64(m.Gross)).Draw(t, "fine"))
		}
		return m
	})
}

func anyPrice() *rapid.Generator[melt.Price] {
	return rapid.Map(rapid.Int64Range(1, int64(100_000*melt.PriceUnit)), func(n int64) melt.Price { return melt.Price(n) })
}

func value(t *rapid.T, m melt.Metal, spot melt.Price, c melt.Currency) melt.Minor {
	v, err := melt.Value(m, spot, c)
	if err != nil {
		t.Fatalf("%v at %v: %v", m, spot, err)
	}
	return v
}

// The rounding never moves a value by more than half a minor unit, and moves a half away from zero.
func TestRoundingLosesAtMostHalfAMinorUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, spot, c := anyMetal().Draw(t, "metal"), anyPrice().Draw(t, "spot"), anyCurrency().Draw(t, "currency")
		digits, _ := c.Digits()
		exact := new(big.Rat).Mul(m.FineOunces(), spot.Rat())
		exact.Mul(exact, new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil)))
		lost := new(big.Rat).Sub(exact, big.NewRat(int64(value(t, m, spot, c)), 1))
		if half := big.NewRat(1, 2); lost.Cmp(half) >= 0 || lost.Cmp(half.Neg(half)) < 0 {
			t.Fatalf("%v at %v: lost %v", m, spot, lost.FloatString(6))
		}
	})
}

func TestHalvesRoundAwayFromZero(t *testing.T) {
	for text, want := range map[string]melt.Minor{"0.005": 1, "0.015": 2, "0.025": 3, "0.00499999": 0, "0.00500001": 1} {
		spot, err := melt.ParsePrice(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := melt.Value(melt.Metal{Fine: melt.TroyOunce}, spot, "USD"); err != nil || got != want {
			t.Errorf("an ounce at %s = %d, %v; want %d", text, got, err, want)
		}
	}
}

// Two pieces valued apart and together differ only by the roundings: one and a half minor units at the very most, so one.
func TestValueIsAdditive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spot, c := anyPrice().Draw(t, "spot"), anyCurrency().Draw(t, "currency")
		a := melt.Metal{Fine: anyMetal().Draw(t, "a").Gross}
		b := melt.Metal{Fine: anyMetal().Draw(t, "b").Gross}
		apart := value(t, a, spot, c) + value(t, b, spot, c)
		together := value(t, melt.Metal{Fine: a.Fine + b.Fine}, spot, c)
		if d := apart - together; d < -1 || d > 1 {
			t.Fatalf("apart %d, together %d", apart, together)
		}
	})
}

func TestTimesIsAdditionRepeated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, n := anyMetal().Draw(t, "metal"), rapid.IntRange(0, 1000).Draw(t, "count")
		stack, err := m.Times(n)
		want := new(big.Rat).Mul(m.FineOunces(), big.NewRat(int64(n), 1))
		if err != nil || stack.FineOunces().Cmp(want) != 0 {
			t.Fatalf("%d of %v hold %v, %v; want %v", n, m, stack.FineOunces(), err, want)
		}
	})
	if _, err := (melt.Metal{Gross: melt.Kilogram}).Times(math.MaxInt); !errors.Is(err, melt.ErrTooLarge) {
		t.Errorf("more than the earth holds: %v", err)
	}
	if _, err := (melt.Metal{Gross: melt.Kilogram}).Times(-1); !errors.Is(err, melt.ErrImpossibleMetal) {
		t.Errorf("minus one piece: %v", err)
	}
}

// More metal, finer metal or a higher price never makes a piece worth less.
func TestValueIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, spot, c := anyMetal().Draw(t, "metal"), anyPrice().Draw(t, "spot"), anyCurrency().Draw(t, "currency")
		base := value(t, m, spot, c)
		heavier, finer := m, m
		heavier.Gross += melt.Weight(rapid.Int64Range(0, int64(melt.Kilogram)).Draw(t, "heavier"))
		finer.Fineness = melt.Fineness(rapid.Int32Range(int32(m.Fineness), int32(melt.Pure)).Draw(t, "finer"))
		dearer := spot + anyPrice().Draw(t, "dearer")
		if value(t, heavier, spot, c) < base || value(t, finer, spot, c) < base || value(t, m, dearer, c) < base {
			t.Fatalf("%v at %v is worth %d, and more of it less", m, spot, base)
		}
	})
}

// Melt value and premium in money make up the price exactly, as shown.
func TestPremiumAndMeltMakeThePrice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, spot, c := anyMetal().Draw(t, "metal"), anyPrice().Draw(t, "spot"), anyCurrency().Draw(t, "currency")
		m.Gross += melt.Gram // a price per ounce of a nanogram need not fit
		m.Fine = max(m.Fine, melt.Milligram)
		price := melt.Minor(rapid.Int64Range(0, 1_000_000_00).Draw(t, "price"))
		p, err := melt.PremiumOf(price, m, spot, c)
		if err != nil {
			t.Fatal(err)
		}
		if v := value(t, m, spot, c); v+p.Money != price {
			t.Fatalf("melt %d and premium %d do not make %d", v, p.Money, price)
		}
		if p.Percent.Sign()*int(p.Money) < 0 || p.Percent.Sign()*int(p.PerOunce) < 0 {
			t.Fatalf("signs disagree: %v", p)
		}
	})
}

func TestMinorDoesNotWrap(t *testing.T) {
	anyAmount := rapid.OneOf(rapid.Int64(), rapid.SampledFrom([]int64{math.MinInt64, math.MaxInt64, -1, 0, 1}))
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyAmount.Draw(t, "a"), anyAmount.Draw(t, "b")
		sum := new(big.Int).Add(big.NewInt(a), big.NewInt(b))
		if got, err := melt.Minor(a).Add(melt.Minor(b)); (err == nil) != sum.IsInt64() || err == nil && int64(got) != sum.Int64() {
			t.Fatalf("%d + %d = %d, %v", a, b, got, err)
		}
		product := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
		if got, err := melt.Minor(a).Times(int(b)); (err == nil) != product.IsInt64() || err == nil && int64(got) != product.Int64() {
			t.Fatalf("%d × %d = %d, %v", a, b, got, err)
		}
	})
}
