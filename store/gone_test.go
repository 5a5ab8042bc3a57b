package store_test

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/series"
	"spareounce/store"
	"spareounce/store/storetest"
)

// TestAGroupThatSentUsAwayIsForgotten fills a group, has it send us away, and looks a month later for anything left of it.
func TestAGroupThatSentUsAwayIsForgotten(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	url := storetest.Database(t)
	now := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	st, err := store.Open(ctx, url, func() time.Time { return now }, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	fill := func(chat string) store.Group {
		g := made(st.Group(ctx, chat, "The table"))(t)
		if err := st.SaveSeries(ctx, g.ID, run(2)); err != nil {
			t.Fatal(err)
		}
		for _, who := range []string{"1", "2"} {
			m := made(st.Join(ctx, g.ID, who, who, false, ""))(t)
			_, _, err := st.Change(ctx, m, "spare", func(shelf *store.Shelf) error {
				key := shelf.Row("run", map[string]string{"1": "1980", "2": "1981"}[who], series.Unsaid)
				if err := shelf.Hold(key, 1, true); err != nil {
					return err
				}
				if err := shelf.Offer(key, 1, true); err != nil {
					return err
				}
				want := map[string]string{"1": "1981", "2": "1980"}[who]
				return shelf.Wish(store.WantKey{Series: "run", Wanted: want}, []string{want}, 1, true, func(*store.Want) {})
			})
			if err != nil {
				t.Fatal(err)
			}
			key := store.HoldingKey{Series: "run", Piece: "1980"}
			_, _, err = st.Buy(ctx, g, m, nil, func(shelf *store.Shelf, _ []string) (string, []store.Purchase, error) {
				shelf.Add(key, 1)
				return "bought", []store.Purchase{{Key: key, Quantity: 1, Price: 3500, Currency: "USD"}}, nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if err := st.Rematch(ctx, m.ID); err != nil {
				t.Fatal(err)
			}
			if err := st.Wait(ctx, g.ID, who, "k", "later"); err != nil {
				t.Fatal(err)
			}
		}
		return g
	}
	fill("gone")
	stays := fill("stays")
	if err := st.GroupGone(ctx, "gone"); err != nil {
		t.Fatal(err)
	}
	now = now.Add(store.RememberGone - time.Minute)
	if err := st.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	if n := count(t, url, `SELECT count(*) FROM groups`); n != 2 {
		t.Fatal("forgotten too early")
	}
	now = now.Add(time.Minute)
	if err := st.Tick(ctx); err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	rows, _ := conn.Query(ctx, `SELECT table_name FROM information_schema.columns WHERE table_schema = 'public' AND column_name = 'group_id'`)
	tables := made(pgx.CollectRows(rows, pgx.RowTo[string]))(t)
	for _, table := range tables {
		if n := count(t, url, `SELECT count(*) FROM `+table+` WHERE group_id <> $1`, stays.ID); n != 0 {
			t.Errorf("%d rows of %s are left of the group", n, table)
		}
	}
	for _, table := range []string{"groups", "members", "holdings", "wants", "pieces", "series", "trades", "chat_waiting"} {
		if n := count(t, url, `SELECT count(*) FROM `+table+` WHERE group_id = $1`, stays.ID); n == 0 {
			t.Errorf("%s of the other group are gone too", table)
		}
	}
}

func count(t *testing.T, url, query string, args ...any) (n int) {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if err := conn.QueryRow(t.Context(), query, args...).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// made unwraps what must not fail.
func made[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
