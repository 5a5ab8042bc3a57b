package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/url"
	"strings"
	"time"

	"spareounce/store"
	"spareounce/store/pgrun"
)

// server is a PostgreSQL that this run uses: one of the operator's, or our private one.
type server struct {
	url     func(database string) string
	private *pgrun.Server // nil when it is the operator's
}

// database is the one we keep everything in on a private server.
const database = "spareounce"

// startServer finds the database server, starting a private one when no address was given.
func (p *program) startServer() (*server, error) {
	if given := p.commands.DatabaseURL; given != "" {
		parsed, err := url.Parse(given)
		if err != nil || parsed.Scheme != "postgres" && parsed.Scheme != "postgresql" {
			return nil, fmt.Errorf("--database-url should look like postgres://user@host/database")
		}
		return &server{url: func(name string) string {
			if name == database {
				return given
			}
			other := *parsed
			other.Path = "/" + name
			return other.String()
		}}, nil
	}
	started, err := pgrun.Start(p.ctx, pgrun.Config{
		Data: p.commands.Data, Fetch: !p.commands.NoFetch, Log: p.log,
		Say: func(line string) { fmt.Fprintln(p.err, line) },
	})
	if err != nil {
		return nil, err
	}
	return &server{url: started.URL, private: started}, nil
}

func (s *server) close() {
	if s.private != nil {
		_ = s.private.Close()
	}
}

// openStore starts the server, makes and migrates our database, and opens it. Close both after use.
func (p *program) openStore() (*store.Store, *server, error) {
	s, err := p.startServer()
	if err != nil {
		return nil, nil, err
	}
	opened, err := p.openOn(s)
	if err != nil {
		s.close()
		return nil, nil, err
	}
	return opened, s, nil
}

// openGroup opens the store and finds a group by the chat's own id of it.
func (p *program) openGroup(chat string) (st *store.Store, g store.Group, closeAll func(), err error) {
	st, s, err := p.openStore()
	if err != nil {
		return nil, g, nil, err
	}
	closeAll = func() { st.Close(); s.close() }
	if g, err = st.Group(p.ctx, chat, chat); err != nil {
		closeAll()
	}
	return st, g, closeAll, err
}

func (p *program) openOn(s *server) (*store.Store, error) {
	if s.private != nil {
		if err := store.CreateDatabase(p.ctx, s.url("postgres"), database); err != nil {
			return nil, err
		}
	}
	if err := store.Migrate(p.ctx, s.url(database)); err != nil {
		return nil, err
	}
	return store.Open(p.ctx, s.url(database), time.Now, p.log)
}

// freshDatabase makes an empty, migrated database with a name of its own; forget drops it.
func (p *program) freshDatabase(s *server) (address string, forget func(), err error) {
	name := "play_" + strings.ToLower(rand.Text()[:12])
	admin := s.url("postgres")
	if err := store.CreateDatabase(p.ctx, admin, name); err != nil {
		return "", nil, err
	}
	forget = func() { _ = store.DropDatabase(context.WithoutCancel(p.ctx), admin, name) }
	if err := store.Migrate(p.ctx, s.url(name)); err != nil {
		forget()
		return "", nil, err
	}
	return s.url(name), forget, nil
}

// migrateCommand migrates and stops.
type migrateCommand struct{}

// Run does it.
func (migrateCommand) Run(p *program) error {
	opened, s, err := p.openStore()
	if err != nil {
		return err
	}
	opened.Close()
	s.close()
	fmt.Fprintln(p.out, "The database has the present schema.")
	return nil
}
