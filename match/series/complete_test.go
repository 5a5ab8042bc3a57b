package series

import (
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// someSlots draws slots over pieces named p0, p1, …, and how many of each are held.
func someSlots(t *rapid.T, mostSlots, mostPieces int) ([]Slot, map[string]int) {
	n := rapid.IntRange(1, mostPieces).Draw(t, "pieces")
	codes := make([]string, n)
	held := map[string]int{}
	for i := range codes {
		codes[i] = "p" + strconv.Itoa(i)
		if count := rapid.SampledFrom([]int{0, 1, 1, 1, 2, 3}).Draw(t, codes[i]); count > 0 {
			held[codes[i]] = count
		}
	}
	var slots []Slot
	for i := range rapid.IntRange(0, mostSlots).Draw(t, "slots") {
		fill := rapid.SliceOfNDistinct(rapid.SampledFrom(codes), 1, min(n, 4), rapid.ID[string]).Draw(t, "fill")
		slots = append(slots, Slot{Code: "s" + strconv.Itoa(i), Fill: fill})
	}
	return slots, held
}

// checkStanding makes sure that every piece stands where it may, once, and that none is lost.
func checkStanding(slots []Slot, held map[string]int, c Completion) error {
	left := maps.Clone(held)
	had := 0
	for i, code := range c.Filled {
		if code == "" {
			continue
		}
		had++
		left[code]--
		if !slices.Contains(slots[i].Fill, code) {
			return fmt.Errorf("%s stands in slot %d, which it does not fill", code, i)
		}
	}
	maps.DeleteFunc(left, func(_ string, n int) bool { return n == 0 })
	if had != c.Had || len(c.Missing()) != len(slots)-had || !maps.Equal(left, c.Extra) {
		return fmt.Errorf("%d had, %d counted, extra %v of %v", had, c.Had, c.Extra, left)
	}
	return nil
}

// fillable tries everything.
func fillable(slots []Slot, held map[string]int) int {
	if len(slots) == 0 {
		return 0
	}
	best := fillable(slots[1:], held)
	for _, code := range slots[0].Fill {
		if held[code] > 0 {
			held[code]--
			best = max(best, 1+fillable(slots[1:], held))
			held[code]++
		}
	}
	return best
}

// deficiency is what Hall's theorem leaves unfilled: over all sets of slots, the most by which they outnumber the pieces
// held that fill any of them (P. Hall, J. London Math. Soc. 10 (1935), pp. 26-30; the deficiency form is Ore's, 1955).
func deficiency(slots []Slot, held map[string]int) int {
	worst := 0
	for set := range 1 << len(slots) {
		size, supply := 0, 0
		seen := map[string]bool{}
		for i, slot := range slots {
			if set>>i&1 == 0 {
				continue
			}
			size++
			for _, code := range slot.Fill {
				if !seen[code] {
					seen[code] = true
					supply += held[code]
				}
			}
		}
		worst = max(worst, size-supply)
	}
	return worst
}

func TestCompletionAgainstEverythingTried(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		slots, held := someSlots(t, 7, 6)
		before := maps.Clone(held)
		c := Complete(slots, held)
		if !maps.Equal(before, held) {
			t.Fatal("what is held was changed")
		}
		if err := checkStanding(slots, held, c); err != nil {
			t.Fatal(err)
		}
		if want := fillable(slots, held); c.Had != want {
			t.Fatalf("%d filled of %v with %v, %d can be", c.Had, slots, held, want)
		}
		if want := len(slots) - deficiency(slots, held); c.Had != want {
			t.Fatalf("%d filled of %v with %v, Hall's theorem says %d", c.Had, slots, held, want)
		}
		if again := Complete(slots, held); !slices.Equal(again.Filled, c.Filled) {
			t.Fatal("another answer to the same")
		}
	})
}

// coverOf weighs a set of slots and pieces that touches every pair that could stand together, made from a completion by
// going back and forth from the slots left empty (D. König, Matematikai és Fizikai Lapok 38 (1931), pp. 116-119): the slots
// that are not reached so, and the pieces that are. No such set weighs less than any completion fills, so when the two
// agree no more can be filled.
func coverOf(slots []Slot, held map[string]int, c Completion) int {
	reached, pieces := map[int]bool{}, map[string]bool{}
	var visit func(i int)
	visit = func(i int) {
		if reached[i] {
			return
		}
		reached[i] = true
		for _, code := range slots[i].Fill {
			if pieces[code] {
				continue
			}
			pieces[code] = true
			for j, standing := range c.Filled {
				if standing == code {
					visit(j)
				}
			}
		}
	}
	for i, code := range c.Filled {
		if code == "" {
			visit(i)
		}
	}
	weight := len(slots) - len(reached)
	for code := range pieces {
		weight += held[code]
	}
	return weight
}

func TestCompletionOfLargeSetsHasACoverOfItsSize(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		slots, held := someSlots(t, 120, 90)
		c := Complete(slots, held)
		if err := checkStanding(slots, held, c); err != nil {
			t.Fatal(err)
		}
		if weight := coverOf(slots, held, c); weight != c.Had {
			t.Fatalf("%d of %d filled, a cover of %d", c.Had, len(slots), weight)
		}
	})
}

// The squares of a chessboard but two, dark ones as slots and light ones as pieces, and each domino as a pair. Without
// two opposite corners, which are of one colour, 30 dominoes fit (Max Black, Critical Thinking, 1946); without a square
// of each colour, wherever they are, 31 do (R. Gomory's theorem, in R. Honsberger, Mathematical Gems I, 1973). From memory.
func TestCompletionOfTheChessboard(t *testing.T) {
	t.Parallel()
	board := func(without ...[2]int) ([]Slot, map[string]int) {
		var slots []Slot
		held := map[string]int{}
		name := func(x, y int) string { return fmt.Sprintf("%d-%d", x, y) }
		for x := range 8 {
			for y := range 8 {
				switch {
				case slices.Contains(without, [2]int{x, y}):
				case (x+y)%2 == 1:
					held[name(x, y)] = 1
				default:
					slots = append(slots, Slot{Fill: []string{name(x+1, y), name(x-1, y), name(x, y+1), name(x, y-1)}})
				}
			}
		}
		return slots, held
	}
	for _, c := range []struct {
		without [][2]int
		want    int
	}{
		{nil, 32},
		{[][2]int{{0, 0}, {7, 7}}, 30},
		{[][2]int{{0, 0}, {0, 1}}, 31},
		{[][2]int{{0, 0}, {7, 6}}, 31},
		{[][2]int{{3, 3}, {6, 1}}, 31},
		{[][2]int{{2, 5}, {4, 4}}, 31},
	} {
		slots, held := board(c.without...)
		if got := Complete(slots, held).Had; got != c.want {
			t.Errorf("without %v: %d, want %d", c.without, got, c.want)
		}
	}
}

// glpsol, of the GNU Linear Programming Kit (Debian package glpk-utils), solves the same as a linear program.
func TestCompletionAgainstGLPK(t *testing.T) {
	glpsol, err := exec.LookPath("glpsol")
	if err != nil {
		t.Skip("no glpsol on this machine")
	}
	t.Parallel()
	objective := regexp.MustCompile(`Objective:\s+\S+ = (\d+)`)
	for seed := range 8 {
		drawn := rapid.Custom(func(t *rapid.T) (g graph) {
			g.slots, g.held = someSlots(t, 60, 40)
			return g
		}).Example(seed)
		slots, held := drawn.slots, drawn.held
		dir := t.TempDir()
		problem, solution := filepath.Join(dir, "p.lp"), filepath.Join(dir, "p.out")
		if err := os.WriteFile(problem, []byte(program(slots, held)), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(glpsol, "--lp", problem, "-o", solution).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		text, err := os.ReadFile(solution)
		if err != nil {
			t.Fatal(err)
		}
		found := objective.FindSubmatch(text)
		if found == nil {
			t.Fatalf("no objective in %s", text)
		}
		if got := strconv.Itoa(Complete(slots, held).Had); got != string(found[1]) {
			t.Errorf("%d slots: %s filled, glpsol fills %s", len(slots), got, found[1])
		}
	}
}

type graph struct {
	slots []Slot
	held  map[string]int
}

// program writes a completion as a linear program in CPLEX LP form. Its corners are whole, for the matrix of a bipartite
// graph is totally unimodular (Hoffman and Kruskal, 1956).
func program(slots []Slot, held map[string]int) string {
	var all []string
	byPiece := map[string][]string{}
	var b strings.Builder
	rows := &strings.Builder{}
	for i, slot := range slots {
		var row []string
		for _, code := range slot.Fill {
			x := fmt.Sprintf("x_%d_%s", i, code)
			row = append(row, x)
			byPiece[code] = append(byPiece[code], x)
		}
		all = append(all, row...)
		fmt.Fprintf(rows, " s%d: %s <= 1\n", i, strings.Join(row, " + "))
	}
	for _, code := range slices.Sorted(maps.Keys(byPiece)) {
		fmt.Fprintf(rows, " %s: %s <= %d\n", code, strings.Join(byPiece[code], " + "), held[code])
	}
	if len(all) == 0 {
		all, rows = []string{"x"}, &strings.Builder{}
		rows.WriteString(" none: x <= 0\n")
	}
	fmt.Fprintf(&b, "Maximize\n had: %s\nSubject To\n%sEnd\n", strings.Join(all, " + "), rows)
	return b.String()
}

// The heron fills both slots, the gull only the first: whoever stands first must move over.
func TestCompletionMovesPiecesOver(t *testing.T) {
	t.Parallel()
	slots := []Slot{{"either", "", []string{"heron", "gull"}}, {"heron", "", []string{"heron"}}}
	c := Complete(slots, map[string]int{"gull": 1, "heron": 1, "owl": 2})
	if !slices.Equal(c.Filled, []string{"gull", "heron"}) || c.Had != 2 || !maps.Equal(c.Extra, map[string]int{"owl": 2}) {
		t.Fatalf("%+v", c)
	}
	if c := Complete(slots, nil); c.Had != 0 || len(c.Missing()) != 2 || len(c.Extra) != 0 {
		t.Fatalf("nothing held: %+v", c)
	}
	if c := Complete(slots, map[string]int{"heron": -3}); c.Had != 0 || len(c.Extra) != 0 {
		t.Fatalf("less than nothing held: %+v", c)
	}
}

func BenchmarkComplete(b *testing.B) {
	s := shapes()[4]
	slots := s.SlotsFor(Edits{})
	held := map[string]int{}
	for i, p := range s.Pieces {
		held[p.Code] = i % 3
	}
	for b.Loop() {
		Complete(slots, held)
	}
}
