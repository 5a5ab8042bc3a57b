package store

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
)

// Answers is how often a group's members said yes to a proposal, and how often they said no or did not answer in time.
type Answers struct{ Yes, No int }

const (
	// answersFrom is how many of a group's latest trades are counted: enough to tell, few enough to follow a change.
	answersFrom = 500
	// answersAge is how old a count may become: what it tells moves slowly.
	answersAge = 10 * time.Minute
)

// Acceptance is how likely a member of the group is to say yes, with the prior that match states while there are few
// answers.
func (a Answers) Acceptance() float64 { return match.Acceptance(a.Yes, a.No) }

// Answers counts the answers of a group's members.
func (s *Store) Answers(ctx context.Context, group int64) (a Answers, err error) {
	err = s.inSnapshot(ctx, "count the answers", func(tx pgx.Tx) error {
		a, err = readAnswers(ctx, tx, group)
		return err
	})
	return a, err
}

// readAnswers counts a yes for every party that accepted the terms as they last stood, a no for every trade that someone
// declined, and one for every party that had not answered when a trade lapsed. Whoever was not heard because a trade
// ended before counts as neither.
func readAnswers(ctx context.Context, tx pgx.Tx, group int64) (a Answers, err error) {
	err = tx.QueryRow(ctx, `
		WITH latest AS (
			SELECT trade_id, ending FROM trades WHERE group_id = $1 AND state <> 'proposed' ORDER BY number DESC LIMIT $2
		)
		SELECT count(*) FILTER (WHERE p.accepted),
			(SELECT count(*) FROM latest WHERE ending = 'declined') + count(*) FILTER (WHERE NOT p.accepted AND l.ending = 'lapsed')
		FROM latest l JOIN trade_parties p USING (trade_id)`, group, answersFrom).Scan(&a.Yes, &a.No)
	return a, err
}
