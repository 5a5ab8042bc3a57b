package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// Way is which way something went, as its member sees it.
type Way string

// The ways: of pieces, and of money between members.
const (
	Came Way = "came"
	Went Way = "went"
	Paid Way = "paid"
	Got  Way = "got"
)

// Entry is one line of a member's ledger, written when a piece was accepted or money came.
type Entry struct {
	At       time.Time
	Trade    int64 // its number
	Way      Way
	Other    string        // who it was with, by the name they go by now
	Key      HoldingKey    // of a piece
	Value    melt.Minor    // as agreed, in Currency; a fine weight in milligrams where that is ""
	Currency melt.Currency // of Value
	Melt     *melt.Minor   // on the day, at Spot; nil where no silver price was known
	Spot     *Spot
}

// Ledger lists what came to a member and what went from a time on and before another, oldest first. Only they may see it.
func (s *Store) Ledger(ctx context.Context, m Member, from, until time.Time) ([]Entry, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT l.at, l.trade, l.way, o.name, l.piece, l.value, l.currency, l.melt, l.melt_currency, l.spot, l.spot_at, l.spot_source
		FROM ledger l JOIN members o ON o.member_id = l.other
		WHERE l.member_id = $1 AND l.at >= $2 AND l.at < $3 ORDER BY l.at, l.entry_id`, m.ID, from, until)
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (e Entry, err error) {
		var piece string
		var price *melt.Price
		var at *time.Time
		var spot Spot
		err = row.Scan(&e.At, &e.Trade, &e.Way, &e.Other, &piece, &e.Value, &e.Currency, &e.Melt, &spot.Currency, &price, &at, &spot.Source)
		if piece != "" {
			e.Key = ReadPieceID(match.Piece(piece))
		}
		if price != nil && at != nil {
			spot.Price, spot.At = *price, *at
			e.Spot = &spot
		}
		return e, err
	})
	if err != nil {
		return nil, fmt.Errorf("read the ledger: %w", err)
	}
	return all, nil
}

// Standing is what a member's trades say of them.
type Standing struct {
	Completed int // trades that closed
	OnTime    int // parcels sent before the first reminder
	Sent      int // parcels of which it is known
	Since     time.Time
}

// StandingOf counts a member's trades.
func (s *Store) StandingOf(ctx context.Context, m Member) (st Standing, err error) {
	err = s.pool.QueryRow(ctx, `
		SELECT count(*) FILTER (WHERE state = 'closed'), count(*) FILTER (WHERE late = false), count(*) FILTER (WHERE late IS NOT NULL),
			(SELECT joined_at FROM members WHERE member_id = $1)
		FROM trade_parties JOIN trades USING (trade_id)
		WHERE member_id = $1`, m.ID).Scan(&st.Completed, &st.OnTime, &st.Sent, &st.Since)
	if err != nil {
		return st, fmt.Errorf("count a member's trades: %w", err)
	}
	return st, nil
}

// Stuck lists the agreed trades of a group in which somebody says that something is wrong, has left, or has been reminded in
// vain, oldest first, without what is for the parties alone. It is for keepers.
func (s *Store) Stuck(ctx context.Context, group int64) (stuck []Trade, err error) {
	err = s.inSnapshot(ctx, "list the open problems", func(tx pgx.Tx) error {
		stuck = nil
		rows, _ := tx.Query(ctx, `
			SELECT trade_id FROM trades t WHERE group_id = $1 AND state = 'agreed' AND (
				EXISTS (SELECT 1 FROM trade_parties p WHERE p.trade_id = t.trade_id AND (stage = 'in trouble' OR gone OR nudges > $2))
				OR EXISTS (SELECT 1 FROM trade_topups u WHERE u.trade_id = t.trade_id AND nudges > $2))
			ORDER BY trade_id LIMIT 50`, group, trade.Reminders)
		ids, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		for _, id := range ids {
			t, err := loadTrade(ctx, tx, id)
			if err != nil {
				return err
			}
			t.Parcels = nil
			stuck = append(stuck, t)
		}
		return nil
	})
	return stuck, err
}
