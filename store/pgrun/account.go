//go:build unix

package pgrun

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// account is whom the server runs as.
type account struct {
	name     string
	uid, gid int
	drop     bool // we are root, and it is not
}

// chooseAccount returns ourselves, unless we are root. Then it is whoever owns the databases that are already there,
// or the first of names that this machine knows.
func chooseAccount(pgdata string, names []string) (account, error) {
	if uid := os.Geteuid(); uid != 0 {
		return account{name: "you", uid: uid, gid: os.Getegid()}, nil
	}
	if info, err := os.Stat(pgdata); err == nil && owner(info) != 0 {
		u, err := user.LookupId(strconv.Itoa(owner(info)))
		if err != nil {
			return account{}, fmt.Errorf("%s belongs to the account number %d, which this machine does not know."+
				" Give the folder to the account postgres: sudo chown -R postgres %s", pgdata, owner(info), pgdata)
		}
		return dropTo(u)
	}
	if names == nil {
		names = []string{"postgres", "nobody"}
	}
	for _, name := range names {
		if u, err := user.Lookup(name); err == nil && u.Uid != "0" {
			return dropTo(u)
		}
	}
	return account{}, errors.New("PostgreSQL refuses to run as root, and this machine has no account named " +
		strings.Join(names, " or ") + ". Start as an ordinary user instead")
}

func dropTo(u *user.User) (account, error) {
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return account{}, err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return account{}, err
	}
	return account{name: u.Username, uid: uid, gid: gid, drop: true}, nil
}

// process returns how a program of this account is to be started: in a session of its own, so that the terminal's
// Ctrl-C reaches us alone and we can still write while we stop.
func (a account) process() *syscall.SysProcAttr {
	attr := &syscall.SysProcAttr{Setsid: true}
	if a.drop {
		attr.Credential = &syscall.Credential{Uid: uint32(a.uid), Gid: uint32(a.gid)}
	}
	return attr
}

// own gives what we made at path to the account.
func (a account) own(path string) error {
	if !a.drop {
		return nil
	}
	return os.Lchown(path, a.uid, a.gid)
}

// ownAll gives path, and all that is in it, to the account if root has it, as after a backup was put back by root.
func (a account) ownAll(path string) error {
	info, err := os.Stat(path)
	if err != nil || !a.drop || owner(info) != 0 {
		return err
	}
	return filepath.WalkDir(path, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return a.own(path)
	})
}

// owner returns the number of the account that a file belongs to.
func owner(info fs.FileInfo) int {
	return int(info.Sys().(*syscall.Stat_t).Uid)
}
