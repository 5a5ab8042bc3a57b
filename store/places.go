package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
)

// Place is where the chat shows something to its parties together, as the chat has us remember it.
type Place struct {
	Channel string   // the chat's own id of it; "" while none is known
	Message string   // that shows how it stands
	Shown   string   // what that message shows, in a word of the chat's own
	Invited []string // accounts, each invited once
	Over    bool     // it is closed, was lost, or never came to be: nothing new is said there
	// Asked is how long ago the chat was asked for the place, where nobody knows what came of that; nil when nothing is open.
	Asked *time.Duration
}

// aboutTrade is the line that shows a trade.
func aboutTrade(t Trade) string { return fmt.Sprintf("trade %d", t.Number) }

// PlaceOf reads what is known of the place of something; the zero Place when that is nothing.
func (s *Store) PlaceOf(ctx context.Context, group int64, about string) (p Place, err error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT channel, message, shown, invited, over, now() - asked_at FROM chat_places WHERE group_id = $1 AND about = $2`, group, about)
	p, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByPos[Place])
	if err == pgx.ErrNoRows {
		return Place{}, nil
	}
	if err != nil {
		return p, fmt.Errorf("find the place of %s: %w", about, err)
	}
	return p, nil
}

// SavePlace records what is known of a place by now. Nothing is open after it.
func (s *Store) SavePlace(ctx context.Context, group int64, about string, p Place) error {
	invited := append([]string{}, p.Invited...)
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_places (group_id, about, channel, message, shown, invited, over) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT (group_id, about) DO UPDATE SET channel = EXCLUDED.channel, message = EXCLUDED.message, shown = EXCLUDED.shown,
			invited = EXCLUDED.invited, over = EXCLUDED.over, asked_at = NULL`,
		group, about, p.Channel, p.Message, p.Shown, invited, p.Over)
	if err != nil {
		return fmt.Errorf("record the place of %s: %w", about, err)
	}
	return nil
}

// AskPlace records that the chat is about to be asked for a place.
func (s *Store) AskPlace(ctx context.Context, group int64, about string) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_places (group_id, about, asked_at) VALUES ($1, $2, now())
		ON CONFLICT (group_id, about) DO UPDATE SET asked_at = now()`, group, about)
	if err != nil {
		return fmt.Errorf("record that a place is asked for: %w", err)
	}
	return nil
}

// shareLater enqueues showing a trade to its parties together, where it has become agreed in a group whose chat may open
// places for that, or has moved on since.
func (s *Store) shareLater(ctx context.Context, tx pgx.Tx, g Group, before, after Trade) error {
	switch {
	case before.State == trade.Proposed && after.State != trade.Agreed, before.State == trade.Proposed && !g.Threads:
		return nil
	case before.State == trade.Proposed:
		_, err := tx.Exec(ctx, `
			INSERT INTO chat_places (group_id, about) VALUES ($1, $2) ON CONFLICT DO NOTHING`, after.Group, aboutTrade(after))
		if err != nil {
			return err
		}
	}
	var has bool
	err := tx.QueryRow(ctx, `
		SELECT EXISTS (SELECT 1 FROM chat_places WHERE group_id = $1 AND about = $2 AND NOT over)`, after.Group, aboutTrade(after)).Scan(&has)
	if err != nil || !has {
		return err
	}
	_, err = s.jobs.InsertTx(ctx, tx, ShareArgs{Trade: after.ID}, nil)
	return err
}

// shareAgain enqueues showing anew what names a member, when they are no longer called so.
func (s *Store) shareAgain(ctx context.Context, tx pgx.Tx, m Member) error {
	rows, _ := tx.Query(ctx, `
		SELECT t.trade_id FROM trades t JOIN chat_places p ON p.group_id = t.group_id AND p.about = 'trade ' || t.number
		WHERE t.group_id = $1 AND p.message <> '' AND (t.middle = $2
			OR EXISTS (SELECT 1 FROM trade_parties y WHERE y.trade_id = t.trade_id AND y.member_id = $2))
		ORDER BY t.trade_id`, m.Group, m.ID)
	named, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range named {
		if _, err := s.jobs.InsertTx(ctx, tx, ShareArgs{Trade: id}, nil); err != nil {
			return err
		}
	}
	return nil
}

// share shows a trade to its parties together. One at a time shares a trade, so that no two open a place for it; what is
// said of the parcels is left out, for not all parties may see it.
func (s *Store) share(ctx context.Context, d Duties, id int64) error {
	return pgx.BeginFunc(ctx, s.pool, func(lock pgx.Tx) error {
		if _, err := lock.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('share', $1))`, id); err != nil {
			return err
		}
		var g Group
		var t Trade
		err := s.inSnapshot(ctx, "read a trade to share", func(tx pgx.Tx) (err error) {
			if t, err = loadTrade(ctx, tx, id); err != nil {
				return err
			}
			g, err = groupByID(ctx, tx, t.Group)
			return err
		})
		if err != nil || g.Gone != nil {
			return err
		}
		t.Parcels = nil
		return d.Share(ctx, g, t)
	})
}

// Accounts lists the chat's own ids of those members, in this order, who are in their group still.
func (s *Store) Accounts(ctx context.Context, members []int64) ([]string, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT account FROM members WHERE member_id = ANY ($1) AND left_at IS NULL ORDER BY array_position($1, member_id)`, members)
	accounts, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, fmt.Errorf("find the accounts of members: %w", err)
	}
	return accounts, nil
}

// TellKeepers has every keeper of a group told something, once for each key.
func (s *Store) TellKeepers(ctx context.Context, g Group, kind NoticeKind, key string, body NoticeBody) error {
	return s.inTx(ctx, "tell the keepers", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `SELECT `+memberColumns+` FROM members WHERE group_id = $1 AND keeper AND left_at IS NULL ORDER BY member_id`, g.ID)
		keepers, err := pgx.CollectRows(rows, scanMember)
		if err != nil {
			return err
		}
		for _, m := range keepers {
			if err := s.tell(ctx, tx, g, m, kind, key, body); err != nil {
				return err
			}
		}
		return nil
	})
}
