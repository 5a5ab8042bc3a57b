package store

import (
	"cmp"
	"context"
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
	Tap      string // names the button that was pressed; "" when it was typed
}

// Buy is Change with what was paid: edit puts pieces on the shelf and returns
// what was said of it and the purchases they came by. Both stand or fall
// together, and Undo takes back both. The spot price that the group knows at the moment is kept beside what was paid, so
// that the premium can be told later.
//
// A purchase may bear a tap, which names the press of a button: recorded are those of taps that have been recorded before,
// and edit passes them over, so that a second press changes nothing.
func (s *Store) Buy(ctx context.Context, g Group, m Member, taps []string, edit func(shelf *Shelf, recorded []string) (said string, bought []Purchase, err error)) (before, now *Shelf, err error) {
	var refused error
	err = s.inTx(ctx, "record a purchase", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `SELECT tap FROM purchases WHERE member_id = $1 AND tap = ANY ($2) ORDER BY tap`, m.ID, taps)
		recorded, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err != nil {
			return err
		}
		var said string
		var bought []Purchase
		var change int64
		before, now, change, refused, err = s.changeShelf(ctx, tx, m, func() string { return said }, func(shelf *Shelf) (err error) {
			said, bought, err = edit(shelf, recorded)
			return err
		})
		if err != nil || change == 0 {
			return err
		}
		spot, err := latestSpot(ctx, tx, g)
		if err != nil {
			return err
		}
		for _, p := range bought {
			if err := s.insertPurchase(ctx, tx, m, change, p, spot); err != nil {
				return err
			}
		}
		return nil
	})
	return before, now, cmp.Or(refused, err)
}

func (s *Store) insertPurchase(ctx context.Context, tx pgx.Tx, m Member, change int64, p Purchase, spot *Spot) error {
	var price *melt.Price
	var at *time.Time
	if spot != nil && spot.Currency == p.Currency {
		price, at = &spot.Price, &spot.At
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO purchases (group_id, member_id, change_id, series, piece, condition, quantity, price, currency, at, spot, spot_at, tap)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		m.Group, m.ID, change, p.Key.Series, p.Key.Piece, p.Key.Condition, p.Quantity, p.Price, p.Currency, s.now(), price, at, p.Tap)
	return err
}

// Purchases lists what a member bought, oldest first. Only they may be shown it.
func (s *Store) Purchases(ctx context.Context, m Member) ([]Purchase, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT purchase_id, series, piece, condition, quantity, price, currency, at, spot, spot_at, tap
		FROM purchases WHERE member_id = $1 ORDER BY at, purchase_id`, m.ID)
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (p Purchase, err error) {
		err = row.Scan(&p.ID, &p.Key.Series, &p.Key.Piece, &p.Key.Condition, &p.Quantity, &p.Price, &p.Currency, &p.At, &p.Spot, &p.SpotAt, &p.Tap)
		return p, err
	})
	if err != nil {
		return nil, fmt.Errorf("list the purchases: %w", err)
	}
	return all, nil
}
