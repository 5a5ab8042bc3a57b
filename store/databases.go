package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// answerWithin is how long a database may take to answer at all.
const answerWithin = 5 * time.Second

// CheckDatabase reports whether a database lets us in at an address.
func CheckDatabase(ctx context.Context, url string) error {
	ctx, cancel := context.WithTimeout(ctx, answerWithin)
	defer cancel()
	c, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	return c.Close(ctx)
}

// CreateDatabase makes an empty database on a server unless it is there already. Admin is the address of another
// database on it, by an account that may create databases.
func CreateDatabase(ctx context.Context, admin, name string) error {
	err := onServer(ctx, admin, `CREATE DATABASE `+pgx.Identifier{name}.Sanitize())
	if pg, ok := errors.AsType[*pgconn.PgError](err); ok && (pg.Code == "42P04" || pg.Code == "23505") { // duplicate_database
		return nil
	}
	if err != nil {
		return fmt.Errorf("create the database %s: %w", name, err)
	}
	return nil
}

// DropDatabase removes a database with everything in it, whoever is still connected.
func DropDatabase(ctx context.Context, admin, name string) error {
	return onServer(ctx, admin, `DROP DATABASE IF EXISTS `+pgx.Identifier{name}.Sanitize()+` WITH (FORCE)`)
}

func onServer(ctx context.Context, admin, statement string) error {
	conn, err := pgx.Connect(ctx, admin)
	if err != nil {
		return fmt.Errorf("connect to the server: %w", err)
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	_, err = conn.Exec(ctx, statement)
	return err
}
