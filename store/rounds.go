package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/robfig/cron/v3"

	"spareounce/match/melt"
)

// Round is a clearing of everyone who opted in, together, at a set time.
type Round struct {
	ID       int64
	ClearsAt time.Time
	Together bool // its trades are agreed all or none
	State    string
	Members  []int64 // who is in, in the order of their rows
	Result   *RoundResult
}

// RoundResult is what a clearing came to, in figures. Money is in the group's measure.
type RoundResult struct {
	Members    int
	Trades     int // proposed
	Left       int // found and not proposed: turned down lately, or a piece went while the round was cleared
	Pieces     int
	Gain       melt.Minor
	Expected   melt.Minor // on average, if each member says yes with chance Acceptance
	Bound      melt.Minor // no plan has a greater Expected
	Optimal    bool       // the plan has been proved best
	Acceptance float64
	Answers    int            // by which it was learned
	Currency   *melt.Currency // nil: by weight
}

// Schedule is when rounds are held by themselves.
type Schedule struct {
	Spec     string // five cron fields, on the group's clock
	Together bool
	Next     time.Time
}

var (
	// ErrNoRound says that no round is open.
	ErrNoRound = errors.New("no round is open")
	// ErrSchedule says that a schedule can't be read, never comes, or comes more than once an hour.
	ErrSchedule = errors.New("no schedule for rounds")
)

// OpenRound opens a round that clears at a time, or moves the open one to it.
func (s *Store) OpenRound(ctx context.Context, by Member, at time.Time, together bool) (r Round, err error) {
	err = s.inTx(ctx, "open a round", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `
			INSERT INTO rounds (group_id, opened_by, opened_at, clears_at, together) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (group_id) WHERE state = 'open' DO UPDATE SET
				opened_by = EXCLUDED.opened_by, clears_at = EXCLUDED.clears_at, together = EXCLUDED.together`,
			by.Group, by.ID, s.now(), at.UTC(), together); err != nil {
			return err
		}
		r, err = openRound(ctx, tx, by.Group)
		return err
	})
	return r, err
}

// Round returns the open round of a group: ErrNoRound when there is none.
func (s *Store) Round(ctx context.Context, group int64) (r Round, err error) {
	err = s.inSnapshot(ctx, "find the round", func(tx pgx.Tx) error {
		r, err = openRound(ctx, tx, group)
		return err
	})
	return r, err
}

// RoundByID returns a round, open or not.
func (s *Store) RoundByID(ctx context.Context, id int64) (r Round, err error) {
	err = s.inSnapshot(ctx, "find the round", func(tx pgx.Tx) error {
		r, err = roundBy(ctx, tx, `round_id = $1`, id)
		return err
	})
	return r, err
}

func openRound(ctx context.Context, tx pgx.Tx, group int64) (Round, error) {
	return roundBy(ctx, tx, `state = 'open' AND group_id = $1`, group)
}

func roundBy(ctx context.Context, tx pgx.Tx, which string, key int64) (r Round, err error) {
	err = tx.QueryRow(ctx, `SELECT round_id, clears_at, together, state, result FROM rounds WHERE `+which, key).
		Scan(&r.ID, &r.ClearsAt, &r.Together, &r.State, &r.Result)
	if err == pgx.ErrNoRows {
		return r, ErrNoRound
	}
	if err != nil {
		return r, err
	}
	rows, _ := tx.Query(ctx, `
		SELECT member_id FROM round_members JOIN members USING (member_id)
		WHERE round_id = $1 AND left_at IS NULL ORDER BY member_id`, r.ID)
	r.Members, err = pgx.CollectRows(rows, pgx.RowTo[int64])
	return r, err
}

// JoinRound has a member take part in the open round, or no longer.
func (s *Store) JoinRound(ctx context.Context, m Member, in bool) (r Round, err error) {
	err = s.inTx(ctx, "join the round", func(tx pgx.Tx) error {
		if r, err = openRound(ctx, tx, m.Group); err != nil {
			return err
		}
		query := `INSERT INTO round_members (round_id, member_id) VALUES ($1, $2) ON CONFLICT DO NOTHING`
		if !in {
			query = `DELETE FROM round_members WHERE round_id = $1 AND member_id = $2`
		}
		if _, err = tx.Exec(ctx, query, r.ID, m.ID); err != nil {
			return err
		}
		r, err = openRound(ctx, tx, m.Group)
		return err
	})
	return r, err
}

// ClearNow has the open round cleared at once.
func (s *Store) ClearNow(ctx context.Context, by Member) error {
	return s.inTx(ctx, "clear the round now", func(tx pgx.Tx) error {
		r, err := openRound(ctx, tx, by.Group)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE rounds SET clears_at = $2, opened_by = $3 WHERE round_id = $1`, r.ID, s.now(), by.ID); err != nil {
			return err
		}
		_, err = s.jobs.InsertTx(ctx, tx, RoundArgs{Round: r.ID}, nil)
		return err
	})
}

// CallOffRound closes the open round without clearing it.
func (s *Store) CallOffRound(ctx context.Context, group int64) error {
	return s.inTx(ctx, "call the round off", func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE rounds SET state = 'called off' WHERE group_id = $1 AND state = 'open'`, group)
		if err == nil && tag.RowsAffected() == 0 {
			return ErrNoRound
		}
		return err
	})
}

// ScheduleRounds has rounds held by themselves from now on, the first of them opened at once if none is open. An empty
// spec stops that; what is open stays so.
func (s *Store) ScheduleRounds(ctx context.Context, g Group, spec string, together bool) (Schedule, error) {
	if spec == "" {
		return Schedule{}, s.inTx(ctx, "stop the rounds", func(tx pgx.Tx) error {
			_, err := tx.Exec(ctx, `DELETE FROM round_schedules WHERE group_id = $1`, g.ID)
			return err
		})
	}
	next, err := nextRound(g, spec, s.now())
	if err != nil {
		return Schedule{}, err
	}
	return Schedule{spec, together, next}, s.inTx(ctx, "schedule rounds", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `
			INSERT INTO round_schedules (group_id, spec, together) VALUES ($1, $2, $3)
			ON CONFLICT (group_id) DO UPDATE SET spec = EXCLUDED.spec, together = EXCLUDED.together`, g.ID, spec, together); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `
			INSERT INTO rounds (group_id, opened_at, clears_at, together) VALUES ($1, $2, $3, $4)
			ON CONFLICT (group_id) WHERE state = 'open' DO UPDATE SET clears_at = EXCLUDED.clears_at, together = EXCLUDED.together`,
			g.ID, s.now(), next, together)
		return err
	})
}

// RoundSchedule returns a group's schedule; false when it has none.
func (s *Store) RoundSchedule(ctx context.Context, g Group) (one Schedule, ok bool, err error) {
	err = s.pool.QueryRow(ctx, `SELECT spec, together FROM round_schedules WHERE group_id = $1`, g.ID).Scan(&one.Spec, &one.Together)
	if err == pgx.ErrNoRows {
		return one, false, nil
	}
	if err != nil {
		return one, false, fmt.Errorf("find the schedule of rounds: %w", err)
	}
	one.Next, err = nextRound(g, one.Spec, s.now())
	return one, err == nil, err
}

// nextRound is when a schedule comes next. A clock that skips an hour skips what would have come in it.
func nextRound(g Group, spec string, now time.Time) (time.Time, error) {
	schedule, err := cron.ParseStandard("CRON_TZ=" + g.Location().String() + " " + spec)
	if err != nil {
		return time.Time{}, fmt.Errorf("%w: %w", ErrSchedule, err)
	}
	next := schedule.Next(now)
	if next.IsZero() || schedule.Next(next).Sub(next) < time.Hour {
		return time.Time{}, ErrSchedule
	}
	return next.UTC(), nil
}
