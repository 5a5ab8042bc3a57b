//go:build unix

package pgrun

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

func TestALongPathGetsAShortSocket(t *testing.T) {
	t.Parallel()
	data := filepath.Join(home(t), strings.Repeat("long/", 20), "data")
	if err := os.MkdirAll(filepath.Dir(data), 0o755); err != nil {
		t.Fatal(err)
	}
	s := start(t, Config{Data: data})
	if !strings.HasPrefix(s.at.socket, os.TempDir()) || len(s.at.socket) > longestSocket {
		t.Errorf("the socket is in %s", s.at.socket)
	}
	info, err := os.Stat(s.at.socket)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o700 {
		t.Errorf("%s has mode %v", s.at.socket, info.Mode())
	}
	if err := run(s, "SELECT 1"); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if exists(s.at.socket) {
		t.Error("the folder of the socket was left behind")
	}
}

// Names that an address, a shell or the server's settings could stumble over.
func TestOddPaths(t *testing.T) {
	t.Parallel()
	for _, name := range []string{`with space`, `it's "quoted"`, `a,b`, `Müller&ø=1`, `100%41`} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if err := run(start(t, volatile(filepath.Join(home(t), name))), "SELECT 1"); err != nil {
				t.Error(err)
			}
		})
	}
}

// In a folder for everyone, others can put something in the place of ours first.
func TestASocketFolderOfSomeoneElse(t *testing.T) {
	t.Parallel()
	dir := home(t)
	c, err := chooseAccount("", nil)
	if err != nil {
		t.Fatal(err)
	}
	f := &folder{dir: dir, account: c}
	link := filepath.Join(dir, "link")
	if err := os.Symlink(dir, link); err != nil {
		t.Fatal(err)
	}
	open := filepath.Join(dir, "open")
	if err := os.Mkdir(open, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := f.account.own(open); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(open, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, place := range []string{link, open} {
		if err := f.socketFolder(place); err == nil || !strings.Contains(err.Error(), "not a private folder") {
			t.Errorf("%s: %v", place, err)
		}
	}
}

func TestWithoutSocketsThereIsAPortAndAPassword(t *testing.T) {
	t.Parallel()
	c := Config{Data: dataFolder(t), noSocket: true}
	s := start(t, c)
	if err := run(s, "SELECT 1"); err != nil {
		t.Error(err)
	}
	if got := mustAsk(t, s, "SHOW listen_addresses"); got != "127.0.0.1" {
		t.Errorf("it listens on %q", got)
	}
	attached := start(t, c)
	if attached.URL("postgres") != s.URL("postgres") {
		t.Error("who attaches is given another address")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.at.url("postgres", "guess"))
	if err == nil {
		_ = conn.Close(ctx)
		t.Fatal("it lets in whoever guesses the password")
	}
	if !strings.Contains(err.Error(), "28P01") { // PostgreSQL, Appendix A: invalid_password
		t.Errorf("a wrong password was met with %v", err)
	}
	for _, each := range []*Server{s, attached} {
		if err := each.Close(); err != nil {
			t.Fatal(err)
		}
	}

	// The next start draws another port, and does not mind that this one is taken.
	taken, err := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", s.at.port))
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	if again := start(t, c); again.at.port == s.at.port {
		t.Error("the port is always the same")
	} else if err := run(again, "SELECT 1"); err != nil {
		t.Error(err)
	}
}

func TestAPortThatIsTakenMeanwhileIsDrawnAgain(t *testing.T) {
	t.Parallel()
	s := start(t, Config{Data: dataFolder(t)})
	f := s.folder
	p, err := f.choose(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	taken, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	_, port, err := net.SplitHostPort(taken.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	log, err := f.openLog()
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	cmd := f.command(t.Context(), filepath.Join(p.bin, "postgres"), f.settings(address{port: port})...)
	cmd.Stdout, cmd.Stderr = log, log
	if err := f.stillborn(cmd.Run()); !errors.Is(err, errPortTaken) {
		t.Errorf("the server's refusal was not understood: %v", err)
	}
}

func TestURL(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		at             address
		host, password string
		port           uint16
	}{
		{address{"/run/a b&c=d%41", "5432"}, "/run/a b&c=d%41", "", 5432},
		{address{"", "40123"}, "127.0.0.1", "p@ss/w?rd", 40123},
	} {
		got, err := pgx.ParseConfig(test.at.url("group one", "p@ss/w?rd"))
		if err != nil {
			t.Fatal(err)
		}
		if got.Host != test.host || got.Port != test.port || got.Password != test.password ||
			got.User != "postgres" || got.Database != "group one" || got.TLSConfig != nil {
			t.Errorf("pgx reads %s as host %q, port %d, password %q, user %q, database %q", test.at.url("group one", "p@ss/w?rd"),
				got.Host, got.Port, got.Password, got.User, got.Database)
		}
	}
}
