package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// Trade is a trade as a group knows it.
type Trade struct {
	ID     int64
	Group  int64
	Number int64 // what members call it
	trade.Trade
	Parcels    map[match.Member]Parcel
	Deeds      int         // how many things have happened to it
	Spot       *melt.Price // frozen when it was proposed; nil when there was none
	SpotAt     *time.Time
	SpotSource string
	ProposedAt time.Time
	Reasons    *Reasons // of its first version; nil when there are none
	Round      int64    // in which it was found; 0: by a member's change
}

// Parcel is what is known of what one party sends beyond what the trade itself needs.
type Parcel struct {
	Tracking string // carrier and number, for the parties alone
	Late     *bool  // was it sent after the first reminder; nil until that is known
}

type tradeRow = Trade

// ErrNoTrade says that a group has no trade of that number, or none that the asker stands in.
var ErrNoTrade = errors.New("no such trade")

// MoveTrade is the one door through which a trade moves: load, apply, save, tell and enqueue, in one transaction. The member
// is a party, or stands in the middle; a keeper who is neither may break it. A *trade.Refusal comes back when the event may
// not happen now; then nothing has changed.
func (s *Store) MoveTrade(ctx context.Context, m Member, number int64, e trade.Event) (Trade, error) {
	return s.moveSaying(ctx, m, number, e, "")
}

// SendTrade is MoveTrade with what the receiver may need to follow the parcel: carrier and number.
func (s *Store) SendTrade(ctx context.Context, m Member, number int64, e trade.Ship, tracking string) (Trade, error) {
	return s.moveSaying(ctx, m, number, e, tracking)
}

func (s *Store) moveSaying(ctx context.Context, m Member, number int64, e trade.Event, tracking string) (Trade, error) {
	var moved Trade
	var refused error
	err := s.inTx(ctx, fmt.Sprintf("move trade %d", number), func(tx pgx.Tx) error {
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		refused = s.moveWith(ctx, tx, id, e, tracking)
		if !isRefusal(refused) && refused != nil {
			return refused
		}
		moved, err = loadTrade(ctx, tx, id)
		return err
	})
	if err == nil {
		err = refused
	}
	return moved.seenBy(m), err
}

// tradeID finds the trade that members of a group call by a number, if the member may see it: a party, who stands in the
// middle, or a keeper of one that was agreed.
func tradeID(ctx context.Context, tx pgx.Tx, m Member, number int64) (int64, error) {
	rows, _ := tx.Query(ctx, `
		SELECT trade_id FROM trades t WHERE group_id = $1 AND number = $2 AND (
			EXISTS (SELECT 1 FROM trade_parties p WHERE p.trade_id = t.trade_id AND member_id = $3)
			OR middle = $3 AND NOT EXISTS (SELECT 1 FROM trade_parties p WHERE p.trade_id = t.trade_id AND NOT accepted)
			OR $4 AND (state = 'agreed' OR ending IN ('broken', 'unfinished')))`, m.Group, number, m.ID, m.Keeper)
	id, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[int64])
	if err == pgx.ErrNoRows {
		return 0, ErrNoTrade
	}
	return id, err
}

// Has reports whether a member is a party.
func (t Trade) Has(m match.Member) bool {
	return slices.ContainsFunc(t.Parties, func(p trade.Party) bool { return p.Member == m })
}

// seenBy is the trade without what is for those alone through whose hands the parcels go, unless the member is one.
func (t Trade) seenBy(m Member) Trade {
	if !t.Has(m.Identity()) && m.Identity() != t.Middle {
		t.Parcels = nil
	}
	return t
}

func isRefusal(err error) bool {
	_, ok := errors.AsType[*trade.Refusal](err)
	return ok
}

// move applies an event to a trade inside a transaction, with all that follows from it.
func (s *Store) move(ctx context.Context, tx pgx.Tx, id int64, e trade.Event) error {
	return s.moveWith(ctx, tx, id, e, "")
}

func (s *Store) moveWith(ctx context.Context, tx pgx.Tx, id int64, e trade.Event, tracking string) error {
	before, err := loadTrade(ctx, tx, id)
	if err != nil {
		return err
	}
	after := before
	var notices []trade.Notice
	if after.Trade, notices, err = before.Apply(e); err != nil {
		return err
	}
	after.Deeds++
	after.follow(before, e, tracking)
	if err := s.saveTrade(ctx, tx, after); err != nil {
		return err
	}
	if err := s.saveDeed(ctx, tx, after, e, notices, after.Version != before.Version); err != nil {
		return err
	}
	g, err := groupByID(ctx, tx, after.Group)
	if err != nil {
		return err
	}
	if err := s.tellParties(ctx, tx, g, after, notices); err != nil {
		return err
	}
	if err := s.shareLater(ctx, tx, g, before, after); err != nil {
		return err
	}
	if after.State == trade.Agreed && before.State != trade.Agreed {
		if err := s.observe(ctx, tx, g, after); err != nil {
			return err
		}
		return s.promise(ctx, tx, after)
	}
	if err := s.followTogether(ctx, tx, before, after); err != nil {
		return err
	}
	if err := s.deliver(ctx, tx, g, before, after); err != nil {
		return err
	}
	if after.State != trade.Ended {
		return nil
	}
	if before.State == trade.Agreed {
		if err := s.release(ctx, tx, after); err != nil {
			return err
		}
	}
	return s.rematchParties(ctx, tx, after) // what survives of it, if anything, is proposed
}

// follow notes what is known of the parcels after an event. What is for following one goes when the trade is over.
func (t *Trade) follow(before Trade, e trade.Event, tracking string) {
	parcels := maps.Clone(before.Parcels)
	for i, p := range t.Parties {
		parcel := parcels[p.Member]
		if before.State == trade.Agreed {
			was := before.Parties[i]
			sent := was.Stage == trade.ToSend && p.Stage != trade.ToSend
			if parcel.Late == nil && (sent || was.Stage == trade.ToSend && t.State == trade.Ended && was.Nudges > 0) {
				parcel.Late = new(was.Nudges > 0)
			}
		}
		if ship, ok := e.(trade.Ship); ok && ship.By == p.Member {
			parcel.Tracking = tracking
		}
		if t.State == trade.Closed || t.State == trade.Ended {
			parcel.Tracking = ""
		}
		if parcels[p.Member] != parcel {
			if parcels == nil {
				parcels = map[match.Member]Parcel{}
			}
			parcels[p.Member] = parcel
		}
	}
	t.Parcels = parcels
}

func (s *Store) rematchParties(ctx context.Context, tx pgx.Tx, t Trade) error {
	for _, p := range t.Parties {
		if err := s.rematchLater(ctx, tx, memberID(p.Member), nil); err != nil {
			return err
		}
	}
	return nil
}

// lapse has the clock tell a trade the time: a proposal lapses, what an agreed one waits for is due. Each thing that is due
// is a step of its own. It is harmless when the trade has moved on since.
func (s *Store) lapse(ctx context.Context, id int64) error {
	for {
		err := s.inTx(ctx, "tell a trade the time", func(tx pgx.Tx) error {
			var state string
			if err := tx.QueryRow(ctx, `SELECT state FROM trades WHERE trade_id = $1`, id).Scan(&state); err != nil {
				return err
			}
			if state == trade.Proposed.String() {
				return s.move(ctx, tx, id, trade.Lapse{At: s.now()})
			}
			return s.move(ctx, tx, id, trade.Due{At: s.now()})
		})
		if isRefusal(err) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// TradeOf reads one trade that the member may see: a party, who stands in the middle, or a keeper once it was agreed, without
// what is for the parties alone. ErrNoTrade for any other.
func (s *Store) TradeOf(ctx context.Context, m Member, number int64) (t Trade, err error) {
	err = s.inSnapshot(ctx, "read the trade", func(tx pgx.Tx) error {
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		t, err = loadTrade(ctx, tx, id)
		return err
	})
	return t.seenBy(m), err
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
