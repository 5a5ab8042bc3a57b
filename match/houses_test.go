package match

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// giversAndTakers is a pool without money in which every member has one thing of their own and one want, filled by the
// things of those whom gain gives more than zero for.
func giversAndTakers(n, ring int, gain func(giver, taker int) melt.Minor) *Pool {
	p := &Pool{Currency: "USD", Ring: ring, MinGain: 1}
	for i := range n {
		id := Member(fmt.Sprintf("p%02d", i))
		piece := Piece(fmt.Sprintf("h%02d", i))
		p.Members = append(p.Members, Trader{ID: id, Trades: 1})
		p.Pieces = append(p.Pieces, PieceInfo{ID: piece, Ounces: 1})
		p.Spares = append(p.Spares, Spare{Member: id, Piece: piece, Count: 1})
	}
	for taker := range n {
		w := Want{Member: p.Members[taker].ID}
		for giver := range n {
			if g := gain(giver, taker); giver != taker && g > 0 {
				w.Fill = append(w.Fill, Fill{p.Pieces[giver].ID, g})
			}
		}
		p.Wants = append(p.Wants, w)
	}
	return p
}

// got is whose thing each member has after a plan, their own if they are in no trade.
func got(p *Pool, plan Plan) []int {
	place := map[Member]int{}
	all := make([]int, len(p.Members))
	for i, m := range p.Members {
		place[m.ID], all[i] = i, i
	}
	for _, t := range plan.Trades {
		for _, leg := range t.Legs {
			all[place[leg.To]] = place[leg.From]
		}
	}
	return all
}

// proved clears a pool, referees the plan, and fails unless it is proved best.
func proved(t fataler, p *Pool, steps int) Plan {
	plan, bound := Clear(p, Options{Steps: steps})
	if broken, gain := referee(p, plan.Trades); len(broken) > 0 || gain != plan.Gain {
		t.Fatalf("%q: gains %d, says %d", broken, gain, plan.Gain)
	}
	if !bound.Optimal || bound.Gain != plan.Gain {
		t.Fatalf("not proved in %d steps: gains %d, bound %d", bound.Steps, plan.Gain, bound.Gain)
	}
	return plan
}

// The 14 patient-donor pairs of Roth, Sönmez and Ünver, American Economic Review 97 (2007), 828-851, by the rule of blood
// types alone, where nobody can have their own donor's: 8, 11, 12 and 12 are matched with rings of at most 2, 3, 4 and any
// length.
func TestFourteenPairs(t *testing.T) {
	pairs := [][2]string{ // patient, donor
		{"A", "AB"}, {"B", "AB"}, {"O", "A"}, {"O", "A"}, {"O", "B"}, {"A", "B"}, {"A", "B"}, {"A", "B"}, {"B", "A"},
		{"A", "A"}, {"A", "A"}, {"A", "A"}, {"B", "O"}, {"AB", "O"},
	}
	for _, c := range []struct{ ring, matched int }{{2, 8}, {3, 11}, {4, 12}, {len(pairs), 12}} {
		p := giversAndTakers(len(pairs), c.ring, func(giver, taker int) melt.Minor {
			donor, patient := pairs[giver][1], pairs[taker][0]
			if donor == "O" || donor == patient || patient == "AB" {
				return 1
			}
			return 0
		})
		if plan := proved(t, p, 20_000_000); int(plan.Gain) != c.matched {
			t.Errorf("rings to %d match %d, published is %d", c.ring, plan.Gain, c.matched)
		}
	}
}

// houseMarket is a market of Shapley and Scarf, Journal of Mathematical Economics 1 (1974), 23-37: everyone has one house
// and an order of preference over all, best first. A house gains its taker weight for each house they have and like less,
// down to their own.
func houseMarket(prefers [][]int, ring int, weight []melt.Minor) *Pool {
	return giversAndTakers(len(prefers), ring, func(giver, taker int) melt.Minor {
		better := slices.Index(prefers[taker], taker) - slices.Index(prefers[taker], giver)
		return max(0, melt.Minor(better)) * weight[taker]
	})
}

// topTradingCycles is Gale's algorithm, as plainly as it is told: everyone left points at the house they like best of
// those left, all who stand in a ring trade and leave. It returns whose house each gets and in which round.
func topTradingCycles(prefers [][]int) (gets, round []int) {
	n := len(prefers)
	gets, round = make([]int, n), slices.Repeat([]int{-1}, n)
	for r := 0; slices.Contains(round, -1); r++ {
		points := make([]int, n)
		for i := range n {
			points[i] = prefers[i][slices.IndexFunc(prefers[i], func(h int) bool { return round[h] < 0 || round[h] == r })]
		}
		for i := range n {
			if round[i] >= 0 {
				continue
			}
			at := points[i]
			for range n {
				if at == i {
					break
				}
				at = points[at]
			}
			if at != i {
				continue
			}
			for round[at] < 0 {
				round[at], gets[at] = r, points[at]
				at = points[at]
			}
		}
	}
	return gets, round
}

// The example in which all get what they like best in one ring of three; with swaps alone only the first two can both be
// better off.
func TestHouseMarketOfThree(t *testing.T) {
	prefers := [][]int{{2, 1, 0}, {0, 1, 2}, {1, 2, 0}}
	if gets, _ := topTradingCycles(prefers); !slices.Equal(gets, []int{2, 0, 1}) {
		t.Fatalf("the referee errs: %v", gets)
	}
	weight := []melt.Minor{1, 1, 1}
	for _, c := range []struct {
		ring int
		want []int
	}{{3, []int{2, 0, 1}}, {2, []int{1, 0, 2}}} {
		p := houseMarket(prefers, c.ring, weight)
		if have := got(p, proved(t, p, 100_000)); !slices.Equal(have, c.want) {
			t.Errorf("rings to %d: %v, want %v", c.ring, have, c.want)
		}
	}
}

// Where those who trade in an earlier round of top trading cycles count for more than all later ones together, the one
// outcome in the strict core is the plan of greatest gain; and whatever they count for, no plan falls behind it.
func TestTopTradingCycles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dice(rapid.Uint64().Draw(t, "seed"))
		n := 2 + d.upTo(5)
		prefers := make([][]int, n)
		for i := range prefers {
			for h := range n {
				prefers[i] = slices.Insert(prefers[i], d.upTo(h), h)
			}
		}
		gets, round := topTradingCycles(prefers)
		weight, even := make([]melt.Minor, n), slices.Repeat([]melt.Minor{1}, n)
		for i := range weight {
			weight[i] = 1
			for range slices.Max(round) - round[i] {
				weight[i] *= melt.Minor(n*n + 1)
			}
		}
		p := houseMarket(prefers, n, weight)
		if have := got(p, proved(t, p, 2_000_000)); !slices.Equal(have, gets) {
			t.Fatalf("%v: have %v, top trading cycles give %v", prefers, have, gets)
		}
		p = houseMarket(prefers, n, even)
		var least melt.Minor
		for i, h := range gets {
			least += melt.Minor(slices.Index(prefers[i], i) - slices.Index(prefers[i], h))
		}
		if plan := proved(t, p, 2_000_000); plan.Gain < least {
			t.Fatalf("%v: the plan gains %d, top trading cycles %d", prefers, plan.Gain, least)
		}
	})
}
