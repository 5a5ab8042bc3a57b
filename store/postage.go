package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
)

// Postage lists what a parcel costs its sender from one region to another, as keepers set it.
func (s *Store) Postage(ctx context.Context, group int64) (table []match.Tariff, err error) {
	err = s.inSnapshot(ctx, "read the postage", func(tx pgx.Tx) error {
		table, err = readPostage(ctx, tx, group)
		return err
	})
	return table, err
}

// SetPostage sets what a parcel costs from one region to another.
func (s *Store) SetPostage(ctx context.Context, group int64, one match.Tariff) error {
	return s.inTx(ctx, "set the postage", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			INSERT INTO postage (group_id, source, target, parcel, ounce) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (group_id, source, target) DO UPDATE SET parcel = EXCLUDED.parcel, ounce = EXCLUDED.ounce`,
			group, one.From, one.To, one.Parcel, one.Ounce)
		return err
	})
}

// DropPostage forgets what a parcel costs from one region to another: it counts as free again.
func (s *Store) DropPostage(ctx context.Context, group int64, from, to string) error {
	return s.inTx(ctx, "drop the postage", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `DELETE FROM postage WHERE group_id = $1 AND source = $2 AND target = $3`, group, from, to)
		return err
	})
}

func readPostage(ctx context.Context, tx pgx.Tx, group int64) ([]match.Tariff, error) {
	rows, _ := tx.Query(ctx, `SELECT source, target, parcel, ounce FROM postage WHERE group_id = $1 ORDER BY source, target`, group)
	return pgx.CollectRows(rows, pgx.RowToStructByPos[match.Tariff])
}
