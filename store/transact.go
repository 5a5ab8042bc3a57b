package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	mathrand "math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// UncertainError says that the database was lost while a change was being committed, and did not come back in time to
// say whether it stands. Whoever asked for the change must look before asking again.
type UncertainError struct{ Err error }

func (e *UncertainError) Error() string {
	return "it is not known whether it was saved: " + e.Err.Error()
}
func (e *UncertainError) Unwrap() error { return e.Err }

const (
	// patience is how long a database that has gone away is waited for: a restart with recovery of a group's database
	// takes a second or two, and a member who pressed a button is still looking.
	patience = 10 * time.Second
	// writers is how many transactions of this process may write at once. Serializable transactions that run side by side
	// cost each other: with 64 members pressing at once, twelve at a time were slower than two, and half of them were done
	// for nothing.
	writers = 2
	// races is how many lost races are borne. Each costs a member some milliseconds, so this many in a row mean a fault.
	races = 100
)

// inTx runs f in a serializable transaction, again if Postgres reports a lost race or goes away. So f must have no effect
// outside tx.
func (s *Store) inTx(ctx context.Context, doing string, f func(tx pgx.Tx) error) error {
	since := time.Now()
	for try := 1; ; try++ {
		err := s.attempt(ctx, f)
		if err == nil {
			return nil
		}
		if !again(ctx, err, try, since) {
			return fmt.Errorf("%s: %w", doing, err)
		}
	}
}

// inSnapshot runs f on one unmoving picture of the database, for reading only; again if Postgres goes away.
func (s *Store) inSnapshot(ctx context.Context, doing string, f func(tx pgx.Tx) error) error {
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	since := time.Now()
	for try := 1; ; try++ {
		err := s.begin(ctx, options, func(tx pgx.Tx) error { return f(tx) })
		if err == nil {
			return nil
		}
		if !again(ctx, err, try, since) {
			return fmt.Errorf("%s: %w", doing, err)
		}
	}
}

// again waits before another try, and reports whether there is to be one.
func again(ctx context.Context, err error, try int, since time.Time) bool {
	var pause time.Duration
	switch {
	case lostRace(err):
		if try >= races {
			return false
		}
		pause = time.Duration(min(try*try, 100)) * time.Millisecond
		pause += mathrand.N(pause) // rivals that wait alike would meet again
	case isLost(err):
		if time.Since(since) > patience {
			return false
		}
		pause = 100 * time.Millisecond
	default:
		return false
	}
	select {
	case <-ctx.Done():
		return false
	case <-time.After(pause):
		return true
	}
}

// lostError says that the connection broke and nothing was changed.
type lostError struct{ error }

func (e lostError) Unwrap() error { return e.error }

func isLost(err error) bool {
	_, ok := errors.AsType[lostError](err)
	return ok
}

// begin runs f in a transaction that it rolls back unless f commits it. A broken connection comes back as a lostError.
func (s *Store) begin(ctx context.Context, options pgx.TxOptions, f func(tx pgx.Tx) error) error {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return lost(ctx, err)
	}
	defer conn.Release()
	tx, err := conn.BeginTx(ctx, options)
	if err != nil {
		return lost(ctx, err)
	}
	defer func() { _ = tx.Rollback(context.WithoutCancel(ctx)) }() // of no effect after a commit
	err = f(tx)
	if err != nil && conn.Conn().IsClosed() {
		return lost(ctx, err)
	}
	return err
}

// lost marks an error of a connection, unless it comes of the caller's giving up.
func lost(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return err
	}
	return lostError{err}
}

// attempt tries once. What it returns changed nothing, unless it is nil or an *UncertainError.
func (s *Store) attempt(ctx context.Context, f func(tx pgx.Tx) error) error {
	select {
	case <-ctx.Done():
		return context.Cause(ctx)
	case s.writing <- struct{}{}:
		defer func() { <-s.writing }()
	}
	receipt := rand.Text()
	committing := false
	err := s.begin(ctx, pgx.TxOptions{IsoLevel: pgx.Serializable}, func(tx pgx.Tx) error {
		if err := f(tx); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `INSERT INTO receipts (receipt, at) VALUES ($1, $2)`, receipt, s.now()); err != nil {
			return err
		}
		committing = true
		return tx.Commit(ctx)
	})
	if err == nil || !committing || answered(err) {
		return err
	}
	stands, asked := s.stands(context.WithoutCancel(ctx), receipt)
	switch {
	case asked != nil:
		return &UncertainError{errors.Join(err, asked)}
	case stands:
		return nil
	}
	return lost(ctx, err)
}

// answered reports whether an error is the server's own no to a commit: then the transaction was rolled back. A server
// that is going down may have committed before it says so.
func answered(err error) bool {
	pg, ok := errors.AsType[*pgconn.PgError](err)
	return errors.Is(err, pgx.ErrTxCommitRollback) || ok && pg.Code[:2] != "57" // class 57: operator intervention
}

// stands finds out whether a transaction was committed, by leaving its receipt a second time: that waits for a
// transaction which is still at it, and lets it stand no more if it comes too late.
func (s *Store) stands(ctx context.Context, receipt string) (stands bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	for {
		done, err := s.pool.Exec(ctx, `INSERT INTO receipts (receipt, at) VALUES ($1, $2) ON CONFLICT DO NOTHING`, receipt, s.now())
		if err == nil {
			return done.RowsAffected() == 0, nil
		}
		select {
		case <-ctx.Done():
			return false, err
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// lostRace reports whether Postgres asks for the transaction to be tried again: serialization_failure, deadlock_detected
// or a row that another transaction inserted first (unique_violation), which the next try will see.
func lostRace(err error) bool {
	pg, ok := errors.AsType[*pgconn.PgError](err)
	return ok && (pg.Code == "40001" || pg.Code == "40P01" || pg.Code == "23505")
}
