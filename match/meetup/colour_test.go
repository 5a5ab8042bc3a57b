package meetup

import (
	"testing"

	"pgregory.net/rapid"
)

// Without the search, fans alone keep Vizing's bound on any graph, and paths alone König's on one of two sides.
func TestFansAndPaths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.IntRange(2, 20).Draw(t, "places")
		edges := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) edge {
			a := rapid.IntRange(1, places-1).Draw(t, "a")
			return edge{rapid.IntRange(0, a-1).Draw(t, "b"), a}
		}), 0, 6*places, func(e edge) edge { return e }).Draw(t, "edges")
		degree, busiest := make([]int, places), 0
		for _, e := range edges {
			for _, p := range e {
				degree[p]++
				busiest = max(busiest, degree[p])
			}
		}
		proper(t, edges, newPainting(places, busiest+1, edges).vizing(), busiest+1)
		if twoSided(places, edges) {
			proper(t, edges, newPainting(places, busiest, edges).konig(), busiest)
		}
	})
}

func proper(t *rapid.T, edges []edge, colours []int, most int) {
	t.Helper()
	at := map[[2]int]bool{}
	for i, e := range edges {
		for _, p := range e {
			if key := [2]int{p, colours[i]}; colours[i] < 0 || colours[i] >= most || at[key] {
				t.Fatalf("edge %d of %v is coloured %d: %v", i, edges, colours[i], colours)
			}
			at[[2]int{p, colours[i]}] = true
		}
	}
}

// An evening of two hundred at which everyone trades with ten others.
func BenchmarkRounds(b *testing.B) {
	var edges []edge
	for i := range 200 {
		for _, far := range []int{1, 7, 19, 40, 77} {
			edges = append(edges, edge{i, (i + far) % 200})
		}
	}
	for b.Loop() {
		if _, count, _ := colour(200, edges); count != 10 && count != 11 {
			b.Fatal(count)
		}
	}
}
