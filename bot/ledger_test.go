package bot

import (
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// The file is CSV as RFC 4180 has it: lines end with CR LF, and a standard reader gives back what went in. What a member
// chose for a name cannot be taken for a formula (OWASP, "CSV Injection").
func TestLedgerFileReadsBack(t *testing.T) {
	at := time.Date(2026, 12, 31, 23, 30, 0, 0, time.UTC)
	worth := melt.Minor(3117)
	spot := &store.Spot{At: at, Currency: "EUR", Price: 3120 * melt.PriceUnit / 100, Source: `a "feed", of sorts`}
	entries := []store.Entry{
		{At: at, Trade: 12, Way: store.Came, Other: `=HYPERLINK("x")`, Key: store.HoldingKey{Series: "lantern", Piece: "84", Condition: series.Bright},
			Value: 3432, Currency: "USD", Melt: &worth, Spot: spot},
		{At: at, Trade: 13, Way: store.Went, Other: "Bo\nsecond line", Key: store.HoldingKey{Series: "lantern", Piece: "ND"}, Value: 31072},
		{At: at, Trade: 14, Way: store.Paid, Other: "@Cy", Value: 1250, Currency: "USD"},
	}
	zone := time.FixedZone("UTC+1", 60*60)
	data, err := ledgerFile(voice{}, zone, entries)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(data), "\r\n"); n < 4 {
		t.Errorf("%d lines end with CR LF", n)
	}
	rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatal(rows, err)
	}
	for i, want := range []string{
		"2027-01-01|12|came|lantern|84|bright|34.32|USD|31.17|EUR|31.20|2026-12-31T23:30:00Z|a \"feed\", of sorts|'=HYPERLINK(\"x\")",
		"2027-01-01|13|went|lantern|ND||31072|mg fine||||||Bo\nsecond line",
		"2027-01-01|14|paid||||12.50|USD||||||'@Cy",
	} {
		if got := strings.Join(rows[i+1], "|"); got != want {
			t.Errorf("row %d is\n%s, want\n%s", i+1, got, want)
		}
	}
	if len(rows[0]) != len(rows[1]) {
		t.Errorf("%d heads for %d cells", len(rows[0]), len(rows[1]))
	}
}

// Each currency is added up by itself; pieces valued by weight are counted and belong to no sum.
func TestLedgerSummaryAddsEachCurrencyUp(t *testing.T) {
	worth := melt.Minor(3000)
	spot := &store.Spot{Currency: "USD"}
	got := ledgerSummary(voice{}, []store.Entry{
		{Way: store.Came, Value: 3432, Currency: "USD", Melt: &worth, Spot: spot},
		{Way: store.Came, Value: 100, Currency: "EUR"},
		{Way: store.Went, Value: 4212, Currency: "USD", Melt: &worth, Spot: spot},
		{Way: store.Went, Value: 31072},
		{Way: store.Paid, Value: 780, Currency: "USD"},
	})
	want := "Pieces in all: 2 came, 2 went. In USD: came at USD 34.32, went at USD 42.12, melt on the day USD 30.00 and USD 30.00; " +
		"paid USD 7.80, got USD 0.00. In EUR: came at EUR 1.00, went at EUR 0.00, melt on the day EUR 0.00 and EUR 0.00; paid EUR 0.00, got EUR 0.00."
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

func TestFollowable(t *testing.T) {
	for text, want := range map[string]bool{
		"": true, "Northpost AB 123/4-5 #6": true, "Poste Générale 1.2": true, "郵便 12": true,
		"<script>alert(1)</script>": false, "@everyone": false, "a&b": false, "x\u202ey": false, "[a](b)": false, "*b*": false,
		strings.Repeat("x", 60): true, strings.Repeat("x", 61): false,
	} {
		if got := followable(text); got != want {
			t.Errorf("%q: %v", text, got)
		}
	}
}
