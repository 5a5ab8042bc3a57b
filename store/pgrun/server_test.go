//go:build unix

package pgrun

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestDataIsKept(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	s := start(t, c)
	if err := run(s, "CREATE TABLE kept (word text); INSERT INTO kept VALUES ('still here')"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if alive(s.pid) {
		t.Error("the server outlived the last Close")
	}
	select {
	case <-s.Done():
	default:
		t.Error("Done is open after Close")
	}
	if err := s.Err(); err != nil {
		t.Errorf("Err after Close: %v", err)
	}
	again := start(t, c)
	if got := mustAsk(t, again, "SELECT word FROM kept"); got != "still here" {
		t.Errorf("after a restart the table holds %q", got)
	}
}

func TestTheServerIsPrivate(t *testing.T) {
	t.Setenv("SPAREOUNCE_SECRET", "not for the server")
	s := start(t, volatile(dataFolder(t)))
	for sql, want := range map[string]string{
		"SHOW listen_addresses":        "",
		"SHOW unix_socket_permissions": "0700",
		"SHOW server_encoding":         "UTF8",
		"SHOW data_checksums":          "on",
		"SHOW timezone":                "UTC",
		"SHOW log_min_messages":        "log",
		"SELECT datcollate FROM pg_database WHERE datname = 'postgres'": "C",
	} {
		if got := mustAsk(t, s, sql); got != want {
			t.Errorf("%s: got %q, want %q", sql, got, want)
		}
	}
	for _, dir := range []string{s.at.socket, s.folder.pgdata()} {
		info, err := os.Stat(dir)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o700 || owner(info) != s.folder.account.uid {
			t.Errorf("%s has mode %v and owner %d, want 0700 and %d", dir, info.Mode(), owner(info), s.folder.account.uid)
		}
	}
	environment, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(s.pid), "environ"))
	if os.IsNotExist(err) {
		t.Skip("this system does not show environments")
	}
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(environment), "LC_ALL=C") {
		t.Error("the server's environment does not have what we put in it")
	}
	if strings.Contains(string(environment), "SPAREOUNCE_SECRET") {
		t.Error("the server sees our environment") // which is not to be printed here either
	}
}

func TestTwoAtOnce(t *testing.T) {
	t.Parallel()
	c := volatile(dataFolder(t))
	var servers [3]*Server
	var errs [3]error
	var all sync.WaitGroup
	for i := range servers {
		all.Go(func() { servers[i], errs[i] = Start(t.Context(), c) })
	}
	all.Wait()
	for i, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
		if servers[i].pid != servers[0].pid {
			t.Fatalf("two servers on one folder: processes %d and %d", servers[i].pid, servers[0].pid)
		}
	}
	for i, s := range servers {
		if err := run(s, "SELECT 1"); err != nil {
			t.Errorf("with %d gone: %v", i, err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if alive(servers[0].pid) {
		t.Error("the server outlived the last Close")
	}
	if _, err := os.Stat(servers[0].folder.pgdata()); !os.IsNotExist(err) {
		t.Errorf("a volatile folder kept its databases: %v", err)
	}
}

func TestADeadServerIsNoticed(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	first, second := start(t, c), start(t, c)
	kill(t, first.pid)
	for name, s := range map[string]*Server{"the starter": first, "the attached": second} {
		select {
		case <-s.Done():
			if s.Err() == nil || !strings.Contains(s.Err().Error(), "stopped unexpectedly") {
				t.Errorf("%s was told %v", name, s.Err())
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%s was not told", name)
		}
	}
	if err := first.Close(); err != nil {
		t.Error(err)
	}
	again := start(t, c)
	if err := run(again, "SELECT 1"); err != nil {
		t.Error(err)
	}
	if err := second.Close(); err != nil {
		t.Error(err)
	}
	if err := run(again, "SELECT 1"); err != nil {
		t.Errorf("after the close of one who used the dead server: %v", err)
	}
}

func TestStartCanBeCancelled(t *testing.T) {
	t.Parallel()
	data := dataFolder(t)
	for _, after := range []time.Duration{0, 50 * time.Millisecond, 300 * time.Millisecond, 600 * time.Millisecond, time.Second} {
		ctx, cancel := context.WithTimeout(t.Context(), after)
		s, err := Start(ctx, Config{Data: data})
		cancel()
		if err == nil {
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			continue
		}
		if ctx.Err() == nil {
			t.Fatalf("after %v: %v", after, err)
		}
	}
	eventually(t, "the server lock is free", func() bool {
		taken, err := held(filepath.Join(data, serverLock))
		return err == nil && !taken
	})
	if err := run(start(t, Config{Data: data}), "SELECT 1"); err != nil {
		t.Error(err)
	}
}

func TestWaitingForALockCanBeCancelled(t *testing.T) {
	t.Parallel()
	data := home(t)
	l, _, err := tryLock(filepath.Join(data, startLock), exclusive)
	if err != nil {
		t.Fatal(err)
	}
	defer l.release()
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if _, err := Start(ctx, Config{Data: data}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v", err)
	}
}

func TestVolatileFoldersAreApart(t *testing.T) {
	t.Parallel()
	data := home(t)
	if err := os.WriteFile(filepath.Join(data, "volatile"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	mustRefuse(t, Config{Data: data}, data, "is for tests", "choose another")
	data = home(t)
	if err := os.Mkdir(filepath.Join(data, "pgdata"), 0o700); err != nil {
		t.Fatal(err)
	}
	unchanged(t, data, func() { mustRefuse(t, volatile(data), data, "databases to keep", "choose another") })
}

func TestStopWhenUnused(t *testing.T) {
	t.Parallel()
	c := volatile(dataFolder(t))
	s := start(t, c)
	watcher := play(t, "watch", c.Data, nil)
	time.Sleep(time.Second)
	if !alive(s.pid) {
		t.Fatal("the server was stopped under its user")
	}
	s.abandon()
	eventually(t, "the unused server is gone", func() bool { return !alive(s.pid) })
	if err := watcher.Wait(); err != nil {
		t.Error(err)
	}
	if err := StopWhenUnused(t.Context(), c, time.Millisecond); err != nil {
		t.Errorf("with no server left: %v", err)
	}
}
