package store

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
)

//go:embed migrations/*.sql
var migrations embed.FS

// migrationLock is the advisory lock under which one process at a time migrates a database: the queue's own migrator
// takes none and cannot run in one transaction.
const migrationLock = 0x5350_4f55_4e43_4500

// Migrate brings a database to the present schema, ours and the queue's. It only goes forward, runs each of our steps
// in a transaction of its own, does nothing when there is nothing to do, and may be called by many processes at once.
func Migrate(ctx context.Context, url string) error {
	pool, err := pgxpool.New(ctx, url)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	defer pool.Close()
	lock, err := pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	// Unlocked by leaving: the connection is closed, not given back, and its lock goes with it.
	defer func() { _ = lock.Hijack().Close(context.WithoutCancel(ctx)) }()
	if _, err := lock.Exec(ctx, `SELECT pg_advisory_lock($1)`, int64(migrationLock)); err != nil {
		return fmt.Errorf("migrate: wait for others: %w", err)
	}
	if err := migrateOurs(ctx, lock.Conn()); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	queue, err := rivermigrate.New(riverpgxv5.New(pool), nil)
	if err != nil {
		return fmt.Errorf("migrate the queue: %w", err)
	}
	if _, err := queue.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("migrate the queue: %w", err)
	}
	return nil
}

func migrateOurs(ctx context.Context, conn *pgx.Conn) error {
	_, err := conn.Exec(ctx, `CREATE TABLE IF NOT EXISTS migrations (name text PRIMARY KEY, at timestamptz NOT NULL DEFAULT now())`)
	if err != nil {
		return err
	}
	rows, _ := conn.Query(ctx, `SELECT name FROM migrations`)
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	done := map[string]bool{}
	for _, name := range names {
		done[name] = true
	}
	steps, err := fs.Glob(migrations, "migrations/*.sql") // sorted by name
	if err != nil {
		return err
	}
	for _, step := range steps {
		if done[step] {
			continue
		}
		text, err := migrations.ReadFile(step)
		if err != nil {
			return err
		}
		err = pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error {
			if _, err := tx.Exec(ctx, string(text)); err != nil {
				return err
			}
			_, err := tx.Exec(ctx, `INSERT INTO migrations (name) VALUES ($1)`, step)
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", step, err)
		}
	}
	return nil
}

// SchemaFingerprint names the schema that Migrate makes: it changes with every change of a migration.
func SchemaFingerprint() string {
	sum := sha256.New()
	steps, _ := fs.Glob(migrations, "migrations/*.sql")
	for _, step := range steps {
		text, _ := migrations.ReadFile(step)
		sum.Write(text)
	}
	return hex.EncodeToString(sum.Sum(nil))[:16]
}
