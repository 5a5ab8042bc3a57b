package match

import (
	"slices"
)

// Index answers which trades a member could be in. Any number of goroutines may ask it at once, while none changes it.
type Index struct {
	b      *book
	chance []int64 // by members of a trade, how likely all say yes, in units
}

// NewIndex makes an index of a pool, which it copies.
func NewIndex(p *Pool) *Index { return &Index{newBook(p), chances(1)} }

// For returns the best trades that a member could be in now, at most limit: the greatest gain first, as acceptance has it,
// and no two of them with the same members, or with the same pieces for the member. Rings and chains have at most three
// members, whatever the pool allows; Clear finds longer ones.
func (x *Index) For(m Member, limit int) []Trade {
	return x.look(m, -1, -1, limit)
}

// OpenedBySpare returns the best trades in which a member gives a certain piece, at most limit, ranked and varied as by
// For.
func (x *Index) OpenedBySpare(m Member, piece Piece, limit int) []Trade {
	s, ok := x.spareOf(m, piece)
	if !ok {
		return nil
	}
	return x.look(m, s, -1, limit)
}

// OpenedByWant returns the best trades in which a want, by its place in the pool, is filled, at most limit, ranked and
// varied as by For.
func (x *Index) OpenedByWant(want, limit int) []Trade {
	if want < 0 || want >= len(x.b.wants) || x.b.wants[want].trader < 0 {
		return nil
	}
	return x.look(x.b.ids[x.b.wants[want].trader], -1, int32(want), limit)
}

func (x *Index) spareOf(m Member, piece Piece) (int32, bool) {
	i, ok := x.b.place[m]
	if !ok {
		return 0, false
	}
	for _, s := range x.b.traders[i].spares {
		if x.b.names[x.b.spares[s].piece] == piece {
			return s, true
		}
	}
	return 0, false
}

func (x *Index) look(m Member, spare, want int32, limit int) []Trade {
	me, ok := x.b.place[m]
	if !ok || limit <= 0 {
		return nil
	}
	l := newLook(x.b, me, spare, want, limit)
	l.chance = x.chance
	if x.b.ring >= 2 {
		l.swaps()
	}
	if x.b.ring >= 3 {
		l.ringsOfThree()
	}
	if x.b.chain >= 2 && x.b.gifts > 0 {
		l.chainsOfTwo()
	}
	if x.b.chain >= 3 && x.b.gifts > 0 {
		l.chainsOfThree()
	}
	slices.SortFunc(l.found, l.compare)
	return varied(l.found, m, limit)
}

// hood is a trader's arcs in one direction: the partners by place, and what could travel between.
type hood struct {
	partners []int32
	arcs     [][]candidate
	parcels  []int64
	part     bool // the arcs hold no more than the partners were found by; whole are those that hold all
	whole    []bool
	most     []int64 // no bundle gains more after its postage
	listed   []listing
	at       []int32 // by trader: their place among the partners, or -1
}

// pairing is a candidate and the trader at its other end.
type pairing struct {
	partner int32
	candidate
}

// gather makes a hood of pairings. The scratch array at has a -1 for each trader of the book.
func gather(found []pairing, parcel func(partner int32) int64, at []int32) hood {
	// By partner, and for one partner in the order found: the place makes every key its own, so a plain sort is stable.
	keys := make([]uint64, len(found))
	for i, p := range found {
		keys[i] = uint64(p.partner)<<32 | uint64(i)
	}
	slices.Sort(keys)
	sorted := make([]pairing, len(found))
	for i, key := range keys {
		sorted[i] = found[uint32(key)]
	}
	found = sorted
	all := make([]candidate, len(found))
	h := hood{at: at}
	for i, from := 0, 0; i < len(found); i++ {
		all[i] = found[i].candidate
		if i+1 == len(found) || found[i+1].partner != found[i].partner {
			p := found[i].partner
			if at != nil {
				at[p] = int32(len(h.partners))
			}
			h.partners = append(h.partners, p)
			h.arcs = append(h.arcs, all[from:i+1:i+1])
			h.parcels = append(h.parcels, parcel(p))
			from = i + 1
		}
	}
	return h
}

// out finds the arcs from a trader, of one spare alone if only is one, and of gifts alone if gifts is set; only to those
// among some traders, given by their places, if there are such.
func (b *book) out(from, only int32, gifts bool, at, among []int32) hood {
	var found []pairing
	spares := b.traders[from].spares
	if only >= 0 {
		spares = b.traders[from].spares[slices.Index(spares, only):][:1]
	}
	for _, s := range spares {
		if gifts && !b.spares[s].gift {
			continue
		}
		for _, t := range b.takers[b.spares[s].piece] {
			if t.trader != from && (among == nil || among[t.trader] >= 0) {
				found = append(found, pairing{t.trader, b.candidate(s, t, b.tariff(from, t.trader))})
			}
		}
	}
	return gather(found, func(to int32) int64 { return b.tariff(from, to).parcel }, at)
}

// in finds the arcs to a trader, for one want alone if only is one, else as out does.
func (b *book) in(to, only int32, gifts bool, at, among []int32) hood {
	var found []pairing
	wants := b.traders[to].wants
	if only >= 0 {
		wants = []int32{only}
	}
	for _, w := range wants {
		for _, f := range b.wants[w].fill {
			for _, s := range b.holders[f.piece] {
				if from := b.spares[s].trader; from != to && (!gifts || b.spares[s].gift) && (among == nil || among[from] >= 0) {
					found = append(found, pairing{from, b.candidate(s, taker{w, to, f.gain}, b.tariff(from, to))})
				}
			}
		}
	}
	return gather(found, func(from int32) int64 { return b.tariff(from, to).parcel }, at)
}

func noPlaces(n int) []int32 {
	at := make([]int32, n)
	for i := range at {
		at[i] = -1
	}
	return at
}
