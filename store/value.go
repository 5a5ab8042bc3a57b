package store

import (
	"cmp"
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Spot is what a troy ounce of fine metal cost, when, and who says so.
type Spot struct {
	At       time.Time
	Currency melt.Currency
	Price    melt.Price
	Source   string
}

// SaveSpot remembers a price for the group.
func (s *Store) SaveSpot(ctx context.Context, group int64, spot Spot) error {
	return s.inTx(ctx, "save the price", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			INSERT INTO spots (group_id, at, currency, price, source) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (group_id, currency, at) DO UPDATE SET price = EXCLUDED.price, source = EXCLUDED.source`,
			group, spot.At, spot.Currency, spot.Price, spot.Source)
		return err
	})
}

// Spot returns the group's last known price in its currency; nil when there is none.
func (s *Store) Spot(ctx context.Context, g Group) (spot *Spot, err error) {
	err = s.inSnapshot(ctx, "read the price", func(tx pgx.Tx) error {
		spot, err = latestSpot(ctx, tx, g)
		return err
	})
	return spot, err
}

func latestSpot(ctx context.Context, tx pgx.Tx, g Group) (*Spot, error) {
	rows, _ := tx.Query(ctx, `
		SELECT at, currency, price, source FROM spots WHERE group_id = $1 AND currency = $2
		ORDER BY at DESC LIMIT 1`, g.ID, g.Currency)
	spot, err := pgx.CollectExactlyOneRow(rows, pgx.RowToAddrOfStructByPos[Spot])
	if err == pgx.ErrNoRows {
		return nil, nil
	}
	return spot, err
}

// valuer says what a piece is worth in the group when its owner asks nothing. It remembers what it worked out.
type valuer struct {
	group     Group
	spot      *Spot
	catalogue *series.Catalogue
	known     map[HoldingKey]worth
}

type worth struct {
	value  melt.Minor
	metal  melt.Metal
	exists bool
}

func newValuer(g Group, spot *Spot, catalogue *series.Catalogue) valuer {
	return valuer{g, spot, catalogue, map[HoldingKey]worth{}}
}

// of returns the value of one piece, whatever its condition. With a spot price the value is melt plus the piece's usual
// premium, else the group's; without one it is the fine weight in milligrams, so that trades balance by weight.
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
