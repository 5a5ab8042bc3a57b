package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// RememberGone is how long we remember a group that has sent us away, in case that was a slip.
const RememberGone = 30 * 24 * time.Hour

// GroupGone records that a group has sent us away: nothing more is said to it, and after RememberGone all that it told
// us is deleted. A group we do not know needs nothing.
func (s *Store) GroupGone(ctx context.Context, chat string) error {
	if _, err := s.pool.Exec(ctx, `UPDATE groups SET gone_at = $2 WHERE chat = $1 AND gone_at IS NULL`, chat, s.now()); err != nil {
		return fmt.Errorf("record that a group is gone: %w", err)
	}
	return nil
}

// GroupBack records that a group has us again, if it had sent us away.
func (s *Store) GroupBack(ctx context.Context, chat string) error {
	if _, err := s.pool.Exec(ctx, `UPDATE groups SET gone_at = NULL WHERE chat = $1 AND gone_at IS NOT NULL`, chat); err != nil {
		return fmt.Errorf("record that a group is back: %w", err)
	}
	return nil
}

// Chats lists the chat's own ids of the groups that have us.
func (s *Store) Chats(ctx context.Context) ([]string, error) {
	rows, _ := s.pool.Query(ctx, `SELECT chat FROM groups WHERE gone_at IS NULL ORDER BY chat`)
	chats, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, fmt.Errorf("list the groups: %w", err)
	}
	return chats, nil
}

// GroupsOf lists the groups that an account is a member of, by name.
func (s *Store) GroupsOf(ctx context.Context, account string) ([]Group, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT `+groupColumns+` FROM groups WHERE gone_at IS NULL AND group_id IN (
			SELECT group_id FROM members WHERE account = $1 AND left_at IS NULL)
		ORDER BY name, group_id`, account)
	groups, err := pgx.CollectRows(rows, scanGroup)
	if err != nil {
		return nil, fmt.Errorf("list the groups of a member: %w", err)
	}
	return groups, nil
}

// NameGroup keeps a group's name as the chat has it now.
func (s *Store) NameGroup(ctx context.Context, chat, name string) error {
	if _, err := s.pool.Exec(ctx, `UPDATE groups SET name = $2 WHERE chat = $1 AND name <> $2`, chat, name); err != nil {
		return fmt.Errorf("name the group: %w", err)
	}
	return nil
}

// forgetGone deletes what we know of groups that sent us away long enough ago.
func (s *Store) forgetGone(ctx context.Context, tx pgx.Tx) error {
	rows, _ := tx.Query(ctx, `SELECT group_id FROM groups WHERE gone_at <= $1 ORDER BY group_id`, s.now().Add(-RememberGone))
	gone, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, group := range gone {
		_, err := tx.Exec(ctx, `
			DELETE FROM chat_accounts a WHERE account IN (SELECT account FROM members WHERE group_id = $1)
				AND NOT EXISTS (SELECT 1 FROM members m WHERE m.account = a.account AND m.group_id <> $1)`, group)
		if err != nil {
			return fmt.Errorf("forget a group: %w", err)
		}
		if err := deleteGroup(ctx, tx, group); err != nil {
			return fmt.Errorf("forget a group: %w", err)
		}
		s.log.WarnContext(ctx, "forgot a group that had sent us away", "group", group)
	}
	return nil
}

// deleteGroup deletes a group's rows from every table that has any, in whichever order their references allow, so that no
// table can be forgotten here when one is added.
func deleteGroup(ctx context.Context, tx pgx.Tx, group int64) error {
	rows, _ := tx.Query(ctx, `
		SELECT table_name FROM information_schema.columns
		WHERE table_schema = current_schema() AND column_name = 'group_id' ORDER BY table_name <> 'trades', table_name`)
	left, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for len(left) > 0 {
		var refused []string
		var why error
		for _, table := range left {
			err := pgx.BeginFunc(ctx, tx, func(try pgx.Tx) error {
				_, err := try.Exec(ctx, `DELETE FROM `+pgx.Identifier{table}.Sanitize()+` WHERE group_id = $1`, group)
				return err
			})
			if pg, ok := errors.AsType[*pgconn.PgError](err); ok && pg.Code == "23503" { // another table leans on it
				refused, why = append(refused, table), err
				continue
			}
			if err != nil {
				return err
			}
		}
		if len(refused) == len(left) {
			return why
		}
		left = refused
	}
	return nil
}

// KnownMember finds a member without making one.
func (s *Store) KnownMember(ctx context.Context, group int64, account string) (m Member, ok bool, err error) {
	rows, _ := s.pool.Query(ctx, `SELECT `+memberColumns+` FROM members WHERE group_id = $1 AND account = $2`, group, account)
	m, err = pgx.CollectExactlyOneRow(rows, scanMember)
	if err == pgx.ErrNoRows {
		return m, false, nil
	}
	if err != nil {
		return m, false, fmt.Errorf("find the member: %w", err)
	}
	return m, true, nil
}
