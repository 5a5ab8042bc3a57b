//go:build unix

package pgrun

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// launched is a server that this process started, and therefore waits for.
type launched struct {
	postmaster
	exited chan struct{}
	err    error // why it ended; read it only after exited is closed
}

// launch starts a server on the folder, whose databases it makes first if there are none. Call it holding start.lock,
// and only if no server runs.
func (f *folder) launch(ctx context.Context) (*launched, error) {
	if err := f.wipe(); err != nil {
		return nil, err
	}
	p, err := f.choose(ctx)
	if err != nil {
		return nil, err
	}
	l, err := waitLock(ctx, f.path(serverLock), exclusive)
	if err != nil {
		return nil, err
	}
	guard := os.NewFile(uintptr(l.fd), serverLock)
	defer guard.Close() // the server has it by then
	major, err := f.major()
	if err != nil {
		return nil, err
	}
	if major == 0 {
		if err := f.make(ctx, p, guard); err != nil {
			return nil, err
		}
	}
	if err := f.account.ownAll(f.pgdata()); err != nil {
		return nil, err
	}
	for try := 1; ; try++ {
		server, err := f.try(ctx, p, guard)
		if err == nil {
			f.log().InfoContext(ctx, "postgres started", "version", p.major, "process", server.pid, "data", f.dir)
		}
		if !errors.Is(err, errPortTaken) || try == 5 {
			return server, err
		}
	}
}

var errPortTaken = errors.New("the port was taken meanwhile")

// try starts the server once and waits until it is ready, or ended, or ctx is done.
func (f *folder) try(ctx context.Context, p programs, guard *os.File) (*launched, error) {
	at, err := f.listen()
	if err != nil {
		return nil, err
	}
	if err := f.disown(); err != nil {
		return nil, err
	}
	logFile, err := f.openLog()
	if err != nil {
		return nil, err
	}
	defer logFile.Close()
	// Not this ctx: it is about starting, and the server is to live on.
	cmd := f.command(context.WithoutCancel(ctx), filepath.Join(p.bin, "postgres"), f.settings(at)...)
	cmd.Stdout, cmd.Stderr = logFile, logFile
	cmd.ExtraFiles = []*os.File{guard}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("PostgreSQL did not start: %w", err)
	}
	server := wait(cmd)
	for {
		select {
		case <-server.exited:
			return nil, f.stillborn(server.err)
		case <-ctx.Done():
			_ = cmd.Process.Signal(syscall.SIGQUIT)
			select {
			case <-server.exited:
			case <-time.After(5 * time.Second):
				_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
				<-server.exited
			}
			return nil, fmt.Errorf("starting PostgreSQL: %w", ctx.Err())
		case <-time.After(20 * time.Millisecond):
		}
		if now, err := readPostmaster(f.pgdata()); err == nil && now.pid == cmd.Process.Pid && now.status == "ready" {
			server.postmaster = now
			return server, nil
		}
	}
}

func wait(cmd *exec.Cmd) *launched {
	server := &launched{exited: make(chan struct{})}
	go func() {
		server.err = cmd.Wait()
		close(server.exited)
	}()
	return server
}

func (f *folder) settings(at address) []string {
	set := []string{
		"unix_socket_directories=", "listen_addresses=127.0.0.1", "port=" + at.port,
		"unix_socket_permissions=0700",
		"timezone=UTC", "log_timezone=UTC",
		"logging_collector=off", "log_destination=stderr",
		// Errors go to whoever caused them. In the log they would only repeat what members wrote.
		"log_min_messages=log", "log_min_error_statement=panic",
	}
	if at.socket != "" {
		set[0] += `"` + strings.ReplaceAll(at.socket, `"`, `""`) + `"`
		set[1] = "listen_addresses="
	}
	if f.Volatile {
		set = append(set, "fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_connections=300")
	}
	args := []string{"-D", f.pgdata()}
	for _, s := range set {
		args = append(args, "-c", s)
	}
	return args
}

// openLog begins a new log and keeps the one before.
func (f *folder) openLog() (*os.File, error) {
	if err := os.Rename(f.logFile(), f.logFile()+".old"); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	return os.OpenFile(f.logFile(), os.O_WRONLY|os.O_CREATE|os.O_EXCL|os.O_APPEND, 0o600)
}

// stillborn explains a server that ended before it was ready.
func (f *folder) stillborn(exit error) error {
	said := f.readLog()
	if strings.Contains(said, "could not bind IPv4 address") {
		return errPortTaken
	}
	return fmt.Errorf("PostgreSQL did not start (%w): %s. Its whole log is %s", exitError(exit), lastLines(said), f.logFile())
}

// died explains a server that ended while it was in use.
func (f *folder) died(exit error) error {
	return fmt.Errorf("PostgreSQL stopped unexpectedly (%w). Committed data is safe: start again. Its log is %s",
		exitError(exit), f.logFile())
}

func exitError(err error) error {
	if err == nil {
		return errors.New("told to by someone else")
	}
	return err
}

// readLog returns the end of the server's log.
func (f *folder) readLog() string {
	file, err := os.Open(f.logFile())
	if err != nil {
		return ""
	}
	defer file.Close()
	const tail = 16 << 10
	if info, err := file.Stat(); err == nil && info.Size() > tail {
		_, _ = file.Seek(-tail, io.SeekEnd)
	}
	text, _ := io.ReadAll(file)
	return string(text)
}
