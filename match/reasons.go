package match

import (
	"cmp"
	"math"
	"slices"

	"spareounce/match/melt"
)

// Reasons are what speaks for a trade, in figures: words are made of them elsewhere.
type Reasons struct {
	Sides    []Side   // by member, in the trade's order
	Beats    []Beaten // by leg and item: what the same members could do without it
	Survives *Trade   // the best swap among its members, should a longer trade break; nil if there is none
}

// Side is a trade as one member sees it. Money is in the currency's minor unit.
type Side struct {
	Member       Member
	Gets, Gives  []Item
	ValueOfGets  melt.Minor
	ValueOfGives melt.Minor
	Pays         melt.Minor // top-up; below zero when it is received
	Postage      melt.Minor // of the parcel they send
	Gain         melt.Minor // of the wants filled, before postage
	Net          melt.Minor // Gain less Postage
}

// Beaten is the best trade of the same members in the same order that does without one item.
type Beaten struct {
	Leg, Item int
	Gain      melt.Minor
	Possible  bool // whether there is one at all
}

// Explain gives the reasons for a trade of the pool that the index was made of, changes since included. Of a trade that is
// no longer possible, only what still is counts.
func (x *Index) Explain(t Trade) Reasons {
	var r Reasons
	for _, m := range t.Members() {
		r.Sides = append(r.Sides, Side{Member: m})
	}
	for i, leg := range t.Legs {
		from, to := &r.Sides[i], &r.Sides[(i+1)%len(r.Sides)]
		from.Gives, to.Gets = leg.Items, leg.Items
		a, b, ok := x.pair(leg)
		if !ok {
			continue
		}
		by := x.b.tariff(a, b)
		from.Postage += melt.Minor(by.parcel)
		for _, item := range leg.Items {
			c, ok := x.b.find(a, b, item)
			if !ok {
				continue
			}
			from.ValueOfGives += melt.Minor(c.value)
			to.ValueOfGets += melt.Minor(c.value)
			from.Postage += melt.Minor(c.ship)
			to.Gain += melt.Minor(c.gain)
		}
	}
	for i := range r.Sides {
		s := &r.Sides[i]
		s.Net = s.Gain - s.Postage
		if t.Kind == Ring {
			s.Pays = s.ValueOfGets - s.ValueOfGives
		}
	}
	for i, leg := range t.Legs {
		for j := range leg.Items {
			r.Beats = append(r.Beats, x.without(t, i, j))
		}
	}
	r.Survives = x.surviving(t)
	return r
}

func (x *Index) pair(leg Leg) (from, to int32, ok bool) {
	from, ok = x.b.place[leg.From]
	to, there := x.b.place[leg.To]
	return from, to, ok && there
}

// find makes the candidate that an item is.
func (b *book) find(from, to int32, item Item) (candidate, bool) {
	for _, c := range b.candidates(from, to) {
		if int(c.want) == item.Want && b.names[b.spares[c.spare].piece] == item.Piece {
			return c, true
		}
	}
	return candidate{}, false
}

// without finds the best trade along t's circuit that leaves one item at home.
func (x *Index) without(t Trade, leg, item int) Beaten {
	left := t.Legs[leg].Items[item]
	found, ok := x.along(t.Kind, t.Members(), func(i int, c candidate) bool {
		return i == leg && int(c.want) == left.Want && x.b.names[x.b.spares[c.spare].piece] == left.Piece
	})
	return Beaten{leg, item, found.Gain, ok}
}

// surviving finds the best swap between two of a longer trade's members.
func (x *Index) surviving(t Trade) *Trade {
	ids := t.Members()
	if len(ids) < 3 || x.b.ring < 2 {
		return nil
	}
	var best *Trade
	for i := range ids {
		for j := range i {
			if s, ok := x.along(Ring, []Member{ids[j], ids[i]}, nil); ok && (best == nil || compareTrades(s, *best) < 0) {
				best = &s
			}
		}
	}
	return best
}

// along finds the best trade along a circuit, without the candidates that leave says.
func (x *Index) along(kind Kind, ids []Member, leave func(leg int, c candidate) bool) (Trade, bool) {
	l := &look{b: x.b, spare: -1, want: -1, enough: 1, floor: nothing, chance: chances(1)}
	l.circuit = circuit{minGain: x.b.minGain, most: triesPerRing}
	ring := make([]int32, len(ids))
	for i, id := range ids {
		at, ok := x.b.place[id]
		if !ok {
			return Trade{}, false
		}
		ring[i] = at
	}
	legs := len(ring)
	if kind == Chain {
		legs--
	}
	var arcs [][]candidate
	var parcels []int64
	var lists []listing
	for i := range legs {
		from, to := ring[i], ring[(i+1)%len(ring)]
		arc := x.b.candidates(from, to)
		if kind == Chain && i == 0 {
			arc = l.giftsOf(arc)
		}
		if leave != nil {
			arc = slices.DeleteFunc(arc, func(c candidate) bool { return leave(i, c) })
		}
		if len(arc) == 0 {
			return Trade{}, false
		}
		arcs = append(arcs, arc)
		parcels = append(parcels, x.b.tariff(from, to).parcel)
		lists = append(lists, l.list(arc, parcels[i]))
	}
	l.try(kind, ring, arcs, parcels, lists)
	if len(l.found) == 0 {
		return Trade{}, false
	}
	return l.found[0], true
}

// Acceptance is how likely a member is to say yes, from how often the group's members did and did not. While there are
// few answers it stays near four in five: it starts as if ten had been given, eight of them yes.
func Acceptance(yes, no int) float64 {
	return float64(yes+8) / float64(yes+no+10)
}

// Expected is what a trade gains on average if each of its members says yes with chance p, rounded down.
func (t Trade) Expected(p float64) melt.Minor {
	return t.Gain * melt.Minor(math.Round(unit*math.Pow(p, float64(len(t.Members()))))) / unit
}

// A Lack is what keeps two members, who each have something for the other, from a trade.
type Lack struct {
	Kind   LackKind
	Member Member     // who falls short
	Short  melt.Minor // by how much, at the least
}

// LackKind is what a member falls short in.
type LackKind int

const (
	// LackValue: the member would have to top up by so much more than their limit; that much more in pieces from them
	// would balance it.
	LackValue LackKind = iota
	// LackGain: what the member would gain, less their postage, is so much below the least a trade must be worth.
	LackGain
)

// NearMiss is a swap that just fails: of all choices of pieces, the one that lacks least.
type NearMiss struct {
	Other Member
	Lacks []Lack
}

// NearMisses lists the members who each have something for m and want something of m's, and yet can make no swap with m:
// who lacks least first, at most limit.
func (x *Index) NearMisses(m Member, limit int) []NearMiss {
	me, ok := x.b.place[m]
	if !ok {
		return nil
	}
	var found []NearMiss
	l := newLook(x.b, me, -1, -1, 1)
	for _, other := range l.out.partners {
		if l.in.at[other] < 0 {
			continue
		}
		if lacks := x.lacks(l, me, other, nothing); len(lacks) > 0 {
			found = append(found, NearMiss{x.b.ids[other], lacks})
		}
	}
	slices.SortStableFunc(found, func(a, b NearMiss) int { return cmp.Compare(shortIn(a.Lacks), shortIn(b.Lacks)) })
	return found[:min(len(found), limit)]
}

// NearMissWith says what a swap of m's with one other member lacks. Wanting is false when one of the two has nothing that
// the other wants; no lacks, when wanting is true, means that there is a swap.
func (x *Index) NearMissWith(m, other Member) (lacks []Lack, wanting bool) {
	me, ok := x.b.place[m]
	them, there := x.b.place[other]
	if !ok || !there {
		return nil, false
	}
	l := &look{b: x.b, me: me, spare: -1, want: -1}
	l.out, l.in = x.b.lane(me, them, them), x.b.lane(them, me, them)
	if l.out.at[them] < 0 || l.in.at[them] < 0 {
		return nil, false
	}
	return x.lacks(l, me, them, nothing), true
}

// lane is the hood of one arc, whose other end is partner.
func (b *book) lane(from, to, partner int32) hood {
	h := hood{at: noPlaces(len(b.traders))}
	if arc := b.candidates(from, to); len(arc) > 0 {
		h.partners, h.arcs, h.parcels = []int32{partner}, [][]candidate{arc}, []int64{b.tariff(from, to).parcel}
		h.at[partner], h.listed = 0, make([]listing, 1)
	}
	return h
}

func shortIn(lacks []Lack) (sum melt.Minor) {
	for _, l := range lacks {
		sum += l.Short
	}
	return sum
}
