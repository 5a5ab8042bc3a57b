package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
)

// followTogether does what an event of one trade means for the others of a round whose trades are agreed together: when
// the last of them has every yes all are agreed, and when one ends all do.
func (s *Store) followTogether(ctx context.Context, tx pgx.Tx, before, after Trade) error {
	if !after.Together || before.State != trade.Proposed {
		return nil
	}
	switch {
	case after.Waits() && !before.Waits():
		return s.concludeIfAll(ctx, tx, after)
	case after.State == trade.Ended:
		return s.moveOthers(ctx, tx, after, trade.CallOff{})
	}
	return nil
}

func (s *Store) concludeIfAll(ctx context.Context, tx pgx.Tx, last Trade) error {
	open, err := openOfRound(ctx, tx, last.Round)
	if err != nil {
		return err
	}
	for _, id := range open {
		t, err := loadTrade(ctx, tx, id)
		if err != nil || !t.Waits() {
			return err
		}
	}
	for _, id := range open {
		if err := s.move(ctx, tx, id, trade.Conclude{At: s.now()}); err != nil {
			return err
		}
	}
	return nil
}

// moveOthers applies an event to the other trades of a round that are still proposed. One may have moved by the time its
// turn comes, for what happens to one has its own effects; that is no harm.
func (s *Store) moveOthers(ctx context.Context, tx pgx.Tx, t Trade, e trade.Event) error {
	open, err := openOfRound(ctx, tx, t.Round)
	if err != nil {
		return err
	}
	for _, id := range open {
		if err := s.move(ctx, tx, id, e); err != nil && !isRefusal(err) {
			return err
		}
	}
	return nil
}

// openOfRound lists the trades of a round that are still proposed, oldest first.
func openOfRound(ctx context.Context, tx pgx.Tx, round int64) ([]int64, error) {
	rows, _ := tx.Query(ctx, `SELECT trade_id FROM trades WHERE round_id = $1 AND state = 'proposed' ORDER BY trade_id`, round)
	return pgx.CollectRows(rows, pgx.RowTo[int64])
}
