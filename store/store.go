// Package store remembers what members told us and what we promised. It is the only place with SQL and the only place
// with a job queue.
//
// Callers may rely on this: every exported method that writes is one serializable transaction, tried again when Postgres
// reports a lost race; what a write makes true for others (notices, jobs) is born in the same transaction, so nothing is
// told that was not committed; a method that returns an error changed nothing. The store never speaks: what must be said
// is handed to the Duties given to Work.
package store

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"

	"spareounce/match/series"
)

// Store is a handle on one database; safe for concurrent use.
type Store struct {
	pool *pgxpool.Pool
	jobs *river.Client[pgx.Tx] // only enqueues; Work has a client of its own
	now  func() time.Time
	log  *slog.Logger

	mu         sync.Mutex
	catalogues map[int64]catalogueAt // by group
}

type catalogueAt struct {
	version int64
	*series.Catalogue
}

// Open connects to a migrated database. Now is the clock for everything the store dates; log takes what an operator
// should know.
func Open(ctx context.Context, url string, now func() time.Time, log *slog.Logger) (*Store, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("read the database's address: %w", err)
	}
	config.MaxConns = max(config.MaxConns, 12) // the queue listens and works on the same pool
	config.ConnConfig.RuntimeParams["timezone"] = "UTC"
	config.ConnConfig.RuntimeParams["application_name"] = "spareounce"
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("connect to the database: %w", err)
	}
	s := &Store{pool: pool, now: now, log: log, catalogues: map[int64]catalogueAt{}}
	if s.jobs, err = s.enqueuer(); err != nil {
		pool.Close()
		return nil, fmt.Errorf("open the job queue: %w", err)
	}
	return s, nil
}

// Close gives the connections back. Stop Work first.
func (s *Store) Close() { s.pool.Close() }

const tries = 12

// inTx runs f in a serializable transaction, again if Postgres reports a lost race. So f must have no effect outside tx.
func (s *Store) inTx(ctx context.Context, doing string, f func(tx pgx.Tx) error) error {
	for try := 1; ; try++ {
		err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.Serializable}, f)
		switch {
		case err == nil:
			return nil
		case try == tries || !lostRace(err):
			return fmt.Errorf("%s: %w", doing, err)
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("%s: %w", doing, context.Cause(ctx))
		case <-time.After(time.Duration(try*try) * time.Millisecond):
		}
	}
}

// inSnapshot runs f on one unmoving picture of the database, for reading only.
func (s *Store) inSnapshot(ctx context.Context, doing string, f func(tx pgx.Tx) error) error {
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	if err := pgx.BeginTxFunc(ctx, s.pool, options, f); err != nil {
		return fmt.Errorf("%s: %w", doing, err)
	}
	return nil
}

// lostRace reports whether Postgres asks for the transaction to be tried again: serialization_failure, deadlock_detected
// or a row that another transaction inserted first (unique_violation), which the next try will see.
func lostRace(err error) bool {
	pg, ok := errors.AsType[*pgconn.PgError](err)
	return ok && (pg.Code == "40001" || pg.Code == "40P01" || pg.Code == "23505")
}
