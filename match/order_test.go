package match

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// In whatever order members, pieces, spares, wants and tariffs stand in a pool, the plan is the same.
func TestOrderOfThePoolDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		p := drawPool(d, 7)
		q := shuffledPool(p, &d)
		o := Options{Steps: 20_000}
		plan, bound := Clear(p, o)
		again, same := Clear(q, o)
		if have, want := inWords(q, again, same), inWords(p, plan, bound); have != want {
			t.Fatalf("in one order\n%s\nin another\n%s", want, have)
		}
	})
}

// Nor does it for what would be most useful.
func TestOrderOfThePoolDoesNotMatterForMostUseful(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		p := drawPool(d, 5)
		want := MostUseful(p, Options{Steps: 5_000}, 3)
		if have := MostUseful(shuffledPool(p, &d), Options{Steps: 5_000}, 3); !slices.Equal(have, want) {
			t.Fatalf("in one order\n%+v\nin another\n%+v", want, have)
		}
	})
}

func shuffledPool(p *Pool, d *dice) *Pool {
	q := deepCopy(p)
	shuffle(d, q.Members)
	shuffle(d, q.Pieces)
	shuffle(d, q.Spares)
	shuffle(d, q.Wants)
	shuffle(d, q.Postage)
	for _, w := range q.Wants {
		shuffle(d, w.Fill)
	}
	return q
}

func shuffle[T any](d *dice, list []T) {
	for i := range list {
		j := i + d.upTo(len(list)-1-i)
		list[i], list[j] = list[j], list[i]
	}
}

// inWords writes a plan with what its wants are instead of their places.
func inWords(p *Pool, plan Plan, b Bound) string {
	text := fmt.Sprintf("%d %d %+v\n", plan.Gain, plan.Expected, b)
	for _, t := range plan.Trades {
		text += fmt.Sprintf("%v %d %v\n", t.Kind, t.Gain, t.TopUps)
		for _, leg := range t.Legs {
			var items []string
			for _, item := range leg.Items {
				fill := slices.SortedFunc(slices.Values(p.Wants[item.Want].Fill), compareFills)
				items = append(items, fmt.Sprint(item.Piece, fill))
			}
			slices.Sort(items)
			text += fmt.Sprintf("  %s to %s %q\n", leg.From, leg.To, items)
		}
	}
	return text
}
