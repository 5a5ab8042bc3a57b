//go:build unix

package pgrun

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// passwordFile lies among the databases, so that it is there whenever they are.
const passwordFile = "spareounce.password"

// make makes empty databases. They are made beside their place and then renamed, so that they are there wholly or not
// at all. The guard is the server lock: if we die, whoever comes next waits until initdb is gone as well.
func (f *folder) make(ctx context.Context, p programs, guard *os.File) error {
	fresh := f.path("pgdata.new")
	if _, err := os.Stat(fresh); err == nil {
		f.say("An earlier first start was cut short before it kept anything. Beginning again.")
		if err := os.RemoveAll(fresh); err != nil {
			return err
		}
	}
	f.say(fmt.Sprintf("Making a database folder in %s with PostgreSQL %d.", f.dir, p.major))
	if err := os.Mkdir(fresh, 0o700); err != nil {
		return err
	}
	if err := f.account.own(fresh); err != nil {
		return err
	}
	password := f.path("password.new")
	if err := os.RemoveAll(password); err != nil {
		return err
	}
	if err := os.WriteFile(password, []byte(rand.Text()+"\n"), 0o600); err != nil {
		return err
	}
	if err := f.account.own(password); err != nil {
		return err
	}
	if err := f.initdb(ctx, p, guard, fresh, password); err != nil {
		return errors.Join(err, os.RemoveAll(fresh), os.Remove(password))
	}
	if err := os.Rename(password, filepath.Join(fresh, passwordFile)); err != nil {
		return err
	}
	if err := os.Rename(fresh, f.pgdata()); err != nil {
		return err
	}
	return syncFolder(f.dir)
}

func (f *folder) initdb(ctx context.Context, p programs, guard *os.File, fresh, password string) error {
	args := []string{
		"--pgdata=" + fresh, "--username=" + superuser, "--pwfile=" + password,
		"--auth-local=trust", "--auth-host=scram-sha-256", // the socket's folder is closed, a port is not
		"--encoding=UTF8", "--locale=C", "--data-checksums", "--no-instructions",
	}
	if f.Volatile {
		args = append(args, "--no-sync")
	}
	cmd := f.command(ctx, filepath.Join(p.bin, "initdb"), args...)
	cmd.ExtraFiles = []*os.File{guard}
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	err := cmd.Run()
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return fmt.Errorf("making the databases: %w", ctx.Err())
	case strings.Contains(said.String(), "could not look up effective user ID"):
		return fmt.Errorf("the account number %d has no entry in /etc/passwd, and PostgreSQL wants one."+
			" Start as another account, or give the address of a server: --database-url", f.account.uid)
	}
	return fmt.Errorf("the databases could not be made in %s (initdb: %w): %s", f.dir, err, lastLines(said.String()))
}

// command prepares a program of the server: as its account, in a session of its own, with only the environment that it
// needs. The rest is not its business: tokens and passwords are among it. If ctx is done before the program ends, the
// program and all that it started are killed.
func (f *folder) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir = f.dir
	cmd.SysProcAttr = f.account.process()
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
	cmd.WaitDelay = 5 * time.Second
	cmd.Env = []string{"LC_ALL=C"} // which keeps macOS from starting threads, and messages in English
	for _, name := range []string{"PATH", "HOME", "TMPDIR", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"} {
		if value, ok := os.LookupEnv(name); ok {
			cmd.Env = append(cmd.Env, name+"="+value)
		}
	}
	return cmd
}

// lastLines returns the end of what a program said, on one line: its FATAL lines if there are any.
func lastLines(said string) string {
	lines := strings.Split(strings.TrimSpace(said), "\n")
	var fatal []string
	for _, line := range lines {
		if _, after, ok := strings.Cut(line, "FATAL: "); ok {
			fatal = append(fatal, strings.TrimSpace(after))
		}
	}
	if len(fatal) > 0 {
		lines = fatal
	}
	return strings.Join(lines[max(0, len(lines)-4):], "; ")
}

// syncFolder makes a rename in the folder outlive a power cut.
func syncFolder(dir string) error {
	file, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer file.Close()
	if err := file.Sync(); err != nil && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, syscall.EINVAL) {
		return err // some file systems cannot, and say that it is invalid
	}
	return nil
}
