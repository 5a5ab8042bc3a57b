package series

import (
	"runtime"
	"strings"
	"testing"
)

func BenchmarkRead(b *testing.B) {
	c := NewCatalogue(shapes())
	for name, line := range map[string]string{
		"short":      "pier 82-83",
		"usual":      "pier 82-83 except 82, 84 gull x2; wick ND, yearbook 98-02",
		"no-series":  "84 gull, 84 heron x2",
		"a-question": "pier 82-86",
		"4000-bytes": "wick " + strings.Repeat("82-89, ", 570),
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := c.Read(line, ForHoldings, Mine{}); err != nil && !isQuestion(err) {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkNewCatalogue(b *testing.B) {
	all := shapes()
	for b.Loop() {
		NewCatalogue(all)
	}
}

// mostMade is how many things may be made in memory while a line is read, as a measure of work that does not depend on what
// else a machine does.
const mostMade = 2_000_000

// The longest line a chat carries is read, understood or not, in no more than a moment.
func TestLongLinesTakeAMoment(t *testing.T) {
	const long = 4000
	c := NewCatalogue(shapes())
	for _, bit := range []string{
		"82-89, ", "84 or ", "wren ", "wren, ", "all ", "a ", "84-", "(", ")", "except 82 ", "82 except 82 ", "pier ", "pier 84 ", "84- ", "12x84 ",
		"1/2", "tide ", "pier head ", "x", "3x ", "of ", "the ", "90s ", "2O12 ", "💰", "ש", "\xff", "84\u200d", "½", "; ", "\n", "1985/6, ", "84/", "rest ", "no ",
	} {
		for _, head := range []string{"", "pier ", "wick ", "yearbook "} {
			text := head + strings.Repeat(bit, long/len(bit))
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			for _, purpose := range []For{ForHoldings, ForWants} {
				if r, err := c.Read(text, purpose, Mine{}); err == nil && len(r.Picks) > 100 {
					t.Errorf("%d picks of %q", len(r.Picks), bit)
				}
			}
			runtime.ReadMemStats(&after)
			if made := after.Mallocs - before.Mallocs; made > mostMade {
				t.Errorf("%q, again and again after %q, made %d things", bit, head, made)
			}
		}
	}
}
