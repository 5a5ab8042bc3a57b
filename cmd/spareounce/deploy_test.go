package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spareounce/store/storetest"
)

// tool runs a general tool on our files, and gives what it printed. Where it is not installed the test is skipped, and says
// what has not been checked.
func tool(t *testing.T, unchecked, name string, args ...string) (printed string, err error) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skipf("%s IS NOT INSTALLED, SO %s", strings.ToUpper(name), unchecked)
	}
	c := exec.Command(name, args...)
	c.Dir = "../.."
	out, err := c.CombinedOutput()
	return string(out), err
}

// TestTheServiceUnit has systemd itself check the unit, and hold it to its own measure of exposure, without starting it.
func TestTheServiceUnit(t *testing.T) {
	t.Parallel()
	unit, err := os.ReadFile("../../deploy/spareounce.service")
	if err != nil {
		t.Fatal(err)
	}
	here, err := os.Executable() // the program need not be installed for this
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "spareounce.service")
	if err := os.WriteFile(path, bytes.ReplaceAll(unit, []byte("/usr/local/bin/spareounce"), []byte(here)), 0o600); err != nil {
		t.Fatal(err)
	}
	const unchecked = "deploy/spareounce.service WAS NOT CHECKED."
	if out, err := tool(t, unchecked, "systemd-analyze", "verify", path); err != nil || strings.TrimSpace(out) != "" {
		t.Errorf("systemd: %v\n%s", err, out)
	}
	// exposure from 0 to 10, times ten: "safe" ends at 2, "ok" at 5
	if out, err := tool(t, unchecked, "systemd-analyze", "security", "--offline=true", "--threshold=20", path); err != nil {
		t.Errorf("systemd finds it exposed: %v\n%s", err, out)
	}
}

// TestTheComposeFile has docker-compose read the file with a token and without, and looks at what it makes of it.
func TestTheComposeFile(t *testing.T) {
	for _, token := range []string{"", "a.b.c"} {
		t.Setenv("SPAREOUNCE_DISCORD_TOKEN", token)
		out, err := tool(t, "docker-compose.yml WAS NOT CHECKED.", "docker-compose", "--file", "docker-compose.yml", "config")
		if err != nil {
			t.Fatalf("docker-compose: %v\n%s", err, out)
		}
		if token == "" {
			token = "''"
		}
		for _, want := range []string{"127.0.0.1:8765:8765", "condition: service_healthy", "dockerfile: deploy/Dockerfile", "read_only: true", "SPAREOUNCE_DISCORD_TOKEN: " + token + "\n"} {
			if !strings.Contains(out, want) {
				t.Errorf("it makes nothing of %q:\n%s", want, out)
			}
		}
	}
}

// TestTheImage builds deploy/Dockerfile with buildah, which needs no container engine, on a stand-in for the golang image
// that has this machine's Go and modules in it; then it runs the image's program as the image's user in the image's own
// files, with the compose file's environment, on a database beside it. It takes minutes, so it runs on request.
func TestTheImage(t *testing.T) {
	const unchecked = "deploy/Dockerfile WAS NOT BUILT."
	if os.Getenv("SPAREOUNCE_FULL") == "" {
		t.Skip(unchecked + " SPAREOUNCE_FULL=1 builds it.")
	}
	if os.Geteuid() != 0 {
		t.Skip(unchecked + " Only root can, without a container engine.")
	}
	keep := t.TempDir()
	b := func(args ...string) string {
		t.Helper()
		all := append([]string{"--root", keep + "/store", "--runroot", keep + "/run", "--storage-driver", "vfs"}, args...)
		out, err := tool(t, unchecked, "buildah", all...)
		if err != nil {
			t.Fatalf("buildah %s: %v\n%s", args[0], err, out)
		}
		return strings.TrimSpace(out)
	}
	b("commit", "--quiet", buildBase(t, b), "docker.io/library/golang:1.26")
	b("bud", "--pull-never", "--isolation", "chroot", "--volume", goEnv(t, "GOROOT")+":/usr/local/go:ro", "--volume", goEnv(t, "GOMODCACHE")+":/root/go/pkg/mod",
		"--env", "GOPROXY=off", "--file", "deploy/Dockerfile", "--tag", "spareounce", ".")
	container := b("from", "--pull-never", "localhost/spareounce")
	files := b("mount", container)
	holdsOnly(t, files, "spareounce", "etc/ssl/certs/ca-certificates.crt")

	database, err := url.Parse(storetest.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	database.Host, database.RawQuery = relay(t, database.Query().Get("host")+"/.s.PGSQL."+database.Query().Get("port")), "sslmode=disable"
	address := freeAddress(t)
	run := exec.Command("buildah", "--root", keep+"/store", "--runroot", keep+"/run", "--storage-driver", "vfs", "run", "--isolation", "chroot",
		"--env", "SPAREOUNCE_DATABASE_URL="+database.String(), "--env", "SPAREOUNCE_LISTEN="+address, "--env", "SPAREOUNCE_PUBLISHED=true", container, "--", "/spareounce", "serve")
	var out bytes.Buffer
	run.Stdout, run.Stderr = &out, &out
	if err := run.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = run.Process.Kill()
		_ = run.Wait()
	})
	for end := time.Now().Add(time.Minute); ; time.Sleep(100 * time.Millisecond) {
		answer, err := http.Get("http://" + address)
		if err == nil {
			_ = answer.Body.Close()
			if answer.StatusCode != http.StatusOK {
				t.Error(answer.Status)
			}
			return
		}
		if time.Now().After(end) {
			t.Fatalf("the room never opened: %v\n%s", err, &out)
		}
	}
}

// buildBase makes a container with as much of the golang image as our file needs: a shell, and certificates. Go comes in as
// a volume.
func buildBase(t *testing.T, b func(...string) string) string {
	t.Helper()
	root := t.TempDir()
	files := map[string]string{"/bin/sh": "/bin/sh", "/etc/ssl/certs/ca-certificates.crt": "/etc/ssl/certs/ca-certificates.crt"}
	linked, err := exec.Command("ldd", "/bin/sh").Output()
	if err != nil {
		t.Fatal(err)
	}
	for word := range strings.FieldsSeq(string(linked)) {
		if strings.HasPrefix(word, "/") {
			files[word] = word
		}
	}
	for from, to := range files {
		data, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll(root+filepath.Dir(to), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(root+to, data, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.MkdirAll(root+"/tmp", 0o777); err != nil {
		t.Fatal(err)
	}
	container := b("from", "scratch")
	b("copy", "--quiet", container, root, "/")
	b("config", "--env", "PATH=/usr/local/go/bin:/bin", "--env", "HOME=/root", "--env", "GOTOOLCHAIN=local", container)
	return container
}

// holdsOnly looks for files that have no business in the image.
func holdsOnly(t *testing.T, root string, names ...string) {
	t.Helper()
	found := map[string]bool{}
	err := filepath.Walk(root, func(path string, f os.FileInfo, err error) error {
		if err == nil && !f.IsDir() {
			found[strings.TrimPrefix(path, root+"/")] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if !found[name] {
			t.Errorf("the image has no %s", name)
		}
		delete(found, name)
	}
	if len(found) > 0 {
		t.Errorf("the image also has %s", fmt.Sprint(found))
	}
}

func goEnv(t *testing.T, name string) string {
	t.Helper()
	out, err := exec.Command("go", "env", name).Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

// relay brings what connects to an address on this machine to a socket that the image's user may not open.
func relay(t *testing.T, socket string) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			from, err := l.Accept()
			if err != nil {
				return
			}
			to, err := net.Dial("unix", socket)
			if err != nil {
				_ = from.Close()
				continue
			}
			go func() { _, _ = io.Copy(to, from); _ = to.Close() }()
			go func() { _, _ = io.Copy(from, to); _ = from.Close() }()
		}
	}()
	return l.Addr().String()
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
