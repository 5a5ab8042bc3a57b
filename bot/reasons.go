package bot

import (
	"math"
	"slices"
	"strings"

	"spareounce/match"
	"spareounce/match/trade"
	"spareounce/store"
)

// mostWithout is how many of a party's pieces are said to be worth leaving in.
const mostWithout = 3

// fewAnswers is how many answers a group must have given for their share to be told as its own.
const fewAnswers = 20

// speaks says what speaks for a proposal in the eyes of the viewer: what their parcel costs, what each piece adds, why it
// takes a ring, and what is left if that breaks. Reasons are for the first terms only: a counter-offer has none. Nor has a
// silent proposal, for they could give away whose it is.
func (v view) speaks() []string {
	why := v.trade.Reasons
	if why == nil || v.trade.State != trade.Proposed || v.trade.Version > 1 || v.hidden() {
		return nil
	}
	var lines []string
	if i := slices.IndexFunc(why.Sides, func(s store.Side) bool { return s.Member == v.me }); i >= 0 {
		if post := why.Sides[i].Postage; post > 0 {
			lines = append(lines, v.Say(postageIs, "amount", v.money(post)))
		}
		if direct := why.Sides[i].Direct; direct != nil && !v.hidden() {
			lines = append(lines, v.direct(*direct))
		}
	}
	if parts := v.without(why.Without); len(parts) > 0 {
		lines = append(lines, v.Say(withoutAll, "list", strings.Join(parts, "; ")))
	}
	if n := len(v.trade.Parties); n > 2 && why.Acceptance > 0 {
		said := comesOff
		if why.Answers < fewAnswers {
			said = comesOffUnknown
		}
		lines = append(lines, v.Say(said, "shape", v.shape(), "percent", hundredths(why.Acceptance), "times", hundredths(math.Pow(why.Acceptance, float64(n)))))
	}
	if s := why.Survives; s == nil || v.hidden() {
		return lines
	} else if s.A == v.me {
		lines = append(lines, v.Say(survives, "name", v.name(s.B), "give", v.pieceNames(s.GivesA), "get", v.pieceNames(s.GivesB)))
	} else if s.B == v.me {
		lines = append(lines, v.Say(survives, "name", v.name(s.A), "give", v.pieceNames(s.GivesB), "get", v.pieceNames(s.GivesA)))
	}
	return lines
}

// found says that a proposal comes from a round, and what that asks of it.
func (v view) found() []string {
	switch {
	case v.trade.Round == 0 || v.trade.State != trade.Proposed:
		return nil
	case v.trade.Together:
		return []string{v.Say(foundTogether)}
	}
	return []string{v.Say(foundInRound)}
}

// without says what the trade would be without a piece that the viewer gives or gets.
func (v view) without(all []store.Without) []string {
	var parts []string
	for _, w := range all {
		mine := slices.ContainsFunc(v.trade.Items, func(item trade.Item) bool {
			return item.From == w.From && item.Piece == w.Piece && (v.mine(item) || v.toMe(item))
		})
		if !mine || len(parts) == mostWithout {
			continue
		}
		said := withoutKeeps
		if w.Percent == 0 {
			said = withoutNothing
		}
		parts = append(parts, v.Say(said, "piece", v.pieceName(w.Piece), "percent", w.Percent))
	}
	return parts
}

// direct says why it takes a ring: a swap with who gives to the viewer is not to be had.
func (v view) direct(d store.DirectReason) string {
	if !d.Wanting {
		return v.Say(directUnwanted, "name", v.name(d.Other))
	}
	return v.Say(directLacks, "name", v.name(d.Other), "lacks", v.lacks(d.Lacks))
}

// lacks says what keeps two members from a swap. Of another member's limit no figure is told.
func (v view) lacks(all []match.Lack) string {
	if eaten := func(l match.Lack) bool { return l.Kind == match.LackGain }; len(all) == 2 && eaten(all[0]) && eaten(all[1]) {
		other := all[0].Member
		if other == v.me {
			other = all[1].Member
		}
		return v.Say(postageEatsBoth, "name", v.name(other))
	}
	parts := make([]string, len(all))
	for i, l := range all {
		var said phrase
		switch me := l.Member == v.me; {
		case l.Kind == match.LackValue && me:
			said = youAboveLimit
		case l.Kind == match.LackValue:
			said = theyAboveLimit
		case me:
			said = postageEats
		default:
			said = postageEatsThem
		}
		parts[i] = v.Say(said, "name", v.name(l.Member), "amount", v.worth(l.Short))
	}
	return strings.Join(parts, v.Say(lackAlso))
}

func (v view) pieceNames(all []match.Piece) string {
	names := make([]string, len(all))
	for i, p := range all {
		names[i] = v.pieceName(p)
	}
	return strings.Join(names, ", ")
}

// hundredths is a share in whole percent.
func hundredths(share float64) int { return int(math.Round(100 * share)) }
