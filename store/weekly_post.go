package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// PostArgs is the job of making a group's weekly posts that are due.
type PostArgs struct {
	Group int64 `json:"group"`
}

// Kind names the job in the queue.
func (PostArgs) Kind() string { return "post" }

// postLock is the first half of the advisory lock under which one job at a time posts to a group; the second is the group.
const postLock = 0x5350

// openPost is a week whose post is due and not made.
type openPost struct {
	Week     string
	Due      time.Time
	Failures int
}

// postWeekly makes the posts of a group that are due, oldest first, one by one. A post that could not be made, or waits
// for a price, is tried again when the clock says so; the ones after it wait behind it. Between a post and the record of
// it a crash may come: then it is made again under the same Week, by which a chat knows that it has said it.
func (s *Store) postWeekly(ctx context.Context, d Duties, group int64) error {
	return pgx.BeginFunc(ctx, s.pool, func(lock pgx.Tx) error {
		if _, err := lock.Exec(ctx, `SELECT pg_advisory_xact_lock($1, $2)`, postLock, int32(group)); err != nil {
			return err
		}
		for {
			more, err := s.postOne(ctx, d, group)
			if err != nil || !more {
				return err
			}
		}
	})
}

// postOne makes the oldest post that is due; false when there is none, or when it has to wait.
func (s *Store) postOne(ctx context.Context, d Duties, group int64) (more bool, err error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT week, due_at, failures FROM weekly_posts
		WHERE group_id = $1 AND posted_at IS NULL AND NOT passed AND try_at <= $2 ORDER BY due_at LIMIT 1`, group, s.now())
	post, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByPos[openPost])
	if errors.Is(err, pgx.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("find the weekly post: %w", err)
	}
	facts, waits, err := s.weekFacts(ctx, group, &post)
	if err != nil {
		return false, fmt.Errorf("gather the weekly post: %w", err)
	}
	if waits {
		return false, s.tryAgain(ctx, group, post, 0, s.now().Add(10*time.Minute))
	}
	if err := d.PostWeek(ctx, facts); err != nil {
		s.log.WarnContext(ctx, "the weekly post could not be made and will be tried again", "group", group, "week", post.Week, "err", err)
		return false, s.tryAgain(ctx, group, post, 1, s.now().Add(backoff(2*time.Minute, post.Failures+1)))
	}
	return true, s.inTx(ctx, "record the weekly post", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE weekly_posts SET posted_at = $3, seen = $4 WHERE group_id = $1 AND week = $2 AND posted_at IS NULL`,
			group, post.Week, s.now(), facts.Seen)
		return err
	})
}

func (s *Store) tryAgain(ctx context.Context, group int64, p openPost, failed int, at time.Time) error {
	return s.inTx(ctx, "put the weekly post off", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			UPDATE weekly_posts SET try_at = $3, failures = failures + $4 WHERE group_id = $1 AND week = $2`, group, p.Week, at, failed)
		return err
	})
}
