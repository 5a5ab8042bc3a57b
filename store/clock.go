package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// longestPause is how long the clock may go unserved before we call it having been away: enough for a restart or a move,
// less than a day on which members wait for an answer.
const longestPause = 12 * time.Hour

// serveClock remembers that the clock is served now. If it was not for longer than longestPause, everyone for whom something
// came due meanwhile is told so, once, before what came due.
func (s *Store) serveClock(ctx context.Context, tx pgx.Tx, late []int64) error {
	now := s.now()
	var last *time.Time
	err := tx.QueryRow(ctx, `SELECT max(served_at) FROM clock`).Scan(&last)
	if err != nil {
		return err
	}
	if last != nil && now.Sub(*last) < time.Minute {
		return nil // one of many processes; no need to write it each time
	}
	if _, err := tx.Exec(ctx, `
		INSERT INTO clock (served_at) VALUES ($1) ON CONFLICT (one) DO UPDATE SET served_at = $1`, now); err != nil {
		return err
	}
	if last == nil || now.Sub(*last) <= longestPause {
		return nil
	}
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT member_id FROM (
			SELECT member_id FROM trade_parties WHERE trade_id = ANY ($1)
			UNION ALL SELECT member_id FROM notices WHERE told_at IS NULL AND due_at <= $2
		) kept_waiting JOIN members USING (member_id) JOIN groups USING (group_id)
		WHERE left_at IS NULL AND gone_at IS NULL ORDER BY member_id`, late, now)
	members, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range members {
		m, err := memberByID(ctx, tx, id)
		if err != nil {
			return err
		}
		g, err := groupByID(ctx, tx, m.Group)
		if err != nil {
			return err
		}
		since := last.UTC()
		if err := s.tell(ctx, tx, g, m, WeWereAway, fmt.Sprintf("away %d", since.Unix()), NoticeBody{Since: &since}); err != nil {
			return err
		}
	}
	return nil
}
