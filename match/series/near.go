package series

import (
	"cmp"
	"slices"
	"strings"
)

// nearest lists up to four of the names closest to a word, closest first: those that become it by the fewest letters
// changed, added, left out or swapped with their neighbour, at most two and at most one in three; and those that it
// begins.
func nearest(word string, names []string) []string {
	type near struct {
		name     string
		distance int
	}
	limit := min(2, len([]rune(word))/3)
	var found []near
	for _, name := range names {
		d := distance(word, name)
		if len(word) >= 3 && strings.HasPrefix(name, word) {
			d = min(d, 1)
		}
		if d <= max(limit, 1) && d < len([]rune(word)) {
			found = append(found, near{name, d})
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return cmp.Compare(a.distance, b.distance) })
	var best []string
	for _, n := range found[:min(len(found), 4)] {
		best = append(best, n.name)
	}
	return best
}

// distance counts the letters to change, add, leave out or swap with their neighbour that make one word the other, each
// letter touched once: the optimal string alignment distance, after Damerau, Communications of the ACM 7 (1964), p. 171.
// Above two it is only known to be that.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	if d := len(s) - len(t); d > 2 || d < -2 {
		return 3
	}
	var before []int
	row := make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(s); i++ {
		next := make([]int, len(t)+1)
		next[0] = i
		for j := 1; j <= len(t); j++ {
			change := 1
			if s[i-1] == t[j-1] {
				change = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+change)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(t)]
}
