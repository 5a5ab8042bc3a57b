// Package meetup plans an evening at which members meet in person: what can be traded among those who come, what each
// should bring, and who sits down with whom in which round.
//
// It is pure, as match is. Rounds promises: every two who have something to hand over sit down together in exactly one
// round, nobody is at two tables in one round, and there are at most one more rounds than the busiest member has tables
// (Vizing 1964); exactly as many where those present fall into two sides that trade only with each other (König 1916). Where
// it says that fewer rounds are impossible, that is proved.
package meetup

import (
	"cmp"
	"slices"

	"spareounce/match"
)

// tradesEach is the most trades a member is planned into: an evening has only so many rounds.
const tradesEach = 6

// Plan finds the trades that those present can do among themselves. Handing over costs no postage.
func Plan(p *match.Pool, present []match.Member, o match.Options) (match.Plan, match.Bound) {
	there := *p
	there.Postage = nil
	there.Members = nil
	for _, m := range p.Members {
		if slices.Contains(present, m.ID) {
			m.Trades = tradesEach
			there.Members = append(there.Members, m)
		}
	}
	return match.Clear(&there, o)
}

// Handover is one piece that one member hands to another.
type Handover struct {
	From, To match.Member
	Piece    match.Piece
}

// Handovers lists what changes hands in some trades.
func Handovers(trades []match.Trade) (all []Handover) {
	for _, t := range trades {
		for _, leg := range t.Legs {
			for _, item := range leg.Items {
				all = append(all, Handover{leg.From, leg.To, item.Piece})
			}
		}
	}
	return all
}

// Evening is the order of an evening.
type Evening struct {
	Bring  map[match.Member][]Handover // what each member should bring, by who gets it and piece
	Rounds []Round
	Fewest bool // it is proved that fewer rounds are impossible
}

// Round is the tables that are taken at once, in order of their members.
type Round []Table

// Table is two who sit down together; A is the lesser.
type Table struct{ A, B match.Member }

// Arrange orders an evening at which these pieces change hands. The same handovers in any order make the same evening.
func Arrange(all []Handover) Evening {
	e := Evening{Bring: map[match.Member][]Handover{}}
	var tables []Table
	for _, h := range all {
		e.Bring[h.From] = append(e.Bring[h.From], h)
		tables = append(tables, Table{h.From, h.To})
	}
	for _, list := range e.Bring {
		slices.SortFunc(list, func(a, b Handover) int {
			return cmp.Or(cmp.Compare(a.To, b.To), cmp.Compare(a.Piece, b.Piece))
		})
	}
	e.Rounds, e.Fewest = Rounds(tables)
	return e
}

// Rounds orders tables in rounds, the fullest round first, and reports whether it is proved that fewer are impossible. A
// table that is named twice, or the other way round, is one; nobody sits down with themselves.
func Rounds(tables []Table) (rounds []Round, fewest bool) {
	wanted := slices.Clone(tables)
	for i, t := range wanted {
		if t.B < t.A {
			wanted[i] = Table{t.B, t.A}
		}
	}
	wanted = slices.DeleteFunc(wanted, func(t Table) bool { return t.A == t.B })
	slices.SortFunc(wanted, compareTables)
	wanted = slices.Compact(wanted)

	place := map[match.Member]int{}
	seat := func(m match.Member) int {
		if _, ok := place[m]; !ok {
			place[m] = len(place)
		}
		return place[m]
	}
	edges := make([]edge, len(wanted))
	for i, t := range wanted {
		edges[i] = edge{seat(t.A), seat(t.B)}
	}
	colours, count, fewest := colour(len(place), edges)
	rounds = make([]Round, count)
	for i, c := range colours {
		rounds[c] = append(rounds[c], wanted[i])
	}
	slices.SortFunc(rounds, func(a, b Round) int {
		return cmp.Or(cmp.Compare(len(b), len(a)), slices.CompareFunc(a, b, compareTables))
	})
	return rounds, fewest
}

func compareTables(a, b Table) int { return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B)) }
