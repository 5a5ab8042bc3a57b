package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/trade"
)

// Trade is a trade as a group knows it.
type Trade struct {
	ID     int64
	Group  int64
	Number int64 // what members call it
	trade.Trade
	Spot       *melt.Price // frozen when it was proposed; nil when there was none
	SpotAt     *time.Time
	SpotSource string
	ProposedAt time.Time
	Reasons    *Reasons // of its first version; nil when there are none
	Round      int64    // in which it was found; 0: by a member's change
}

type tradeRow = Trade

// ErrNoTrade says that a group has no trade of that number, or none that the asker stands in.
var ErrNoTrade = errors.New("no such trade")

// MoveTrade is the one door through which a trade moves: load, apply, save, tell and enqueue, in one transaction. A
// *trade.Refusal comes back when the event may not happen now; then nothing has changed.
func (s *Store) MoveTrade(ctx context.Context, m Member, number int64, e trade.Event) (Trade, error) {
	var moved Trade
	var refused error
	err := s.inTx(ctx, fmt.Sprintf("move trade %d", number), func(tx pgx.Tx) error {
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		refused = s.move(ctx, tx, id, e)
		if !isRefusal(refused) && refused != nil {
			return refused
		}
		moved, err = loadTrade(ctx, tx, id)
		return err
	})
	if err == nil {
		err = refused
	}
	return moved, err
}

// tradeID finds the trade that members of a group call by a number, if the member stands in it.
func tradeID(ctx context.Context, tx pgx.Tx, m Member, number int64) (int64, error) {
	rows, _ := tx.Query(ctx, `
		SELECT trade_id FROM trades JOIN trade_parties USING (trade_id)
		WHERE group_id = $1 AND number = $2 AND member_id = $3`, m.Group, number, m.ID)
	id, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[int64])
	if err == pgx.ErrNoRows {
		return 0, ErrNoTrade
	}
	return id, err
}

func isRefusal(err error) bool {
	_, ok := errors.AsType[*trade.Refusal](err)
	return ok
}

// move applies an event to a trade inside a transaction, with all that follows from it.
func (s *Store) move(ctx context.Context, tx pgx.Tx, id int64, e trade.Event) error {
	before, err := loadTrade(ctx, tx, id)
	if err != nil {
		return err
	}
	after := before
	var notices []trade.Notice
	if after.Trade, notices, err = before.Apply(e); err != nil {
		return err
	}
	if err := s.saveTrade(ctx, tx, after); err != nil {
		return err
	}
	g, err := groupByID(ctx, tx, after.Group)
	if err != nil {
		return err
	}
	if err := s.tellParties(ctx, tx, g, after, notices); err != nil {
		return err
	}
	switch {
	case after.State == before.State:
		return nil
	case after.State == trade.Agreed:
		return s.promise(ctx, tx, after)
	case after.State == trade.Closed:
		return s.deliver(ctx, tx, after)
	case before.State == trade.Agreed: // broken
		if err := s.release(ctx, tx, after); err != nil {
			return err
		}
	}
	return s.rematchParties(ctx, tx, after) // what survives of it, if anything, is proposed
}

// promise takes the spares and wants of an agreed trade, and ends every proposal that counted on them.
func (s *Store) promise(ctx context.Context, tx pgx.Tx, t Trade) error {
	if err := addTaken(ctx, tx, t, 1); err != nil {
		return err
	}
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT t.trade_id FROM trade_items mine
		JOIN trade_items other ON other.holding_id = mine.holding_id OR other.want_id = mine.want_id
		JOIN trades t ON t.trade_id = other.trade_id
		WHERE mine.trade_id = $1 AND `+hollow+` ORDER BY t.trade_id`, t.ID)
	overtaken, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range overtaken {
		if err := s.move(ctx, tx, id, trade.Overtake{}); isRefusal(err) {
			return fmt.Errorf("trade %d would not be overtaken: %v", id, err) // no refusal of ours: nothing may stand of this
		} else if err != nil {
			return err
		}
	}
	return nil
}

// release gives the spares and wants of a broken trade back.
func (s *Store) release(ctx context.Context, tx pgx.Tx, t Trade) error {
	return addTaken(ctx, tx, t, -1)
}

// addTaken moves the promises of a trade's rows. The schema refuses to promise a piece or fill a want twice.
func addTaken(ctx context.Context, tx pgx.Tx, t Trade, by int) error {
	if _, err := tx.Exec(ctx, `
		UPDATE holdings h SET taken = taken + $2 * i.n
		FROM (SELECT holding_id, count(*) AS n FROM trade_items WHERE trade_id = $1 GROUP BY holding_id) i
		WHERE h.holding_id = i.holding_id`, t.ID, by); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `
		UPDATE wants w SET taken = taken + $2 * i.n
		FROM (SELECT want_id, count(*) AS n FROM trade_items WHERE trade_id = $1 GROUP BY want_id) i
		WHERE w.want_id = i.want_id`, t.ID, by)
	return err
}

// deliver moves the pieces of a closed trade from shelf to shelf and strikes off the wants they filled.
func (s *Store) deliver(ctx context.Context, tx pgx.Tx, t Trade) error {
	for _, item := range t.Items {
		key := ReadPieceID(item.Piece)
		if _, err := tx.Exec(ctx, `
			INSERT INTO holdings (group_id, member_id, series, piece, condition, quantity) VALUES ($1, $2, $3, $4, $5, 1)
			ON CONFLICT (member_id, series, piece, condition) DO UPDATE SET quantity = holdings.quantity + 1`,
			t.Group, memberID(item.To), key.Series, key.Piece, key.Condition); err != nil {
			return err
		}
		for _, statement := range []string{
			`DELETE FROM holdings WHERE holding_id = $1 AND quantity = 1`,
			`UPDATE holdings SET quantity = quantity - 1, spare = spare - 1, taken = taken - 1 WHERE holding_id = $1`,
		} {
			if _, err := tx.Exec(ctx, statement, item.Holding); err != nil {
				return err
			}
		}
		for _, statement := range []string{
			`DELETE FROM wants WHERE want_id = $1 AND quantity = 1`,
			`UPDATE wants SET quantity = quantity - 1, taken = taken - 1 WHERE want_id = $1`,
		} {
			if _, err := tx.Exec(ctx, statement, item.Want); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Store) rematchParties(ctx context.Context, tx pgx.Tx, t Trade) error {
	for _, p := range t.Parties {
		if err := s.rematchLater(ctx, tx, memberID(p.Member), nil); err != nil {
			return err
		}
	}
	return nil
}

// lapse ends a proposal whose time has run out; harmless when it has moved on since.
func (s *Store) lapse(ctx context.Context, id int64) error {
	err := s.inTx(ctx, "lapse a proposal", func(tx pgx.Tx) error {
		return s.move(ctx, tx, id, trade.Lapse{At: s.now()})
	})
	if isRefusal(err) {
		return nil
	}
	return err
}

// TradeOf reads one trade of the group in which the member stands: ErrNoTrade for any other.
func (s *Store) TradeOf(ctx context.Context, m Member, number int64) (t Trade, err error) {
	err = s.inSnapshot(ctx, "read the trade", func(tx pgx.Tx) error {
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		t, err = loadTrade(ctx, tx, id)
		return err
	})
	return t, err
}

// OpenTrades lists a member's proposed and agreed trades, oldest first.
func (s *Store) OpenTrades(ctx context.Context, m Member) (open []Trade, err error) {
	err = s.inSnapshot(ctx, "list the trades", func(tx pgx.Tx) error {
		open = nil
		ids, err := tradesOf(ctx, tx, m.ID, trade.Proposed, trade.Agreed)
		if err != nil {
			return err
		}
		for _, id := range ids {
			t, err := loadTrade(ctx, tx, id)
			if err != nil {
				return err
			}
			open = append(open, t)
		}
		return nil
	})
	return open, err
}
