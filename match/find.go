package match

import (
	"cmp"
	"fmt"
	"math/bits"
	"slices"
	"strings"

	"spareounce/match/melt"
)

// How many candidates of a leg are weighed against each other, by the size of the ring: every choice of them is tried.
// More candidates than these are left to later proposals.
const (
	candidatesInSwap = 8
	candidatesInRing = 4
)

// For returns the best trades that a member could be in now, at most limit: the greatest gain first, and no two of them
// with the same members or with the same pieces for the member.
func (x *Index) For(m Member, limit int) []Trade {
	me, ok := x.place[m]
	if !ok {
		return nil
	}
	var found []Trade
	if x.pool.Ring >= 2 {
		for _, other := range x.receivers(me) {
			if t, ok := x.bestRing([]int{me, other}, candidatesInSwap); ok {
				found = append(found, t)
			}
		}
	}
	if x.pool.Ring >= 3 {
		found = append(found, x.ringsOfThree(me)...)
	}
	if x.pool.Chain >= 2 {
		found = append(found, x.gifts(me)...)
	}
	slices.SortStableFunc(found, func(a, b Trade) int {
		return cmp.Or(cmp.Compare(b.Gain, a.Gain), cmp.Compare(len(a.Legs), len(b.Legs)))
	})
	return varied(found, m, limit)
}

// ringsOfThree tries every ring in which me gives to b, b to c and c to me.
func (x *Index) ringsOfThree(me int) []Trade {
	givers := map[int]bool{}
	for _, c := range x.givers(me) {
		givers[c] = true
	}
	var found []Trade
	for _, b := range x.receivers(me) {
		for _, c := range x.receivers(b) {
			if c == me || !givers[c] {
				continue
			}
			if t, ok := x.bestRing([]int{me, b, c}, candidatesInRing); ok {
				found = append(found, t)
			}
		}
	}
	return found
}

// gifts lists what others could be given by me, and me by others, for nothing.
func (x *Index) gifts(me int) []Trade {
	var found []Trade
	give := func(from, to int) {
		all := slices.DeleteFunc(x.candidates(from, to), func(c candidate) bool { return !c.gift })
		for _, b := range x.bundles(from, to, all[:min(len(all), candidatesInSwap)]) {
			if b.gain >= x.pool.MinGain {
				found = append(found, Trade{Chain, []Leg{x.leg(from, to, b)}, b.gain - b.postage})
				return // the greatest gain comes first
			}
		}
	}
	for _, to := range x.receivers(me) {
		give(me, to)
	}
	for _, from := range x.givers(me) {
		give(from, me)
	}
	return found
}

// bundle is a choice of candidates for one leg.
type bundle struct {
	items          []candidate
	value, gain    melt.Minor
	postage, worth melt.Minor // worth is gain less postage
}

// bundles lists every bundle that can be made of candidates, the greatest gain less postage first.
func (x *Index) bundles(from, to int, all []candidate) []bundle {
	var made []bundle
	for mask := 1; mask < 1<<len(all); mask++ {
		b := bundle{items: make([]candidate, 0, bits.OnesCount(uint(mask)))}
		given := map[Piece]int{}
		ounces := 0.0
		enough := true
		for i, c := range all {
			if mask>>i&1 == 0 {
				continue
			}
			b.items = append(b.items, c)
			b.value, b.gain, ounces = b.value+c.value, b.gain+c.gain, ounces+c.ounces
			if given[c.Piece]++; given[c.Piece] > c.count {
				enough = false
			}
		}
		if enough {
			b.postage = x.postage(from, to, ounces)
			b.worth = b.gain - b.postage
			made = append(made, b)
		}
	}
	slices.SortStableFunc(made, func(a, b bundle) int {
		return cmp.Or(cmp.Compare(b.worth, a.worth), cmp.Compare(len(a.items), len(b.items)), cmp.Compare(a.value, b.value))
	})
	return made
}

func (x *Index) leg(from, to int, b bundle) Leg {
	leg := Leg{From: x.pool.Members[from].ID, To: x.pool.Members[to].ID}
	for _, c := range b.items {
		leg.Items = append(leg.Items, c.Item)
	}
	slices.SortFunc(leg.Items, func(a, b Item) int {
		return cmp.Or(strings.Compare(string(a.Piece), string(b.Piece)), cmp.Compare(a.Want, b.Want))
	})
	return leg
}

// bestRing finds the bundles that gain a ring most while every member of it keeps within their limit and gains.
func (x *Index) bestRing(ring []int, most int) (Trade, bool) {
	legs := make([][]bundle, len(ring))
	for i, from := range ring {
		to := ring[(i+1)%len(ring)]
		all := x.candidates(from, to)
		if legs[i] = x.bundles(from, to, all[:min(len(all), most)]); len(legs[i]) == 0 {
			return Trade{}, false
		}
	}
	s := search{x: x, ring: ring, legs: legs, chosen: make([]bundle, len(ring))}
	s.room = make([]melt.Minor, len(ring)+1)
	for i := len(ring) - 1; i >= 0; i-- {
		s.room[i] = s.room[i+1] + legs[i][0].worth
	}
	s.from(0, 0)
	if s.best == nil {
		return Trade{}, false
	}
	t := Trade{Kind: Ring, Gain: s.gain}
	for i, from := range ring {
		t.Legs = append(t.Legs, x.leg(from, ring[(i+1)%len(ring)], s.best[i]))
	}
	return t, true
}

// search tries every choice of one bundle a leg, and leaves off where even the best rest could not gain more.
type search struct {
	x      *Index
	ring   []int
	legs   [][]bundle
	room   []melt.Minor // what the legs from i on could gain at most
	chosen []bundle
	best   []bundle
	gain   melt.Minor
}

func (s *search) from(i int, gained melt.Minor) {
	if i == len(s.ring) {
		if (s.best == nil || gained > s.gain) && s.fair(0) {
			s.best, s.gain = slices.Clone(s.chosen), gained
		}
		return
	}
	for _, b := range s.legs[i] {
		if s.best != nil && gained+b.worth+s.room[i+1] <= s.gain {
			return // bundles come best first
		}
		s.chosen[i] = b
		if i == 0 || s.fair(i) {
			s.from(i+1, gained+b.worth)
		}
	}
}

// fair reports whether member i, who gets leg i-1 and gives leg i, keeps within their limit and gains enough.
func (s *search) fair(i int) bool {
	gets, gives := s.chosen[(i+len(s.ring)-1)%len(s.ring)], s.chosen[i]
	return gets.value-gives.value <= s.x.pool.Members[s.ring[i]].TopUp && gets.gain-gives.postage >= s.x.pool.MinGain
}

// varied keeps the first limit trades that differ in their members and in what the member gets.
func varied(found []Trade, m Member, limit int) []Trade {
	var kept []Trade
	seen := map[string]bool{}
	for _, t := range found {
		who, what := membersOf(t), t.Kind.String()+" "+piecesFor(t, m)
		if seen[who] || seen[what] {
			continue
		}
		seen[who], seen[what] = true, true
		if kept = append(kept, t); len(kept) == limit {
			break
		}
	}
	return kept
}

func (k Kind) String() string { return [...]string{"ring", "chain"}[k] }

func membersOf(t Trade) string {
	var ids []string
	for _, leg := range t.Legs {
		ids = append(ids, string(leg.From), string(leg.To))
	}
	slices.Sort(ids)
	return fmt.Sprintf("%q", slices.Compact(ids))
}

// piecesFor names what a trade is about for a member: what they get, or if they get nothing what they give.
func piecesFor(t Trade, m Member) string {
	var gets, gives []string
	for _, leg := range t.Legs {
		for _, item := range leg.Items {
			switch m {
			case leg.To:
				gets = append(gets, string(item.Piece))
			case leg.From:
				gives = append(gives, string(item.Piece))
			}
		}
	}
	if len(gets) == 0 {
		return "gives " + strings.Join(gives, " ")
	}
	return "gets " + strings.Join(gets, " ")
}
