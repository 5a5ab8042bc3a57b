package match

import (
	"os"
	"path/filepath"
	"testing"
)

// given is where the pools and instances that every matcher is measured by lie: SPAREOUNCE_MATCHING_DATA, or else
// ../shared/matching beside the repository. None of it is part of the repository. A test that needs what is not there
// says so and is skipped.
func given(t testing.TB, elements ...string) string {
	t.Helper()
	root := os.Getenv("SPAREOUNCE_MATCHING_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "shared", "matching")
	}
	path := filepath.Join(append([]string{root}, elements...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("NOT CHECKED: %v. Set SPAREOUNCE_MATCHING_DATA to the folder of pools and instances.", err)
	}
	return path
}

// givenPool reads one of the given pools.
func givenPool(t testing.TB, name string) *Pool {
	t.Helper()
	f, err := os.Open(given(t, "pools", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := ReadPool(f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}
