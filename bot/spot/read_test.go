package spot

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"math/big"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"spareounce/match/melt"
)

func refusal(t *testing.T, err error) *Refusal {
	t.Helper()
	r, ok := errors.AsType[*Refusal](err)
	if !ok {
		t.Fatalf("%v is no refusal", err)
	}
	return r
}

// shapes are the ways in which feeds write a price; see testdata/README.md.
type shapes struct {
	Good []struct {
		ID, Pointer, Per, Currency, Expected string
		Invert                               bool
		Scale                                json.Number
		Doc                                  json.RawMessage
	}
	Bad []struct {
		ID, Why, Body string
		Value         json.RawMessage
		Timestamp     *int64
	}
}

func readShapes(t *testing.T) (all shapes) {
	t.Helper()
	body, err := os.ReadFile("testdata/price_json_shapes.json")
	if err != nil {
		t.Fatal(err)
	}
	body = []byte(strings.ReplaceAll(string(body), "expected_per_troy_oz", "expected"))
	if err := json.Unmarshal(body, &all); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestEveryGoodShapeIsRead(t *testing.T) {
	all := readShapes(t)
	if len(all.Good) != 11 {
		t.Fatalf("%d good shapes", len(all.Good))
	}
	for _, shape := range all.Good {
		t.Run(shape.ID, func(t *testing.T) {
			line := "https://prices.example/latest at " + shape.Pointer
			if shape.Invert {
				line += " inverse"
			}
			if shape.Per != "oz t" {
				line += " per " + shape.Per
			}
			if shape.Scale != "" {
				line += " scale " + shape.Scale.String()
			}
			feed, err := ParseFeed(line+" in "+shape.Currency, "EUR")
			if err != nil {
				t.Fatal(err)
			}
			q, err := feed.Read(shape.Doc)
			if err != nil {
				t.Fatal(err)
			}
			if got := q.Price.Rat().FloatString(4); got != shape.Expected || string(q.Currency) != shape.Currency {
				t.Errorf("%s %s, want %s %s", got, q.Currency, shape.Expected, shape.Currency)
			}
			if _, err := (Guard{Stale: 24 * time.Hour, Jump: 20}).Check(q, time.Now(), nil); err != nil {
				t.Errorf("the guard refuses it: %v", err)
			}
		})
	}
}

func TestEveryBadShapeIsRefusedWithItsReason(t *testing.T) {
	feed, err := ParseFeed("https://prices.example/latest at /price time /at", "USD")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 9, 29, 15, 0, 0, 0, time.UTC)
	last := Quote{60_61747286, "USD", now.Add(-time.Hour)}
	guard := Guard{Stale: 24 * time.Hour, Jump: 20}
	want := map[string]Why{
		"bad-inverted-forgotten": OutsideBand, "bad-gold": OutsideBand, "bad-zero": NotPositive, "bad-stale": Stale,
		"bad-html": NotJSON, "bad-null": NoNumber,
	}
	all := readShapes(t)
	if len(all.Bad) != len(want) {
		t.Fatalf("%d bad shapes", len(all.Bad))
	}
	for _, shape := range all.Bad {
		t.Run(shape.ID, func(t *testing.T) {
			body := shape.Body
			if body == "" {
				value, at := string(shape.Value), now.Unix()
				if shape.Timestamp != nil {
					value, at = "60.61747286", *shape.Timestamp
				}
				doc, err := json.Marshal(map[string]any{"price": json.RawMessage(value), "at": at})
				if err != nil {
					t.Fatal(err)
				}
				body = string(doc)
			}
			q, err := feed.Read([]byte(body))
			if err == nil {
				_, err = guard.Check(q, now, &last)
			}
			if got := refusal(t, err).Why; got != want[shape.ID] {
				t.Errorf("refused as %v, want %v (%s)", got, want[shape.ID], shape.Why)
			}
		})
	}
}

// The rows of RFC 6901 section 5, and those its sections 3 and 4 forbid.
func TestPointersOfRFC6901(t *testing.T) {
	body, err := os.ReadFile("testdata/rfc6901_document.json")
	if err != nil {
		t.Fatal(err)
	}
	document, err := decode(body)
	if err != nil {
		t.Fatal(err)
	}
	document.(map[string]any)["~1"] = json.Number("9") // for the row of section 4, which names a member of this name
	for _, row := range table(t, "testdata/rfc6901_pointers.csv") {
		said, expected, valid := row[0], row[1], row[2] == "yes"
		p, err := ParsePointer(said)
		if (err == nil) != valid {
			t.Errorf("%q: %v, valid %v", said, err, valid)
		}
		if err != nil {
			continue
		}
		again, err := ParsePointer(p.String())
		if err != nil || again != p || strings.Contains(p.String(), " ") {
			t.Errorf("%q is written %q, which reads %q, %v", said, p, again, err)
		}
		found, err := p.in(document)
		switch {
		case strings.HasPrefix(expected, "error"):
			if err == nil {
				t.Errorf("%q finds %v", said, found)
			}
		case said == "":
			if !reflect.DeepEqual(found, document) {
				t.Errorf("%q is not the whole", said)
			}
		case strings.HasPrefix(expected, "member named"):
			if found != json.Number("9") {
				t.Errorf("%q finds %v", said, found)
			}
		default:
			want, err := decode([]byte(expected))
			if err != nil || !reflect.DeepEqual(found, want) {
				t.Errorf("%q finds %v, want %s", said, found, expected)
			}
		}
	}
}

// table reads a CSV file without its head.
func table(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	r.LazyQuotes = true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

// Both directions of one price multiply to one: what five days of a public snapshot say of themselves, and what a feed that
// mixes two prices does not.
func TestBothDirectionsAgree(t *testing.T) {
	feed, err := ParseFeed("https://prices.example at /usd against /xag", "USD")
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open("testdata/xag_snapshots.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) int {
		for i, head := range rows[0] {
			if head == name {
				return i
			}
		}
		t.Fatalf("no column %s", name)
		return 0
	}
	straight, inverse := column("usd_per_xag"), column("xag_per_usd")
	body := func(usd, xag string) []byte { return []byte(`{"usd": ` + usd + `, "xag": "` + xag + `"}`) }
	for i, row := range rows[1:] {
		q, err := feed.Read(body(row[straight], row[inverse]))
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		back := feed
		back.Inverse, back.Price, back.Against = true, "/xag", nil
		other, err := back.Read(body(row[straight], row[inverse]))
		if err != nil {
			t.Fatal(err)
		}
		if off := new(big.Rat).Sub(q.Price.Rat(), other.Price.Rat()); off.Abs(off).Cmp(big.NewRat(1, 100_000)) > 0 {
			t.Errorf("%s: %v one way, %v the other", row[0], q.Price, other.Price)
		}
		if i > 0 {
			_, err := feed.Read(body(row[straight], rows[i][inverse]))
			if got := refusal(t, err).Why; got != NotTheSameBack {
				t.Errorf("%s against another day: %v", row[0], got)
			}
		}
	}
}

func TestTimesAreReadAndNeverMadeYounger(t *testing.T) {
	day := time.Date(2026, 9, 29, 0, 0, 0, 0, time.UTC)
	for said, want := range map[string]time.Time{
		`1790640000`:                      time.Unix(1790640000, 0),
		`1790640000.25`:                   time.Unix(1790640000, 0),
		`1790640000000`:                   time.Unix(1790640000, 0),
		`"1790640000"`:                    time.Unix(1790640000, 0),
		`"2026-09-29"`:                    day,
		`"2026-09-29T14:05:06Z"`:          day.Add(14*time.Hour + 5*time.Minute + 6*time.Second),
		`"2026-09-29T14:05:06+02:00"`:     day.Add(12*time.Hour + 5*time.Minute + 6*time.Second),
		`"2026-09-29 14:05:06"`:           day.Add(14*time.Hour + 5*time.Minute + 6*time.Second),
		`"Tue, 29 Sep 2026 14:05:06 GMT"`: day.Add(14*time.Hour + 5*time.Minute + 6*time.Second),
	} {
		document, err := decode([]byte(`{"at": ` + said + `}`))
		if err != nil {
			t.Fatal(err)
		}
		if at, err := timeAt(document, "/at"); err != nil || !at.Equal(want) {
			t.Errorf("%s: %v, %v", said, at, err)
		}
	}
	for _, said := range []string{`2026`, `"29/9/2026"`, `"soon"`, `-5`, `99999999999999`, `null`, `{}`, `"9999-01-01"`, `1e9`} {
		document, err := decode([]byte(`{"at": ` + said + `}`))
		if err != nil {
			t.Fatal(err)
		}
		if at, err := timeAt(document, "/at"); err == nil {
			t.Errorf("%s is %v", said, at)
		} else if got := refusal(t, err).Why; got != NoTime {
			t.Errorf("%s: %v", said, got)
		}
	}
}

func TestNumbersAreExactOrRefused(t *testing.T) {
	for said, want := range map[string]string{"60.61747286": "60.61747286", "6.061747286e1": "60.61747286", "+0.5": "1/2", "007": "7"} {
		n, ok := number(said)
		if w, _ := new(big.Rat).SetString(want); !ok || n.Cmp(w) != 0 {
			t.Errorf("%s: %v, %v", said, n, ok)
		}
	}
	for _, said := range []string{"", "1/3", "0x10", "1_000", "NaN", "Inf", "1e999", "1e-31", ".5", "5.", "1,5", " 1", strings.Repeat("9", 21)} {
		if n, ok := number(said); ok {
			t.Errorf("%q is %v", said, n)
		}
	}
}

func TestListsOfDatesAndPrices(t *testing.T) {
	feed, err := ParseFeed("https://prices.example/silver.csv list", "USD")
	if err != nil {
		t.Fatal(err)
	}
	monthly, err := os.ReadFile("testdata/silver_monthly.csv")
	if err != nil {
		t.Fatal(err)
	}
	all, err := feed.ReadList(string(monthly))
	if err != nil || len(all) != 30 {
		t.Fatalf("%d rows, %v", len(all), err)
	}
	if last := all[29]; last.Price != 66_70000000 || last.At.Format("2006-01") != "2026-06" {
		t.Errorf("the last row is %v", last)
	}
	const same = 31_20000000
	for name, body := range map[string]string{
		"commas":            "2026-01-05,31.20\n",
		"a head":            "date,price\n2026-01-05,31.20\n",
		"price first":       "usd,date\n31.20,2026-01-05\n",
		"more columns":      "date,eur,usd\n2026-01-05,28.00,31.20\n",
		"semicolons":        "\uFEFF2026-01-05;31,20\r\n",
		"tabs":              "2026-01-05\t31,20",
		"remarks, blanks":   "# by hand\n\n2026-01-05, 31.20\n",
		"newest first":      "2026-01-05,31.20\n2026-01-02,30\n",
		"said twice":        "2026-01-05,31.20\n2026-01-05,31.2\n",
		"in quotation mark": "\"2026-01-05\",\"31.20\"\n",
	} {
		all, err := feed.ReadList(body)
		if err != nil || all[len(all)-1] != (Quote{same, melt.Currency("USD"), time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)}) {
			t.Errorf("%s: %v, %v", name, all, err)
		}
	}
	for body, want := range map[string]Why{
		"": NoRows, "# nothing\n": NoRows, "date,price\n": NoRows, "2026-01-05\n": BadRow, "2026-01-05,cheap\n": BadRow,
		"2026-13-05,31\n": BadRow, "05/01/2026,31\n": BadRow, "2026-01-05,0\n": NotPositive, "2026-01-05,-3\n": NotPositive,
		"2026-01-05,31\n2026-01-05,32\n": TwicePriced, "2026-01-05,31\nlater,32\n": BadRow, "date,eur,gbp\n2026-01-05,1,2\n": BadRow,
		"2026-01-05,\"31\n": BadRow, "<html>": BadRow, "2026-01-05,1,234.50\n2026-01-06\n": BadRow,
	} {
		_, err := feed.ReadList(body)
		if got := refusal(t, err).Why; got != want {
			t.Errorf("%q: %v, want %v", body, got, want)
		}
	}
}
