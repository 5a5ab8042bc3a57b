package match

import (
	"slices"

	"spareounce/match/melt"
)

// An index is kept up to date by one change at a time; each costs no more than the lists of the pieces it touches.

// WhoHas lists who can spare a piece, in the order they said so.
func (x *Index) WhoHas(piece Piece) []Spare {
	at, ok := x.b.pieces[piece]
	if !ok {
		return nil
	}
	var all []Spare
	for _, s := range x.b.holders[at] {
		one := &x.b.spares[s]
		all = append(all, Spare{x.b.ids[one.trader], piece, int(one.count), melt.Minor(one.value), one.gift})
	}
	return all
}

// SetAcceptance has trades ranked by what they gain on average when each member says yes with chance p, above 0 and at
// most 1: a trade of k members counts with the k-th power. A new index takes it to be 1.
func (x *Index) SetAcceptance(p float64) { x.chance = chances(p) }

// SetMember adds a member, or changes a member's region and limits.
func (x *Index) SetMember(m Trader) { x.b.addTrader(m) }

// SetPiece adds a piece, or changes what it weighs.
func (x *Index) SetPiece(p PieceInfo) { x.b.micro[x.b.piece(p.ID)] = microOunces(p.Ounces) }

// SetSpare says what a member can spare of a piece from now on; a count of 0 takes it back. It reports false, and changes
// nothing, if the member is not known.
func (x *Index) SetSpare(s Spare) bool {
	owner, ok := x.b.place[s.Member]
	if !ok {
		return false
	}
	at, had := x.spareOf(s.Member, s.Piece)
	switch {
	case !had && s.Count > 0:
		x.b.addSpare(s)
	case had && s.Count > 0:
		one := &x.b.spares[at]
		x.b.gifts += toll(s.Gift) - toll(one.gift)
		one.count, one.value, one.gift = int32(s.Count), int64(s.Value), s.Gift
		x.b.counts[at] = int64(s.Count)
	case had:
		one := &x.b.spares[at]
		x.b.gifts -= toll(one.gift)
		one.count, x.b.counts[at] = 0, 0
		x.b.traders[owner].spares = dropped(x.b.traders[owner].spares, at)
		x.b.holders[one.piece] = dropped(x.b.holders[one.piece], at)
	}
	return true
}

// toll counts a gift.
func toll(gift bool) int {
	if gift {
		return 1
	}
	return 0
}

// AddWant adds a want and returns its place, which is the next after all there have been.
func (x *Index) AddWant(w Want) int { return int(x.b.addWant(w)) }

// RemoveWant takes a want back, by its place. No other want gets the place.
func (x *Index) RemoveWant(want int) {
	if want < 0 || want >= len(x.b.wants) || x.b.wants[want].trader < 0 {
		return
	}
	w := &x.b.wants[want]
	for _, f := range w.fill {
		x.b.takers[f.piece] = slices.DeleteFunc(x.b.takers[f.piece], func(t taker) bool { return int(t.want) == want })
	}
	owner := &x.b.traders[w.trader]
	owner.wants = dropped(owner.wants, int32(want))
	w.trader = -1
}

// dropped is a list without one of its places, the others in their order.
func dropped(list []int32, one int32) []int32 {
	if i := slices.Index(list, one); i >= 0 {
		return slices.Delete(list, i, i+1)
	}
	return list
}
