package match

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"spareounce/match/melt"
)

// directProgram writes a pool's clearing as an integer program in the CPLEX LP format, straight from the rules: a
// variable y for every ring and chain there could be, and one z for every piece on each of its legs and want it could fill.
func directProgram(p *Pool) string {
	w := &programWriter{p: p, rows: map[string][]string{}, most: map[string]int{}}
	for _, s := range p.Spares {
		w.most[fmt.Sprintf("spare %s %s", s.Member, s.Piece)] = s.Count
	}
	for i := range p.Wants {
		w.most[fmt.Sprintf("want %d", i)] = 1
	}
	for _, m := range p.Members {
		w.most[fmt.Sprintf("member %s", m.ID)] = m.Trades
	}
	w.circuits(nil)
	var text strings.Builder
	fmt.Fprintf(&text, "Maximize\n gain:%s\nSubject To\n", joined(w.gain))
	keys := make([]string, 0, len(w.rows))
	for key := range w.rows {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		fmt.Fprintf(&text, "%s <= %d\n", joined(w.rows[key]), w.most[key])
	}
	for _, rule := range w.rules {
		text.WriteString(rule)
	}
	fmt.Fprintf(&text, "Binary\n %s\nEnd\n", strings.Join(w.names, "\n "))
	return text.String()
}

// joined writes terms, a few to a line, for the format has a longest line.
func joined(terms []string) string {
	var text strings.Builder
	for i, term := range terms {
		if i%8 == 0 {
			text.WriteString("\n")
		}
		text.WriteString(" " + term)
	}
	return text.String()
}

type programWriter struct {
	p     *Pool
	n     int                 // circuits so far
	names []string            // variables
	gain  []string            // terms of the objective
	rows  map[string][]string // what is used of each spare, want and member
	most  map[string]int
	rules []string
}

// programItem is a z: a spare that could travel along a leg, and the want that it would fill.
type programItem struct {
	name              string
	value, gain, ship melt.Minor
}

// circuits writes every ring and chain that begins with a path, on which each can give the next something.
func (w *programWriter) circuits(path []int) {
	n := len(path)
	if n >= 2 {
		if n <= w.p.Ring && path[0] == slices.Min(path) && len(w.legItems(path[n-1], path[0], false)) > 0 {
			w.circuit(Ring, path)
		}
		if n <= w.p.Chain {
			w.circuit(Chain, path)
		}
	}
	if n >= max(w.p.Ring, w.p.Chain) {
		return
	}
	for i := range w.p.Members {
		if !slices.Contains(path, i) && (n == 0 || len(w.legItems(path[n-1], i, false)) > 0) {
			w.circuits(append(slices.Clone(path), i))
		}
	}
}

// legItems lists what one member could send another.
func (w *programWriter) legItems(from, to int, gift bool) (all []Item) {
	for want, one := range w.p.Wants {
		if one.Member != w.p.Members[to].ID {
			continue
		}
		for _, f := range one.Fill {
			if slices.ContainsFunc(w.p.Spares, func(s Spare) bool {
				return s.Member == w.p.Members[from].ID && s.Piece == f.Piece && s.Count > 0 && (s.Gift || !gift)
			}) {
				all = append(all, Item{f.Piece, want})
			}
		}
	}
	return all
}

func (w *programWriter) circuit(kind Kind, path []int) {
	legs := len(path)
	if kind == Chain {
		if legs--; len(w.legItems(path[0], path[1], true)) == 0 {
			return
		}
	}
	w.n++
	y := fmt.Sprintf("y%d", w.n)
	w.names = append(w.names, y)
	var sent melt.Minor
	var parcels []melt.Minor
	var items [][]programItem
	for k := range legs {
		from, to := w.p.Members[path[k]], w.p.Members[path[(k+1)%len(path)]]
		var by Tariff
		for _, t := range w.p.Postage {
			if t.From == from.Region && t.To == to.Region {
				by = t
			}
		}
		parcels = append(parcels, by.Parcel)
		sent += by.Parcel
		items = append(items, w.leg(k, from, by, y, w.legItems(path[k], path[(k+1)%len(path)], kind == Chain && k == 0)))
	}
	w.gain = append(w.gain, fmt.Sprintf("- %d %s", sent, y))
	for i, at := range path {
		m := w.p.Members[at]
		key := fmt.Sprintf("member %s", m.ID)
		w.rows[key] = append(w.rows[key], "+ "+y)
		in, out := -1, -1 // legs
		if i > 0 || kind == Ring {
			in = (i + len(path) - 1) % len(path)
		}
		if i < legs {
			out = i
		}
		w.member(kind, m, y, items, parcels, in, out)
	}
}

// leg writes the variables of a leg: something travels along it if and only if the trade takes place.
func (w *programWriter) leg(k int, from Trader, by Tariff, y string, could []Item) (items []programItem) {
	var any []string
	for i, it := range could {
		z := programItem{name: fmt.Sprintf("z%d_%d_%d", w.n, k, i)}
		for _, s := range w.p.Spares {
			if s.Member == from.ID && s.Piece == it.Piece {
				z.value = s.Value
			}
		}
		for _, x := range w.p.Pieces {
			if x.ID == it.Piece {
				z.ship = melt.Minor(math.Ceil(float64(by.Ounce)*x.Ounces - 1e-6))
			}
		}
		for _, f := range w.p.Wants[it.Want].Fill {
			if f.Piece == it.Piece {
				z.gain = f.Gain
			}
		}
		w.names = append(w.names, z.name)
		w.gain = append(w.gain, fmt.Sprintf("%+d %s", z.gain-z.ship, z.name))
		for _, key := range []string{fmt.Sprintf("spare %s %s", from.ID, it.Piece), fmt.Sprintf("want %d", it.Want)} {
			w.rows[key] = append(w.rows[key], "+ "+z.name)
		}
		any = append(any, "+ "+z.name)
		w.rules = append(w.rules, fmt.Sprintf(" %s - %s <= 0\n", z.name, y))
		items = append(items, z)
	}
	w.rules = append(w.rules, fmt.Sprintf("%s - %s >= 0\n", joined(any), y))
	return items
}

// member writes what one member of a circuit insists on.
func (w *programWriter) member(kind Kind, m Trader, y string, items [][]programItem, parcels []melt.Minor, in, out int) {
	var net, owes []string
	least := w.p.MinGain
	if in >= 0 {
		for _, z := range items[in] {
			net, owes = append(net, fmt.Sprintf("+ %d %s", z.gain, z.name)), append(owes, fmt.Sprintf("+ %d %s", z.value, z.name))
		}
	}
	if out >= 0 {
		least += parcels[out]
		for _, z := range items[out] {
			net, owes = append(net, fmt.Sprintf("- %d %s", z.ship, z.name)), append(owes, fmt.Sprintf("- %d %s", z.value, z.name))
		}
	}
	if in >= 0 { // who begins a chain asks for nothing
		w.rules = append(w.rules, fmt.Sprintf("%s - %d %s >= 0\n", joined(net), least, y))
	}
	switch {
	case kind == Ring:
		w.rules = append(w.rules, fmt.Sprintf("%s - %d %s <= 0\n", joined(owes), m.TopUp, y))
	case in >= 0 && out >= 0:
		w.rules = append(w.rules, fmt.Sprintf("%s >= 0\n", joined(owes)))
	}
}

// glpk solves a program with GLPK's glpsol (Debian's glpk-utils), and reports the gain it found and whether that is
// proved best.
func glpk(t testing.TB, program string, limit time.Duration) (gain melt.Minor, optimal bool) {
	t.Helper()
	if _, err := exec.LookPath("glpsol"); err != nil {
		t.Skip("NOT CHECKED: glpsol is not installed; it is in Debian's glpk-utils")
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "pool.lp"), filepath.Join(dir, "plan.txt")
	if err := os.WriteFile(in, []byte(program), 0o600); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("glpsol", "--lp", in, "--cuts", "--tmlim", fmt.Sprint(int(math.Ceil(limit.Seconds()))), "--write", out).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for line := range bytes.Lines(text) {
		var rows, columns int
		var state string
		var value float64
		if n, _ := fmt.Sscanf(string(line), "s mip %d %d %s %g", &rows, &columns, &state, &value); n == 4 {
			return melt.Minor(math.Round(value)), state == "o"
		}
	}
	t.Fatalf("no solution in\n%s", text)
	return 0, false
}

// Small pools with all that a pool may have come to the optimum that GLPK finds of the direct program.
func TestSmallPoolsComeToTheOptimumOfAGeneralSolver(t *testing.T) {
	pools := 120
	if testing.Short() {
		pools = 10
	}
	traded := 0
	for seed := range pools {
		p := thin(drawPool(dice(seed), 7), 40)
		if p.Ring < 2 || len(allTrades(p)) == 0 {
			continue
		}
		traded++
		want, optimal := glpk(t, directProgram(p), time.Minute)
		if plan := proved(t, p, 1_000_000); !optimal || plan.Gain != want {
			t.Errorf("seed %d: gains %d, by GLPK %d (proved: %t)", seed, plan.Gain, want, optimal)
		}
	}
	if traded < pools/3 {
		t.Errorf("only %d of %d pools have trades", traded, pools)
	}
}
