package store_test

import (
	"bytes"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/url"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"spareounce/store"
	"spareounce/store/storetest"
)

// wire is a way to a database that can be cut. It passes on what both ends say (PostgreSQL's frontend/backend protocol,
// chapter 55 of its manual: "commit" is said in a simple query).
type wire struct {
	loseAnswer atomic.Int32 // so many commits reach the server, but what it answers is lost, and the connection with it
	loseCommit atomic.Int32 // so many commits are lost before they reach the server
	cutCommit  atomic.Int32 // so many commits find the wire cut
	down       atomic.Bool  // nobody gets through

	mu    sync.Mutex
	calls []net.Conn
}

// newWire returns the address of a database as seen through a wire.
func newWire(t *testing.T, address string) (*wire, string) {
	t.Helper()
	there, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	network, server := "tcp", there.Host
	if folder := there.Query().Get("host"); folder != "" {
		network, server = "unix", filepath.Join(folder, ".s.PGSQL."+there.Query().Get("port"))
	}
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = door.Close() })
	w := &wire{}
	go func() {
		for {
			client, err := door.Accept()
			if err != nil {
				return
			}
			if w.down.Load() {
				_ = client.Close()
				continue
			}
			behind, err := net.Dial(network, server)
			if err != nil {
				_ = client.Close()
				continue
			}
			w.mu.Lock()
			w.calls = append(w.calls, client, behind)
			w.mu.Unlock()
			go w.carry(client, behind)
		}
	}()
	here := *there
	here.Host = door.Addr().String()
	q := here.Query()
	q.Del("host")
	q.Del("port")
	q.Set("sslmode", "disable")
	here.RawQuery = q.Encode()
	return w, here.String()
}

// carry passes on what is said until one end hangs up.
func (w *wire) carry(client, server net.Conn) {
	defer client.Close()
	defer server.Close()
	var deaf atomic.Bool // what the server says is lost from now on
	go func() {
		buffer := make([]byte, 64<<10)
		for {
			n, err := server.Read(buffer)
			if deaf.Load() {
				_ = client.Close() // the server has answered: it has committed
				return
			}
			if n > 0 {
				if _, err := client.Write(buffer[:n]); err != nil {
					return
				}
			}
			if err != nil {
				_ = client.Close()
				return
			}
		}
	}()
	buffer := make([]byte, 64<<10)
	for {
		n, err := client.Read(buffer)
		if bytes.Contains(buffer[:n], []byte("commit\x00")) {
			if take(&w.cutCommit) {
				w.cut()
				return
			}
			if take(&w.loseCommit) {
				return
			}
			if take(&w.loseAnswer) {
				deaf.Store(true)
			}
		}
		if n > 0 {
			if _, err := server.Write(buffer[:n]); err != nil {
				return
			}
		}
		if err != nil {
			if errors.Is(err, io.EOF) && deaf.Load() {
				time.Sleep(time.Second) // let the server finish
			}
			return
		}
	}
}

func take(n *atomic.Int32) bool {
	for {
		left := n.Load()
		if left == 0 {
			return false
		}
		if n.CompareAndSwap(left, left-1) {
			return true
		}
	}
}

// cut ends all calls, and lets no more through until mend.
func (w *wire) cut() {
	w.down.Store(true)
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.calls {
		_ = c.Close()
	}
	w.calls = nil
}

func (w *wire) mend() { w.down.Store(false) }

// wired is a table whose store reaches its database through a wire.
func wired(t *testing.T) (*table, *wire) {
	t.Helper()
	w, address := newWire(t, storetest.Database(t))
	s, err := store.Open(t.Context(), address, still, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return furnish(t, s, 2), w
}

// A commit whose answer is lost is found to stand, and is not done again; one that never arrived is done again. Either
// way the deed is done once.
func TestALostAnswerIsAskedFor(t *testing.T) {
	t.Parallel()
	for name, lose := range map[string]func(*wire){
		"the answer is lost": func(w *wire) { w.loseAnswer.Store(1) },
		"the commit is lost": func(w *wire) { w.loseCommit.Store(1) },
		"one after another":  func(w *wire) { w.loseCommit.Store(3) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb, w := wired(t)
			key := store.HoldingKey{Series: "run", Piece: "1980"}
			lose(w)
			tb.change(t, tb.members[0], func(s *store.Shelf) error { s.Add(key, 1); return nil })
			if w.loseAnswer.Load()+w.loseCommit.Load() != 0 {
				t.Fatal("nothing was lost: the test cuts no wire")
			}
			shelf, err := tb.Shelf(t.Context(), tb.members[0])
			if err != nil || shelf.Holdings[key].Quantity != 1 {
				t.Errorf("%+v, %v: one was added", shelf, err)
			}
		})
	}
}

// A database that is away for a moment is waited for, by who reads and by who writes.
func TestADatabaseThatComesBack(t *testing.T) {
	t.Parallel()
	tb, w := wired(t)
	w.cut()
	time.AfterFunc(500*time.Millisecond, w.mend)
	tb.change(t, tb.members[0], spare("1980", 1))
	w.cut()
	time.AfterFunc(500*time.Millisecond, w.mend)
	if shelf, err := tb.Shelf(t.Context(), tb.members[0]); err != nil || len(shelf.Holdings) != 1 {
		t.Error(shelf, err)
	}
}

// When the database stays away after a commit was sent, nobody is told that nothing was changed.
func TestAnUncertainCommitIsCalledSo(t *testing.T) {
	t.Parallel()
	tb, w := wired(t)
	w.cutCommit.Store(1)
	_, _, err := tb.Change(t.Context(), tb.members[0], "said", spare("1980", 1))
	if _, ok := errors.AsType[*store.UncertainError](err); !ok {
		t.Errorf("%v: it is not known whether that was saved", err)
	}
	w.mend()
}
