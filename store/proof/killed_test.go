//go:build unix

package proof

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"
	"github.com/jackc/pgx/v5"

	"spareounce/store"
	"spareounce/store/pgrun"
)

// siege is a group at work while its bot and its database are killed.
type siege struct {
	*testing.T
	store   *store.Store // the test's own eyes
	islands []*island
	address string
	data    string
	chat    *chat

	mu     sync.Mutex
	server *pgrun.Server
	bot    *process

	kills, answers, unknown, errors atomic.Int64
}

// The bot and its database are killed at random, 200 times at full size, while members press. Whatever was confirmed
// stands, whatever stands could have been done one deed after another, and every member is told everything once.
func TestNothingIsLostWhenKilled(t *testing.T) {
	s := besiege(t, 4)
	kills := int64(choose(8, 200))
	said, dropped := 0, 0
	for round := uint64(0); s.kills.Load() < kills && !t.Failed(); round++ {
		s.round(round, 3)
		said += s.chat.count()
		dropped += s.chat.dropped
		if round%10 == 9 {
			t.Logf("%d kills so far", s.kills.Load())
		}
	}
	t.Logf("%d kills, %d deeds answered, %d unanswered, %d refused by a lost database, %d messages told, %d of them sent again and dropped",
		s.kills.Load(), s.answers.Load(), s.unknown.Load(), s.errors.Load(), said, dropped)
	if s.answers.Load() < 10*kills {
		t.Errorf("only %d deeds were answered: the test says little", s.answers.Load())
	}
}

// besiege starts a database that keeps what it is told, unlike the one that other tests share.
func besiege(t *testing.T, islands int) *siege {
	t.Helper()
	home, err := os.MkdirTemp("", "proof")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(home) })
	if err := os.Chmod(home, 0o755); err != nil { // started by root, the server runs as somebody else
		t.Fatal(err)
	}
	s := &siege{T: t, data: filepath.Join(home, "data")}
	s.startServer()
	t.Cleanup(func() { _ = s.server.Close() })
	if err := store.CreateDatabase(t.Context(), s.server.URL("postgres"), "proof"); err != nil {
		t.Fatal(err)
	}
	s.address = s.server.URL("proof")
	if err := store.Migrate(t.Context(), s.address); err != nil {
		t.Fatal(err)
	}
	if s.store, err = store.Open(t.Context(), s.address, still, quiet()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.store.Close)
	s.islands = furnish(t, s.store, islands)
	return s
}

func (s *siege) startServer() {
	server, err := pgrun.Start(context.WithoutCancel(s.Context()), pgrun.Config{Data: s.data})
	if err != nil {
		s.Fatal(err)
	}
	s.server = server
}

// round begins anew, has everyone press while things are killed, then lets the queue come to rest and looks.
func (s *siege) round(n uint64, kills int) {
	random := rand.New(rand.NewPCG(n, 7))
	s.chat = &chat{}
	clear(s.T, s.address)
	for _, i := range s.islands {
		i.beginAnew(s.T, s.store, random)
	}
	for _, i := range s.islands {
		i.survey(s.T, s.store)
	}
	s.bot = startBot(s.T, s.address, s.chat)
	began := time.Now()
	var all sync.WaitGroup
	var pressing atomic.Int32
	for at, i := range s.islands {
		var mu sync.Mutex
		for j := range i.members {
			own := rand.New(rand.NewPCG(n, uint64(10+at*perIsland+j)))
			pressing.Add(1)
			all.Go(func() {
				defer pressing.Add(-1)
				for range 14 {
					s.press(i, &mu, began, j, i.pick(j, own))
					time.Sleep(time.Duration(own.IntN(60)) * time.Millisecond)
				}
			})
		}
	}
	for range kills {
		time.Sleep(time.Duration(20+random.IntN(250)) * time.Millisecond)
		if pressing.Load() == 0 {
			break
		}
		s.strike(random)
	}
	all.Wait()
	s.rest()
	for _, i := range s.islands {
		i.ask(s.T, s.store, began)
		i.check(s.T)
	}
	s.checkTold()
}

// press has the bot do a deed, and writes down when it was asked and answered. A deed that failed is to have changed
// nothing, so it is left out; one with no answer may be done at any time.
func (s *siege) press(i *island, mu *sync.Mutex, began time.Time, j int, d deed) {
	o := porcupine.Operation{ClientId: j, Input: d, Call: int64(time.Since(began))}
	s.mu.Lock()
	bot := s.bot
	s.mu.Unlock()
	said, sent, answered := bot.ask(i.members[j], d)
	switch {
	case !sent:
		time.Sleep(10 * time.Millisecond)
		s.press(i, mu, began, j, d) // there will be another
		return
	case !answered, said.Uncertain:
		s.unknown.Add(1)
		if d.Kind == look || d.Kind == shelf {
			return // whatever they would have seen, they have done nothing
		}
		o.Output, o.Return = answer{Unknown: true}, math.MaxInt64
	case said.Err != "":
		s.errors.Add(1)
		return
	default:
		s.answers.Add(1)
		o.Output, o.Return = said.Answer, int64(time.Since(began))
	}
	mu.Lock()
	defer mu.Unlock()
	i.history = append(i.history, o)
}

// strike kills the bot, the database, one of its sessions (after which it recovers by itself), or both, and starts again
// what is dead.
func (s *siege) strike(random *rand.Rand) {
	s.kills.Add(1)
	switch random.IntN(4) {
	case 0:
		s.killBot()
	case 1:
		s.killServer()
	case 2:
		s.killSession(random)
	case 3:
		_ = s.bot.cmd.Process.Kill()
		s.killServer()
		s.killBot()
	}
}

func (s *siege) killBot() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.bot.kill()
	s.bot = startBot(s.T, s.address, s.chat)
}

func (s *siege) killServer() {
	text, err := os.ReadFile(filepath.Join(s.data, "pgdata", "postmaster.pid"))
	if err != nil {
		s.Error(err)
		return
	}
	first, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(first)
	if err != nil {
		s.Error(err)
		return
	}
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		s.Error(err)
	}
	_ = s.server.Close()
	s.startServer()
}

// killSession kills a process of the database that serves the bot.
func (s *siege) killSession(random *rand.Rand) {
	conn, err := pgx.Connect(s.Context(), s.server.URL("postgres"))
	if err != nil {
		return // it is recovering from the last time
	}
	defer conn.Close(context.Background())
	rows, _ := conn.Query(s.Context(), `SELECT pid FROM pg_stat_activity WHERE application_name = 'spareounce'`)
	pids, err := pgx.CollectRows(rows, pgx.RowTo[int])
	if err != nil || len(pids) == 0 {
		return
	}
	_ = syscall.Kill(pids[random.IntN(len(pids))], syscall.SIGKILL) // it may have ended by itself
}

// rest lets a last bot finish what is to be done. Jobs that a killed bot had begun would be taken up again two minutes
// later; they are given back at once.
func (s *siege) rest() {
	s.Helper()
	s.bot.kill()
	s.bot = startBot(s.T, s.address, s.chat)
	defer s.bot.kill()
	var left int
	for since := time.Now(); time.Since(since) < 3*time.Minute; time.Sleep(100 * time.Millisecond) {
		conn, err := pgx.Connect(s.Context(), s.address)
		if err != nil {
			continue
		}
		_, err = conn.Exec(s.Context(), `
			UPDATE river_job SET state = 'available', scheduled_at = now()
			WHERE state = 'retryable' OR state = 'running' AND attempted_at < now() - interval '3 seconds'`)
		if err == nil {
			err = conn.QueryRow(s.Context(), `
				SELECT (SELECT count(*) FROM river_job WHERE state IN ('available', 'running', 'retryable', 'pending'))
					+ (SELECT count(*) FROM notices WHERE told_at IS NULL)`).Scan(&left)
		}
		_ = conn.Close(s.Context())
		if err == nil && left == 0 {
			return
		}
	}
	s.Errorf("the queue does not come to rest: %d jobs and notices are left", left)
}

// checkTold holds what members were shown against what was committed: all of it and nothing else, each message once.
func (s *siege) checkTold() {
	s.Helper()
	conn, err := pgx.Connect(s.Context(), s.address)
	if err != nil {
		s.Fatal(err)
	}
	defer conn.Close(context.Background())
	rows, _ := conn.Query(s.Context(), `SELECT account, coalesce(message, 0), count(*) FROM notices JOIN members USING (member_id) GROUP BY 1, 2`)
	var account string
	var message, notices int64
	committed := map[string]bool{}
	if _, err := pgx.ForEachRow(rows, []any{&account, &message, &notices}, func() error {
		key := fmt.Sprint("n", message)
		committed[account+" "+key] = true
		if _, shown := s.chat.shown[account][key]; !shown {
			s.Errorf("%s was never shown message %s of %d notices", account, key, notices)
		}
		return nil
	}); err != nil {
		s.Fatal(err)
	}
	for account, shown := range s.chat.shown {
		texts := map[string]string{}
		for key, text := range shown {
			if !committed[account+" "+key] {
				s.Errorf("%s was shown %s, which was never committed: %s", account, key, text)
			}
			if other, twice := texts[text]; twice {
				s.Errorf("%s was told the same in %s and %s: %s", account, other, key, text)
			}
			texts[text] = key
		}
	}
}
