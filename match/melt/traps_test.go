package melt_test

import (
	"math/big"
	"testing"

	"spareounce/match/melt"
)

// Gross is not fine: a one-ounce .999 round of 31.1034 g holds 31.0723 g (US customs ruling N200016), 0.999 of an ounce and
// not one. Others are made heavier, hold a full ounce, and say so.
func TestGrossIsNotFine(t *testing.T) {
	round := melt.Metal{Gross: weight(t, "31.1034 g"), Fineness: fineness(t, ".999")}
	if got := inUnit(round.FineWeight(), melt.Gram).FloatString(4); got != "31.0723" {
		t.Errorf("holds %s g", got)
	}
	if round.FineOunces().Cmp(big.NewRat(1, 1)) >= 0 {
		t.Errorf("holds %s oz t", round.FineOunces().FloatString(6))
	}
	full := melt.Metal{Gross: weight(t, "31.1346 g"), Fineness: fineness(t, ".999"), Fine: melt.TroyOunce}
	if full.FineOunces().Cmp(big.NewRat(1, 1)) != 0 {
		t.Errorf("its maker states an ounce, and it holds %s", full.FineOunces().FloatString(6))
	}
}

// A newspaper calls 33.629 g of pure silver what is 33.625 g gross at 925 (from memory), 31.1031 g fine: 8 % too much.
func TestANewspapersPureSilver(t *testing.T) {
	onza := melt.Metal{Gross: weight(t, "33.625 g"), Fineness: fineness(t, "925")}
	fine := inUnit(onza.FineWeight(), melt.Gram)
	if got := fine.FloatString(4); got != "31.1031" {
		t.Errorf("holds %s g", got)
	}
	if over := new(big.Rat).Quo(rational(t, "33.629"), fine); over.FloatString(2) != "1.08" {
		t.Errorf("the newspaper has %s times as much", over.FloatString(4))
	}
}

// CLDR's units.xml (version 41) rounds the troy ounce to 0.03110348 kg, a ten-millionth too much: no constant is taken from
// there.
func TestCLDRsOunceIsNotOurs(t *testing.T) {
	theirs := rational(t, "31.10348")
	over := new(big.Rat).Quo(theirs, inUnit(melt.TroyOunce, melt.Gram))
	if got := over.Sub(over, big.NewRat(1, 1)).FloatString(8); got != "0.00000010" {
		t.Errorf("apart by %s", got)
	}
}

// ISO 4217 and CLDR (version 41, supplementalData) do not agree on the decimals of thirteen currencies; ours are ISO's.
func TestDigitsAreNotCLDRs(t *testing.T) {
	cldr := map[melt.Currency]int{
		"AFN": 0, "ALL": 0, "IQD": 0, "IRR": 0, "KPW": 0, "LAK": 0, "LBP": 0, "MGA": 0, "MMK": 0, "RSD": 0, "SOS": 0, "SYP": 0, "YER": 0,
	}
	for code, theirs := range cldr {
		if got, ok := code.Digits(); !ok || got == theirs {
			t.Errorf("%s has %d decimals, %v", code, got, ok)
		}
	}
	if _, ok := melt.Currency("XAG").Digits(); ok {
		t.Error("silver has a minor unit")
	}
}

// The standards of fineness that laws and marks name, as they are written. Sources: Hallmarking Act 1973 Schedule 2 and SI
// 2002/506 (UK: 958.4, 925, 800, 830), 16 CFR 23 (US: sterling 925, coin 900), 17 Stat. 427 (900), the Latin Monetary Union's
// convention of 1865 (835), Ley monetaria 1905 (Mexico: 902.7), Pub. L. 89-81 (400), the US Mint's fact page on wartime five
// cents (350), Coinage Act 1920 (500; from memory), London good-delivery rules (999.0); 999.9 common practice; 37/40 is how
// the Coinage Act 1870 writes 925.
func TestNamedStandards(t *testing.T) {
	for text, tenths := range map[string]melt.Fineness{
		"999": 9990, "999.0": 9990, "999.9": 9999, "958.4": 9584, "958": 9580, "925": 9250, "37/40": 9250, "sterling": 9250, "coin": 9000, "900": 9000,
		"902.7": 9027, "0.9027": 9027, "835": 8350, "830": 8300, "800": 8000, "500": 5000, "400": 4000, "350": 3500, "90%": 9000, "92.5": 9250,
	} {
		if got := fineness(t, text); got != tenths {
			t.Errorf("%q is %v", text, got)
		}
	}
}
