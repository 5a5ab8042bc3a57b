package match

import (
	"cmp"
	"slices"
	"strings"
)

// inOrder is the pool with everything in it in an order of its own, so that what is found does not depend on the order
// in which members spoke; and, by place of a want in it, the want's place in p.
func (p *Pool) inOrder() (*Pool, []int) {
	q := *p
	q.Members = slices.Clone(p.Members)
	slices.SortStableFunc(q.Members, func(a, b Trader) int { return cmp.Compare(a.ID, b.ID) })
	q.Pieces = slices.Clone(p.Pieces)
	slices.SortStableFunc(q.Pieces, func(a, b PieceInfo) int { return cmp.Compare(a.ID, b.ID) })
	q.Spares = slices.Clone(p.Spares)
	slices.SortStableFunc(q.Spares, func(a, b Spare) int {
		return cmp.Or(cmp.Compare(a.Member, b.Member), cmp.Compare(a.Piece, b.Piece))
	})
	q.Postage = slices.Clone(p.Postage)
	slices.SortStableFunc(q.Postage, func(a, b Tariff) int {
		return cmp.Or(strings.Compare(a.From, b.From), strings.Compare(a.To, b.To))
	})
	wants := slices.Clone(p.Wants)
	at := make([]int, len(wants))
	for i, w := range wants {
		at[i] = i
		wants[i].Fill = slices.SortedFunc(slices.Values(w.Fill), compareFills)
	}
	slices.SortStableFunc(at, func(i, j int) int {
		a, b := wants[i], wants[j]
		return cmp.Or(cmp.Compare(a.Member, b.Member), slices.CompareFunc(a.Fill, b.Fill, compareFills))
	})
	q.Wants = make([]Want, 0, len(wants))
	for _, i := range at {
		q.Wants = append(q.Wants, wants[i])
	}
	return &q, at
}

func compareFills(a, b Fill) int {
	return cmp.Or(cmp.Compare(a.Piece, b.Piece), cmp.Compare(a.Gain, b.Gain))
}
