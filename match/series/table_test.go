package series

import (
	"encoding/csv"
	"os"
	"testing"
)

// testdata/year_shorthand.csv lists what collectors type and what they mean by it; common practice. Here each row is read
// in a series that has the years it names, and its third column is followed: what should be asked is asked.
func TestYearShorthandTable(t *testing.T) {
	f, err := os.Open("testdata/year_shorthand.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 27 {
		t.Fatal(len(rows), err)
	}
	letters := dated(1982, 1984)
	letters = append(letters, Piece{Code: "85a", Label: "85 rev A", Year: 1985, Variety: "rev A"}, Piece{Code: "85b", Label: "85 rev B", Year: 1985, Variety: "rev B"})
	c := NewCatalogue(append(shapes(), aSeries("letters", nil, letters, nil), aSeries("old", nil, dated(1882, 1886), nil),
		aSeries("odd", nil, append(dated(1983, 1984), Piece{Code: "84-half", Label: "1/2oz 84", Year: 1984, Size: "1/2oz"}), nil)))
	want := map[string]struct{ series, holding string }{
		"82":            {"wick", "wick 82"},
		"82, 84-86, ND": {"wick", "wick 82 84 85 86 nd"},
		"'82 '84":       {"wick", "wick 82 84"},
		"1982-85":       {"wick", "wick 82 83 84 85"},
		"98-02":         {"yearbook", "yearbook 98 99 00 01 02"},
		"84 x3":         {"wick", "wick 84*3"},
		"3x 84":         {"wick", "wick 84*3"},
		"84 (2), 85":    {"wick", "wick 84*2 85"},
		"2x84":          {"wick", "wick 84*2"},
		"82–84":         {"wick", "wick 82 83 84"},
		"82—84":         {"wick", "wick 82 83 84"},
		"82 to 84":      {"wick", "wick 82 83 84"},
		"82 thru 84":    {"wick", "wick 82 83 84"},
		"all but 83":    {"wick", "wick 82 84 85 86 87 88 89 nd"},
		"1985/6":        {"wick", "?1985/6: 85 and 86 / one of 85"},
		"85 rev b":      {"letters", "letters 85b"},
		"86-84":         {"wick", "?86-84: 84-86 / just those two"},
		"2O12":          {"yearbook", "?2O12: 2012"},
		"82,,84":        {"wick", "wick 82 84"},
		"1/2 84":        {"odd", "odd 84-half"},
		"84/85/87":      {"wick", "wick 84 85 87"},
		"nd":            {"wick", "wick nd"},
		"n/d":           {"wick", "wick nd"},
		"1884":          {"old", "old 84"},
		"0":             {"wick", "!0"},
		"82-":           {"wick", "?82-: up to 89 / 82 alone"},
	}
	for _, row := range rows[1:] {
		w, ok := want[row[0]]
		if !ok {
			t.Errorf("row %q is not tested", row[0])
			continue
		}
		if got := outcome(c.Read(w.series+" "+row[0], ForHoldings, Mine{})); got != w.holding {
			t.Errorf("%s\n got %s\nwant %s", row, got, w.holding)
		}
	}
	if got := outcome(c.Read("wick 1884", ForHoldings, Mine{})); got != "~1884: 82-89" {
		t.Errorf("four digits were taken for another century: %s", got)
	}
}
