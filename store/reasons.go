package store

import (
	"spareounce/match"
	"spareounce/match/melt"
)

// Reasons are what speaks for a proposal, as the market stood when it was made. They are for its first terms: a
// counter-offer leaves them behind. Money is in the trade's own measure.
type Reasons struct {
	Gain       melt.Minor // of all parties, less postage: a measure that ranks trades, which nobody pays
	Expected   melt.Minor // on average, if each party says yes with chance Acceptance
	Acceptance float64
	Answers    int // by which it was learned
	Sides      []Side
	Without    []Without `json:",omitempty"`
	Survives   *Swap     `json:",omitempty"` // the best swap among its members, should a longer trade break
}

// Side is one party's part. It is for that party's eyes alone.
type Side struct {
	Member  match.Member
	Postage melt.Minor    `json:",omitempty"` // of the parcel they send
	Direct  *DirectReason `json:",omitempty"` // in a longer ring, why no swap with who gives to them
}

// DirectReason says why two members cannot simply swap.
type DirectReason struct {
	Other   match.Member
	Wanting bool         // each has something that the other wants; it lacks what Lacks says
	Lacks   []match.Lack `json:",omitempty"`
}

// Without is the best that the same members could do without one piece, in percent of what this trade is worth; nothing,
// if there is no such trade.
type Without struct {
	From    match.Member
	Piece   match.Piece
	Percent int
}

// Swap is a trade of two.
type Swap struct {
	A, B           match.Member
	GivesA, GivesB []match.Piece
}

// reasons explains a trade that the matcher found.
func (k *market) reasons(f match.Trade) *Reasons {
	why := k.index.Explain(f)
	r := &Reasons{Gain: f.Gain, Acceptance: k.answers.Acceptance(), Answers: k.answers.Yes + k.answers.No}
	r.Expected = f.Expected(r.Acceptance)
	for i, side := range why.Sides {
		one := Side{Member: side.Member, Postage: side.Postage}
		if giver := why.Sides[(i+len(why.Sides)-1)%len(why.Sides)].Member; f.Kind == match.Ring && len(f.Legs) > 2 {
			lacks, wanting := k.index.NearMissWith(side.Member, giver)
			if !wanting || len(lacks) > 0 && k.looksFor(memberID(giver), memberID(side.Member)) {
				one.Direct = &DirectReason{giver, wanting, lacks}
			}
		}
		r.Sides = append(r.Sides, one)
	}
	for _, b := range why.Beats {
		leg := f.Legs[b.Leg]
		if len(leg.Items) < 2 {
			continue // of course there is no parcel without its only piece
		}
		w := Without{From: leg.From, Piece: pieceID(ReadPieceID(leg.Items[b.Item].Piece))}
		if b.Possible {
			w.Percent = int(100 * b.Gain / max(1, f.Gain))
		}
		r.Without = append(r.Without, w)
	}
	if s := why.Survives; s != nil && !k.silent(*s) {
		r.Survives = &Swap{A: s.Legs[0].From, B: s.Legs[0].To, GivesA: piecesOf(s.Legs[0]), GivesB: piecesOf(s.Legs[1])}
	}
	return r
}

// silent reports whether a trade holds what somebody offers or wants quietly.
func (k *market) silent(f match.Trade) bool {
	terms, err := k.terms(f, k.wants)
	return err != nil || terms.Silent
}

func piecesOf(leg match.Leg) []match.Piece {
	all := make([]match.Piece, len(leg.Items))
	for i, item := range leg.Items {
		all[i] = pieceID(ReadPieceID(item.Piece))
	}
	return all
}
