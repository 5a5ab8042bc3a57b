//go:build unix

package pgrun

import (
	"io"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// asRoot skips tests of what only root can do or suffer.
func asRoot(t *testing.T) {
	t.Helper()
	if os.Geteuid() != 0 {
		t.Skip("only root can do this")
	}
}

// uidOf returns the number of the account that a process runs as.
func uidOf(t *testing.T, pid int) string {
	t.Helper()
	out, err := exec.Command("ps", "-o", "uid=", "-p", strconv.Itoa(pid)).Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

func TestRootDropsToTheFirstAccountThatExists(t *testing.T) {
	t.Parallel()
	asRoot(t)
	for _, accounts := range [][]string{nil, {"no-such-account", "nobody"}} {
		names := append(accounts, "postgres", "nobody")
		var want *user.User
		for _, name := range names {
			if u, err := user.Lookup(name); err == nil {
				want = u
				break
			}
		}
		if want == nil {
			t.Fatalf("this machine has none of the accounts %v", names)
		}
		c := Config{Data: dataFolder(t), accounts: accounts}
		s := start(t, c)
		if got := uidOf(t, s.pid); got != want.Uid {
			t.Errorf("from %v: the server runs as %s, want %s", accounts, got, want.Uid)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}

		// A machine that has got another account meanwhile goes on with the one that owns the databases.
		c.accounts = []string{"daemon"}
		if again := start(t, c); uidOf(t, again.pid) != want.Uid {
			t.Error("the account changed between starts")
		}
	}
}

func TestRootWithoutAnAccount(t *testing.T) {
	t.Parallel()
	asRoot(t)
	mustRefuse(t, Config{Data: dataFolder(t), accounts: []string{"no-such-account"}},
		"refuses to run as root", "no-such-account", "ordinary user")
}

// A backup that root has put back belongs to root.
func TestDatabasesOfRootAreGivenToTheAccount(t *testing.T) {
	t.Parallel()
	asRoot(t)
	c := Config{Data: dataFolder(t)}
	s := start(t, c)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("chown", "-R", "0:0", s.folder.pgdata()).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if err := run(start(t, c), "SELECT 1"); err != nil {
		t.Error(err)
	}
}

func TestAFolderThatIsClosedToTheAccount(t *testing.T) {
	t.Parallel()
	asRoot(t)
	closed := home(t)
	if err := os.Chmod(closed, 0o700); err != nil {
		t.Fatal(err)
	}
	data := filepath.Join(closed, "data")
	mustRefuse(t, Config{Data: data}, data, "closed to the account", "choose another data folder")
	if exists(filepath.Join(data, "pgdata.new")) || exists(filepath.Join(data, "pgdata")) {
		t.Error("databases were begun there")
	}
}

func TestAnOrdinaryUser(t *testing.T) {
	t.Parallel()
	asRoot(t) // who is not root has been tested by all other tests
	u, err := user.Lookup("nobody")
	if err != nil {
		t.Skip("this machine has no account nobody")
	}
	data, bot := playAs(t, u.Uid, u.Gid)
	url := bot.line(t)
	if !strings.Contains(url, "host=") {
		t.Errorf("the server is at %s", url)
	}
	now, err := readPostmaster(filepath.Join(data, "pgdata"))
	if err != nil {
		t.Fatal(err)
	}
	if got := uidOf(t, now.pid); got != u.Uid {
		t.Errorf("the server runs as %s, want %s", got, u.Uid)
	}
	if err := bot.stdin.Close(); err != nil {
		t.Fatal(err)
	}
	if err := bot.Wait(); err != nil {
		t.Errorf("the program ended with %v", err)
	}
	if alive(now.pid) {
		t.Error("the server outlived the last Close")
	}
}

// Some containers run their programs under a number that /etc/passwd does not know.
func TestAnAccountWithoutAName(t *testing.T) {
	t.Parallel()
	asRoot(t)
	const number = "3141592"
	if _, err := user.LookupId(number); err == nil {
		t.Skip("this machine has an account with that number")
	}
	_, bot := playAs(t, number, number)
	line, err := bot.said.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(line, "no entry in /etc/passwd") || !strings.Contains(line, "--database-url") {
		t.Errorf("it was told: %s", line)
	}
}

func TestSomeoneElsesFolder(t *testing.T) {
	t.Parallel()
	asRoot(t)
	data := home(t)
	if err := os.Chown(data, 2, 2); err != nil {
		t.Fatal(err)
	}
	mustRefuse(t, Config{Data: data}, data, "another account", "choose another data folder")
}

// playAs plays the role "user" as another account. The test binary is copied, because the go command keeps it where
// that account cannot go.
func playAs(t *testing.T, uid, gid string) (data string, p *program) {
	t.Helper()
	numberedUser, err := strconv.Atoi(uid)
	if err != nil {
		t.Fatal(err)
	}
	numberedGroup, err := strconv.Atoi(gid)
	if err != nil {
		t.Fatal(err)
	}
	place := home(t)
	copied := filepath.Join(place, "program")
	copySelf(t, copied)
	if err := os.Mkdir(filepath.Join(place, "home"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Chown(filepath.Join(place, "home"), numberedUser, numberedGroup); err != nil {
		t.Fatal(err)
	}
	data = filepath.Join(place, "home", "data")
	return data, play(t, "user", data, func(cmd *exec.Cmd) {
		cmd.Path, cmd.Dir = copied, place
		cmd.Env = append(cmd.Env, "HOME="+filepath.Join(place, "home"))
		cmd.SysProcAttr = &syscall.SysProcAttr{
			Credential: &syscall.Credential{Uid: uint32(numberedUser), Gid: uint32(numberedGroup)},
		}
	})
}

func copySelf(t *testing.T, to string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	from, err := os.Open(self)
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	// A child forked meanwhile would hold the copy open for writing, and a program that is being written can't be run
	// (ETXTBSY, golang.org/issue/22315).
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(file, from); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
}
