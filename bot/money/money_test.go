package money

import (
	"strings"
	"testing"

	"github.com/bojanz/currency"
	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// What CLDR's charts print for these locales (version 48): the mark, the grouping, the sign and where it stands.
func TestAmountsByLocale(t *testing.T) {
	for _, c := range []struct {
		locale string
		amount melt.Minor
		code   melt.Currency
		want   string
	}{
		{"", 123450, "USD", "USD 1234.50"},
		{"", -40, "EUR", "EUR -0.40"},
		{"en-US", 123450, "USD", "$1,234.50"},
		{"en-GB", 123450, "USD", "US$1,234.50"},
		{"de", 123450, "EUR", "1.234,50 €"},
		{"de-CH", 123450, "CHF", "CHF 1'234.50"},
		{"fr", 123450, "EUR", "1 234,50 €"},
		{"sv", -50, "SEK", "−0,50 kr"},
		{"en-IN", 123456789, "INR", "₹12,34,567.89"},
		{"ja", 1234568, "JPY", "￥1,234,568"},
		{"en", 1234568, "JPY", "¥1,234,568"},
		{"en", 1234500, "KWD", "KWD 1,234.500"},
		{"ar-EG", 123450, "EGP", "١٬٢٣٤٫٥٠ ج.م."},
	} {
		if got := spaced(Amount(c.amount, c.code, c.locale)); got != c.want {
			t.Errorf("%s in %q: %q, want %q", c.code, c.locale, got, c.want)
		}
	}
	for locale, want := range map[string]string{"": "-1234.50", "en": "-1,234.50", "de": "-1.234,50", "en-IN": "-1,234.50", "sv": "−1 234,50"} {
		if got := spaced(Number("-1234.50", locale)); got != want {
			t.Errorf("%q: %q, want %q", locale, got, want)
		}
	}
	for _, text := range []string{"", "12,5", "1e9", "x", ".5", "NaN"} {
		if got := Number(text, "de"); got != text {
			t.Errorf("%q became %q", text, got)
		}
	}
}

// spaced writes CLDR's spaces that do not break as plain ones, and drops marks of direction.
func spaced(text string) string {
	return strings.NewReplacer("\u00a0", " ", "\u202f", " ", "’", "'", "\u200e", "", "\u200f", "", "\u061c", "").Replace(text)
}

// Traps: libraries do not agree with ISO 4217 on decimals, and one does not know silver at all. Ours is melt's table.
func TestDecimalsAreISOs(t *testing.T) {
	for code, want := range map[melt.Currency]string{
		"IQD": "IQD 1.234", "AFN": "AFN 12.34", "HUF": "HUF 12.34", "IRR": "IRR 12.34", "RSD": "RSD 12.34", "MGA": "MGA 12.34", "CLF": "CLF 0.1234",
	} {
		if got := spaced(Amount(1234, code, "en")); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	if currency.IsValid("XAG") {
		t.Error("the library has learnt of silver; see whether it gives it decimals")
	}
	if got := Amount(5, "XAG", "de"); got != melt.Currency("XAG").Format(5) {
		t.Errorf("no amount of silver is money, yet %q", got)
	}
}

var locales = strings.Fields(`en en-US en-GB en-IN en-CA de de-AT de-CH fr fr-CH fr-CA it es es-MX pt pt-BR nl sv da nb fi pl cs hu
	tr ru uk el he ar ar-EG fa hi bn ja ko zh th vi zz`)

// The library reads back, in the same locale, exactly what was written: parse(format(x)) = x.
func TestWhatIsWrittenReadsBack(t *testing.T) {
	codes := []melt.Currency{"USD", "EUR", "GBP", "CHF", "JPY", "INR", "KWD", "IQD", "HUF", "SEK", "PLN", "CLF", "EGP", "TRY", "CAD"}
	rapid.Check(t, func(t *rapid.T) {
		locale := rapid.SampledFrom(locales).Draw(t, "locale")
		code := rapid.SampledFrom(codes).Draw(t, "currency")
		a := melt.Minor(rapid.Int64Range(-1e14, 1e14).Draw(t, "amount"))
		text := Amount(a, code, locale)
		read, err := currency.NewFormatter(currency.NewLocale(locale)).Parse(text, string(code))
		if err != nil {
			t.Fatalf("%s in %s is %q, which does not read back: %v", code.Format(a), locale, text, err)
		}
		digits, _ := code.Digits()
		again, err := code.ParseSigned(read.RoundTo(uint8(digits), currency.RoundHalfUp).Number())
		if err != nil || again != a {
			t.Fatalf("%s in %s is %q and reads back as %v, %v", code.Format(a), locale, text, again, err)
		}
		if plain, err := code.ParseSigned(Amount(a, code, "")); err != nil || plain != a {
			t.Fatalf("%q reads back as %v, %v", Amount(a, code, ""), plain, err)
		}
	})
}

func TestLocales(t *testing.T) {
	for tag, want := range map[string]string{"de": "de", "DE_ch": "de-CH", " en-us ": "en-US", "sr-latn-rs": "sr-Latn-RS", "es-419": "es-419"} {
		if got, ok := Locale(tag); !ok || got != want {
			t.Errorf("%q is %q, %v", tag, got, ok)
		}
	}
	for _, tag := range []string{"", "d", "german", "de-", "de-CH-x-private", "12", "de CH", "de-Switzerland", "-", "日本"} {
		if got, ok := Locale(tag); ok {
			t.Errorf("%q was taken as %q", tag, got)
		}
	}
}

// Whatever a locale is, nothing panics and digits stay what they are.
func FuzzAmount(f *testing.F) {
	f.Add(int64(123450), "EUR", "de")
	f.Add(int64(-1), "KWD", "ar-EG")
	f.Fuzz(func(t *testing.T, n int64, code, tag string) {
		locale, _ := Locale(tag)
		if text := Amount(melt.Minor(n), melt.Currency(code), locale); text == "" {
			t.Fatalf("%d %s in %q is nothing", n, code, locale)
		}
	})
}
