package match

import (
	"bufio"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"spareounce/match/melt"
)

// kidneyPool reads an instance of PrefLib's dataset 00036 (preflib.org; Mattei and Walsh, ADT 2013): a line "a,b,w" for
// each donor a that patient b can take. Every pair is a member with one spare, its donor, and one want, filled by every
// donor its patient can take; each gains 1.
func kidneyPool(t testing.TB, file string, ring int) *Pool {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n := 0
	takes := map[[2]int]bool{}
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if count, ok := strings.CutPrefix(lines.Text(), "# NUMBER ALTERNATIVES: "); ok {
			if n, err = strconv.Atoi(count); err != nil {
				t.Fatal(err)
			}
		}
		words := strings.Split(lines.Text(), ",")
		if strings.HasPrefix(lines.Text(), "#") || len(words) != 3 {
			continue
		}
		from, err1 := strconv.Atoi(words[0])
		to, err2 := strconv.Atoi(words[1])
		if err1 != nil || err2 != nil {
			t.Fatalf("%s: %q", file, lines.Text())
		}
		takes[[2]int{from - 1, to - 1}] = words[2] != "0.0"
	}
	if n == 0 || len(takes) == 0 {
		t.Fatalf("%s is no instance", file)
	}
	return giversAndTakers(n, ring, func(giver, taker int) melt.Minor {
		if takes[[2]int{giver, taker}] {
			return 1
		}
		return 0
	})
}

// kidneyFiles lists the instances that are there.
func kidneyFiles(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(given(t, "preflib-00036"), "*.wmd"))
	if err != nil || len(files) == 0 {
		t.Skipf("NOT CHECKED: no instance of PrefLib 00036: %v", err)
	}
	return files
}

// kidneyOptima reads the third party's table of optima: by instance and the most members in a ring.
func kidneyOptima(t testing.TB) map[string]map[int]melt.Minor {
	t.Helper()
	f, err := os.Open(given(t, "preflib-00036", "third-party-optima-ter2023.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma = ';'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	columns := map[string]int{"Valeur matching": 2, "Valeur PLNE K=3": 3, "Valeur PLNE K=4": 4}
	optima := map[string]map[int]melt.Minor{}
	for _, row := range rows[1:] {
		known := map[int]melt.Minor{}
		for i, title := range rows[0] {
			// The table has a 0 for swaps where swaps were not computed, so a 0 counts for nothing.
			if v, err := strconv.ParseFloat(row[i], 64); err == nil && columns[title] > 0 && v > 0 {
				known[columns[title]] = melt.Minor(v)
			}
		}
		optima[row[1]] = known
	}
	return optima
}

// Every instance there is comes to the published optimum, proved: for swaps, rings to three and rings to four.
func TestKidneyExchangesComeToTheirOptima(t *testing.T) {
	files, optima := kidneyFiles(t), kidneyOptima(t)
	for _, file := range files {
		name := filepath.Base(file)
		if len(optima[name]) == 0 {
			t.Errorf("%s is not in the table of optima", name)
		}
		for ring, want := range optima[name] {
			t.Run(name+"/"+strconv.Itoa(ring), func(t *testing.T) {
				if plan := proved(t, kidneyPool(t, file, ring), 10_000_000); plan.Gain != want {
					t.Errorf("gains %d, published is %d", plan.Gain, want)
				}
			})
		}
	}
}

// BenchmarkKidneyExchange measures the time to a proof for each instance.
func BenchmarkKidneyExchange(b *testing.B) {
	for _, file := range kidneyFiles(b) {
		for ring := 2; ring <= 4; ring++ {
			b.Run(strings.TrimSuffix(filepath.Base(file), ".wmd")+"/ring="+strconv.Itoa(ring), func(b *testing.B) {
				p := kidneyPool(b, file, ring)
				for b.Loop() {
					proved(b, p, 50_000_000)
				}
			})
		}
	}
}
