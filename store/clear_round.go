package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"

	"spareounce/match"
)

// RoundArgs is the job of clearing a round.
type RoundArgs struct {
	Round int64 `json:"round"`
}

// Kind names the job in the queue.
func (RoundArgs) Kind() string { return "round" }

// tickRounds enqueues the rounds whose time has come.
func (s *Store) tickRounds(ctx context.Context, tx pgx.Tx, once *river.InsertOpts) error {
	rows, _ := tx.Query(ctx, `
		SELECT round_id FROM rounds JOIN groups USING (group_id)
		WHERE state = 'open' AND clears_at <= $1 AND gone_at IS NULL ORDER BY clears_at, round_id`, s.now())
	due, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range due {
		if _, err := s.jobs.InsertTx(ctx, tx, RoundArgs{Round: id}, once); err != nil {
			return err
		}
	}
	return nil
}

// roundSteps is the work one clearing may take: well within a job's time on a slow machine, and a plan that members
// answer over days is worth a few seconds.
const roundSteps = 8_000_000

// clearRound clears a round whose time has come and proposes what it finds. It reads one picture of the group, decides
// without holding anything, then writes what still holds. Doing it twice is harmless: a round is open once.
func (s *Store) clearRound(ctx context.Context, id int64) error {
	var r Round
	var group int64
	open := map[int64]int{}
	err := s.inSnapshot(ctx, "find the round", func(tx pgx.Tx) (err error) {
		if r, err = roundBy(ctx, tx, `round_id = $1`, id); err != nil {
			return err
		}
		if err = tx.QueryRow(ctx, `SELECT group_id FROM rounds WHERE round_id = $1`, id).Scan(&group); err != nil {
			return err
		}
		rows, _ := tx.Query(ctx, `
			SELECT member_id, count(*) FROM trade_parties JOIN trades USING (trade_id)
			WHERE member_id = ANY ($1) AND state = 'proposed' GROUP BY member_id`, r.Members)
		var member int64
		var n int
		_, err = pgx.ForEachRow(rows, []any{&member, &n}, func() error { open[member] = n; return nil })
		return err
	})
	if errors.Is(err, ErrNoRound) || err == nil && (r.State != "open" || r.ClearsAt.After(s.now())) {
		return nil // forgotten, cleared or moved since
	}
	if err != nil {
		return err
	}
	found, result, err := s.plan(ctx, group, r, open)
	if err != nil {
		return err
	}
	return s.inTx(ctx, "propose a round's trades", func(tx pgx.Tx) error {
		return s.finishRound(ctx, tx, group, r, found, result)
	})
}

// plan clears the members of a round.
func (s *Store) plan(ctx context.Context, group int64, r Round, open map[int64]int) ([]find, RoundResult, error) {
	k, err := s.market(ctx, group)
	if err != nil {
		return nil, RoundResult{}, err
	}
	one := k.apart(r.Members)
	k.mu.RUnlock()
	l := one.list(slices.Clone(r.Members))
	for i, m := range l.pool.Members {
		l.pool.Members[i].Trades = max(0, proposalsAtOnce-open[memberID(m.ID)])
	}
	one.index, one.wants, one.kinds = match.NewIndex(l.pool), l.wants, l.kinds
	p := one.answers.Acceptance()
	var plan match.Plan
	var bound match.Bound
	done := make(chan struct{})
	go func() {
		plan, bound = match.Clear(l.pool, match.Options{Steps: roundSteps, Acceptance: p})
		close(done)
	}()
	select {
	case <-done:
	case <-ctx.Done(): // what is half worked out is begun anew by the next process
		return nil, RoundResult{}, context.Cause(ctx)
	}
	result := RoundResult{
		Members: len(l.pool.Members), Gain: plan.Gain, Expected: plan.Expected, Bound: bound.Gain, Optimal: bound.Optimal,
		Acceptance: p, Answers: one.answers.Yes + one.answers.No,
	}
	if one.spot != nil {
		result.Currency = &one.group.Currency
	}
	var found []find
	for _, f := range plan.Trades {
		terms, err := one.terms(f, l.wants)
		if err != nil {
			return nil, result, err
		}
		terms.Together = r.Together
		found = append(found, find{group: one.group, spot: one.spot, terms: terms, reasons: one.reasons(f), round: r.ID})
	}
	return found, result, nil
}

// apart is a market of some members that no change of the group's reaches.
func (k *market) apart(members []int64) *market {
	one := &market{stalls: k.stalls, answers: k.answers}
	one.of = map[int64]*stall{}
	for _, id := range members {
		if s := k.of[id]; s != nil {
			one.of[id] = s
		}
	}
	one.values.known = maps.Clone(k.values.known)
	return one
}

// finishRound proposes a round's trades, tells who was in it, and opens the next if rounds are scheduled.
func (s *Store) finishRound(ctx context.Context, tx pgx.Tx, group int64, r Round, found []find, result RoundResult) error {
	var state string
	if err := tx.QueryRow(ctx, `SELECT state FROM rounds WHERE round_id = $1 FOR UPDATE`, r.ID).Scan(&state); err != nil {
		return err
	}
	if state != "open" {
		return nil
	}
	for _, f := range found {
		if err := s.propose(ctx, tx, f); err != nil {
			return err
		}
	}
	if err := tx.QueryRow(ctx, `
		SELECT count(DISTINCT trade_id), count(*) FROM trades JOIN trade_items USING (trade_id) WHERE round_id = $1`,
		r.ID).Scan(&result.Trades, &result.Pieces); err != nil {
		return err
	}
	result.Left = len(found) - result.Trades
	if _, err := tx.Exec(ctx, `UPDATE rounds SET state = 'cleared', result = $2 WHERE round_id = $1`, r.ID, result); err != nil {
		return err
	}
	if err := s.tellRound(ctx, tx, group, r); err != nil {
		return err
	}
	return s.openNext(ctx, tx, group, r)
}

// tellRound tells who held the round what it came to, keepers if that was the schedule, and those in it for whom it has
// found nothing.
func (s *Store) tellRound(ctx context.Context, tx pgx.Tx, group int64, r Round) error {
	g, err := groupByID(ctx, tx, group)
	if err != nil {
		return err
	}
	rows, _ := tx.Query(ctx, `
		SELECT m.member_id, true FROM members m JOIN rounds r USING (group_id)
		WHERE round_id = $1 AND left_at IS NULL AND (m.member_id = opened_by OR opened_by IS NULL AND keeper)
		UNION ALL
		SELECT member_id, false FROM round_members rm JOIN members USING (member_id)
		WHERE round_id = $1 AND left_at IS NULL AND NOT EXISTS (
			SELECT 1 FROM trade_parties p JOIN trades t USING (trade_id) WHERE t.round_id = $1 AND p.member_id = rm.member_id)
		ORDER BY 2, 1`, r.ID)
	type teller struct {
		Member int64
		Holds  bool
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[teller])
	if err != nil {
		return err
	}
	for _, to := range all {
		m, err := memberByID(ctx, tx, to.Member)
		if err != nil {
			return err
		}
		kind := RoundNothing
		if to.Holds {
			kind = RoundCleared
		}
		if err := s.tell(ctx, tx, g, m, kind, fmt.Sprintf("%s %d", kind, r.ID), NoticeBody{Round: r.ID}); err != nil {
			return err
		}
	}
	return nil
}

// openNext opens the next round of a schedule; who was in the last is in the next.
func (s *Store) openNext(ctx context.Context, tx pgx.Tx, group int64, last Round) error {
	g, err := groupByID(ctx, tx, group)
	if err != nil {
		return err
	}
	var spec string
	var together bool
	err = tx.QueryRow(ctx, `SELECT spec, together FROM round_schedules WHERE group_id = $1`, group).Scan(&spec, &together)
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	next, err := nextRound(g, spec, s.now())
	if err != nil {
		s.log.ErrorContext(ctx, "rounds can't go on by their schedule", "group", group, "err", err)
		return nil
	}
	var id int64
	if err := tx.QueryRow(ctx, `
		INSERT INTO rounds (group_id, opened_at, clears_at, together) VALUES ($1, $2, $3, $4) RETURNING round_id`,
		group, s.now(), next, together).Scan(&id); err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `INSERT INTO round_members (round_id, member_id) SELECT $2, member_id FROM round_members WHERE round_id = $1`, last.ID, id)
	return err
}
