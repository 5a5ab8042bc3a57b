package match

import (
	"slices"

	"spareounce/match/melt"
)

// stepsPerGift is how many hand-overs a look for the chains of one gift tries: all there are in a group of some dozens.
const stepsPerGift = 50_000

// HandMeDowns returns chains that the gift of one piece could start: who it goes to passes one of their own spares on, of no
// more value than what came in, and so on, each member once. A hand-over is of one piece. Only the
// longest chains are there, of at most most members, the greatest gain first, and of chains with the same members only the
// best. It returns at most limit, and none when the member does not offer the piece as a gift.
func (x *Index) HandMeDowns(m Member, piece Piece, most, limit int) []Trade {
	s, ok := x.spareOf(m, piece)
	if !ok || !x.b.spares[s].gift || limit <= 0 {
		return nil
	}
	l := handMeDowns{b: x.b, most: most, steps: stepsPerGift, on: map[int32]bool{x.b.spares[s].trader: true}}
	l.pass(s, 0)
	slices.SortFunc(l.found, compareTrades)
	seen := map[string]bool{}
	best := slices.DeleteFunc(l.found, func(t Trade) bool {
		who := membersOf(t)
		again := seen[who]
		seen[who] = true
		return again
	})
	return best[:min(len(best), limit)]
}

// handMeDowns is the search for the chains of one gift.
type handMeDowns struct {
	b     *book
	most  int
	steps int
	on    map[int32]bool // who is in the chain
	legs  []Leg
	gain  int64
	found []Trade
}

// pass tries to hand one spare on, and then on from whoever gets it. Gained is what its owner gains by what came in.
func (l *handMeDowns) pass(s int32, gained int64) {
	one := l.b.spares[s]
	for _, t := range l.b.takers[one.piece] {
		if l.on[t.trader] || l.b.traders[t.trader].trades <= 0 || l.steps == 0 {
			continue
		}
		l.steps--
		by := l.b.tariff(one.trader, t.trader)
		post := by.parcel + by.weightCost(l.b.micro[one.piece])
		if len(l.legs) > 0 && gained-post < l.b.minGain || t.gain < l.b.minGain {
			continue
		}
		l.on[t.trader] = true
		l.gain += t.gain - post
		l.legs = append(l.legs, Leg{From: l.b.ids[one.trader], To: l.b.ids[t.trader], Items: []Item{{l.b.names[one.piece], int(t.want)}}})
		l.keep()
		if len(l.legs)+1 < l.most {
			for _, next := range l.b.traders[t.trader].spares {
				if l.b.spares[next].value <= one.value {
					l.pass(next, t.gain)
				}
			}
		}
		l.legs = l.legs[:len(l.legs)-1]
		l.gain -= t.gain - post
		l.on[t.trader] = false
	}
}

// keep notes the chain as it is, of the many there may be only the longest.
func (l *handMeDowns) keep() {
	longest := 0
	if len(l.found) > 0 {
		longest = len(l.found[0].Legs)
	}
	switch {
	case len(l.legs) < longest:
		return
	case len(l.legs) > longest:
		l.found = l.found[:0]
	}
	l.found = append(l.found, Trade{Kind: Chain, Legs: slices.Clone(l.legs), Gain: melt.Minor(l.gain)})
}
