//go:build unix

package pgrun

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// databases puts what looks like a whole data folder of the given major version into data.
func databases(t *testing.T, data string, version string) {
	t.Helper()
	for name, text := range map[string]string{"PG_VERSION": version + "\n", "global/pg_control": "control", "base/1/112": "a table"} {
		path := filepath.Join(data, "pgdata", name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// unchanged checks that f leaves all that is in data as it was, the lock files and the marker apart.
func unchanged(t *testing.T, data string, f func()) {
	t.Helper()
	before := contents(t, data)
	f()
	if after := contents(t, data); after != before {
		t.Errorf("the folder was changed from\n%s\nto\n%s", before, after)
	}
}

func contents(t *testing.T, data string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(data, func(path string, d fs.DirEntry, err error) error {
		if err != nil || strings.HasSuffix(path, ".lock") || path == data {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		fmt.Fprint(&b, path, info.Mode(), owner(info))
		if info.Mode().IsRegular() {
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, " %x", sha256.Sum256(text))
		}
		b.WriteByte('\n')
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestAnotherMajorVersionIsRefused(t *testing.T) {
	t.Parallel()
	for _, version := range []string{"13", "99"} {
		data := home(t)
		databases(t, data, version)
		unchanged(t, data, func() {
			mustRefuse(t, Config{Data: data}, "made by PostgreSQL "+version, "only these were found",
				"Install the programs of version "+version, "Nothing was changed")
		})
	}
}

func TestADamagedFolderIsRefused(t *testing.T) {
	t.Parallel()
	for _, missing := range []string{"PG_VERSION", "global/pg_control"} {
		data := home(t)
		databases(t, data, "15")
		if err := os.Remove(filepath.Join(data, "pgdata", missing)); err != nil {
			t.Fatal(err)
		}
		unchanged(t, data, func() {
			mustRefuse(t, Config{Data: data}, "not a whole PostgreSQL data folder", missing, "backup", "Nothing was changed")
		})
	}
	data := home(t)
	databases(t, data, "fifteen")
	unchanged(t, data, func() {
		mustRefuse(t, Config{Data: data}, "PG_VERSION", "does not name a version", "Nothing was changed")
	})
}

func TestAHalfMadeFolderIsMadeAgain(t *testing.T) {
	t.Parallel()
	data := home(t)
	half := filepath.Join(data, "pgdata.new", "base")
	if err := os.MkdirAll(half, 0o700); err != nil {
		t.Fatal(err)
	}
	var said []string
	s := start(t, Config{Data: data, Volatile: true, Say: func(line string) { said = append(said, line) }})
	if err := run(s, "SELECT 1"); err != nil {
		t.Error(err)
	}
	if len(said) != 2 || !strings.Contains(said[0], "Beginning again") || !strings.Contains(said[1], "Making a database folder") {
		t.Errorf("a person was told %q", said)
	}
	if exists(filepath.Join(data, "pgdata.new")) {
		t.Error("the half-made folder is still there")
	}
}

func TestAFolderForEveryoneIsRefused(t *testing.T) {
	t.Parallel()
	data := home(t)
	if err := os.Chmod(data, 0o777); err != nil {
		t.Fatal(err)
	}
	mustRefuse(t, Config{Data: data}, data, "every account may write", "chmod o-w")
}

func TestAFileIsNoDataFolder(t *testing.T) {
	t.Parallel()
	file := filepath.Join(home(t), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	mustRefuse(t, Config{Data: file}, file, "is not a folder")
}

func TestNoPrograms(t *testing.T) {
	t.Parallel()
	data := dataFolder(t)
	mustRefuse(t, Config{Data: data, bins: []string{"/nowhere"}}, "no PostgreSQL (14 or newer) on this machine",
		"sudo apt-get install postgresql", "brew install postgresql@17", "--database-url")
	entries, err := os.ReadDir(data)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".lock") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

func TestDefaultData(t *testing.T) {
	got, err := DefaultData()
	if err != nil {
		t.Fatal(err)
	}
	if os.Geteuid() == 0 {
		if got != "/var/lib/spareounce" {
			t.Errorf("for root: %s", got)
		}
		return
	}
	// XDG Base Directory Specification 0.8: "All paths set in these environment variables must be absolute. If an
	// implementation encounters a relative path … it should consider the path invalid and ignore it."
	t.Setenv("XDG_DATA_HOME", "/somewhere/else")
	if got, _ := DefaultData(); got != "/somewhere/else/spareounce" {
		t.Errorf("with an absolute XDG_DATA_HOME: %s", got)
	}
	t.Setenv("XDG_DATA_HOME", "relative")
	if got, _ := DefaultData(); strings.Contains(got, "relative") {
		t.Errorf("with a relative XDG_DATA_HOME: %s", got)
	}
}
