//go:build unix

package pgrun

import (
	"context"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sys/unix"
)

// A data folder has three lock files, none of which is ever deleted:
//
//	start.lock   held alone by whoever is about to start, attach to or stop the server, and only meanwhile
//	users.lock   shared by every Server; whoever can have it alone is the last
//	server.lock  held by the server itself: it inherits the open file, so the kernel lets go of the lock when the
//	             last process of the server is gone, however it went
const (
	startLock  = "start.lock"
	usersLock  = "users.lock"
	serverLock = "server.lock"
	watchLock  = "watch.lock" // held by StopWhenUnused
)

// lock is an open lock file. It is a bare descriptor on purpose: an *os.File that nobody refers to any more is closed
// by the garbage collector, and the lock would be gone while its owner still works. A lock lasts until release or the
// end of the process.
type lock struct{ fd int }

const (
	shared    = unix.LOCK_SH
	exclusive = unix.LOCK_EX
)

// tryLock takes the lock on the file at path, or reports false when someone else has it.
func tryLock(path string, how int) (lock, bool, error) {
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_CREAT|unix.O_CLOEXEC|unix.O_NOFOLLOW, 0o600)
	if err != nil {
		return lock{}, false, fmt.Errorf("%s cannot be opened (%w): it belongs to another account, or the disk is read-only", path, err)
	}
	l := lock{fd}
	got, err := l.turn(how)
	if err != nil || !got {
		l.release()
		return lock{}, false, err
	}
	return l, true, nil
}

// waitLock is tryLock, again and again until ctx is done. The kernel could wait for us, but not be told to stop.
func waitLock(ctx context.Context, path string, how int) (lock, error) {
	for {
		l, got, err := tryLock(path, how)
		if err != nil || got {
			return l, err
		}
		if err := pause(ctx, 20*time.Millisecond); err != nil {
			return lock{}, fmt.Errorf("waiting for %s: %w", path, err)
		}
	}
}

// held reports whether anyone holds the lock on the file at path alone.
func held(path string) (bool, error) {
	l, got, err := tryLock(path, shared)
	if got {
		l.release()
	}
	return !got, err
}

// turn takes the lock in the way named, or reports false when others are in the way. The lock it had before is then
// lost, so only call it while holding start.lock.
func (l lock) turn(how int) (bool, error) {
	for {
		err := unix.Flock(l.fd, how|unix.LOCK_NB)
		switch {
		case err == nil:
			return true, nil
		case errors.Is(err, unix.EWOULDBLOCK):
			return false, nil
		case !errors.Is(err, unix.EINTR):
			return false, fmt.Errorf("locking: %w", err)
		}
	}
}

func (l lock) release() { _ = unix.Close(l.fd) }

// pause waits for d, or returns the error of ctx if that is done first.
func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
