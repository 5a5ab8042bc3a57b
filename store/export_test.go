package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
)

// Market is what a store's market in memory holds, and what the best trade of each member gains by its index.
func (s *Store) Market(ctx context.Context, group int64) (*match.Pool, map[match.Member]melt.Minor, error) {
	k, err := s.market(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	k.mu.RUnlock()
	k.mu.Lock()
	defer k.mu.Unlock()
	k.index.SetAcceptance(1) // how many answers were counted depends on when, and is no matter here
	pool := k.list(nil).pool
	best := map[match.Member]melt.Minor{}
	for _, m := range pool.Members {
		if found := k.index.For(m.ID, 1); len(found) > 0 {
			best[m.ID] = found[0].Gain
		}
	}
	return pool, best, nil
}

// RematchSpare is the job that follows when a member has changed what they can spare of a piece.
func (s *Store) RematchSpare(ctx context.Context, member int64, key HoldingKey) error {
	return s.rematch(ctx, RematchArgs{Member: member, Opened: &opened{Spares: []HoldingKey{key}, Change: 1 << 60}})
}

// OpenTraced is Open with somebody who is shown every statement.
var OpenTraced = open

// PassTime does what the clock would have done by now: tells every open trade the time, what is due longest first.
func (s *Store) PassTime(ctx context.Context) error {
	rows, _ := s.pool.Query(ctx, `
		SELECT trade_id FROM trades WHERE state IN ('proposed', 'agreed') AND deadline <= $1 ORDER BY deadline, trade_id`, s.now())
	late, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range late {
		if err := s.lapse(ctx, id); err != nil {
			return err
		}
	}
	return nil
}
