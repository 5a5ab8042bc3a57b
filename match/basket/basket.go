// Package basket chooses what to buy at a counter under a budget.
//
// It is pure: the standard library and match/melt only, no clock, no randomness, no I/O. It is exact: no other basket of
// the same cost or less fills more places in their order of rank, or saves more money while it fills as many. What it
// cannot work out in reasonable time it refuses, and never guesses. Prices and worths are minor units of one currency, at
// most 1e15 of them.
package basket

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"spareounce/match/melt"
)

// Offer is something that a stranger has for sale: so many of one kind of piece at one price.
type Offer struct {
	Price melt.Minor // of one, not below zero
	Count int
	Melt  melt.Minor // what the metal in one is worth; a piece at or below it is worth buying whoever has it already
	Fills []Fill     // the places that one could fill
}

// Fill is a place that a piece on offer could fill, by its index, and the most that filling it with this piece is worth.
// What costs more does not fill it.
type Fill struct {
	Place int
	Most  melt.Minor
}

// Place is something wanted, so many times: a slot in one's own set, or what other members want.
type Place struct {
	Rank  Rank
	Count int
}

// Rank says how much a place matters.
type Rank int

// A buyer's own gaps come before the others'.
const (
	MineSoon Rank = iota
	Mine
	Others
)

// Gain is what a basket is good for. It compares by places filled in their ranks, and last by money.
type Gain struct {
	Filled [Others + 1]int // by rank
	Saved  melt.Minor      // what the pieces are worth beyond their prices
}

func (g Gain) plus(h Gain) Gain {
	for i := range g.Filled {
		g.Filled[i] += h.Filled[i]
	}
	g.Saved += h.Saved
	return g
}

// Compare orders gains, the lesser first.
func (g Gain) Compare(h Gain) int {
	for i := range g.Filled {
		if c := cmp.Compare(g.Filled[i], h.Filled[i]); c != 0 {
			return c
		}
	}
	return cmp.Compare(g.Saved, h.Saved)
}

// Take is what to buy of an offer: so many for each place, and so many for the metal alone.
type Take struct {
	Places []int // an index into the places for each piece that fills one
	Metal  int
}

// Count is how many pieces that is.
func (t Take) Count() int { return len(t.Places) + t.Metal }

// Basket is what to buy.
type Basket struct {
	Takes []Take // by offer
	Cost  melt.Minor
	Gain  Gain
}

// ErrTooMuch says that the best basket cannot be worked out in reasonable time. Fewer offers can.
var ErrTooMuch = errors.New("too much on offer at once")

// mostLabels and mostSteps bound the work: about a second.
const (
	mostPlaces = 10_000
	mostOfOne  = 1000 // pieces of one offer, and for one place
	mostBudget = melt.Minor(1e15)
	mostLabels = 200_000
	mostSteps  = 4_000_000
)

// Best chooses what to buy for at most budget so that the gain is the largest there is, and among those baskets the
// cheapest. Each piece fills one place, and each place takes as many pieces as it counts.
//
// It is exact: a dynamic programme over the offers (a knapsack with multiple choices, after Nemhauser and Ullmann 1969)
// that keeps, for every way in which the places shared between offers may be filled so far, each cost at which no cheaper
// choice gains as much. Places that only one offer can fill need not be kept. Beyond its bounds it returns
// ErrTooMuch. The same input gives the same answer.
func Best(offers []Offer, places []Place, budget melt.Minor) (Basket, error) {
	if len(places) > mostPlaces {
		return Basket{}, ErrTooMuch
	}
	budget = min(max(budget, 0), mostBudget)
	order := together(offers)
	sorted := make([]Offer, len(offers))
	for i, from := range order {
		sorted[i] = offers[from]
	}
	b := packer{offers: sorted, places: slices.Clone(places), budget: budget, last: make([]int, len(places)), shared: make([]bool, len(places))}
	for i := range b.places {
		b.places[i].Count = min(max(b.places[i].Count, 0), mostOfOne)
	}
	first := slices.Repeat([]int{-1}, len(places))
	for i, o := range sorted {
		for _, f := range o.Fills {
			if first[f.Place] >= 0 && first[f.Place] != i {
				b.shared[f.Place] = true
			}
			if first[f.Place] < 0 {
				first[f.Place] = i
			}
			b.last[f.Place] = i
		}
	}
	best, err := b.pack()
	if err != nil {
		return Basket{}, err
	}
	takes := make([]Take, len(offers))
	for i, to := range order {
		takes[to] = best.Takes[i]
	}
	best.Takes = takes
	return best, nil
}

// together orders offers so that those which can fill the same places stand near each other: fewer places are then open
// between the first and the last offer that can fill them.
func together(offers []Offer) []int {
	order := make([]int, len(offers))
	least := make([]int, len(offers))
	for i, o := range offers {
		order[i], least[i] = i, math.MaxInt
		for _, f := range o.Fills {
			least[i] = min(least[i], f.Place)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(least[a], least[b]) })
	return order
}

// packer works out one basket.
type packer struct {
	offers []Offer
	places []Place
	budget melt.Minor
	shared []bool // by place: more than one offer can fill it
	last   []int  // by place: the last offer that can
	steps  int
}

// label is one way to have chosen among the offers so far.
type label struct {
	cost melt.Minor
	gain Gain
	from *label
	take Take
}

func (b *packer) pack() (Basket, error) {
	now := map[string][]*label{"": {{}}} // by what is taken of the shared places
	for i := range b.offers {
		next := map[string][]*label{}
		count := 0
		for key, labels := range now {
			for _, c := range b.choices(i, []rune(key)) {
				if b.steps > mostSteps {
					return Basket{}, ErrTooMuch
				}
				for _, l := range labels {
					if b.steps++; b.steps > mostSteps {
						return Basket{}, ErrTooMuch
					}
					if cost := l.cost + c.cost; cost <= b.budget {
						next[c.key] = append(next[c.key], &label{cost, l.gain.plus(c.gain), l, c.take})
					}
				}
			}
		}
		for key, labels := range next {
			next[key] = undominated(labels)
			count += len(next[key])
		}
		if count > mostLabels {
			return Basket{}, ErrTooMuch
		}
		now = next
	}
	var best *label
	for _, labels := range now {
		for _, l := range labels {
			if best == nil || better(l, best) {
				best = l
			}
		}
	}
	return b.basket(best), nil
}

// better orders labels: more gain, then less cost, then what was taken of the first offers, so that the answer does not
// hang on the order of a map.
func better(a, b *label) bool {
	if c := cmp.Or(a.gain.Compare(b.gain), cmp.Compare(b.cost, a.cost)); c != 0 {
		return c > 0
	}
	for ; a != nil && a != b; a, b = a.from, b.from {
		c := cmp.Or(cmp.Compare(a.take.Count(), b.take.Count()), slices.Compare(a.take.Places, b.take.Places))
		if c != 0 {
			return c < 0
		}
	}
	return false
}

// undominated drops every label that costs no less than another which gains as much.
func undominated(labels []*label) []*label {
	slices.SortStableFunc(labels, func(a, b *label) int {
		if c := cmp.Compare(a.cost, b.cost); c != 0 {
			return c
		}
		switch {
		case better(a, b):
			return -1
		case better(b, a):
			return 1
		}
		return 0
	})
	kept := labels[:0]
	for _, l := range labels {
		if len(kept) == 0 || l.gain.Compare(kept[len(kept)-1].gain) > 0 {
			kept = append(kept, l)
		}
	}
	return slices.Clip(kept)
}

// choice is one way to buy of an offer.
type choice struct {
	key  string // what is then taken of the shared places that later offers can still fill
	cost melt.Minor
	gain Gain
	take Take
}

// choices are the ways to buy of offer i when taken says how many of each shared place are filled already. Pieces beyond
// those for shared places go where they gain most.
func (b *packer) choices(i int, taken []rune) []choice {
	o := b.offers[i]
	room := append(taken, make([]rune, max(len(b.places)-len(taken), 0))...)
	var open []Fill // shared
	var own []piece
	for _, f := range o.Fills {
		switch {
		case f.Most < o.Price:
		case b.shared[f.Place]:
			open = append(open, f)
		default:
			for range b.places[f.Place].Count {
				own = append(own, piece{f.Place, b.gain(o, f)})
			}
		}
	}
	slices.SortStableFunc(own, func(x, y piece) int { return y.gain.Compare(x.gain) })
	var all []choice
	var spread func(n int, c choice, left int)
	spread = func(n int, c choice, left int) {
		if b.steps++; b.steps > mostSteps {
			return
		}
		if n == len(open) {
			b.steps += len(room) / 8
			all = append(all, b.upTo(i, o, c, own, left, room)...)
			return
		}
		f := open[n]
		free := b.places[f.Place].Count - int(room[f.Place])
		for k := range min(free, left) + 1 {
			if k > 0 {
				room[f.Place]++
				c.gain, c.cost = c.gain.plus(b.gain(o, f)), c.cost+o.Price
				c.take.Places = append(slices.Clip(c.take.Places), f.Place)
			}
			spread(n+1, c, left-k)
		}
		room[f.Place] -= rune(min(free, left))
	}
	most := min(max(o.Count, 0), mostOfOne)
	if o.Price > 0 {
		most = int(min(melt.Minor(most), b.budget/o.Price))
	}
	spread(0, choice{}, most)
	return all
}

// piece is a piece for a place that no other offer can fill.
type piece struct {
	place int
	gain  Gain
}

func (b *packer) gain(o Offer, f Fill) Gain {
	var g Gain
	g.Filled[b.places[f.Place].Rank] = 1
	g.Saved = f.Most - o.Price
	return g
}

// upTo are the choices that begin with c and buy none, one or more further pieces, each where it gains most.
func (b *packer) upTo(i int, o Offer, c choice, own []piece, left int, room []rune) []choice {
	kept := slices.Clone(room)
	for p := range kept {
		if b.last[p] <= i || !b.shared[p] {
			kept[p] = 0
		}
	}
	end := len(kept)
	for end > 0 && kept[end-1] == 0 {
		end--
	}
	c.key = string(kept[:end])
	all := []choice{c}
	for n := range left {
		switch {
		case n < len(own):
			c.gain = c.gain.plus(own[n].gain)
			c.take.Places = append(slices.Clip(c.take.Places), own[n].place)
		case o.Melt >= o.Price && o.Melt > 0:
			c.gain.Saved += o.Melt - o.Price
			c.take.Metal++
		default:
			return all
		}
		c.cost += o.Price
		all = append(all, c)
	}
	return all
}

func (b *packer) basket(l *label) Basket {
	basket := Basket{Takes: make([]Take, len(b.offers)), Cost: l.cost, Gain: l.gain}
	for i := len(b.offers) - 1; i >= 0; i-- {
		basket.Takes[i], l = l.take, l.from
	}
	return basket
}
