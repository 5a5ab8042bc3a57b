//go:build unix

package pgrun

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// Server is a running PostgreSQL that this program uses, whether it started it or found it running.
type Server struct {
	folder   *folder
	at       address
	pid      int
	password string
	users    lock

	done  chan struct{}
	ended sync.Once
	err   error // set before done is closed

	closing  sync.Once
	closeErr error
}

// Start starts the server of a data folder, or attaches to the one that already runs there. It returns once the server
// takes connections. When ctx is done first, a server it was starting is stopped again; afterwards ctx means nothing.
// The server runs until the last program that uses it calls Close.
func Start(ctx context.Context, c Config) (*Server, error) {
	f, err := openFolder(c)
	if err != nil {
		return nil, err
	}
	start, err := waitLock(ctx, f.path(startLock), exclusive)
	if err != nil {
		return nil, err
	}
	defer start.release()
	if err := f.mark(); err != nil {
		return nil, err
	}
	users, err := waitLock(ctx, f.path(usersLock), shared)
	if err != nil {
		return nil, err
	}
	s := &Server{folder: f, users: users, done: make(chan struct{})}
	if err := s.connect(ctx); err != nil {
		users.release()
		return nil, err
	}
	return s, nil
}

func (s *Server) connect(ctx context.Context) error {
	running, ok, err := s.folder.running(ctx)
	if err != nil {
		return err
	}
	if ok {
		s.folder.log().InfoContext(ctx, "postgres found running", "process", running.pid, "data", s.folder.dir)
		go s.watch()
	} else {
		started, err := s.folder.launch(ctx)
		if err != nil {
			return err
		}
		running = started.postmaster
		go func() {
			<-started.exited
			s.end(s.folder.died(started.err))
		}()
	}
	s.at, s.pid = running.at, running.pid
	password, err := os.ReadFile(filepath.Join(s.folder.pgdata(), passwordFile))
	if err != nil && s.at.socket == "" {
		return errors.Join(fmt.Errorf("without a Unix socket, PostgreSQL asks for the password that was kept in %s: %w",
			filepath.Join(s.folder.pgdata(), passwordFile), err), s.folder.stop())
	}
	s.password = strings.TrimSpace(string(password))
	return nil
}

// URL returns the address of a database, as pgx and libpq understand it. The database "postgres" is always there.
func (s *Server) URL(database string) string { return s.at.url(database, s.password) }

// Done returns a channel that is closed when the server is no longer there for us: after Close, or because it died.
func (s *Server) Done() <-chan struct{} { return s.done }

// Err returns why the server died, in a sentence, or nil if it has not or was closed. The server is not started again
// by itself: call Close and then Start.
func (s *Server) Err() error {
	select {
	case <-s.done:
		return s.err
	default:
		return nil
	}
}

// Close leaves the server. If nobody else uses it, Close stops it and returns when it has ended. Close may be called
// more than once.
func (s *Server) Close() error {
	s.closing.Do(func() { s.closeErr = s.leave() })
	return s.closeErr
}

func (s *Server) leave() error {
	s.end(nil)
	defer s.users.release()
	// Whoever keeps start.lock longer than this is starting a server or stopping one, and will be the last instead of us.
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	start, err := waitLock(ctx, s.folder.path(startLock), exclusive)
	if err != nil {
		return err
	}
	defer start.release()
	last, err := s.users.turn(exclusive)
	if err != nil || !last {
		return err
	}
	return s.folder.stop()
}

func (s *Server) end(err error) {
	s.ended.Do(func() {
		s.err = err
		close(s.done)
	})
}

// watch notices the end of a server that somebody else started.
func (s *Server) watch() {
	for {
		select {
		case <-s.done:
			return
		case <-time.After(500 * time.Millisecond):
		}
		alive, err := held(s.folder.path(serverLock))
		now, errNow := readPostmaster(s.folder.pgdata())
		if err == nil && !alive || errNow == nil && now.pid != s.pid {
			s.end(s.folder.died(nil))
			return
		}
	}
}

// running returns the server that runs on this folder, if one does. A server that is still starting is waited for, and
// so are the last processes of one that is stopping or was killed. Call it holding start.lock.
func (f *folder) running(ctx context.Context) (postmaster, bool, error) {
	since := time.Now()
	for told := false; ; told = told || time.Since(since) > 2*time.Second {
		alive, err := held(f.path(serverLock))
		if err != nil || !alive {
			return postmaster{}, false, err
		}
		now, err := readPostmaster(f.pgdata())
		if err == nil && now.answers() {
			return now, true, nil
		}
		if !told && time.Since(since) > 2*time.Second {
			f.say("Waiting for an earlier PostgreSQL on this folder to start or to end.")
		}
		if now.status != "starting" && time.Since(since) > time.Minute {
			return postmaster{}, false, fmt.Errorf("an earlier PostgreSQL (process %d) neither works nor ends on %s."+
				" Look at %s, stop that process, and start again", now.pid, f.pgdata(), f.logFile())
		}
		if err := pause(ctx, 50*time.Millisecond); err != nil {
			return postmaster{}, false, fmt.Errorf("waiting for an earlier PostgreSQL: %w", err)
		}
	}
}

// stop stops the server, first politely, which ends its sessions and writes everything out, then less so, after which
// the next start takes longer. Call it holding start.lock, when nobody else uses the server.
func (f *folder) stop() error {
	var last postmaster
	for _, step := range []struct {
		signal  unix.Signal
		patient time.Duration
	}{{unix.SIGINT, 30 * time.Second}, {unix.SIGQUIT, 10 * time.Second}} {
		if now, err := readPostmaster(f.pgdata()); err == nil && isServer(now.pid, f.pgdata()) {
			last = now
			_ = unix.Kill(now.pid, step.signal)
		}
		for since := time.Now(); time.Since(since) < step.patient; time.Sleep(10 * time.Millisecond) {
			alive, err := held(f.path(serverLock))
			if err != nil {
				return err
			}
			if !alive {
				f.log().Info("postgres stopped", "process", last.pid, "data", f.dir)
				if last.at.socket != "" {
					_ = os.Remove(last.at.socket) // the next start makes it again
				}
				return f.wipe()
			}
		}
	}
	return fmt.Errorf("PostgreSQL (process %d) does not stop. Look at %s and end it by hand", last.pid, f.logFile())
}

// StopWhenUnused waits until nobody has used the server of a folder for the given time, and stops it then. It is for
// servers that many short programs share, one after the other, and none of them can know that it is the last. If
// another program already does this, it returns at once.
func StopWhenUnused(ctx context.Context, c Config, unused time.Duration) error {
	f, err := openFolder(c)
	if err != nil {
		return err
	}
	watch, first, err := tryLock(f.path(watchLock), exclusive)
	if err != nil || !first {
		return err
	}
	for quiet := time.Now(); ; {
		stopped, err := f.stopIfUnused(ctx, watch, &quiet, unused)
		if stopped {
			return err
		}
		if err == nil {
			err = pause(ctx, 200*time.Millisecond)
		}
		if err != nil {
			watch.release()
			return err
		}
	}
}

// stopIfUnused looks once. Stopping, it lets go of the watch before anyone else can start a server again: whoever does
// then finds that nobody watches, and can see to it.
func (f *folder) stopIfUnused(ctx context.Context, watch lock, quiet *time.Time, unused time.Duration) (bool, error) {
	start, err := waitLock(ctx, f.path(startLock), exclusive)
	if err != nil {
		return false, err
	}
	defer start.release()
	users, alone, err := tryLock(f.path(usersLock), exclusive)
	if err != nil {
		return false, err
	}
	if !alone {
		*quiet = time.Now()
		return false, nil
	}
	defer users.release()
	if time.Since(*quiet) < unused {
		return false, nil
	}
	defer watch.release()
	return true, f.stop()
}
