package melt_test

import (
	"encoding/csv"
	"math/big"
	"os"
	"strconv"
	"testing"

	"spareounce/match/melt"
)

// The annual averages against an older edition's months, unrounded (World Bank, Commodity Markets, edition of 3 December
// 2024, CC BY 4.0), within the tenth to which years are published; and against the yearly averages of the US Geological Survey
// (Mineral Commodity Summaries and Minerals Yearbook, volumes named in the file), within two percent.
func TestYearPrices(t *testing.T) {
	f, err := os.Open("testdata/silver_years.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	within := func(price melt.Price, text string, off *big.Rat) bool {
		want, _ := new(big.Rat).SetString(text)
		d := new(big.Rat).Sub(price.Rat(), want)
		return d.Abs(d).Cmp(off) <= 0
	}
	surveyed := 0
	for _, row := range rows[1:] {
		year, err := strconv.Atoi(row[0])
		if err != nil {
			t.Fatal(err)
		}
		price, ok := melt.YearPrice(year)
		if !ok || !within(price, row[1], big.NewRat(1, 10)) {
			t.Errorf("%d: %v, the months give %s", year, price, row[1])
		}
		if row[2] == "" {
			continue
		}
		surveyed++
		if !within(price, row[2], new(big.Rat).Mul(price.Rat(), big.NewRat(2, 100))) {
			t.Errorf("%d: %v, %s has %s", year, price, row[3], row[2])
		}
	}
	if len(rows)-1 != 64 || surveyed != 10 {
		t.Errorf("%d years, %d of them surveyed", len(rows)-1, surveyed)
	}
	for year, want := range map[int]string{1960: "0.90", 1980: "20.80", 1984: "8.10", 2011: "35.20", 2025: "39.80"} {
		if price, ok := melt.YearPrice(year); !ok || price.String() != want {
			t.Errorf("%d: %v, want %s", year, price, want)
		}
	}
	for _, year := range []int{0, 1959, 2026, -1} {
		if price, ok := melt.YearPrice(year); ok {
			t.Errorf("%d has a price: %v", year, price)
		}
	}
}
