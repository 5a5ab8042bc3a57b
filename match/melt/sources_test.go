package melt_test

import (
	"fmt"
	"math/big"
	"os/exec"
	"strings"
	"testing"

	"spareounce/match/melt"
)

// The fine weight of each coin is what the legal gross weight and fineness give, to eight decimals of a troy ounce, and
// what is printed elsewhere, to two units in the last place printed: some tables truncate, and the British ones were
// worked with the grain of their day.
func TestCoins(t *testing.T) {
	rows := readTable(t, "testdata/coins.csv")
	if len(rows) != 31 {
		t.Fatalf("%d coins", len(rows))
	}
	for _, row := range rows {
		t.Run(row["id"], func(t *testing.T) {
			coin := melt.Metal{Gross: weight(t, row["gross"]), Fineness: fineness(t, row["fineness"])}
			fine := coin.FineOunces()
			if got := fine.FloatString(8); got != row["fine_ozt"] {
				t.Errorf("%v at %v holds %s oz t, want %s", coin.Gross, coin.Fineness, got, row["fine_ozt"])
			}
			if row["published"] == "" {
				return
			}
			fineGrams := new(big.Rat).Mul(fine, inUnit(melt.TroyOunce, melt.Gram))
			got := map[string]*big.Rat{
				"fine ozt":    fine,
				"fine g":      fineGrams,
				"fine grain":  new(big.Rat).Mul(fine, big.NewRat(480, 1)),
				"gross g":     inUnit(coin.Gross, melt.Gram),
				"per fine kg": new(big.Rat).Quo(big.NewRat(1000, 1), fineGrams),
			}[row["counts"]]
			if !near(t, got, row["published"], 2) {
				t.Errorf("%s %s, published %s (%s)", got.FloatString(8), row["counts"], row["published"], row["source"])
			}
		})
	}
}

// Figures printed about bags, laws and decrees follow from the weights.
func TestPublishedFigures(t *testing.T) {
	ounces := func(gross, fine string) *big.Rat {
		return melt.Metal{Gross: weight(t, gross), Fineness: fineness(t, fine)}.FineOunces()
	}
	times := func(r *big.Rat, num, den int64) *big.Rat { return new(big.Rat).Mul(r, big.NewRat(num, den)) }
	statutory, _ := new(big.Rat).SetString("1.292929292")
	for _, c := range []struct {
		name, published string
		got             *big.Rat
	}{
		{
			"fine gold in a 33.931 g coin of 22/24, oz t: 31 USC 5112(a)(7) says one troy ounce", "1.00000",
			times(inUnit(weight(t, "33.931 g"), melt.TroyOunce), 22, 24),
		},
		{
			"$1000 in dollars of 412.5 grains, troy lb: Banking Principles and Practice vol. 2, Silver Coins in Circulation", "71.61",
			times(inUnit(weight(t, "412.5 grain"), melt.TroyPound), 1000, 1),
		},
		{
			"$1000 in dimes of 2.5 g, troy lb: the same", "66.98",
			times(inUnit(weight(t, "2.5 g"), melt.TroyPound), 10_000, 1),
		},
		{
			"fine oz t in a dollar of 90 % small coin: common tables", "0.7234",
			times(ounces("2.5 g", "900"), 10, 1),
		},
		{
			"fine oz t in a 90 % dollar: common tables", "0.7734",
			ounces("412.5 grain", "900"),
		},
		{
			"a dollar's silver at 1.292929292 an ounce: USGS Minerals Yearbook 2007, citing 31 USC 5116", "1.0000000",
			new(big.Rat).Mul(ounces("412.5 grain", "900"), statutory),
		},
		{
			"gross g of a peso of 24.4388 g fine at 902.7: Ley monetaria 1905 (27.073 g from memory)", "27.073",
			new(big.Rat).Quo(inUnit(weight(t, "24.4388 g"), melt.Gram), big.NewRat(int64(fineness(t, "902.7")), int64(melt.Pure))),
		},
		{
			"66 shillings to the troy pound, grains each: Encyclopaedia Britannica 9th ed. vol. 16 p. 483", "87.27272",
			times(inUnit(melt.TroyPound, melt.Grain), 1, 66),
		},
	} {
		if !near(t, c.got, c.published, 1) {
			t.Errorf("%s: %s, published %s", c.name, c.got.FloatString(8), c.published)
		}
	}
}

// Every unit has the exact mass its definition gives, and the seven figures that NIST SP 811 Appendix B.9 prints.
func TestUnitsAreThoseOfNIST(t *testing.T) {
	spelled := map[string]string{"avoirdupois ounce": "oz av", "avoirdupois pound": "lb av"}
	for _, row := range readTable(t, "testdata/units.csv") {
		name := row["unit"]
		if s, ok := spelled[name]; ok {
			name = s
		}
		unit := weight(t, "1 "+name)
		if got := inUnit(unit, melt.Gram); got.Cmp(rational(t, row["grams"])) != 0 {
			t.Errorf("1 %s = %s g, want %s", name, got.FloatString(12), row["grams"])
		}
		published := strings.ReplaceAll(row["kg_published"], " ", "")
		if published == "" {
			continue
		}
		mantissa, _, _ := strings.Cut(published, "E")
		decimals := len(mantissa) - len("3.")
		exponent := 0
		if _, err := fmt.Sscanf(published, mantissa+"E%d", &exponent); err != nil {
			t.Fatal(err)
		}
		kilograms := inUnit(unit, melt.Kilogram)
		if got := kilograms.FloatString(decimals - exponent); rational(t, got).Cmp(rational(t, published)) != 0 {
			t.Errorf("1 %s = %s kg, NIST prints %s", name, got, published)
		}
	}
}

func TestConversions(t *testing.T) {
	unit := map[string]melt.Weight{
		"g": melt.Gram, "kg": melt.Kilogram, "oz t": melt.TroyOunce, "oz": melt.AvoirdupoisOunce, "lb": melt.AvoirdupoisPound,
		"lb t": melt.TroyPound, "dwt": melt.Pennyweight, "gr": melt.Grain, "t": 1000 * melt.Kilogram,
	}
	for _, row := range readTable(t, "testdata/conversions.csv") {
		got := inUnit(unit[row["from_unit"]], unit[row["to_unit"]])
		got.Mul(got, rational(t, row["from_value"]))
		if got.Cmp(rational(t, row["fraction"])) != 0 {
			t.Errorf("%s %s = %v %s, want %s", row["from_value"], row["from_unit"], got, row["to_unit"], row["fraction"])
		}
	}
}

func TestMeltValues(t *testing.T) {
	for _, row := range readTable(t, "testdata/melt_values.csv") {
		var count int
		if _, err := fmt.Sscan(row["count"], &count); err != nil {
			t.Fatal(err)
		}
		piece := melt.Metal{Gross: weight(t, row["gross_g"]+" g"), Fineness: fineness(t, row["fineness"])}
		stack, err := piece.Times(count)
		if err != nil {
			t.Fatal(err)
		}
		spot, err := melt.ParsePrice(row["spot"])
		if err != nil {
			t.Fatal(err)
		}
		c := melt.Currency(row["currency"])
		got, err := melt.Value(stack, spot, c)
		if want := c.Format(amount(t, c, row["melt"])); err != nil || c.Format(got) != want {
			t.Errorf("%s at %v: %s, %v; want %s", row["piece"], spot, c.Format(got), err, want)
		}
	}
}

// GNU units is a converter with definitions of its own. It is asked when it is there.
func TestGNUUnitsAgrees(t *testing.T) {
	program, err := exec.LookPath("units")
	if err != nil {
		t.Skip("NOT CHECKED AGAINST GNU UNITS: the program is not on the PATH; install the Debian package \"units\" to run this check")
	}
	for _, c := range []struct{ ours, theirs string }{
		{"1 grain", "grain"},
		{"1 dwt", "pennyweight"},
		{"1 ozt", "troyounce"},
		{"1 lb t", "troypound"},
		{"1 oz av", "ounce"},
		{"1 lb av", "pound"},
		{"1 kg", "kg"},
		{"1 mg", "mg"},
		{"1/10 ozt", "1|10 troyounce"},
		{"412.5 grain", "412.5 grain"},
		{"100 ozt", "100 troyounce"},
	} {
		out, err := exec.Command(program, "-t", "-o", "%.12e", c.theirs, "grams").CombinedOutput()
		if err != nil {
			t.Fatalf("units %s: %v: %s", c.theirs, err, out)
		}
		ours, theirs := inUnit(weight(t, c.ours), melt.Gram), rational(t, strings.TrimSpace(string(out)))
		// It computes in floating point and prints thirteen figures.
		apart := new(big.Rat).Quo(new(big.Rat).Sub(ours, theirs), theirs)
		if apart.Abs(apart).Cmp(big.NewRat(1, 1_000_000_000_000)) > 0 {
			t.Errorf("%s is %s g to us, %s g to GNU units", c.ours, ours.FloatString(12), theirs.FloatString(12))
		}
	}
}

func weight(t *testing.T, text string) melt.Weight {
	t.Helper()
	w, err := melt.ParseWeight(text)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func fineness(t *testing.T, text string) melt.Fineness {
	t.Helper()
	f, err := melt.ParseFineness(text)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func amount(t *testing.T, c melt.Currency, text string) melt.Minor {
	t.Helper()
	a, err := c.ParseSigned(text)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func rational(t *testing.T, text string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatalf("%q is no number", text)
	}
	return r
}

func inUnit(w, unit melt.Weight) *big.Rat { return big.NewRat(int64(w), int64(unit)) }

// near reports whether got is within so many units of the last place that is printed.
func near(t *testing.T, got *big.Rat, printed string, units int64) bool {
	t.Helper()
	_, decimals, _ := strings.Cut(printed, ".")
	place := rational(t, fmt.Sprintf("1e-%d", len(decimals)))
	apart := new(big.Rat).Sub(got, rational(t, printed))
	return apart.Abs(apart).Cmp(place.Mul(place, big.NewRat(units, 1))) <= 0
}
