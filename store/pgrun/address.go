//go:build unix

package pgrun

import (
	"crypto/sha256"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
)

const (
	superuser = "postgres"

	// socketPort is part of the name of the socket file and nothing else.
	socketPort = "5432"

	// longestSocket is how long the path of the socket's folder may be, in bytes. The kernel's limit for the whole
	// path is 104 on macOS and 108 on Linux (sys/un.h), of which "/.s.PGSQL.5432" and the final zero take 15.
	longestSocket = 80
)

// address is where a server listens: on a socket in a folder, or on a port of 127.0.0.1 when socket is empty.
type address struct{ socket, port string }

func (a address) network() string {
	if a.socket != "" {
		return "unix"
	}
	return "tcp"
}

func (a address) dial() string {
	if a.socket != "" {
		return filepath.Join(a.socket, ".s.PGSQL."+a.port)
	}
	return net.JoinHostPort("127.0.0.1", a.port)
}

// url returns a connection string that pgx and libpq understand.
func (a address) url(database, password string) string {
	u := url.URL{Scheme: "postgres", User: url.User(superuser), Path: "/" + database}
	query := url.Values{"sslmode": {"disable"}}
	if a.socket != "" {
		query.Set("host", a.socket)
		query.Set("port", a.port)
	} else {
		u.User = url.UserPassword(superuser, password)
		u.Host = net.JoinHostPort("127.0.0.1", a.port)
	}
	// Both read "+" as itself here, as RFC 3986 has it, and not as the space of a web form.
	u.RawQuery = strings.ReplaceAll(query.Encode(), "+", "%20")
	return u.String()
}

// listen chooses where a new server is to listen, and makes the folder of its socket.
func (f *folder) listen() (address, error) {
	if !f.noSocket {
		hashed := fmt.Sprintf("spareounce-%x", sha256.Sum256([]byte(f.dir)))[:len("spareounce-")+12]
		for _, dir := range []string{f.path("socket"), filepath.Join(os.TempDir(), hashed), filepath.Join("/tmp", hashed)} {
			err := f.socketFolder(dir)
			if err == nil {
				return address{socket: dir, port: socketPort}, nil
			}
			f.log().Debug("no socket here", "folder", dir, "err", err)
		}
	}
	port, err := freePort()
	return address{port: port}, err
}

// socketFolder makes an empty folder that only the server's account can enter, and sees whether a socket can be made
// in it. The folder must not be one that somebody else has put there first.
func (f *folder) socketFolder(dir string) error {
	if len(dir) > longestSocket {
		return fmt.Errorf("its path is longer than %d bytes", longestSocket)
	}
	if strings.ContainsAny(dir, ",\n") {
		return fmt.Errorf("its path has a comma, which in an address parts two of them")
	}
	if err := os.Mkdir(dir, 0o700); err == nil {
		if err := f.account.own(dir); err != nil {
			return err
		}
	}
	info, err := os.Lstat(dir)
	if err != nil {
		return err
	}
	if !info.IsDir() || owner(info) != f.account.uid || info.Mode().Perm() != 0o700 {
		return fmt.Errorf("it is not a private folder of %s", f.account.name)
	}
	// What a server that was killed left behind would stop the next one, if a stranger has its process number now.
	file := filepath.Join(dir, ".s.PGSQL."+socketPort)
	for _, left := range []string{file, file + ".lock"} {
		if err := os.RemoveAll(left); err != nil {
			return err
		}
	}
	probe, err := net.Listen("unix", file)
	if err != nil {
		return err
	}
	return probe.Close() // which removes the file too
}

// freePort draws a port that nobody has at this moment.
func freePort() (string, error) {
	probe, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return "", fmt.Errorf("neither a Unix socket nor a port of 127.0.0.1 can be had here: %w", err)
	}
	defer probe.Close()
	_, port, err := net.SplitHostPort(probe.Addr().String())
	return port, err
}
