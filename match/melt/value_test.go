package melt_test

import (
	"errors"
	"testing"

	"spareounce/match/melt"
)

const dollar = melt.PriceUnit

// Nanograms times parts times cents in 64 bits makes ten ounces at 31.20 worth -281.38, as the first half of the test
// shows lest the trap be forgotten. They are worth 10 × 0.999 × 31.20 = 311.688.
func TestTenOuncesDoNotOverflow(t *testing.T) {
	gross, parts, cents := int64(10*melt.TroyOunce), int64(9990), int64(31_20)
	if wrapped := gross * parts * cents / (10_000 * int64(melt.TroyOunce)); wrapped != -281_38 {
		t.Errorf("the careless product is %d; this test no longer shows the trap", wrapped)
	}
	bar := melt.Metal{Gross: 10 * melt.TroyOunce, Fineness: 9990}
	got, err := melt.Value(bar, 31*dollar+dollar/5, "USD")
	if err != nil || got != 311_69 {
		t.Errorf("ten ounces at 31.20 = %d, %v; want 31169", got, err)
	}
}

func TestValueRefuses(t *testing.T) {
	ounce := melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}
	for name, c := range map[string]struct {
		metal    melt.Metal
		spot     melt.Price
		currency melt.Currency
		want     error
	}{
		"unknown metal":             {melt.Metal{Fineness: 9990}, dollar, "USD", melt.ErrUnknownMetal},
		"unknown fineness":          {melt.Metal{Gross: melt.TroyOunce}, dollar, "USD", melt.ErrUnknownMetal},
		"fineness above pure":       {melt.Metal{Gross: melt.TroyOunce, Fineness: 10_001}, dollar, "USD", melt.ErrImpossibleMetal},
		"weight below zero":         {melt.Metal{Gross: -1, Fineness: 9990}, dollar, "USD", melt.ErrImpossibleMetal},
		"more fine than gross":      {melt.Metal{Gross: melt.Gram, Fine: melt.TroyOunce}, dollar, "USD", melt.ErrImpossibleMetal},
		"no price":                  {ounce, 0, "USD", melt.ErrNoPrice},
		"price below zero":          {ounce, -dollar, "USD", melt.ErrNoPrice},
		"silver is no money":        {ounce, dollar, "XAG", melt.ErrNoMinorUnit},
		"a code that never was":     {ounce, dollar, "ZZZ", melt.ErrNoMinorUnit},
		"small letters":             {ounce, dollar, "usd", melt.ErrNoMinorUnit},
		"more money than there is":  {melt.Metal{Fine: 1 << 62}, 1 << 62, "USD", melt.ErrTooLarge},
		"withdrawn in January 2026": {ounce, dollar, "BGN", melt.ErrNoMinorUnit},
	} {
		t.Run(name, func(t *testing.T) {
			if got, err := melt.Value(c.metal, c.spot, c.currency); !errors.Is(err, c.want) || got != 0 {
				t.Errorf("got %d, %v; want %v", got, err, c.want)
			}
		})
	}
}
