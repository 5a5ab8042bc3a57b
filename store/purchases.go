package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
)

// Purchase is some of a piece that a member bought at one price.
type Purchase struct {
	ID       int64
	Key      HoldingKey
	Quantity int
	Price    melt.Minor // of one
	Currency melt.Currency
	At       time.Time
	Spot     *melt.Price // as the group knew it then; nil when it knew none
	SpotAt   *time.Time
}

// ErrBoughtAlready says that a tap has been recorded before, and that nothing was changed.
var ErrBoughtAlready = errors.New("this purchase is recorded already")

// Buy is Change with what was paid: edit puts the pieces on the shelf, and bought, read after it, says which and at what
// price. Both stand or fall together, and Undo takes back both. The spot price that the group knows at the moment is kept
// beside what was paid, so that the premium can be told later. A tap, when it is not empty, names one press of a button: a
// second one is ErrBoughtAlready.
func (s *Store) Buy(ctx context.Context, g Group, m Member, said, tap string, edit func(*Shelf) error, bought func() []Purchase) (before, now *Shelf, err error) {
	var refused error
	err = s.inTx(ctx, "record a purchase", func(tx pgx.Tx) error {
		if refused = nil; tap != "" {
			var again bool
			err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM purchases WHERE member_id = $1 AND tap = $2)`, m.ID, tap).Scan(&again)
			if err != nil {
				return err
			}
			if again {
				refused = ErrBoughtAlready
				return nil
			}
		}
		var change int64
		if before, now, change, refused, err = s.changeShelf(ctx, tx, m, said, edit); err != nil || change == 0 {
			return err
		}
		spot, err := latestSpot(ctx, tx, g)
		if err != nil {
			return err
		}
		for place, p := range bought() {
			if err := s.insertPurchase(ctx, tx, m, change, tap, place, p, spot); err != nil {
				return err
			}
		}
		return nil
	})
	return before, now, cmp.Or(refused, err)
}

func (s *Store) insertPurchase(ctx context.Context, tx pgx.Tx, m Member, change int64, tap string, place int, p Purchase, spot *Spot) error {
	var price *melt.Price
	var at *time.Time
	if spot != nil && spot.Currency == p.Currency {
		price, at = &spot.Price, &spot.At
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO purchases (group_id, member_id, change_id, series, piece, condition, quantity, price, currency, at, spot, spot_at, tap, place)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`,
		m.Group, m.ID, change, p.Key.Series, p.Key.Piece, p.Key.Condition, p.Quantity, p.Price, p.Currency, s.now(), price, at, tap, place)
	return err
}

// Purchases lists what a member bought, oldest first. Only they may be shown it.
func (s *Store) Purchases(ctx context.Context, m Member) ([]Purchase, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT purchase_id, series, piece, condition, quantity, price, currency, at, spot, spot_at
		FROM purchases WHERE member_id = $1 ORDER BY at, purchase_id`, m.ID)
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (p Purchase, err error) {
		err = row.Scan(&p.ID, &p.Key.Series, &p.Key.Piece, &p.Key.Condition, &p.Quantity, &p.Price, &p.Currency, &p.At, &p.Spot, &p.SpotAt)
		return p, err
	})
	if err != nil {
		return nil, fmt.Errorf("list the purchases: %w", err)
	}
	return all, nil
}
