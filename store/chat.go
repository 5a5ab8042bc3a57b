package store

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// longestHeard is how long we remember what was heard: far longer than a chat sends the same thing twice.
const longestHeard = time.Hour

// longestLine is how long a button whose line is kept here goes on working.
const longestLine = 180 * 24 * time.Hour

// Note reads what is kept under a name; "" when nothing is.
func (s *Store) Note(ctx context.Context, name string) (string, error) {
	rows, _ := s.pool.Query(ctx, `SELECT value FROM chat_notes WHERE note = $1`, name)
	value, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[string])
	if err == pgx.ErrNoRows {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("read the note %s: %w", name, err)
	}
	return value, nil
}

// SaveNote keeps a value under a name.
func (s *Store) SaveNote(ctx context.Context, name, value string) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_notes (note, value) VALUES ($1, $2) ON CONFLICT (note) DO UPDATE SET value = EXCLUDED.value`, name, value)
	if err != nil {
		return fmt.Errorf("keep the note %s: %w", name, err)
	}
	return nil
}

// Secret returns the secret of that name, making one of 130 random bits at first; every process gets the same.
func (s *Store) Secret(ctx context.Context, name string) (string, error) {
	_, err := s.pool.Exec(ctx, `INSERT INTO chat_notes (note, value) VALUES ($1, $2) ON CONFLICT DO NOTHING`, name, rand.Text())
	if err != nil {
		return "", fmt.Errorf("make the secret %s: %w", name, err)
	}
	return s.Note(ctx, name)
}

// FirstHeard reports whether nobody has heard this before; of all who ask, one is told so.
func (s *Store) FirstHeard(ctx context.Context, heard string) (bool, error) {
	done, err := s.pool.Exec(ctx, `INSERT INTO chat_heard (heard, at) VALUES ($1, $2) ON CONFLICT DO NOTHING`, heard, s.now())
	if err != nil {
		return false, fmt.Errorf("record what was heard: %w", err)
	}
	return done.RowsAffected() == 1, nil
}

// KeepLine keeps a line under a short word.
func (s *Store) KeepLine(ctx context.Context, word, says string) error {
	_, err := s.pool.Exec(ctx, `
		INSERT INTO chat_lines (line, says, at) VALUES ($1, $2, $3) ON CONFLICT (line) DO UPDATE SET at = EXCLUDED.at`, word, says, s.now())
	if err != nil {
		return fmt.Errorf("keep a line: %w", err)
	}
	return nil
}

// KeptLine finds the line under a word.
func (s *Store) KeptLine(ctx context.Context, word string) (says string, ok bool, err error) {
	rows, _ := s.pool.Query(ctx, `SELECT says FROM chat_lines WHERE line = $1`, word)
	says, err = pgx.CollectExactlyOneRow(rows, pgx.RowTo[string])
	if err == pgx.ErrNoRows {
		return "", false, nil
	}
	if err != nil {
		return "", false, fmt.Errorf("find a line: %w", err)
	}
	return says, true, nil
}

// Lease takes or renews, for a while, what only one may hold at a time, and reports whether holder has it.
func (s *Store) Lease(ctx context.Context, name, holder string, length time.Duration) (bool, error) {
	done, err := s.pool.Exec(ctx, `
		INSERT INTO chat_leases (lease, holder, until) VALUES ($1, $2, now() + $3::interval)
		ON CONFLICT (lease) DO UPDATE SET holder = EXCLUDED.holder, until = EXCLUDED.until
		WHERE chat_leases.holder = EXCLUDED.holder OR chat_leases.until < now()`, name, holder, length)
	if err != nil {
		return false, fmt.Errorf("lease %s: %w", name, err)
	}
	return done.RowsAffected() == 1, nil
}

// EndLease gives a lease back.
func (s *Store) EndLease(ctx context.Context, name, holder string) error {
	if _, err := s.pool.Exec(ctx, `DELETE FROM chat_leases WHERE lease = $1 AND holder = $2`, name, holder); err != nil {
		return fmt.Errorf("end the lease %s: %w", name, err)
	}
	return nil
}

// Leases lists the leases that are held now and whose names begin so, with who holds each.
func (s *Store) Leases(ctx context.Context, beginning string) (map[string]string, error) {
	rows, _ := s.pool.Query(ctx, `SELECT lease, holder FROM chat_leases WHERE starts_with(lease, $1) AND until >= now()`, beginning)
	held := map[string]string{}
	var name, holder string
	if _, err := pgx.ForEachRow(rows, []any{&name, &holder}, func() error { held[name] = holder; return nil }); err != nil {
		return nil, fmt.Errorf("list leases: %w", err)
	}
	return held, nil
}

// TakeOffer takes a lease that is held by nobody: one that was leased to "" for somebody to take. Of all who ask, one has it.
func (s *Store) TakeOffer(ctx context.Context, name, holder string, length time.Duration) (bool, error) {
	done, err := s.pool.Exec(ctx, `
		UPDATE chat_leases SET holder = $2, until = now() + $3::interval
		WHERE lease = $1 AND holder = '' AND until >= now()`, name, holder, length)
	if err != nil {
		return false, fmt.Errorf("take the offer %s: %w", name, err)
	}
	return done.RowsAffected() == 1, nil
}

// Succeed leases a thing to who holds the lease to be next, whoever has it until then, and ends that lease. It reports
// whether holder was next.
func (s *Store) Succeed(ctx context.Context, name, next, holder string, length time.Duration) (bool, error) {
	done, err := s.pool.Exec(ctx, `
		WITH turn AS (DELETE FROM chat_leases WHERE lease = $2 AND holder = $3 AND until >= now() RETURNING 1)
		INSERT INTO chat_leases (lease, holder, until) SELECT $1, $3, now() + $4::interval FROM turn
		ON CONFLICT (lease) DO UPDATE SET holder = EXCLUDED.holder, until = EXCLUDED.until`, name, next, holder, length)
	if err != nil {
		return false, fmt.Errorf("succeed to %s: %w", name, err)
	}
	return done.RowsAffected() == 1, nil
}

// Start asks to do what may be done at most so many times within a while. It records the start and returns 0, or returns
// how long to wait before asking again. All processes share the count.
func (s *Store) Start(ctx context.Context, name string, most int, within time.Duration) (wait time.Duration, err error) {
	err = s.inTx(ctx, "start "+name, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `DELETE FROM chat_starts WHERE start = $1 AND at < now() - $2::interval`, name, within); err != nil {
			return err
		}
		var n int
		var next time.Duration
		err := tx.QueryRow(ctx, `
			SELECT count(*), coalesce(min(at) + $2::interval - now(), '0') FROM chat_starts WHERE start = $1`, name, within).Scan(&n, &next)
		if err != nil {
			return err
		}
		if wait = 0; n >= most {
			wait = max(next, time.Millisecond)
			return nil
		}
		_, err = tx.Exec(ctx, `INSERT INTO chat_starts (start, at) VALUES ($1, now())`, name)
		return err
	})
	return wait, err
}

// tidyChat forgets what is too old to matter.
func (s *Store) tidyChat(ctx context.Context, tx pgx.Tx) error {
	if _, err := tx.Exec(ctx, `DELETE FROM chat_heard WHERE at < $1`, s.now().Add(-longestHeard)); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `DELETE FROM chat_lines WHERE at < $1`, s.now().Add(-longestLine))
	return err
}
