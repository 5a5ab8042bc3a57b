// Package store remembers what members told us and what we promised. It is the only place with SQL and the only place
// with a job queue.
//
// Callers may rely on this: every exported method that writes is one serializable transaction, tried again when Postgres
// reports a lost race or goes away for a while; what a write makes true for others (notices, jobs) is born in the same
// transaction, so nothing is told that was not committed; a method that returns an error changed nothing, unless the
// error is an *UncertainError. The store never speaks: what must be said is handed to the Duties given to Work.
package store

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
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

	writing chan struct{} // holds one for each transaction that writes

	mu         sync.Mutex
	catalogues map[int64]catalogueAt // by group
	markets    map[int64]*market     // by group
}

type catalogueAt struct {
	version int64
	*series.Catalogue
}

// Open connects to a migrated database. Now is the clock for everything the store dates; log takes what an operator
// should know.
func Open(ctx context.Context, url string, now func() time.Time, log *slog.Logger) (*Store, error) {
	return open(ctx, url, now, log, nil)
}

// open is Open, with somebody who is shown every statement, if not nil.
func open(ctx context.Context, url string, now func() time.Time, log *slog.Logger, tracer pgx.QueryTracer) (*Store, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("read the database's address: %w", err)
	}
	config.MaxConns = max(config.MaxConns, 12) // the queue listens and works on the same pool
	config.ConnConfig.RuntimeParams["timezone"] = "UTC"
	config.ConnConfig.RuntimeParams["application_name"] = "spareounce"
	config.ConnConfig.Tracer = tracer
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("connect to the database: %w", err)
	}
	s := &Store{pool: pool, now: now, log: log, writing: make(chan struct{}, writers), catalogues: map[int64]catalogueAt{}, markets: map[int64]*market{}}
	if s.jobs, err = s.enqueuer(); err != nil {
		pool.Close()
		return nil, fmt.Errorf("open the job queue: %w", err)
	}
	return s, nil
}

// Close gives the connections back. Stop Work first.
func (s *Store) Close() { s.pool.Close() }
