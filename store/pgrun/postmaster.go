//go:build unix

package pgrun

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// postmaster is what a server writes about itself into postmaster.pid. PostgreSQL's source, miscadmin.h, gives the
// lines: process, data folder, start time, port, first socket folder, first address, shared memory, status.
type postmaster struct {
	pid    int
	at     address
	status string // "starting", "ready", "stopping"
}

func pidFile(pgdata string) string { return filepath.Join(pgdata, "postmaster.pid") }

func readPostmaster(pgdata string) (postmaster, error) {
	text, err := os.ReadFile(pidFile(pgdata))
	if err != nil {
		return postmaster{}, err
	}
	lines := strings.Split(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if err != nil || pid <= 1 {
		return postmaster{}, fmt.Errorf("%s does not begin with the number of a process", pidFile(pgdata))
	}
	p := postmaster{pid: pid}
	if len(lines) >= 8 {
		p.at = address{socket: lines[4], port: strings.TrimSpace(lines[3])}
		p.status = strings.TrimSpace(lines[7])
	}
	return p, nil
}

// answers reports whether the server is ready and serves whoever asks. That somebody listens is not enough: the socket of
// a server that was killed takes callers for as long as any process of it is left, and answers none. What is sent is the
// request for encryption, which a server answers with one byte before it knows who asks: SSLRequest in the PostgreSQL
// documentation, "Message Formats".
func (p postmaster) answers() bool {
	if p.status != "ready" {
		return false
	}
	conn, err := net.DialTimeout(p.at.network(), p.at.dial(), time.Second)
	if err != nil {
		return false
	}
	defer conn.Close()
	if err := conn.SetDeadline(time.Now().Add(time.Second)); err != nil {
		return false
	}
	if _, err := conn.Write([]byte{0, 0, 0, 8, 0x04, 0xd2, 0x16, 0x2f}); err != nil {
		return false
	}
	_, err = conn.Read(make([]byte, 1))
	return err == nil
}

// disown makes way for a new server where a dead one left its postmaster.pid, with the number of a process that
// somebody else has by now. PostgreSQL would take that stranger for its predecessor and refuse to start. The file must
// not be deleted, because the server also learns from it which shared memory to look at for survivors. So we put our
// own number in its first line, which a server that we start does not mistake for another server.
func (f *folder) disown() error {
	old, err := readPostmaster(f.pgdata())
	if err != nil || unix.Kill(old.pid, 0) != nil {
		return nil // nothing to read, or nobody there: PostgreSQL copes by itself
	}
	if isServer(old.pid, f.pgdata()) {
		return fmt.Errorf("a PostgreSQL that was started by other means (process %d) uses %s."+
			" Stop it first: pg_ctl stop -D %s", old.pid, f.pgdata(), f.pgdata())
	}
	text, err := os.ReadFile(pidFile(f.pgdata()))
	if err != nil {
		return err
	}
	_, rest, _ := strings.Cut(string(text), "\n")
	file, err := os.OpenFile(pidFile(f.pgdata()), os.O_WRONLY|os.O_TRUNC|unix.O_NOFOLLOW, 0)
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(file, "%d\n%s", os.Getpid(), rest); err != nil {
		_ = file.Close()
		return err
	}
	return file.Close()
}

// isServer reports whether the process is a PostgreSQL on this data folder. A server works in its data folder, which
// Linux shows; elsewhere its name must do.
func isServer(pid int, pgdata string) bool {
	if where, err := os.Stat(fmt.Sprintf("/proc/%d/cwd", pid)); err == nil {
		here, err := os.Stat(pgdata)
		return err == nil && os.SameFile(where, here)
	}
	out, err := exec.Command("ps", "-o", "comm=", "-p", strconv.Itoa(pid)).Output()
	name := filepath.Base(strings.TrimSpace(string(out)))
	return err == nil && (name == "postgres" || name == "postmaster")
}
