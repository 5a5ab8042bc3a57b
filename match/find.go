package match

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	// bundlesListed is how many bundles of an arc a look for one member weighs; an arc of up to 12 candidates has no more.
	bundlesListed = 4096
	// triesPerRing is how many choices of bundles a look tries for one ring.
	triesPerRing = 20_000
	// shortlist is how many trades a look finds for each it returns, so that there is a choice of varied ones.
	shortlist = 12
)

// look is the search for the trades of one member, or for those that a spare or a want of theirs opens.
type look struct {
	b           *book
	me          int32
	spare, want int32 // what must be given or filled, or -1
	enough      int
	in, out     hood // of me: where a spare must be given, only arcs that can carry it; so for a want
	lister      bundleLister
	circuit     circuit
	score       []int64
	found       []Trade
	chance      []int64 // by members of a trade, how likely all say yes, in units
	floor       int64   // what the last of the best trades found gains on average, in units, once there are enough
	work        int     // done so far, in bundles weighed
	last        []Member
	lastKind    Kind
}

func newLook(b *book, me, spare, want int32, limit int) *look {
	l := &look{b: b, me: me, spare: spare, want: want, enough: shortlist * limit, floor: nothing, chance: chances(1)}
	l.circuit = circuit{minGain: b.minGain, most: triesPerRing}
	among := func(h hood) []int32 { // swaps are with those alone who stand on both sides
		if b.ring < 3 && b.chain < 2 {
			return h.at
		}
		return nil
	}
	if want < 0 {
		l.out = b.out(me, spare, false, noPlaces(len(b.traders)), nil)
		l.in = b.in(me, want, false, noPlaces(len(b.traders)), among(l.out))
	} else {
		l.in = b.in(me, want, false, noPlaces(len(b.traders)), nil)
		l.out = b.out(me, spare, false, noPlaces(len(b.traders)), among(l.in))
	}
	l.out.part, l.in.part = spare >= 0, want >= 0
	for _, h := range []*hood{&l.out, &l.in} {
		h.listed, h.whole = make([]listing, len(h.partners)), make([]bool, len(h.partners))
	}
	return l
}

// outArc and inArc are all that could travel along an arc of mine, also where it was found by one spare or want alone.
func (l *look) outArc(i int32) []candidate {
	if l.out.part && !l.out.whole[i] {
		l.out.arcs[i], l.out.whole[i] = l.b.candidates(l.me, l.out.partners[i]), true
	}
	return l.out.arcs[i]
}

func (l *look) inArc(j int32) []candidate {
	if l.in.part && !l.in.whole[j] {
		l.in.arcs[j], l.in.whole[j] = l.b.candidates(l.in.partners[j], l.me), true
	}
	return l.in.arcs[j]
}

// list lists the bundles of an arc by what they gain after postage.
func (l *look) list(arc []candidate, parcel int64) listing {
	l.score = l.score[:0]
	slack := int64(1) // between the best that could be and the worst
	for _, c := range arc {
		l.score = append(l.score, c.gain-c.ship)
		slack += max(c.gain-c.ship, c.ship-c.gain)
	}
	room := bundlesListed
	if l.work > workPerLook/10 {
		room = bundlesAfter
	}
	listed := l.lister.list(nil, arc, l.b.counts, l.score, parcel, parcel, slack, room)
	l.work += len(arc) + 4*len(listed.bundles)
	return listed
}

// giving lists the bundles of my i-th arc out, receiving those of my i-th arc in; each only those with what is asked for.
func (l *look) giving(i int32) listing {
	if l.out.listed[i].bundles == nil {
		l.out.listed[i] = l.with(l.list(l.outArc(i), l.out.parcels[i]), l.out.arcs[i], l.spare, -1)
	}
	return l.out.listed[i]
}

func (l *look) receiving(i int32) listing {
	if l.in.listed[i].bundles == nil {
		l.in.listed[i] = l.with(l.list(l.inArc(i), l.in.parcels[i]), l.in.arcs[i], -1, l.want)
	}
	return l.in.listed[i]
}

// with keeps the bundles that hold a spare or fill a want.
func (l *look) with(all listing, arc []candidate, spare, want int32) listing {
	var mask uint64
	for i, c := range arc[:min(len(arc), mostCandidates)] {
		if spare >= 0 && c.spare == spare || want >= 0 && c.want == want {
			mask |= 1 << i
		}
	}
	if spare >= 0 || want >= 0 {
		all.bundles = slices.DeleteFunc(all.bundles, func(b bundle) bool { return b.items&mask == 0 })
		all.top = nothing
		if len(all.bundles) > 0 {
			all.top = all.bundles[0].score
		}
	}
	return all
}

// try searches one ring or chain and keeps what is good enough.
func (l *look) try(kind Kind, ring []int32, arcs [][]candidate, parcels []int64, legs []listing) {
	var top int64
	for _, leg := range legs {
		top += leg.top
	}
	floor := l.least(kind, ring)
	if top <= floor {
		return
	}
	c := &l.circuit
	c.kind, c.legs, c.topUp = kind, legs, c.topUp[:0]
	for _, m := range ring {
		if l.b.traders[m].trades <= 0 {
			return
		}
		c.topUp = append(c.topUp, l.b.traders[m].topUp)
	}
	before := c.steps
	gained, _ := c.search(floor)
	l.work += c.steps - before
	if gained > nothing {
		l.found = append(l.found, l.b.trade(kind, ring, arcs, parcels, c.best))
		if len(l.found) >= 2*l.enough {
			slices.SortFunc(l.found, l.compare)
			l.found = l.found[:l.enough]
			last := l.found[l.enough-1]
			l.floor, l.last, l.lastKind = l.average(last), last.Members(), last.Kind
		}
	}
}

// longestLook is the most members a trade found by a look can have.
const longestLook = 3

// chances are how likely all of so many members say yes when each does with chance p, in units.
func chances(p float64) []int64 {
	all := make([]int64, longestLook+1)
	for k := range all {
		all[k] = max(1, int64(math.Round(unit*math.Pow(p, float64(k)))))
	}
	return all
}

// average is what a trade gains on average, in units.
func (l *look) average(t Trade) int64 { return int64(t.Gain) * l.chance[len(t.Legs)+int(t.Kind)] }

// least is the gain above which a trade along a circuit comes before the last of the best found: with as much it does only
// if its members do, and in a crowd where many pieces are worth the same, that spares the search of most circuits.
func (l *look) least(kind Kind, ring []int32) int64 {
	if l.floor == nothing {
		return nothing
	}
	chance := l.chance[len(ring)]
	gain := (l.floor + chance - 1) / chance
	if gain*chance == l.floor && kind == l.lastKind && len(ring) == len(l.last) && l.after(ring) {
		return gain
	}
	return gain - 1
}

// after reports whether a circuit comes after the last of the best found by its members.
func (l *look) after(ring []int32) bool {
	for i, m := range ring {
		if c := cmp.Compare(l.b.ids[m], l.last[i]); c != 0 {
			return c > 0
		}
	}
	return false
}

// compare puts the greater average gain first, then as compareTrades.
func (l *look) compare(a, b Trade) int {
	return cmp.Or(cmp.Compare(l.average(b), l.average(a)), compareTrades(a, b))
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

func membersOf(t Trade) string {
	ids := t.Members()
	slices.Sort(ids)
	return fmt.Sprintf("%q", ids)
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
