package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spareounce/match"
)

// table is a pool of three whose best plan is one ring: each has one piece that the next wants. Whoever gets more value
// pays the difference.
const table = `{"currency":"USD","ring":3,
"members":[{"id":"ann","region":"near","topup":500},{"id":"bo","region":"near","topup":500},{"id":"cy","region":"far"}],
"pieces":[{"id":"harbour/82","value":3500},{"id":"harbour/85","value":3700},{"id":"harbour/88","value":3600}],
"spares":[{"member":"ann","piece":"harbour/82","count":1,"value":3500},
{"member":"bo","piece":"harbour/85","count":1,"value":3700},
{"member":"cy","piece":"harbour/88","count":1,"value":3700}],
"wants":[{"member":"bo","fill":[{"piece":"harbour/82","gain":900}]},
{"member":"cy","fill":[{"piece":"harbour/85","gain":1000}]},
{"member":"ann","fill":[{"piece":"harbour/88","gain":800}]}],
"postage":[{"from":"near","to":"far","parcel":300,"ounce":50},{"from":"far","to":"near","parcel":300,"ounce":50}]}`

func clearing(t *testing.T, pool string, arguments ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(t.Context(), append([]string{"clear"}, arguments...), strings.NewReader(pool), &o, &e)
	return status, o.String(), e.String()
}

// What is printed can be acted on: who sends what to whom, what it costs, who pays whom. The figures are worked by hand:
// 900 + 1000 + 800, less two parcels of 300 + 50.
func TestClearPrintsAPlan(t *testing.T) {
	status, out, errs := clearing(t, table, "-")
	const want = `Trade 1, a ring of 3, worth USD 20.00:
  ann sends harbour/82 to bo (value USD 35.00)
  bo sends harbour/85 to cy (value USD 37.00, postage USD 3.50)
  cy sends harbour/88 to ann (value USD 37.00, postage USD 3.50)
  ann pays bo USD 2.00 to even it up

3 pieces change hands in 1 trade: together worth USD 20.00 to the members beyond value, after postage.
Proved: no other plan is worth more.
`
	if status != 0 || out != want || errs != "" {
		t.Fatalf("status %d\n%s\n%s", status, out, errs)
	}
	status, out, _ = clearing(t, table, "-", "--ring", "2")
	if status != 0 || !strings.Contains(out, "No trade would leave everyone in it better off.") {
		t.Fatalf("status %d\n%s", status, out)
	}
}

func TestClearPrintsJSON(t *testing.T) {
	file := filepath.Join(t.TempDir(), "table.json")
	if err := os.WriteFile(file, []byte(table), 0o600); err != nil {
		t.Fatal(err)
	}
	status, out, errs := clearing(t, "", file, "--json", "--budget", "1000")
	var plan struct {
		Trades []struct {
			Kind string
			Legs []struct {
				From, To string
				Pieces   []struct {
					Piece string
					Want  *int
				}
			}
			TopUps []struct {
				From, To string
				Amount   int
			}
			Gain int
		}
		Gain, Bound int
		Optimal     bool
	}
	if err := json.Unmarshal([]byte(out), &plan); status != 0 || err != nil {
		t.Fatalf("status %d, %v\n%s%s", status, err, out, errs)
	}
	if plan.Gain != 2000 || plan.Bound != 2000 || !plan.Optimal || len(plan.Trades) != 1 {
		t.Fatalf("%+v", plan)
	}
	one := plan.Trades[0]
	if one.Kind != "ring" || len(one.Legs) != 3 || one.Legs[0].From != "ann" || *one.Legs[0].Pieces[0].Want != 0 || one.TopUps[0].Amount != 200 {
		t.Fatalf("%+v", one)
	}
}

// A bad file is refused with the line and the reason of every mistake, on the error stream, with status 2.
func TestClearRefusesABadPool(t *testing.T) {
	for name, c := range map[string]struct{ from, to, want string }{
		"unknown member":  {`"member":"cy","piece"`, `"member":"di","piece"`, `line 6: member "di" is not listed`},
		"negative count":  {`harbour/85","count":1`, `harbour/85","count":-1`, `line 5: count is below zero`},
		"duplicate spare": {`"member":"bo","piece":"harbour/85"`, `"member":"ann","piece":"harbour/82"`, `line 5: "ann" spares "harbour/82" twice`},
		"value overflow":  {`"count":1,"value":3500`, `"count":1,"value":35000000000000000000`, `line 4: `},
		"no JSON":         {`"wants":[`, `"wants":[[`, `line 10: this is not JSON`},
	} {
		status, out, errs := clearing(t, strings.Replace(table, c.from, c.to, 1), "-")
		if status != 2 || out != "" || !strings.Contains(errs, c.want) {
			t.Errorf("%s: status %d\n%s%s", name, status, out, errs)
		}
	}
	if status, _, errs := clearing(t, "", filepath.Join(t.TempDir(), "none.json")); status != 2 || !strings.Contains(errs, "none.json") {
		t.Errorf("status %d: %s", status, errs)
	}
	if status, _, _ := clearing(t, table, "-", "--ring", "1"); status != 2 {
		t.Errorf("a ring of one: status %d", status)
	}
}

// Progress is for who watches: nothing of it reaches a file or a pipe.
func TestMeterIsForATerminal(t *testing.T) {
	var out bytes.Buffer
	newMeter(&out, 100).show(match.Progress{Steps: 50})
	if out.Len() > 0 {
		t.Errorf("%q went into a pipe", &out)
	}
	m := meter{&out, 200}
	m.show(match.Progress{Steps: 50, Gain: 7, Bound: 9})
	if !strings.Contains(out.String(), " 25 % of the steps; gain 7, no plan above 9") {
		t.Errorf("%q", &out)
	}
}
