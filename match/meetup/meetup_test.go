package meetup_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match"
	"spareounce/match/meetup"
)

func member(i int) match.Member { return match.Member(fmt.Sprintf("m%02d", i)) }

func table(i, j int) meetup.Table { return meetup.Table{A: member(i), B: member(j)} }

// check holds rounds against what is promised of them, and returns the most tables that one member has.
func check(t rapid.TB, tables []meetup.Table, rounds []meetup.Round) (busiest int) {
	t.Helper()
	open := map[meetup.Table]bool{}
	for _, x := range tables {
		if x.A > x.B {
			x = meetup.Table{A: x.B, B: x.A}
		}
		open[x] = open[x] || x.A != x.B
		if x.A == x.B {
			delete(open, x)
		}
	}
	sits := map[match.Member]int{}
	for _, round := range rounds {
		taken := map[match.Member]bool{}
		for _, x := range round {
			if !open[x] {
				t.Fatalf("%v sits down twice, or was never asked for", x)
			}
			delete(open, x)
			for _, m := range []match.Member{x.A, x.B} {
				if taken[m] {
					t.Fatalf("%s is at two tables in one round: %v", m, round)
				}
				taken[m] = true
				sits[m]++
			}
		}
		if len(round) == 0 {
			t.Fatal("a round without tables")
		}
	}
	if len(open) > 0 {
		t.Fatalf("these never sit down: %v", open)
	}
	for _, n := range sits {
		busiest = max(busiest, n)
	}
	return busiest
}

// Chromatic indices that are common knowledge of graph theory, from memory: König 1916 (two sides), Vizing 1964, complete
// graphs by the schedule of a round robin, Petersen 1898 and the flower snark of Isaacs 1975, which need a fourth colour.
func TestKnownGraphs(t *testing.T) {
	known := []struct {
		name   string
		tables []meetup.Table
		rounds int
	}{
		{"nobody", nil, 0},
		{"one table", []meetup.Table{table(0, 1)}, 1},
		{"one table, said both ways", []meetup.Table{table(0, 1), table(1, 0), table(2, 2)}, 1},
		{"Petersen", petersen(), 4},
		{"flower snark of 5", flower(5), 4},
		{"flower snark of 7", flower(7), 4},
		{"flower of 4, which is no snark", flower(4), 3},
		{"cube", cube(), 3},
		{"Petersen and a star of 5 beside it", append(petersen(), star(20, 5)...), 5},
		{"Petersen and a star of 4 beside it", append(petersen(), star(20, 4)...), 4},
	}
	for n := 2; n <= 11; n++ {
		rounds := n - 1 + n%2 // in a round robin of an odd number one sits out each time
		known = append(known, struct {
			name   string
			tables []meetup.Table
			rounds int
		}{fmt.Sprint("complete of ", n), complete(n), rounds})
	}
	for n := 3; n <= 9; n++ {
		known = append(known, struct {
			name   string
			tables []meetup.Table
			rounds int
		}{fmt.Sprint("ring of ", n), ring(n), 2 + n%2})
	}
	for m := 1; m <= 6; m++ {
		for n := m; n <= 7; n++ {
			known = append(known, struct {
				name   string
				tables []meetup.Table
				rounds int
			}{fmt.Sprintf("%d against %d", m, n), sides(m, n), n})
		}
	}
	for _, k := range known {
		t.Run(k.name, func(t *testing.T) {
			rounds, fewest := meetup.Rounds(k.tables)
			check(t, k.tables, rounds)
			if len(rounds) != k.rounds || !fewest {
				t.Errorf("%d rounds, proved to be the fewest: %t; there are %d", len(rounds), fewest, k.rounds)
			}
		})
	}
}

// Any graph takes as many rounds as its busiest member has tables, or one more (Vizing 1964).
func TestVizingsBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 24).Draw(t, "members")
		tables := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) meetup.Table {
			return table(rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b"))
		}), 0, 4*n).Draw(t, "tables")
		rounds, fewest := meetup.Rounds(tables)
		busiest := check(t, tables, rounds)
		if len(rounds) != busiest && len(rounds) != busiest+1 || len(rounds) == busiest && !fewest {
			t.Fatalf("%d rounds (fewest: %t) where the busiest has %d tables", len(rounds), fewest, busiest)
		}
		shuffled := rapid.Permutation(tables).Draw(t, "shuffled")
		if again, _ := meetup.Rounds(shuffled); !slices.EqualFunc(again, rounds, slices.Equal[meetup.Round]) {
			t.Fatalf("the same tables in another order make other rounds:\n%v\n%v", rounds, again)
		}
	})
}

// Two sides that trade only with each other take exactly as many rounds as the busiest has tables (König 1916).
func TestKonigsBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tables := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) meetup.Table {
			return table(rapid.IntRange(0, 14).Draw(t, "a"), rapid.IntRange(15, 29).Draw(t, "b"))
		}), 0, 120).Draw(t, "tables")
		rounds, fewest := meetup.Rounds(tables)
		if busiest := check(t, tables, rounds); len(rounds) != busiest || !fewest {
			t.Fatalf("%d rounds (fewest: %t) where the busiest has %d tables", len(rounds), fewest, busiest)
		}
	})
}

// For few members the rounds are the fewest, and known to be: held against trying every order of tables in rounds.
func TestFewestForFew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 7).Draw(t, "members")
		var tables []meetup.Table
		for i := range n {
			for j := range i {
				if rapid.Bool().Draw(t, "sit down") {
					tables = append(tables, table(j, i))
				}
			}
		}
		rounds, fewest := meetup.Rounds(tables)
		check(t, tables, rounds)
		if !fewest {
			t.Fatal("it does not know whether there could be fewer")
		}
		if len(rounds) > 0 && fits(tables, make([]map[match.Member]bool, len(rounds)-1)) {
			t.Fatalf("%d rounds, and %d are enough", len(rounds), len(rounds)-1)
		}
	})
}

// fits tries to seat tables in rounds, one after the other.
func fits(tables []meetup.Table, rounds []map[match.Member]bool) bool {
	if len(tables) == 0 {
		return true
	}
	x := tables[0]
	for i, taken := range rounds {
		if taken[x.A] || taken[x.B] {
			continue
		}
		if taken == nil {
			rounds[i] = map[match.Member]bool{}
		}
		rounds[i][x.A], rounds[i][x.B] = true, true
		if fits(tables[1:], rounds) {
			return true
		}
		delete(rounds[i], x.A)
		delete(rounds[i], x.B)
		if len(rounds[i]) == 0 {
			return false // an empty round is like any other
		}
	}
	return false
}

func complete(n int) (tables []meetup.Table) {
	for i := range n {
		for j := range i {
			tables = append(tables, table(j, i))
		}
	}
	return tables
}

func sides(m, n int) (tables []meetup.Table) {
	for i := range m {
		for j := range n {
			tables = append(tables, table(i, 50+j))
		}
	}
	return tables
}

func ring(n int) (tables []meetup.Table) {
	for i := range n {
		tables = append(tables, table(i, (i+1)%n))
	}
	return tables
}

func star(at, n int) (tables []meetup.Table) {
	for i := range n {
		tables = append(tables, table(at, at+1+i))
	}
	return tables
}

func petersen() (tables []meetup.Table) {
	for i := range 5 {
		tables = append(tables, table(i, (i+1)%5), table(i, 5+i), table(5+i, 5+(i+2)%5))
	}
	return tables
}

func cube() (tables []meetup.Table) {
	for i := range 8 {
		for _, bit := range []int{1, 2, 4} {
			if i&bit == 0 {
				tables = append(tables, table(i, i|bit))
			}
		}
	}
	return tables
}

// flower is n stars of three; their first rays are in a ring of n, the others in one ring of 2n.
func flower(n int) (tables []meetup.Table) {
	for i := range n {
		tables = append(tables, table(4*i, 4*i+1), table(4*i, 4*i+2), table(4*i, 4*i+3))
		next := (i + 1) % n
		tables = append(tables, table(4*i+1, 4*next+1))
		if next == 0 {
			tables = append(tables, table(4*i+2, 3), table(4*i+3, 2))
		} else {
			tables = append(tables, table(4*i+2, 4*next+2), table(4*i+3, 4*next+3))
		}
	}
	return tables
}
