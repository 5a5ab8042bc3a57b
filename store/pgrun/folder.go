//go:build unix

package pgrun

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// folder is a data folder and the account that the server runs as in it.
type folder struct {
	Config
	dir     string // absolute, without symbolic links
	account account
}

// openFolder makes the data folder if it is missing and checks that it is ours to use.
func openFolder(c Config) (*folder, error) {
	dir := c.Data
	if dir == "" {
		var err error
		if dir, err = DefaultData(); err != nil {
			return nil, err
		}
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := makeFolder(dir); err != nil {
		return nil, fmt.Errorf("the data folder %s cannot be made: %w", dir, err)
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return nil, err
	}
	f := &folder{Config: c, dir: dir}
	if f.account, err = chooseAccount(f.pgdata(), c.accounts); err != nil {
		return nil, err
	}
	return f, f.check()
}

// makeFolder makes a folder for us alone. When we are root, the server's account must be able to pass through it.
func makeFolder(dir string) error {
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	mode := fs.FileMode(0o700)
	if os.Geteuid() == 0 {
		mode = 0o711
	}
	if err := os.MkdirAll(dir, mode); err != nil {
		return err
	}
	return os.Chmod(dir, mode) // whatever the umask is
}

func (f *folder) check() error {
	info, err := os.Stat(f.dir)
	if err != nil {
		return err
	}
	switch uid := owner(info); {
	case !info.IsDir():
		return fmt.Errorf("%s is not a folder: choose another data folder", f.dir)
	case uid != os.Geteuid() && uid != f.account.uid:
		return fmt.Errorf("the data folder %s belongs to another account (number %d)."+
			" Start as that account, or choose another data folder", f.dir, uid)
	case info.Mode().Perm()&0o002 != 0:
		return fmt.Errorf("every account may write to the data folder %s."+
			" Close it (chmod o-w), or choose another data folder", f.dir)
	}
	return nil
}

func (f *folder) path(name string) string { return filepath.Join(f.dir, name) }
func (f *folder) pgdata() string          { return f.path("pgdata") }
func (f *folder) logFile() string         { return f.path("postgres.log") }

// major returns the major version of the PostgreSQL that made the databases, or 0 if there are none yet. It is an
// error if what is there is not whole.
func (f *folder) major() (int, error) {
	entries, err := os.ReadDir(f.pgdata())
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	for _, name := range []string{"PG_VERSION", "global/pg_control"} {
		if _, err := os.Stat(filepath.Join(f.pgdata(), name)); err != nil {
			return 0, fmt.Errorf("%s is not a whole PostgreSQL data folder (%s is missing). Put a backup of it back, or"+
				" move it away to begin with empty databases. Nothing was changed", f.pgdata(), name)
		}
	}
	text, err := os.ReadFile(filepath.Join(f.pgdata(), "PG_VERSION"))
	if err != nil {
		return 0, err
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, fmt.Errorf("%s does not name a version of PostgreSQL. Put a backup of the folder back, or move it"+
			" away to begin with empty databases. Nothing was changed", filepath.Join(f.pgdata(), "PG_VERSION"))
	}
	return major, nil
}

// mark keeps the folders of tests apart from all others, in both directions. Call it holding start.lock.
func (f *folder) mark() error {
	marker := f.path("volatile")
	_, err := os.Stat(marker)
	marked := err == nil
	switch {
	case marked && !f.Volatile:
		return fmt.Errorf("%s is for tests, and what is in it gets thrown away: choose another data folder", f.dir)
	case marked || !f.Volatile:
		return nil
	}
	if _, err := os.Stat(f.pgdata()); err == nil {
		return fmt.Errorf("%s holds databases to keep: choose another data folder for tests", f.dir)
	}
	return os.WriteFile(marker, []byte("For tests: the databases in this folder are thrown away.\n"), 0o600)
}

// wipe throws the databases of a test folder away. Call it holding start.lock, and only if no server runs.
func (f *folder) wipe() error {
	if !f.Volatile {
		return nil
	}
	if err := f.mark(); err != nil {
		return err
	}
	return os.RemoveAll(f.pgdata())
}
