package store

import (
	"cmp"
	"context"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// valuer says what a piece is worth in the group when its owner asks nothing. It remembers what it worked out.
type valuer struct {
	group     Group
	spot      *Spot
	catalogue *series.Catalogue
	observed  map[HoldingKey]Observed
	known     map[HoldingKey]worth
}

type worth struct {
	value  melt.Minor
	metal  melt.Metal
	exists bool
}

func (s *Store) newValuer(ctx context.Context, tx pgx.Tx, g Group, spot *Spot, catalogue *series.Catalogue) (valuer, error) {
	v := valuer{group: g, spot: spot, catalogue: catalogue, known: map[HoldingKey]worth{}}
	if spot == nil {
		return v, nil // values are weights then
	}
	var err error
	v.observed, err = s.observedPremiums(ctx, tx, g, catalogue)
	return v, err
}

// of returns the value of one piece, whatever its condition. With a spot price the value is melt plus the premium that
// was observed for the piece, else the catalogue's, else the group's; without one it is the fine weight in milligrams, so that trades balance by weight.
func (v valuer) of(key HoldingKey) worth {
	key.Condition = series.Unsaid
	w, ok := v.known[key]
	if !ok {
		w = v.workOut(key)
		v.known[key] = w
	}
	return w
}

func (v valuer) workOut(key HoldingKey) worth {
	one, _ := v.catalogue.Series(key.Series)
	p, ok := one.Piece(key.Piece)
	if !ok {
		return worth{}
	}
	metal := one.MetalOf(p)
	if v.spot == nil {
		return worth{melt.Minor(metal.FineWeight() / melt.Milligram), metal, true}
	}
	if o, ok := v.observed[key]; ok {
		value, err := melt.ValueWith(metal, v.spot.Price, v.group.Currency, melt.Markup{PerPiece: o.Median})
		if err == nil {
			return worth{value, metal, true}
		} // the metal alone has fallen below the discount: what was observed then says nothing now
	}
	above := melt.Markup{BasisPoints: 100 * cmp.Or(p.PremiumPercent, one.PremiumPercent)}
	if above.BasisPoints == 0 {
		above.PerOunce = v.group.PremiumPerOunce
	}
	value, err := melt.ValueWith(metal, v.spot.Price, v.group.Currency, above)
	return worth{value, metal, err == nil}
}

// gain is what filling a want is worth to its member beyond the piece's value, in our own measure: a tenth of the value
// for a want that can wait, a quarter for most, a half for one that should come soon. It ranks trades; nobody pays it.
func gain(p Priority, value melt.Minor) melt.Minor {
	share := [...]melt.Minor{10, 25, 50}[p]
	return max(1, value*share/100)
}
