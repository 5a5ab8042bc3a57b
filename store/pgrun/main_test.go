//go:build unix

package pgrun

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"golang.org/x/sys/unix"
)

// roleVariable makes the test binary play another program instead of testing.
const roleVariable = "PGRUN_TEST_ROLE"

// A role is a program that uses the data folder named by its first argument.
var roles = map[string]func(data string) error{
	"user": playUser,
	"watch": func(data string) error {
		return StopWhenUnused(context.Background(), volatile(data), 300*time.Millisecond)
	},
}

func TestMain(m *testing.M) {
	role := os.Getenv(roleVariable)
	if role == "" {
		os.Exit(m.Run())
	}
	if err := roles[role](os.Args[1]); err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
}

// playUser starts the server, says where it is, and uses it until it hears Ctrl-C or the end of its input. Then it
// writes a last row, as a bot does while it stops, and leaves.
func playUser(data string) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	s, err := Start(ctx, Config{Data: data})
	if err != nil {
		return err
	}
	fmt.Println(s.URL("postgres"))
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin)
		stop()
	}()
	<-ctx.Done()
	if err := run(s, "CREATE TABLE last_words (said text)"); err != nil {
		return err
	}
	return s.Close()
}

// program is a running role.
type program struct {
	*exec.Cmd
	stdin io.Closer
	said  *bufio.Reader
}

// play starts a role; change, if not nil, may make it run otherwise.
func play(t *testing.T, role, data string, change func(*exec.Cmd)) *program {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, data)
	cmd.Env = append(os.Environ(), roleVariable+"="+role)
	if change != nil {
		change(cmd)
	}
	stdin, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	return &program{cmd, stdin, bufio.NewReader(stdout)}
}

// line returns the next line that the program says.
func (p *program) line(t *testing.T) string {
	t.Helper()
	line, err := p.said.ReadString('\n')
	if err != nil {
		t.Fatalf("the program ended early: %v", err)
	}
	if strings.HasPrefix(line, "error:") {
		t.Fatal(line)
	}
	return strings.TrimSpace(line)
}

// home returns a new folder that every account may pass through, unlike t.TempDir, and in which only we may write.
func home(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "pgrun")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// dataFolder returns a data folder that does not exist yet.
func dataFolder(t *testing.T) string { return filepath.Join(home(t), "data") }

func volatile(data string) Config { return Config{Data: data, Volatile: true} }

// start starts a server, which is stopped at the end of the test.
func start(t *testing.T, c Config) *Server {
	t.Helper()
	s, err := Start(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// abandon leaves the server as the kernel does for a program that is killed.
func (s *Server) abandon() {
	s.closing.Do(func() {
		s.end(nil)
		s.users.release()
	})
}

// run runs a statement on a connection of its own.
func run(s *Server, sql string) error {
	_, err := ask(s, sql)
	return err
}

// ask returns the only value of a query's first row, as text; empty if there is no row.
func ask(s *Server, sql string) (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.URL("postgres"))
	if err != nil {
		return "", err
	}
	defer conn.Close(ctx)
	rows, _ := conn.Query(ctx, sql, pgx.QueryExecModeSimpleProtocol)
	values, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (string, error) {
		var text string
		err := row.Scan(&text)
		return text, err
	})
	if err != nil || len(values) == 0 {
		return "", err
	}
	return values[0], nil
}

// mustAsk is ask, where an error ends the test.
func mustAsk(t *testing.T, s *Server, sql string) string {
	t.Helper()
	answer, err := ask(s, sql)
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

// alive reports whether the process is there and no zombie.
func alive(pid int) bool {
	if errors.Is(unix.Kill(pid, 0), unix.ESRCH) {
		return false
	}
	out, err := exec.Command("ps", "-o", "stat=", "-p", fmt.Sprint(pid)).Output()
	return err == nil && !strings.HasPrefix(strings.TrimSpace(string(out)), "Z")
}

// eventually waits some seconds for something to become true.
func eventually(t *testing.T, what string, true func() bool) {
	t.Helper()
	for since := time.Now(); !true(); time.Sleep(20 * time.Millisecond) {
		if time.Since(since) > 20*time.Second {
			t.Fatalf("not within 20 seconds: %s", what)
		}
	}
}

// mustRefuse starts a server that must not start, and checks that the error has all the words.
func mustRefuse(t *testing.T, c Config, words ...string) {
	t.Helper()
	s, err := Start(t.Context(), c)
	if err == nil {
		_ = s.Close()
		t.Fatal("the server started, though it should not")
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("the error does not say %q: %v", w, err)
		}
	}
}

func kill(t *testing.T, pid int) {
	t.Helper()
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
}
