//go:build unix

package pgrun

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The lines are what real servers answer to --version, from memory except for Debian's, which was run.
func TestMajorOf(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]int{
		"postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)": 15,
		"postgres (PostgreSQL) 17.2":                           17,
		"postgres (PostgreSQL) 18beta1":                        18,
		"postgres (PostgreSQL) 19devel":                        19,
		"postgres (PostgreSQL) 9.6.24":                         9,
	} {
		if got, err := majorOf(line); err != nil || got != want {
			t.Errorf("%q: got %d, %v, want %d", line, got, err, want)
		}
	}
	for _, line := range []string{"", "postgres", "17.2", "postgres (PostgreSQL) ", "postgres (PostgreSQL) devel"} {
		if got, err := majorOf(line); err == nil {
			t.Errorf("%q was read as %d", line, got)
		}
	}
}

func TestUsualPlacesAreWellFormed(t *testing.T) {
	t.Parallel()
	for _, place := range usualPlaces {
		if _, err := filepath.Glob(place); err != nil || !filepath.IsAbs(place) {
			t.Errorf("%s: %v", place, err)
		}
	}
}

func TestNewestUsualPlaceFirst(t *testing.T) {
	t.Parallel()
	places := []string{"/usr/lib/postgresql/9.6/bin", "/usr/lib/postgresql/15/bin", "/opt/homebrew/opt/postgresql@17/bin"}
	if versionIn(places[1]) != 15 || versionIn(places[2]) != 17 || versionIn("/usr/local/pgsql/bin") != 0 {
		t.Errorf("versions read: %d, %d, %d", versionIn(places[1]), versionIn(places[2]), versionIn("/usr/local/pgsql/bin"))
	}
}

// impostor makes programs that only know their version.
func impostor(t *testing.T, dir, version string) string {
	t.Helper()
	bin := filepath.Join(dir, "postgres-"+version, "bin")
	if err := os.MkdirAll(bin, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"postgres", "initdb"} {
		script := "#!/bin/sh\necho 'postgres (PostgreSQL) " + version + "'\n"
		if err := os.WriteFile(filepath.Join(bin, name), []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return bin
}

func TestChoose(t *testing.T) {
	t.Parallel()
	place := home(t)
	old, middle, late := impostor(t, place, "13.9"), impostor(t, place, "16.1"), impostor(t, place, "18.0")
	broken := filepath.Join(place, "broken")
	if err := os.MkdirAll(broken, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name      string
		databases string
		bins      []string
		want      string // a folder, or words of the error
	}{
		{"the first that is new enough", "", []string{broken, "/nowhere", old, middle, late}, middle},
		{"the order counts, not the version", "", []string{late, middle}, late},
		{"the version of the databases", "18", []string{middle, late}, late},
		{"even one that is too old to begin with", "13", []string{late, old}, old},
		{"a name twice is one", "17", []string{late, late, filepath.Join(late, "..", "bin")}, "only these were found: 18 (" + late + ")."},
		{"only one that is too old", "", []string{old}, "no PostgreSQL (14 or newer) on this machine, only 13"},
		{"databases, but no programs", "16", nil, "but this machine has no PostgreSQL. Install the programs of version 16"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			data := home(t)
			if test.databases != "" {
				databases(t, data, test.databases)
			}
			f, err := openFolder(Config{Data: data, bins: slices.Concat([]string{"/nowhere"}, test.bins)})
			if err != nil {
				t.Fatal(err)
			}
			p, err := f.choose(t.Context())
			if p.bin != test.want && (err == nil || !strings.Contains(err.Error(), test.want)) {
				t.Errorf("got %v, %v, want %s", p, err, test.want)
			}
		})
	}
}

// Whatever else there is, on a machine whose PATH has a PostgreSQL that one comes first.
func TestFindOnThisMachine(t *testing.T) {
	t.Parallel()
	f, err := openFolder(Config{Data: dataFolder(t)})
	if err != nil {
		t.Fatal(err)
	}
	found, err := f.find(t.Context())
	if err != nil || len(found) == 0 {
		t.Fatalf("found %v, %v", found, err)
	}
	for _, p := range found {
		if !hasPrograms(p.bin) || p.major == 0 {
			t.Errorf("found %v", p)
		}
	}
}
