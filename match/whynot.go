package match

import (
	"cmp"
	"slices"

	"spareounce/match/melt"
)

// WhyNot says why a want has no trade, in data that words are made of.
type WhyNot struct {
	Kind    WhyKind
	Trade   *Trade // for HasTrade: the best there is
	Holders []WhyHolder
}

// WhyKind is the main reason why a want has no trade.
type WhyKind int

const (
	// HasTrade: it has one.
	HasTrade WhyKind = iota
	// NobodyHas: no other member can spare a piece that would do.
	NobodyHas
	// HoldersWantNothing: who can spare one wants nothing that the member has to give.
	HoldersWantNothing
	// HoldersNearMiss: a holder wants something, but no choice of pieces keeps to the limits or is worth its postage.
	HoldersNearMiss
	// NoTradesLeft: the member, or everyone who holds it, is in no more trades.
	NoTradesLeft
)

// WhyHolder is one who can spare a piece that would do, and what is in the way.
type WhyHolder struct {
	Member Member
	Piece  Piece
	Lacks  []Lack // what the nearest swap lacks; none if the holder wants nothing the member has
	Wants  []Want // what the holder wants most, at most five
}

// wantsShown is how many of a holder's wants are named.
const wantsShown = 5

// WhyNot says why a want, by its place in the pool, has no trade. Holders come nearest to a trade first.
func (x *Index) WhyNot(want int) WhyNot {
	if want < 0 || want >= len(x.b.wants) || x.b.wants[want].trader < 0 {
		return WhyNot{Kind: NobodyHas}
	}
	if found := x.OpenedByWant(want, 1); len(found) > 0 {
		return WhyNot{Kind: HasTrade, Trade: &found[0]}
	}
	me := x.b.wants[want].trader
	l := newLook(x.b, me, -1, -1, 1)
	var why WhyNot
	idle := true // whether everyone is out of trades
	for _, f := range x.b.wants[want].fill {
		for _, s := range x.b.holders[f.piece] {
			holder := x.b.spares[s].trader
			if holder == me {
				continue
			}
			h := WhyHolder{Member: x.b.ids[holder], Piece: x.b.names[f.piece], Wants: x.wantedMost(holder)}
			if l.out.at[holder] >= 0 {
				h.Lacks = x.lacks(l, me, holder, int64(want))
			}
			idle = idle && x.b.traders[holder].trades <= 0
			why.Holders = append(why.Holders, h)
		}
	}
	slices.SortStableFunc(why.Holders, func(a, b WhyHolder) int {
		none := func(h WhyHolder) int { return min(1, len(h.Lacks)) }
		return cmp.Or(cmp.Compare(none(b), none(a)), cmp.Compare(shortIn(a.Lacks), shortIn(b.Lacks)))
	})
	switch {
	case len(why.Holders) == 0:
		why.Kind = NobodyHas
	case idle || x.b.traders[me].trades <= 0:
		why.Kind = NoTradesLeft
	case len(why.Holders[0].Lacks) > 0:
		why.Kind = HoldersNearMiss
	default:
		why.Kind = HoldersWantNothing
	}
	return why
}

// wantedMost lists a member's wants of the greatest gain.
func (x *Index) wantedMost(trader int32) []Want {
	wants := slices.Clone(x.b.traders[trader].wants)
	gain := func(w int32) (most int64) {
		for _, f := range x.b.wants[w].fill {
			most = max(most, f.gain)
		}
		return most
	}
	slices.SortStableFunc(wants, func(a, b int32) int { return cmp.Compare(gain(b), gain(a)) })
	var shown []Want
	for _, w := range wants[:min(len(wants), wantsShown)] {
		made := Want{Member: x.b.ids[trader]}
		for _, f := range x.b.wants[w].fill {
			made.Fill = append(made.Fill, Fill{x.b.names[f.piece], melt.Minor(f.gain)})
		}
		shown = append(shown, made)
	}
	return shown
}

// choicesOfSwap is how many bundles each way are set against each other to find what a swap lacks.
const choicesOfSwap = 256

// lacks finds what the swap that lacks least between a looking member and another lacks: nothing if there is a swap. Where
// want is a place, only bundles that fill it count.
func (x *Index) lacks(l *look, me, other int32, want int64) []Lack {
	i, j := l.out.at[other], l.in.at[other]
	gives, gets := l.giving(i), l.receiving(j)
	if want >= 0 {
		gets = l.with(listing{bundles: slices.Clone(gets.bundles)}, l.in.arcs[j], -1, int32(want))
	}
	var least []Lack
	short := int64(-nothing)
	for _, out := range gives.bundles[:min(len(gives.bundles), choicesOfSwap)] {
		for _, in := range gets.bundles[:min(len(gets.bundles), choicesOfSwap)] {
			parts := [4]int64{
				in.value - out.value - x.b.traders[me].topUp, out.value - in.value - x.b.traders[other].topUp,
				x.b.minGain - (in.gain - out.ship), x.b.minGain - (out.gain - in.ship),
			}
			var sum int64
			for _, v := range parts {
				sum += max(0, v)
			}
			if sum == 0 {
				return nil
			}
			if sum >= short {
				continue
			}
			short, least = sum, nil
			for k, v := range parts {
				if v > 0 {
					who := x.b.ids[[2]int32{me, other}[k%2]]
					least = append(least, Lack{LackKind(k / 2), who, melt.Minor(v)})
				}
			}
		}
	}
	return least
}
