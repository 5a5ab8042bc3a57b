package discord

import (
	"flag"
	"os"
	"testing"
)

// TestMain runs several tests at once even on few processors: they wait for the database and for time to pass far more than they
// compute.
func TestMain(m *testing.M) {
	flag.Parse()
	if err := flag.Set("test.parallel", "5"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}
