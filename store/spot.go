package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
)

// Spot is what a troy ounce of fine metal cost, when, and who says so.
type Spot struct {
	At       time.Time
	Currency melt.Currency
	Price    melt.Price
	Source   string
}

// PriceRules are what a group asks of a price.
type PriceRules struct {
	StaleAfter time.Duration // older, and no price is called today's
	Jump       int           // the most it may change without a keeper's yes, in percent
	Low, High  melt.Price    // the band; both zero for what is usual in the currency
	Every      time.Duration // how often sources are asked
}

// Stale reports whether a price of that time is too old to be called today's.
func (r PriceRules) Stale(at, now time.Time) bool { return now.Sub(at) > r.StaleAfter }

// usualRules are those of a group that has set none; the schema's defaults are the same.
var usualRules = PriceRules{StaleAfter: 24 * time.Hour, Jump: 20, Every: time.Hour}

// PriceRules returns the rules of a group.
func (s *Store) PriceRules(ctx context.Context, group int64) (r PriceRules, err error) {
	err = s.inSnapshot(ctx, "read the rules for prices", func(tx pgx.Tx) error {
		r, err = priceRules(ctx, tx, group)
		return err
	})
	return r, err
}

func priceRules(ctx context.Context, tx pgx.Tx, group int64) (r PriceRules, err error) {
	err = tx.QueryRow(ctx, `
		SELECT stale_after, jump, coalesce(band_low, 0), coalesce(band_high, 0), every FROM price_rules WHERE group_id = $1`,
		group).Scan(&r.StaleAfter, &r.Jump, &r.Low, &r.High, &r.Every)
	if err == pgx.ErrNoRows {
		return usualRules, nil
	}
	return r, err
}

// SavePriceRules writes the rules of a group.
func (s *Store) SavePriceRules(ctx context.Context, group int64, r PriceRules) error {
	return s.inTx(ctx, "save the rules for prices", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			INSERT INTO price_rules (group_id, stale_after, jump, band_low, band_high, every)
			VALUES ($1, $2, $3, nullif($4::bigint, 0), nullif($5::bigint, 0), $6)
			ON CONFLICT (group_id) DO UPDATE SET stale_after = EXCLUDED.stale_after, jump = EXCLUDED.jump,
				band_low = EXCLUDED.band_low, band_high = EXCLUDED.band_high, every = EXCLUDED.every`,
			group, r.StaleAfter, r.Jump, r.Low, r.High, r.Every)
		return err
	})
}

// SaveSpot remembers a price for the group.
func (s *Store) SaveSpot(ctx context.Context, group int64, spot Spot) error {
	return s.SaveSpots(ctx, group, spot)
}

// SaveSpots remembers prices for the group, all or none. A second price for the same moment replaces the first.
func (s *Store) SaveSpots(ctx context.Context, group int64, spots ...Spot) error {
	return s.inTx(ctx, "save prices", func(tx pgx.Tx) error { return saveSpots(ctx, tx, group, spots) })
}

func saveSpots(ctx context.Context, tx pgx.Tx, group int64, spots []Spot) error {
	batch := &pgx.Batch{}
	for _, spot := range spots {
		batch.Queue(`
			INSERT INTO spots (group_id, at, currency, price, source) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (group_id, currency, at) DO UPDATE SET price = EXCLUDED.price, source = EXCLUDED.source`,
			group, spot.At, spot.Currency, spot.Price, spot.Source)
	}
	return tx.SendBatch(ctx, batch).Close()
}

// Spot returns the group's last known price in its currency; nil when there is none.
func (s *Store) Spot(ctx context.Context, g Group) (*Spot, error) {
	return s.SpotBefore(ctx, g.ID, g.Currency, s.now())
}

// SpotBefore returns the last price in a currency that a group knew at an instant; nil when there was none.
func (s *Store) SpotBefore(ctx context.Context, group int64, c melt.Currency, at time.Time) (spot *Spot, err error) {
	err = s.inSnapshot(ctx, "read the price", func(tx pgx.Tx) error {
		spot, err = spotBefore(ctx, tx, group, c, at)
		return err
	})
	return spot, err
}

// latestSpot is Spot inside a transaction. A price is never of the future: guards see to it, so none is looked for.
func latestSpot(ctx context.Context, tx pgx.Tx, g Group) (*Spot, error) {
	return spotBefore(ctx, tx, g.ID, g.Currency, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC))
}

func spotBefore(ctx context.Context, tx pgx.Tx, group int64, c melt.Currency, at time.Time) (*Spot, error) {
	rows, _ := tx.Query(ctx, `
		SELECT at, currency, price, source FROM spots WHERE group_id = $1 AND currency = $2 AND at <= $3
		ORDER BY at DESC LIMIT 1`, group, c, at)
	spot, err := pgx.CollectExactlyOneRow(rows, pgx.RowToAddrOfStructByPos[Spot])
	if err == pgx.ErrNoRows {
		return nil, nil
	}
	return spot, err
}

// SpotsInOtherMoney lists the last price in each currency but the group's own, for a group that hears of several.
func (s *Store) SpotsInOtherMoney(ctx context.Context, g Group) ([]Spot, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT DISTINCT ON (currency) at, currency, price, source FROM spots
		WHERE group_id = $1 AND currency <> $2 AND at <= $3 ORDER BY currency, at DESC`, g.ID, g.Currency, s.now())
	spots, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Spot])
	if err != nil {
		return nil, fmt.Errorf("read prices in other money: %w", err)
	}
	return spots, nil
}

// SpotHistory lists the last price of each day in the group's zone and currency from an instant on, oldest first.
func (s *Store) SpotHistory(ctx context.Context, g Group, from time.Time) (spots []Spot, err error) {
	err = s.inSnapshot(ctx, "read the history of the price", func(tx pgx.Tx) error {
		spots, err = spotHistory(ctx, tx, g, from, s.now())
		return err
	})
	return spots, err
}

func spotHistory(ctx context.Context, tx pgx.Tx, g Group, from, to time.Time) ([]Spot, error) {
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT ON ((at AT TIME ZONE $3)::date) at, currency, price, source FROM spots
		WHERE group_id = $1 AND currency = $2 AND at >= $4 AND at <= $5
		ORDER BY (at AT TIME ZONE $3)::date, at DESC`, g.ID, g.Currency, g.Location().String(), from, to)
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Spot])
}
