// Package money writes amounts and numbers as a member is used to read them: with the decimal mark, the grouping, the
// digits and the currency sign of their locale, from Unicode's CLDR.
//
// What an amount is stays with match/melt: how many decimals a currency has is ISO 4217's word as melt has pinned it, and
// not CLDR's, which rounds some currencies for everyday use and changes its mind from release to release. Without a locale
// an amount is written plainly, with the currency's code, as members type it.
package money

import (
	"math/big"
	"regexp"
	"strings"

	"github.com/bojanz/currency"

	"spareounce/match/melt"
)

// wellFormed is a language tag of BCP 47 as far as numbers need it: a language, perhaps a script, perhaps a region.
var wellFormed = regexp.MustCompile(`^[A-Za-z]{2,3}(?:[-_][A-Za-z]{4})?(?:[-_](?:[A-Za-z]{2}|[0-9]{3}))?$`)

// Locale reads a language tag such as "de-CH" and writes it in its usual letters; false when it is none. Numbers in a
// language that CLDR's data here does not have are written as in English.
func Locale(tag string) (locale string, ok bool) {
	tag = strings.TrimSpace(tag)
	if !wellFormed.MatchString(tag) {
		return "", false
	}
	return currency.NewLocale(tag).String(), true
}

// Amount writes an amount for a locale: "$1,234.50", "1.234,50 €", "KWD 1,234.500". For the locale "" it is plain:
// "USD 1234.50". It never rounds.
func Amount(a melt.Minor, c melt.Currency, locale string) string {
	digits, ok := c.Digits()
	if locale == "" || !ok || !currency.IsValid(string(c)) {
		return c.Format(a)
	}
	amount, err := currency.NewAmount(decimal(int64(a), digits), string(c))
	if err != nil {
		return c.Format(a)
	}
	f := currency.NewFormatter(currency.NewLocale(locale))
	f.MinDigits, f.MaxDigits = uint8(digits), uint8(digits)
	return f.Format(amount)
}

// Number writes a decimal number, given as "-1234.50", with the marks and digits of a locale. What is no such number, and
// any number for the locale "", comes back as it was.
func Number(text, locale string) string {
	whole, fraction, _ := strings.Cut(text, ".")
	amount, err := currency.NewAmount(text, "USD") // the currency is not shown
	if locale == "" || err != nil || strings.ContainsAny(text, "eE") || whole == "" {
		return text
	}
	f := currency.NewFormatter(currency.NewLocale(locale))
	f.CurrencyDisplay = currency.DisplayNone
	f.MinDigits, f.MaxDigits = uint8(len(fraction)), uint8(len(fraction))
	return strings.Trim(f.Format(amount), "\u200e\u200f\u061c")
}

// decimal is n units of 10^-digits in digits.
func decimal(n int64, digits int) string {
	return new(big.Rat).SetFrac(big.NewInt(n), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil)).FloatString(digits)
}
