package store

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
)

// Weekly is when a group has its weekly post.
type Weekly struct {
	Weekday int   // as in ISO 8601: 1 is Monday, 7 Sunday
	At      Clock // in the group's zone
	Waits   bool  // for a price that is not stale, at most WaitsAtMost, rather than post with the last good one
	NextAt  time.Time
}

// WaitsAtMost is how long a post waits for a good price where the group chose so. Then it comes with the last one there is:
// late is fine, never is not.
const WaitsAtMost = 48 * time.Hour

// catchUp is how many missed posts are still made when we come back; what lies further back is passed over and said to be.
const catchUp = 4

// due is when a week's post is due, given its Monday.
func (w Weekly) due(zone *time.Location, monday time.Time) time.Time {
	return localInstant(zone, monday.AddDate(0, 0, w.Weekday-1), w.At)
}

const weeklyColumns = `weekday, extract(epoch FROM clock)::int / 60, waits, next_at`

// Weekly returns a group's schedule; nil when it has none.
func (s *Store) Weekly(ctx context.Context, group int64) (w *Weekly, err error) {
	err = s.inSnapshot(ctx, "read the weekly post's time", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `SELECT `+weeklyColumns+` FROM weekly WHERE group_id = $1`, group)
		w, err = pgx.CollectExactlyOneRow(rows, pgx.RowToAddrOfStructByPos[Weekly])
		if err == pgx.ErrNoRows {
			w, err = nil, nil
		}
		return err
	})
	return w, err
}

// SetWeekly gives a group a weekly post or another time for it, and returns the schedule with its next time. A first
// schedule begins with the next time that comes. A changed one still owes this week's post if it has not been made: when
// its new time is over, it comes at once.
func (s *Store) SetWeekly(ctx context.Context, g Group, w Weekly) (Weekly, error) {
	err := s.inTx(ctx, "set the weekly post", func(tx pgx.Tx) error {
		var monday time.Time
		switch err := tx.QueryRow(ctx, `SELECT next_week FROM weekly WHERE group_id = $1 FOR UPDATE`, g.ID).Scan(&monday); err {
		case nil:
		case pgx.ErrNoRows:
			monday = mondayOf(g.Location(), s.now())
			made, err := weekIsMade(ctx, tx, g.ID, monday)
			if err != nil {
				return err
			}
			if made || !w.due(g.Location(), monday).After(s.now()) {
				monday = monday.AddDate(0, 0, 7)
			}
		default:
			return err
		}
		w.NextAt = w.due(g.Location(), monday)
		_, err := tx.Exec(ctx, `
			INSERT INTO weekly (group_id, weekday, clock, waits, next_week, next_at)
			VALUES ($1, $2, $3 * interval '1 minute' + time '0:00', $4, $5, $6)
			ON CONFLICT (group_id) DO UPDATE SET weekday = EXCLUDED.weekday, clock = EXCLUDED.clock, waits = EXCLUDED.waits,
				next_week = EXCLUDED.next_week, next_at = EXCLUDED.next_at`,
			g.ID, w.Weekday, w.At, w.Waits, monday, w.NextAt)
		return err
	})
	return w, err
}

func weekIsMade(ctx context.Context, tx pgx.Tx, group int64, monday time.Time) (made bool, err error) {
	err = tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM weekly_posts WHERE group_id = $1 AND week = $2)`, group, weekName(monday)).Scan(&made)
	return made, err
}

// StopWeekly ends a group's weekly post. One that was due and not made yet is not made.
func (s *Store) StopWeekly(ctx context.Context, group int64) error {
	return s.inTx(ctx, "stop the weekly post", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `DELETE FROM weekly WHERE group_id = $1`, group); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `DELETE FROM weekly_posts WHERE group_id = $1 AND posted_at IS NULL AND NOT passed`, group)
		return err
	})
}

// moveWeekly sets the next post anew after the group's clock has been set to another zone; the week stays the same.
func moveWeekly(ctx context.Context, tx pgx.Tx, g Group) error {
	rows, _ := tx.Query(ctx, `SELECT `+weeklyColumns+`, next_week FROM weekly WHERE group_id = $1 FOR UPDATE`, g.ID)
	type row struct {
		Weekly
		Monday time.Time
	}
	r, err := pgx.CollectExactlyOneRow(rows, func(rows pgx.CollectableRow) (r row, err error) {
		err = rows.Scan(&r.Weekday, &r.At, &r.Waits, &r.NextAt, &r.Monday)
		return r, err
	})
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `UPDATE weekly SET next_at = $2 WHERE group_id = $1`, g.ID, r.due(g.Location(), r.Monday))
	return err
}

// weeklyDue turns schedules that have come due into rows of weekly_posts, one for each week, however many were missed, and
// sets the schedules to the next week. It is what two bots do at the same time without harm: a schedule that another has
// in hand is left to it, and a week that has a row gets no second.
func (s *Store) weeklyDue(ctx context.Context, tx pgx.Tx) error {
	rows, _ := tx.Query(ctx, `
		SELECT w.group_id, g.zone, `+weeklyColumns+`, next_week FROM weekly w JOIN groups g USING (group_id)
		WHERE next_at <= $1 AND g.gone_at IS NULL ORDER BY w.group_id FOR UPDATE OF w SKIP LOCKED`, s.now())
	type due struct {
		group  Group
		weekly Weekly
		monday time.Time
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (d due, err error) {
		err = row.Scan(&d.group.ID, &d.group.Zone, &d.weekly.Weekday, &d.weekly.At, &d.weekly.Waits, &d.weekly.NextAt, &d.monday)
		return d, err
	})
	if err != nil {
		return err
	}
	for _, d := range all {
		zone := d.group.Location()
		last := mondayOf(zone, s.now())
		for at := d.weekly.due(zone, d.monday); !at.After(s.now()); at = d.weekly.due(zone, d.monday) {
			missed := int(last.Sub(d.monday).Hours()) / (24 * 7)
			if _, err := tx.Exec(ctx, `
				INSERT INTO weekly_posts (group_id, week, due_at, try_at, passed) VALUES ($1, $2, $3, $4, $5)
				ON CONFLICT (group_id, week) DO NOTHING`,
				d.group.ID, weekName(d.monday), at, s.now(), missed >= catchUp); err != nil {
				return err
			}
			d.monday = d.monday.AddDate(0, 0, 7)
		}
		if _, err := tx.Exec(ctx, `UPDATE weekly SET next_week = $2, next_at = $3 WHERE group_id = $1`,
			d.group.ID, d.monday, d.weekly.due(zone, d.monday)); err != nil {
			return err
		}
	}
	return nil
}
