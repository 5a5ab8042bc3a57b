package melt

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"unicode"
)

// ParseCurrency reads an ISO 4217 code in letters of either size. A code without a minor unit ("XAG") is refused, since
// no amount of money can be held in it. Errors are *SyntaxError.
func ParseCurrency(text string) (Currency, error) {
	r, err := newReader(text)
	if err != nil {
		return "", err
	}
	w := r.rest()
	c := Currency(strings.ToUpper(w.text))
	if _, ok := c.Digits(); ok {
		return c, nil
	}
	if slices.Contains(withoutMinorUnit, c) {
		return "", w.wrong("%s has no minor unit to count money in", c)
	}
	return "", w.wrong("this is no ISO 4217 code; write three letters, like USD")
}

// Parse reads an amount of c that is not below zero, as people type it: "31.20", "31,20", "31", "1,234.50",
// "USD 31.20", "31.20 usd", "$31.20", "31 €". The sign $ says dollar but not which; since amounts here are all in c, a
// sign is read when it is one of c's and refused when it is not. "1,234" is a thousand and more in a currency with fewer
// than three decimals, and refused in one with three, where it may be either.
//
// More decimals than c has, exponents, a second currency and a sign below zero are a *SyntaxError; so is any amount of a
// c without a minor unit.
func (c Currency) Parse(text string) (Minor, error) {
	amount, err := c.ParseSigned(text)
	if err == nil && amount < 0 {
		return 0, (&reader{text: text}).rest().wrong("the amount is below zero")
	}
	return amount, err
}

// ParseSigned is Parse for what may be below zero, as a premium or a balance may: "-0.40", "USD -0.40", "-$0.40". It
// reads back all that Format writes.
func (c Currency) ParseSigned(text string) (Minor, error) {
	r, err := newReader(text)
	if err != nil {
		return 0, err
	}
	whole := r.rest()
	perMajor, err := c.minorPerMajor()
	if err != nil {
		return 0, whole.wrong("%s has no minor unit to count money in", c)
	}
	digits, _ := c.Digits()
	negative := r.takeAny("-", "−")
	before := r.take(isCurrencySign)
	negative = negative || r.takeAny("-", "−")
	if r.rest().text == "" {
		return 0, whole.wrong("an amount is missing; write it like %s", c.Format(31*Minor(perMajor)))
	}
	n, err := r.number(digits)
	if err != nil {
		return 0, err
	}
	after := r.rest()
	if err := c.named(before, after); err != nil {
		return 0, err
	}
	if n.decimals > digits {
		return 0, n.wrong("%s has %d decimals", c, digits)
	}
	minor := n.value.Mul(n.value, new(big.Rat).SetInt64(perMajor)).Num()
	if negative {
		minor.Neg(minor)
	}
	if !minor.IsInt64() {
		return 0, n.wrong("the amount is too large")
	}
	return Minor(minor.Int64()), nil
}

// Format writes a in c plainly, for no country in particular: "USD 31.20", "JPY 3120", "USD -0.40". ParseSigned reads
// it back. An amount of a c without a minor unit cannot have come from here; it is written as the bare count it is.
func (c Currency) Format(a Minor) string {
	digits, ok := c.Digits()
	if !ok {
		return fmt.Sprintf("%s %d minor units", c, int64(a))
	}
	return string(c) + " " + formatDecimal(int64(a), digits, digits)
}

// named checks that what stands before or after the number names c, and at most once.
func (c Currency) named(before, after word) error {
	if before.text != "" && after.text != "" {
		return after.wrong("an amount has one currency")
	}
	name := before
	if after.text != "" {
		name = after
	}
	if name.text == "" || strings.EqualFold(name.text, string(c)) {
		return nil
	}
	if slices.Contains(currencySigns[name.text], c) {
		return nil
	}
	_, isCode := Currency(strings.ToUpper(name.text)).Digits()
	_, isSign := currencySigns[name.text]
	if isCode || isSign {
		return name.wrong("amounts here are in %s", c)
	}
	return name.wrong("this does not belong to an amount in %s", c)
}

// isCurrencySign is true of what may stand right before a number as the name of its currency.
func isCurrencySign(r rune) bool {
	return !isNumeral(r) && !unicode.IsSpace(r) && r != '-' && r != '−'
}

// currencySigns are the signs of the currencies, each with all that are written with it. Source: Unicode CLDR 41,
// symbols and narrow symbols of the root and English locales; C$ for Canada, A$ and S$, common practice.
var currencySigns = codesBySign(map[string]string{
	"$": `
		ARS AUD BBD BMD BND BSD BZD CAD CLP COP CUP DOP FJD GYD HKD JMD KYD LRD MXN NAD NZD SBD SGD SRD TTD
		TWD USD UYU XCD`,
	"US$": "USD", "CA$": "CAD", "C$": "CAD NIO", "A$": "AUD", "NZ$": "NZD", "HK$": "HKD", "S$": "SGD", "NT$": "TWD",
	"MX$": "MXN", "R$": "BRL", "EC$": "XCD", "T$": "TOP",
	"£": "EGP FKP GBP GIP LBP SHP SSP SYP", "E£": "EGP", "L£": "LBP",
	"€": "EUR", "¥": "CNY JPY", "JP¥": "JPY", "CN¥": "CNY", "₩": "KPW KRW", "₹": "INR", "₺": "TRY", "₽": "RUB",
	"₴": "UAH", "₪": "ILS", "₱": "PHP", "₫": "VND", "฿": "THB", "₦": "NGN", "₡": "CRC", "₲": "PYG", "₸": "KZT",
	"₾": "GEL", "₼": "AZN", "₮": "MNT", "₭": "LAK", "৳": "BDT", "៛": "KHR", "֏": "AMD", "؋": "AFN", "GH₵": "GHS",
	"kr": "DKK ISK NOK SEK", "Kč": "CZK", "zł": "PLN", "Ft": "HUF", "lei": "RON", "R": "ZAR", "RM": "MYR", "Rp": "IDR",
})

func codesBySign(lists map[string]string) map[string][]Currency {
	table := make(map[string][]Currency)
	for sign, list := range lists {
		for _, code := range strings.Fields(list) {
			table[sign] = append(table[sign], Currency(code))
		}
	}
	return table
}
