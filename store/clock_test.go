package store_test

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// A trade that was agreed before there were clocks gets one from the first tick on, and loses nothing: what had arrived by
// then is delivered.
func TestATradeFromBeforeTheClockGetsOne(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	tb := furnish(t, openAt(t, address, still), 2)
	number := tb.swap(t, 0, 1, "1980", "1981")
	for _, m := range tb.members {
		if _, err := tb.MoveTrade(t.Context(), m, number, trade.Accept{By: m.Identity(), Version: 1, At: monday}); err != nil {
			t.Fatal(err)
		}
	}
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context()))
	// As the first schema left it: one piece said to have come, delivered only at the end; a deadline long gone.
	if _, err := conn.Exec(t.Context(), `
		UPDATE trades SET deadline = '2026-01-01';
		UPDATE trade_parties SET stage = 'waiting', due = NULL, nudges = 0, received = position = 0, shipped = position = 1`); err != nil {
		t.Fatal(err)
	}
	if err := tb.PassTime(t.Context()); err != nil {
		t.Fatal(err)
	}
	one, err := tb.TradeOf(t.Context(), tb.members[0], number)
	if err != nil {
		t.Fatal(err)
	}
	if one.State != trade.Agreed || !one.Deadline.Equal(monday.Add(trade.Within(trade.ToSend))) {
		t.Errorf("it is %v, due %v", one.State, one.Deadline)
	}
	for i, p := range one.Parties {
		if want := []trade.Stage{trade.ToSend, trade.Done}[i]; p.Stage != want {
			t.Errorf("what party %d gives is %v, want %v", i, p.Stage, want)
		}
	}
	tb.checkPromises(t)
	if held := tb.held(t); held["1980"] != 1 || held["1981"] != 1 {
		t.Errorf("held: %v", held)
	}
}

// However many processes serve the clock, who was kept waiting by all of them being away is told so once.
func TestBeingAwayIsSaidOnce(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	tb := furnish(t, openAt(t, address, still), 3)
	tb.swap(t, 0, 1, "1980", "1981")
	if err := tb.Tick(t.Context()); err != nil {
		t.Fatal(err)
	}
	week := openAt(t, address, func() time.Time { return monday.Add(7 * 24 * time.Hour) })
	for range 3 {
		if err := week.Tick(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context()))
	rows, _ := conn.Query(t.Context(), `SELECT member_id FROM notices WHERE kind = 'away' ORDER BY member_id`)
	told, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil || len(told) != 2 || told[0] != tb.members[0].ID || told[1] != tb.members[1].ID {
		t.Errorf("told: %v, %v; want the two who stand in the trade", told, err)
	}
}

// openAt is a store on a database that others use too; now is its clock.
func openAt(t *testing.T, address string, now func() time.Time) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), address, now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}
