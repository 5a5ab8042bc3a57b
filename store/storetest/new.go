package storetest

import (
	"log/slog"
	"testing"
	"time"

	"spareounce/store"
)

// Database returns the address of a fresh database with the present schema, gone when the test ends.
func Database(t testing.TB) string {
	t.Helper()
	return Clone(t, store.Migrate, store.SchemaFingerprint())
}

// New returns a store on a fresh database; now is its clock.
func New(t testing.TB, now func() time.Time) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), Database(t), now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}
