package store

import (
	"context"

	"github.com/jackc/pgx/v5"
)

// Count says whether a member agrees to be counted in the group's totals.
func (s *Store) Count(ctx context.Context, member int64, agreed bool) error {
	return s.inTx(ctx, "count a member", func(tx pgx.Tx) error {
		statement := `INSERT INTO counted (member_id) VALUES ($1) ON CONFLICT DO NOTHING`
		if !agreed {
			statement = `DELETE FROM counted WHERE member_id = $1`
		}
		_, err := tx.Exec(ctx, statement, member)
		return err
	})
}
