package match

import (
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// What holds of every clearing, on small pools with all that a pool may have.

// The more steps, the better the plan and the bound, and no plan beats any bound.
func TestMoreStepsNeverGiveLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(7).Draw(t, "pool")
		o := Options{Acceptance: []float64{0, 0.9, 0.5}[rapid.IntRange(0, 2).Draw(t, "acceptance")]}
		var most, least melt.Minor = 0, 1 << 60
		for _, o.Steps = range []int{0, 10, 1000, 30_000, 300_000} {
			plan, bound := Clear(p, o)
			broken, gain := referee(p, plan.Trades)
			if len(broken) > 0 || gain != plan.Gain || plan.Expected > plan.Gain {
				t.Fatalf("%d steps: %q, gains %d, says %d, expects %d", o.Steps, broken, gain, plan.Gain, plan.Expected)
			}
			if plan.Expected < most || bound.Gain > least || bound.Optimal != (bound.Gain <= plan.Expected) && o.Acceptance == 0 {
				t.Fatalf("%d steps: expects %d after %d, bound %d after %d, %t", o.Steps, plan.Expected, most, bound.Gain, least, bound.Optimal)
			}
			if most, least = plan.Expected, bound.Gain; most > least {
				t.Fatalf("%d steps: expects %d, bound %d", o.Steps, most, least)
			}
		}
	})
}

// The plan does not depend on how many processors there are, nor on which run it is.
func TestSamePlanOnEveryMachine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(7).Draw(t, "pool")
		steps := rapid.IntRange(0, 100_000).Draw(t, "steps")
		want := planBytes(t, p, steps)
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
		for _, n := range []int{1, 3} {
			runtime.GOMAXPROCS(n)
			if have := planBytes(t, p, steps); have != want {
				t.Fatalf("with %d processors:\n%s\nand\n%s", n, have, want)
			}
		}
	})
}

// Ten times all money is ten times the plan, and the trades are the same.
func TestPlanScalesWithMoney(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(6, 40).Draw(t, "pool")
		// A piece's part of the postage is rounded up, which does not scale.
		for i := range p.Pieces {
			p.Pieces[i].Ounces = float64(int(p.Pieces[i].Ounces))
		}
		plan, bound := Clear(p, Options{Steps: 200_000})
		more, wider := Clear(tenfold(p), Options{Steps: 200_000})
		if bound.Optimal && wider.Optimal && more.Gain != 10*plan.Gain {
			t.Fatalf("gains %d, and with tenfold money %d", plan.Gain, more.Gain)
		}
		if more.Gain > 10*bound.Gain || 10*plan.Gain > wider.Gain {
			t.Fatalf("gains %d to %d, and with tenfold money %d to %d", plan.Gain, bound.Gain, more.Gain, wider.Gain)
		}
	})
}

func tenfold(p *Pool) *Pool {
	q := deepCopy(p)
	q.MinGain *= 10
	for i := range q.Members {
		q.Members[i].TopUp *= 10
	}
	for i := range q.Pieces {
		q.Pieces[i].Value *= 10
	}
	for i := range q.Spares {
		q.Spares[i].Value *= 10
	}
	for _, w := range q.Wants {
		for i := range w.Fill {
			w.Fill[i].Gain *= 10
		}
	}
	for i := range q.Postage {
		q.Postage[i].Parcel *= 10
		q.Postage[i].Ounce *= 10
	}
	return q
}

// deepCopy is a pool that can be changed without changing the other.
func deepCopy(p *Pool) *Pool {
	q := *p
	q.Members, q.Pieces, q.Spares = slices.Clone(p.Members), slices.Clone(p.Pieces), slices.Clone(p.Spares)
	q.Wants, q.Postage = slices.Clone(p.Wants), slices.Clone(p.Postage)
	for i := range q.Wants {
		q.Wants[i].Fill = slices.Clone(p.Wants[i].Fill)
	}
	return &q
}

// One more spare or want, a higher limit or one more trade never makes the best plan worse: by exhaustive search, and so
// by clearing wherever that is proved.
func TestMoreToTradeNeverGainsLess(t *testing.T) {
	grown, proofs := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		for range 8 {
			grows, proves := moreToTrade(t, &d)
			grown, proofs = grown+grows, proofs+proves
		}
	})
	if grown == 0 || proofs == 0 {
		t.Errorf("in no pool did the best plan grow (%d) or was it proved (%d)", grown, proofs)
	}
}

// moreToTrade draws a pool and adds to it. It reports whether the best plan grew, and whether clearing proved it.
func moreToTrade(t *rapid.T, d *dice) (grows, proves int) {
	p := thin(drawPool(dice(d.upTo(1<<40)), 6), 24)
	q := deepCopy(p)
	m := &q.Members[d.upTo(len(q.Members)-1)]
	piece := q.Pieces[d.upTo(len(q.Pieces)-1)]
	switch d.upTo(3) {
	case 0:
		q = addSpare(q, m.ID, piece)
	case 1:
		q.Wants = append(q.Wants, Want{m.ID, []Fill{{piece.ID, melt.Minor(1 + d.upTo(14))}}})
	case 2:
		m.TopUp += melt.Minor(1 + d.upTo(5))
	default:
		m.Trades++
	}
	before, _ := bestPlan(p, allTrades(p))
	after, _ := bestPlan(q, allTrades(q))
	if after < before {
		t.Fatalf("the best plan gained %d, and with more to trade %d", before, after)
	}
	if after > before {
		grows = 1
	}
	plan, bound := Clear(q, Options{Steps: 100_000})
	if broken, _ := referee(q, plan.Trades); len(broken) > 0 {
		t.Fatalf("%q", broken)
	}
	if plan.Gain > after || bound.Gain < after {
		t.Fatalf("gains %d, bound %d; the best gains %d", plan.Gain, bound.Gain, after)
	}
	if bound.Optimal {
		proves = 1
		if plan.Gain < before {
			t.Fatalf("proved at %d, yet %d was gained with less", plan.Gain, before)
		}
	}
	return grows, proves
}

// A trade stands as long as everyone in it nets enough: raise what a member's parcel costs by what they net above the
// least and one, and it is gone; by one less, and it still stands.
func TestPostageAboveTheSurplusEndsATrade(t *testing.T) {
	ended := 0
	rapid.Check(t, func(t *rapid.T) {
		p := fewTrades(5, 30).Draw(t, "pool")
		for i := range p.Members { // so that a tariff is one member's parcel
			p.Members[i].Region = string(p.Members[i].ID)
		}
		all := allTrades(p)
		if len(all) == 0 {
			return
		}
		one := all[rapid.IntRange(0, len(all)-1).Draw(t, "trade")]
		at := rapid.IntRange(0, len(one.Legs)-1).Draw(t, "member")
		side := NewIndex(p).Explain(one).Sides[at]
		if one.Kind == Chain && at == 0 {
			return // who begins a chain asks for nothing
		}
		for extra, stands := range map[melt.Minor]bool{side.Net - p.MinGain: true, side.Net - p.MinGain + 1: false} {
			dear := deepCopy(p)
			dear.Postage = append(dear.Postage, Tariff{string(one.Legs[at].From), string(one.Legs[at].To), extra, 0})
			again := Trade{Kind: one.Kind, Legs: one.Legs}
			if finish(dear, &again) != stands {
				t.Fatalf("%+v nets %d: with %d more postage it stands: %t", one, side.Net, extra, !stands)
			}
			if stands {
				continue
			}
			ended++
			for _, m := range p.Members {
				for _, found := range NewIndex(dear).For(m.ID, 50) {
					if found.Kind == one.Kind && slices.EqualFunc(found.Legs, one.Legs, sameLeg) {
						t.Fatalf("%+v is still proposed", found)
					}
				}
			}
			plan, _ := Clear(dear, Options{Steps: 20_000})
			for _, found := range plan.Trades {
				if found.Kind == one.Kind && slices.EqualFunc(found.Legs, one.Legs, sameLeg) {
					t.Fatalf("%+v is still in the plan", found)
				}
			}
		}
	})
	if ended == 0 {
		t.Error("no trade was ended")
	}
}

func sameLeg(a, b Leg) bool {
	return a.From == b.From && a.To == b.To && slices.Equal(a.Items, b.Items)
}
