package melt

import (
	"fmt"
	"strings"
)

// Currency is an ISO 4217 alphabetic code in capitals: "USD".
type Currency string

// Digits returns how many decimals c's minor unit has, 2 for USD and 0 for JPY, and false when c is not a current
// ISO 4217 code or has no minor unit: the metals, the bond market units, the testing code and "no currency".
func (c Currency) Digits() (int, bool) {
	d, ok := minorUnits[c]
	return d, ok
}

// minorPerMajor is how many minor units make a major one: 100 for USD.
func (c Currency) minorPerMajor() (int64, error) {
	d, ok := c.Digits()
	if !ok {
		return 0, fmt.Errorf("%w: %q", ErrNoMinorUnit, string(c))
	}
	return powersOfTen[d], nil
}

var powersOfTen = [...]int64{1, 10, 100, 1_000, 10_000}

// minorUnits is pinned here, and not taken from a locale library, because those give the digits a currency is usually
// shown with, which differ from ISO 4217 for the dinar of Iraq and a dozen others, and change from release to release.
//
// Source: ISO 4217 list one as published in the "currency-codes" data set (github.com/datasets/currency-codes, commit
// ab9b0ae), which is under the Public Domain Dedication and License. testdata/iso4217.csv is its current rows.
var minorUnits = codesByDigits(map[int]string{
	0: `BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF`,
	2: `
		AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE
		CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD
		HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK
		MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD
		RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH
		USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW ZWG`,
	3: `BHD IQD JOD KWD LYD OMR TND`,
	4: `CLF UYW`,
})

// withoutMinorUnit are the current codes that ISO 4217 gives no minor unit.
var withoutMinorUnit = []Currency{
	"XAG", "XAU", "XBA", "XBB", "XBC", "XBD", "XDR", "XPD", "XPT", "XSU", "XTS", "XUA", "XXX",
}

func codesByDigits(lists map[int]string) map[Currency]int {
	table := make(map[Currency]int)
	for digits, list := range lists {
		for _, code := range strings.Fields(list) {
			table[Currency(code)] = digits
		}
	}
	return table
}
