package store_test

import (
	"context"
	"encoding/json"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// statements remembers every statement that was said, with its arguments.
type statements struct {
	mu   sync.Mutex
	said map[string][]any
}

func (s *statements) TraceQueryStart(ctx context.Context, _ *pgx.Conn, q pgx.TraceQueryStartData) context.Context {
	s.note(q.SQL, q.Args)
	return ctx
}
func (s *statements) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (s *statements) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return ctx
}

func (s *statements) TraceBatchQuery(_ context.Context, _ *pgx.Conn, q pgx.TraceBatchQueryData) {
	s.note(q.SQL, q.Args)
}
func (s *statements) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

func (s *statements) note(sql string, args []any) {
	verb, _, _ := strings.Cut(strings.TrimSpace(strings.ToUpper(sql)), " ")
	if slices.Contains([]string{"SELECT", "INSERT", "UPDATE", "DELETE", "WITH"}, strings.TrimSpace(verb)) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.said[sql] = slices.Clone(args)
	}
}

// plan is a step of a plan as EXPLAIN (FORMAT JSON) writes it (PostgreSQL's manual, section 14.1).
type plan struct {
	Type     string `json:"Node Type"`
	Relation string `json:"Relation Name"`
	Plans    []plan
}

// Whatever members say, no statement reads a large table from end to end: not among a hundred groups who have traded for
// years.
func TestNoStatementReadsALargeTableWhole(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	heard := &statements{said: map[string][]any{}}
	s, err := store.OpenTraced(t.Context(), address, func() time.Time { return storetest.Now }, slog.New(slog.DiscardHandler), heard)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	c := storetest.Crowd{Groups: 60, Members: 50, Trades: 400, Open: 3}
	g := c.Fill(t, address, s)[20]
	clear(heard.said)
	ordinaryDay(t, s, g, c)

	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	large := query(t, conn, `SELECT relname FROM pg_class WHERE relkind = 'r' AND reltuples > 2000 ORDER BY 1`)
	if !slices.Contains(large, "trades") || !slices.Contains(large, "wants") || !slices.Contains(large, "members") {
		t.Fatalf("large are only %v: the test says nothing", large)
	}
	// Tables of this size are quickly read whole. Reading is made dearer, as if they were so much larger.
	if _, err := conn.Exec(t.Context(), `SET seq_page_cost = 40`); err != nil {
		t.Fatal(err)
	}
	if len(heard.said) < 40 {
		t.Fatalf("only %d statements were heard: the test says little", len(heard.said))
	}
	for sql, args := range heard.said {
		for _, table := range scanned(t, conn, sql, args) {
			if slices.Contains(large, table) {
				t.Errorf("%s is read from end to end by\n%s", table, sql)
			}
		}
	}
}

// scanned are the tables that a statement would read from end to end.
func scanned(t *testing.T, conn *pgx.Conn, sql string, args []any) (tables []string) {
	t.Helper()
	var text []byte
	if err := conn.QueryRow(t.Context(), `EXPLAIN (FORMAT JSON) `+sql, args...).Scan(&text); err != nil {
		t.Errorf("%v: %s", err, sql)
		return nil
	}
	var explained []struct{ Plan plan }
	if err := json.Unmarshal(text, &explained); err != nil {
		t.Fatal(err)
	}
	var walk func(p plan)
	walk = func(p plan) {
		if strings.HasSuffix(p.Type, "Seq Scan") {
			tables = append(tables, p.Relation)
		}
		for _, below := range p.Plans {
			walk(below)
		}
	}
	walk(explained[0].Plan)
	return tables
}

// ordinaryDay has members of a group do everything that members often do.
func ordinaryDay(t *testing.T, s *store.Store, g store.Group, c storetest.Crowd) {
	t.Helper()
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	same, err := s.Group(ctx, g.Chat, g.Name)
	must(err)
	ann, err := s.Join(ctx, same.ID, "a1", "Member 1", false, "")
	must(err)
	bo, err := s.Join(ctx, same.ID, "a2", "Member 2", false, "")
	must(err)
	_, err = s.Join(ctx, same.ID, "new", "New", false, "")
	must(err)
	_, err = s.Catalogue(ctx, same)
	must(err)
	_, err = s.Members(ctx, g.ID)
	must(err)
	_, err = s.MemberNames(ctx, g.ID)
	must(err)
	_, err = s.Spot(ctx, g)
	must(err)

	tb := &table{Store: s, group: same, members: []store.Member{ann, bo}}
	tb.change(t, ann, spare("1985", 2))
	tb.change(t, ann, want("1986"))
	_, err = s.Undo(ctx, ann)
	must(err)
	_, err = s.Who(ctx, ann, "run", []string{"1990"})
	must(err)
	_, err = s.Scarcest(ctx, g.ID, "run", 10)
	must(err)
	_, err = s.Wanters(ctx, ann, store.HoldingKey{Series: "run", Piece: "1985"})
	must(err)
	_, err = s.Shelf(ctx, bo)
	must(err)

	_, err = s.OpenTrades(ctx, ann)
	must(err)
	first := int64(c.Trades + 1)
	for _, move := range []struct {
		by     store.Member
		number int64
		event  trade.Event
	}{
		{ann, first, trade.Accept{By: ann.Identity(), Version: 1, At: storetest.Now}},
		{bo, first, trade.Accept{By: bo.Identity(), Version: 1, At: storetest.Now}},
		{ann, first + 1, trade.Decline{By: ann.Identity()}},
		{ann, first, trade.Ship{By: ann.Identity()}},
		{ann, first, trade.Receive{By: ann.Identity()}},
		{bo, first, trade.Receive{By: bo.Identity()}},
	} {
		one, err := s.MoveTrade(ctx, move.by, move.number, move.event)
		must(err)
		if move.number == first && one.State == trade.Ended {
			t.Fatal(one)
		}
	}
	must(s.Rematch(ctx, ann.ID))
	must(s.CallMeetup(ctx, g.ID, storetest.Now.Add(48*time.Hour), "the library"))
	for _, m := range tb.members {
		_, err = s.Come(ctx, m, true)
		must(err)
	}
	_, _, err = s.PlanMeetup(ctx, g.ID)
	must(err)
	must(s.Tick(ctx))
	u := &unlucky{}
	tb.work(t, u, func() bool { return u.count("Member 1") > 0 && u.count("Member 2") > 0 })
	must(s.Leave(ctx, bo))
}
