//go:build unix

package pgrun

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

func TestKilledBot(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	bot := play(t, "user", c.Data, nil)
	bot.line(t)
	kill(t, bot.Process.Pid)
	_ = bot.Wait()
	s := start(t, c)
	if fresh := s.folder.logFile() + ".old"; exists(fresh) {
		t.Error("the second start did not attach but started anew")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if alive(s.pid) {
		t.Error("whoever attached was the last, but left the server running")
	}
}

// In a container the numbers of processes are few, so after a crash the dead server's number soon is someone else's.
// The stranger here runs as the server's account: PostgreSQL looks no further than that.
func TestKilledBothAndAStrangerHasTheNumber(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	s := start(t, c)
	if err := run(s, "CREATE TABLE kept (word text); INSERT INTO kept VALUES ('committed')"); err != nil {
		t.Fatal(err)
	}
	kill(t, s.pid)
	s.abandon()

	stranger := exec.Command("sleep", "60")
	stranger.SysProcAttr = s.folder.account.process()
	if err := stranger.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = stranger.Process.Kill(); _ = stranger.Wait() }()
	lockFile := filepath.Join(s.at.socket, ".s.PGSQL.5432.lock")
	for _, file := range []string{pidFile(s.folder.pgdata()), lockFile} {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(string(text), "\n")
		if err := os.WriteFile(file, fmt.Appendf(nil, "%d\n%s", stranger.Process.Pid, rest), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	again := start(t, c)
	if got := mustAsk(t, again, "SELECT word FROM kept"); got != "committed" {
		t.Errorf("after a crash the table holds %q", got)
	}
	if again.at != s.at {
		t.Errorf("the server moved from %v to %v: what the dead one left was in the way", s.at, again.at)
	}
	if !alive(stranger.Process.Pid) {
		t.Error("the stranger was hurt")
	}
}

// A server that somebody started by hand on our folder is neither used nor disturbed.
func TestStartedByHand(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	s := start(t, c)
	f := s.folder
	p, err := f.choose(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(c.Data, "by-hand")
	if err := f.socketFolder(dir); err != nil {
		t.Fatal(err)
	}
	byHand := f.command(t.Context(), filepath.Join(p.bin, "postgres"), f.settings(address{dir, "5432"})...)
	if err := byHand.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = byHand.Process.Signal(syscall.SIGINT); _ = byHand.Wait() }()
	eventually(t, "the server started by hand is ready", func() bool {
		now, err := readPostmaster(f.pgdata())
		return err == nil && now.status == "ready"
	})
	mustRefuse(t, c, "by other means", strconv.Itoa(byHand.Process.Pid), "pg_ctl stop")
	if !alive(byHand.Process.Pid) {
		t.Error("the server started by hand was hurt")
	}
}

// The terminal sends Ctrl-C to the whole foreground group. The program must be able to write while it stops.
func TestCtrlC(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t)}
	bot := play(t, "user", c.Data, func(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} })
	bot.line(t)
	if err := syscall.Kill(-bot.Process.Pid, syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if err := bot.Wait(); err != nil {
		t.Fatalf("the program did not stop in order: %v", err)
	}
	s := start(t, c)
	if got := mustAsk(t, s, "SELECT count(*)::text FROM last_words"); got != "0" {
		t.Errorf("its last words are %q", got)
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
