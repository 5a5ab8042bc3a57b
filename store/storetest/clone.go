package storetest

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Clone returns the address of a new database for this test alone, as migrate leaves one. It is dropped when the test
// ends. Migrate is called at most once for each fingerprint, in whichever process comes first, with the address of an
// empty database; so the fingerprint must be different whenever migrate would do something different. If migrate fails,
// or its process is killed, what it did is thrown away and the next Clone calls it again.
func Clone(t testing.TB, migrate func(ctx context.Context, url string) error, fingerprint string) string {
	t.Helper()
	address := server(t)
	pool, err := admin(address)
	if err != nil {
		t.Fatal(err)
	}
	template, err := ensureTemplate(t.Context(), pool, address, migrate, fingerprint)
	if err != nil {
		t.Fatal(err)
	}
	name := "test_" + strings.ToLower(rand.Text())
	if err := create(t.Context(), pool, name, template); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		if err := drop(ctx, pool, name); err != nil {
			t.Logf("the database %s stays behind: %v", name, err)
		}
	})
	return databaseURL(address, name)
}

// pools has one pool for each server, kept to the end of the process.
var pools sync.Map

func admin(address string) (*pgxpool.Pool, error) {
	open, _ := pools.LoadOrStore(address, sync.OnceValues(func() (*pgxpool.Pool, error) {
		c, err := pgxpool.ParseConfig(address)
		if err != nil {
			return nil, err
		}
		c.MaxConns = 4
		return pgxpool.NewWithConfig(context.Background(), c)
	}))
	return open.(func() (*pgxpool.Pool, error))()
}

// ensureTemplate returns the name of the template for the fingerprint, which it makes if there is none that is whole.
// The mark that PostgreSQL has for templates is set last, and so says that one is whole.
func ensureTemplate(ctx context.Context, pool *pgxpool.Pool, address string,
	migrate func(context.Context, string) error, fingerprint string,
) (string, error) {
	sum := sha256.Sum256([]byte(fingerprint))
	name := fmt.Sprintf("template_%x", sum[:8])
	if done, err := isWhole(ctx, pool, name); err != nil || done {
		return name, err
	}
	conn, err := pool.Acquire(ctx)
	if err != nil {
		return "", err
	}
	defer conn.Release()
	key := int64(binary.BigEndian.Uint64(sum[:8]))
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, key); err != nil {
		return "", err
	}
	defer func() {
		// If this fails the connection is broken, and the lock went with it.
		_, _ = conn.Exec(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock($1)`, key)
	}()
	// Somebody else may have made it while we waited for the lock.
	if done, err := isWhole(ctx, conn, name); err != nil || done {
		return name, err
	}
	if err := makeTemplate(ctx, conn, address, name, migrate); err != nil {
		return "", fmt.Errorf("making the template for test databases: %w", err)
	}
	return name, nil
}

func makeTemplate(ctx context.Context, conn *pgxpool.Conn, address, name string,
	migrate func(context.Context, string) error,
) error {
	if err := drop(ctx, conn, name); err != nil { // left by a process that was killed
		return err
	}
	if err := create(ctx, conn, name, "template0"); err != nil {
		return err
	}
	if err := migrate(ctx, databaseURL(address, name)); err != nil {
		return errors.Join(err, drop(context.WithoutCancel(ctx), conn, name))
	}
	// A template that somebody is connected to cannot be copied.
	if _, err := conn.Exec(ctx, `ALTER DATABASE `+quote(name)+` ALLOW_CONNECTIONS false`); err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = $1`, name); err != nil {
		return err
	}
	_, err := conn.Exec(ctx, `ALTER DATABASE `+quote(name)+` IS_TEMPLATE true`)
	return err
}

// database is what a pool and one of its connections have in common.
type database interface {
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

func isWhole(ctx context.Context, db database, name string) (bool, error) {
	var whole bool
	err := db.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1 AND datistemplate)`, name).Scan(&whole)
	return whole, err
}

// create copies a template. Those who just left it may take a moment to be gone.
func create(ctx context.Context, db database, name, template string) error {
	for try := 1; ; try++ {
		_, err := db.Exec(ctx, `CREATE DATABASE `+quote(name)+` TEMPLATE `+quote(template))
		pgErr, ok := errors.AsType[*pgconn.PgError](err)
		if !ok || pgErr.Code != "55006" || try == 10 { // PostgreSQL, Appendix A: object_in_use
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
}

func drop(ctx context.Context, db database, name string) error {
	_, err := db.Exec(ctx, `DROP DATABASE IF EXISTS `+quote(name)+` WITH (FORCE)`)
	return err
}

func quote(name string) string { return pgx.Identifier{name}.Sanitize() }

// databaseURL is the address of another database on the same server. An address is a URL or, in libpq's other form, a
// list of keywords, of which the last counts.
func databaseURL(address, name string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme == "" {
		return address + " dbname=" + name
	}
	u.Path = "/" + name
	return u.String()
}
