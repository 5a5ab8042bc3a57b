package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// Reach is how an account may be spoken to when it did not ask.
type Reach string

// The ways. Unsaid is what an account has that never chose: nobody gets a private message who did not ask for them.
const (
	ReachUnsaid  Reach = ""
	ReachMessage Reach = "message" // a private message
	ReachThread  Reach = "thread"  // a private thread in the group's channel
	ReachVisit   Reach = "visit"   // beside the next answer
)

// Account is how one account of the chat may be reached.
type Account struct {
	Reach  Reach
	Closed *time.Time // since when private messages are known not to arrive
}

// AccountOf reads how an account may be reached.
func (s *Store) AccountOf(ctx context.Context, account string) (a Account, err error) {
	rows, _ := s.pool.Query(ctx, `SELECT reach, closed_at FROM chat_accounts WHERE account = $1`, account)
	a, err = pgx.CollectExactlyOneRow(rows, pgx.RowToStructByPos[Account])
	if err == pgx.ErrNoRows {
		return Account{}, nil
	}
	if err != nil {
		return a, fmt.Errorf("find how an account is reached: %w", err)
	}
	return a, nil
}

// SaveAccount writes how an account may be reached.
func (s *Store) SaveAccount(ctx context.Context, account string, a Account) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_accounts (account, reach, closed_at) VALUES ($1, $2, $3)
		ON CONFLICT (account) DO UPDATE SET reach = EXCLUDED.reach, closed_at = EXCLUDED.closed_at`, account, a.Reach, a.Closed)
	if err != nil {
		return fmt.Errorf("save how an account is reached: %w", err)
	}
	return nil
}

// Said is a message of ours in the chat.
type Said struct {
	Account string
	Channel string
	Message string
}

// SaidAbout finds the messages that show something to members of a group.
func (s *Store) SaidAbout(ctx context.Context, group int64, about string) ([]Said, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT account, channel, message FROM chat_messages WHERE group_id = $1 AND about = $2 ORDER BY account`, group, about)
	said, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Said])
	if err != nil {
		return nil, fmt.Errorf("find what was said: %w", err)
	}
	return said, nil
}

// SaveSaid records the message that shows something to a member from now on.
func (s *Store) SaveSaid(ctx context.Context, group int64, about string, m Said) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_messages (group_id, about, account, channel, message, at) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (group_id, about, account) DO UPDATE SET channel = EXCLUDED.channel, message = EXCLUDED.message, at = EXCLUDED.at`,
		group, about, m.Account, m.Channel, m.Message, s.now())
	if err != nil {
		return fmt.Errorf("record what was said: %w", err)
	}
	return nil
}

// Wait keeps words for a member's next visit, once under one key.
func (s *Store) Wait(ctx context.Context, group int64, account, key string, words any) error {
	text, err := json.Marshal(words)
	if err != nil {
		return fmt.Errorf("keep words for later: %w", err)
	}
	_, err = s.pool.Exec(ctx, `
		INSERT INTO chat_waiting (group_id, account, key, reply, at) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
		group, account, key, text, s.now())
	if err != nil {
		return fmt.Errorf("keep words for later: %w", err)
	}
	return nil
}

// Waiting takes what waits for a member, oldest first, at most a few; it is theirs to say from now on.
func (s *Store) Waiting(ctx context.Context, group int64, account string, most int) ([][]byte, error) {
	rows, _ := s.pool.Query(ctx, `
		WITH taken AS (
			DELETE FROM chat_waiting WHERE waiting_id IN (
				SELECT waiting_id FROM chat_waiting WHERE group_id = $1 AND account = $2 ORDER BY waiting_id LIMIT $3 FOR UPDATE SKIP LOCKED)
			RETURNING waiting_id, reply)
		SELECT reply FROM taken ORDER BY waiting_id`, group, account, most)
	words, err := pgx.CollectRows(rows, pgx.RowTo[[]byte])
	if err != nil {
		return nil, fmt.Errorf("find words for a member: %w", err)
	}
	return words, nil
}
