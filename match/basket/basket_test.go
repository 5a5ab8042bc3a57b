package basket

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// stall is something to choose from, small enough to try every basket.
type stall struct {
	offers []Offer
	places []Place
	budget melt.Minor
}

func anyStall(mostOffers, mostCount int) *rapid.Generator[stall] {
	return rapid.Custom(func(t *rapid.T) stall {
		var s stall
		for range rapid.IntRange(0, 4).Draw(t, "places") {
			s.places = append(s.places, Place{Rank(rapid.IntRange(0, 2).Draw(t, "rank")), rapid.IntRange(0, 2).Draw(t, "count")})
		}
		for range rapid.IntRange(0, mostOffers).Draw(t, "offers") {
			o := Offer{
				Price: melt.Minor(rapid.IntRange(0, 9).Draw(t, "price")),
				Count: rapid.IntRange(0, mostCount).Draw(t, "count"),
				Melt:  melt.Minor(rapid.IntRange(0, 9).Draw(t, "melt")),
			}
			for p := range s.places {
				if rapid.Bool().Draw(t, "fits") {
					o.Fills = append(o.Fills, Fill{p, melt.Minor(rapid.IntRange(0, 12).Draw(t, "most"))})
				}
			}
			s.offers = append(s.offers, o)
		}
		s.budget = melt.Minor(rapid.IntRange(0, 40).Draw(t, "budget"))
		return s
	})
}

// exhaust tries every way to buy, one piece after another.
func exhaust(s stall) (best Gain, cost melt.Minor) {
	room := make([]int, len(s.places))
	for i, p := range s.places {
		room[i] = p.Count
	}
	var pieces []Offer
	for _, o := range s.offers {
		for range o.Count {
			pieces = append(pieces, o)
		}
	}
	var try func(i int, g Gain, spent melt.Minor)
	try = func(i int, g Gain, spent melt.Minor) {
		if spent > s.budget {
			return
		}
		if c := g.Compare(best); c > 0 || c == 0 && spent < cost {
			best, cost = g, spent
		}
		if i == len(pieces) {
			return
		}
		o := pieces[i]
		try(i+1, g, spent)
		if o.Melt >= o.Price {
			try(i+1, g.plus(Gain{Saved: o.Melt - o.Price}), spent+o.Price)
		}
		for _, f := range o.Fills {
			if room[f.Place] > 0 && f.Most >= o.Price {
				room[f.Place]--
				h := g
				h.Filled[s.places[f.Place].Rank]++
				h.Saved += f.Most - o.Price
				try(i+1, h, spent+o.Price)
				room[f.Place]++
			}
		}
	}
	try(0, Gain{}, 0)
	return best, cost
}

// The basket is the best that trying everything finds, it costs what its pieces cost, and it keeps to what is there.
func TestBestOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyStall(5, 2).Draw(t, "stall")
		b, err := Best(s.offers, s.places, s.budget)
		if err != nil {
			t.Fatal(err)
		}
		checkBasket(t, s, b)
		if gain, cost := exhaust(s); b.Gain != gain || b.Cost != cost {
			t.Fatalf("%+v\nhas the gain %+v for %d; trying everything finds %+v for %d", b, b.Gain, b.Cost, gain, cost)
		}
	})
}

// checkBasket works out anew what a basket costs and gains.
func checkBasket(t interface{ Fatalf(string, ...any) }, s stall, b Basket) {
	var gain Gain
	var cost melt.Minor
	filled := make([]int, len(s.places))
	for i, take := range b.Takes {
		o := s.offers[i]
		if take.Count() > o.Count {
			t.Fatalf("takes %d of %d", take.Count(), o.Count)
		}
		cost += melt.Minor(take.Count()) * o.Price
		gain.Saved += melt.Minor(take.Metal) * (o.Melt - o.Price)
		for _, p := range take.Places {
			at := slices.IndexFunc(o.Fills, func(f Fill) bool { return f.Place == p })
			if at < 0 || o.Fills[at].Most < o.Price {
				t.Fatalf("offer %d does not fill place %d", i, p)
			}
			filled[p]++
			gain.Filled[s.places[p].Rank]++
			gain.Saved += o.Fills[at].Most - o.Price
		}
	}
	for p, n := range filled {
		if n > s.places[p].Count {
			t.Fatalf("place %d takes %d of %d", p, n, s.places[p].Count)
		}
	}
	if cost != b.Cost || gain != b.Gain || cost > s.budget {
		t.Fatalf("says %d and %+v, is %d and %+v", b.Cost, b.Gain, cost, gain)
	}
}

// The same stall gives the same basket.
func TestTheAnswerIsAlwaysTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyStall(6, 3).Draw(t, "stall")
		first, err1 := Best(s.offers, s.places, s.budget)
		again, err2 := Best(s.offers, s.places, s.budget)
		if fmt.Sprint(first, err1) != fmt.Sprint(again, err2) {
			t.Fatalf("%v\n%v", first, again)
		}
	})
}

// GLPK solves the same choice as a mixed-integer programme, on stalls too large to try everything.
func TestGLPKAgrees(t *testing.T) {
	program, err := exec.LookPath("glpsol")
	if err != nil {
		t.Skip("NOT CHECKED AGAINST GLPK: the program is not on the PATH; install the Debian package \"glpk-utils\" to run this check")
	}
	objective := regexp.MustCompile(`Objective:\s+\S+ = (\S+) `)
	large := anyStall(14, 6)
	for seed := range 25 {
		s := large.Example(seed)
		s.budget += 60
		b, err := Best(s.offers, s.places, s.budget)
		if err != nil {
			t.Fatal(err)
		}
		checkBasket(t, s, b)
		dir := t.TempDir()
		in, out := filepath.Join(dir, "stall.lp"), filepath.Join(dir, "stall.txt")
		if err := os.WriteFile(in, []byte(programme(s)), 0o600); err != nil {
			t.Fatal(err)
		}
		if said, err := exec.Command(program, "--lp", in, "-o", out).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, said)
		}
		report, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		m := objective.FindSubmatch(report)
		if m == nil {
			t.Fatalf("no objective in %s", report)
		}
		want, err := strconv.ParseFloat(string(m[1]), 64)
		if got := weighed(b.Gain); err != nil || got != want {
			t.Errorf("stall %d: gain %+v weighs %v, GLPK finds %v", seed, b.Gain, got, want)
		}
	}
}

// Weights under which a gain of a higher rank outweighs all that the stalls of the test can gain below it.
var weights = [...]float64{1e9, 3e6, 3000}

func weighed(g Gain) float64 {
	sum := float64(g.Saved)
	for rank, n := range g.Filled {
		sum += weights[rank] * float64(n)
	}
	return sum
}

// programme writes a stall in CPLEX LP format.
func programme(s stall) string {
	var goal, cost, bounds, general strings.Builder
	stock := make([]string, len(s.offers))
	taken := make([]string, len(s.places))
	add := func(name string, offer int, gain float64) {
		fmt.Fprintf(&goal, " + %.0f %s", gain, name)
		fmt.Fprintf(&cost, " + %d %s", s.offers[offer].Price, name)
		fmt.Fprintf(&general, " %s\n", name)
		stock[offer] += " + " + name
	}
	for i, o := range s.offers {
		if o.Melt >= o.Price {
			add(fmt.Sprintf("m%d", i), i, float64(o.Melt-o.Price))
		}
		for _, f := range o.Fills {
			if f.Most >= o.Price {
				name := fmt.Sprintf("x%d_%d", i, f.Place)
				add(name, i, weights[s.places[f.Place].Rank]+float64(f.Most-o.Price))
				taken[f.Place] += " + " + name
			}
		}
	}
	for i, sum := range stock {
		if sum != "" {
			fmt.Fprintf(&bounds, " stock%d:%s <= %d\n", i, sum, s.offers[i].Count)
		}
	}
	for p, sum := range taken {
		if sum != "" {
			fmt.Fprintf(&bounds, " place%d:%s <= %d\n", p, sum, s.places[p].Count)
		}
	}
	return fmt.Sprintf("Maximize\n gain: 0 none%s\nSubject To\n budget: 0 none%s <= %d\n%sBounds\n 0 <= none <= 1\nGeneral\n%sEnd\n",
		goal.String(), cost.String(), s.budget, bounds.String(), general.String())
}

func TestAWholeTableIsRefusedOrExact(t *testing.T) {
	var offers []Offer // fifty kinds, each of which could fill each of fifty places with its own worth
	var places []Place
	for i := range 50 {
		places = append(places, Place{Mine, 1})
		o := Offer{Price: melt.Minor(100 + 37*i%91), Count: 3}
		for p := range 50 {
			o.Fills = append(o.Fills, Fill{p, melt.Minor(500 + (i*p)%83)})
		}
		offers = append(offers, o)
	}
	if _, err := Best(offers, places, 5000); !errors.Is(err, ErrTooMuch) {
		t.Errorf("worked out what it should not: %v", err)
	}
}

// BenchmarkBin is sixty lines of a bin, ten of each, every other one with a twin that fills the same place.
func BenchmarkBin(b *testing.B) {
	var offers []Offer
	var places []Place
	for i := range 60 {
		if i%2 == 0 {
			places = append(places, Place{Mine, 1})
		}
		places = append(places, Place{Others, 2})
		mine, theirs := i/2*3, i/2*3+1+i%2
		offers = append(offers, Offer{
			Price: melt.Minor(3000 + 97*i%1700), Count: 10, Melt: 3117,
			Fills: []Fill{{mine, melt.Minor(4800 + 31*i%300)}, {theirs, 3600}},
		})
	}
	for _, budget := range []melt.Minor{30_000, 300_000, 3_000_000} {
		b.Run(fmt.Sprint(budget/100), func(b *testing.B) {
			for b.Loop() {
				if _, err := Best(offers, places, budget); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
