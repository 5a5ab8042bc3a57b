package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
)

// InAgreedTradeError says that a member stands in trades that others count on.
type InAgreedTradeError struct{ Trades int }

func (e *InAgreedTradeError) Error() string {
	return fmt.Sprintf("the member stands in %d agreed trades", e.Trades)
}

// Forget deletes what a member told us, and what they are called: proposals they stand in end, and trades that are over
// keep that somebody took part, under the name given. An *InAgreedTradeError when others count on them: nothing is deleted.
func (s *Store) Forget(ctx context.Context, m Member, as string) error {
	var refused error
	err := s.inTx(ctx, "forget a member", func(tx pgx.Tx) error {
		refused = nil
		agreed, err := tradesOf(ctx, tx, m.ID, trade.Agreed)
		if err != nil {
			return err
		}
		if len(agreed) > 0 {
			refused = &InAgreedTradeError{len(agreed)}
			return nil
		}
		open, err := tradesOf(ctx, tx, m.ID, trade.Proposed)
		if err != nil {
			return err
		}
		for _, id := range open {
			if err := s.move(ctx, tx, id, trade.Withdraw{By: m.Identity()}); err != nil && !isRefusal(err) {
				return err
			}
		}
		// Through the shelf, so that whoever follows its changes learns of this one.
		_, _, _, refused, err = s.changeShelf(ctx, tx, m, func() string { return "" }, func(shelf *Shelf) error {
			clear(shelf.Holdings)
			clear(shelf.Wants)
			clear(shelf.Sets)
			return nil
		})
		if err != nil || refused != nil {
			return err
		}
		return s.forgetRows(ctx, tx, m, as)
	})
	if err != nil {
		return err
	}
	return refused
}

// forgetRows deletes what is left of a member beside the shelf.
func (s *Store) forgetRows(ctx context.Context, tx pgx.Tx, m Member, as string) error {
	for _, table := range []string{"changes", "mutes", "notices", "purchases", "ledger", "counted"} {
		if _, err := tx.Exec(ctx, `DELETE FROM `+table+` WHERE member_id = $1`, m.ID); err != nil {
			return err
		}
	}
	for _, table := range []string{"chat_messages", "chat_waiting"} {
		if _, err := tx.Exec(ctx, `DELETE FROM `+table+` WHERE group_id = $1 AND account = $2`, m.Group, m.Account); err != nil {
			return err
		}
	}
	if err := s.shareAgain(ctx, tx, m); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `
		UPDATE chat_places SET invited = array_remove(invited, $2) WHERE group_id = $1 AND $2 = ANY (invited)`, m.Group, m.Account); err != nil {
		return err
	}
	// A price that a keeper typed or pasted names them as its source.
	for _, named := range [][2]string{{"spots", "source"}, {"trades", "spot_source"}} {
		if _, err := tx.Exec(ctx, fmt.Sprintf(`
			UPDATE %[1]s SET %[2]s = left(%[2]s, -length($2::text)) || $3::text
			WHERE group_id = $1 AND (%[2]s = $2::text OR right(%[2]s, length($2::text) + 1) = ' ' || $2::text)`, named[0], named[1]),
			m.Group, m.Name, as); err != nil {
			return err
		}
	}
	_, err := tx.Exec(ctx, `
		UPDATE members SET account = 'forgotten ' || member_id, name = $2, keeper = false, region = '', topup_limit = NULL, seen = false,
			muted = true, quiet_from = NULL, quiet_to = NULL, digest_at = NULL, locale = '',
			language = '', chat_language = '', left_at = coalesce(left_at, $3)
		WHERE member_id = $1`, m.ID, as, s.now())
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `
		DELETE FROM chat_accounts WHERE account = $1 AND NOT EXISTS (SELECT 1 FROM members WHERE account = $1)`, m.Account)
	return err
}
