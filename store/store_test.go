package store_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

var monday = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

func still() time.Time { return monday }

// run is a series of years at one ounce.
func run(years int) series.Series {
	s := series.Series{Code: "run", Name: "Run", Metal: melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}}
	for i := range years {
		code := fmt.Sprint(1980 + i)
		s.Pieces = append(s.Pieces, series.Piece{Code: code, Label: code, Year: 1980 + i})
		s.Slots = append(s.Slots, series.Slot{Code: code, Label: code, Fill: []string{code}})
	}
	return s
}

// table is a group with a series and members.
type table struct {
	*store.Store
	group   store.Group
	members []store.Member
}

func newTable(t testing.TB, members int) *table {
	t.Helper()
	return furnish(t, storetest.New(t, still), members)
}

// furnish sits members down at an empty store.
func furnish(t testing.TB, s *store.Store, members int) *table {
	t.Helper()
	g, err := s.Group(t.Context(), "table", "Table")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SaveSeries(t.Context(), g.ID, run(20)); err != nil {
		t.Fatal(err)
	}
	if g, err = s.Group(t.Context(), "table", "Table"); err != nil {
		t.Fatal(err)
	}
	tb := &table{Store: s, group: g}
	for i := range members {
		m, err := s.Join(t.Context(), g.ID, fmt.Sprint(i), fmt.Sprintf("Member %d", i), false, "")
		if err != nil {
			t.Fatal(err)
		}
		tb.members = append(tb.members, m)
	}
	return tb
}

func (tb *table) change(t testing.TB, m store.Member, edit func(*store.Shelf) error) {
	t.Helper()
	if _, _, err := tb.Change(t.Context(), m, "said", edit); err != nil {
		t.Fatal(err)
	}
}

func spare(piece string, n int) func(*store.Shelf) error {
	return func(s *store.Shelf) error {
		return s.Offer(store.HoldingKey{Series: "run", Piece: piece}, n, true)
	}
}

func want(piece string) func(*store.Shelf) error {
	return func(s *store.Shelf) error {
		return s.Wish(store.WantKey{Series: "run", Wanted: piece}, []string{piece}, 1, false, func(*store.Want) {})
	}
}

// swap has members a and b each hold what the other lacks, and proposes it.
func (tb *table) swap(t testing.TB, a, b int, pieceA, pieceB string) int64 {
	t.Helper()
	tb.change(t, tb.members[a], spare(pieceA, 1))
	tb.change(t, tb.members[a], want(pieceB))
	tb.change(t, tb.members[b], spare(pieceB, 1))
	tb.change(t, tb.members[b], want(pieceA))
	if err := tb.Rematch(t.Context(), tb.members[b].ID); err != nil {
		t.Fatal(err)
	}
	open, err := tb.OpenTrades(t.Context(), tb.members[b])
	if err != nil || len(open) == 0 {
		t.Fatal(open, err)
	}
	return open[len(open)-1].Number
}

func TestTwoAcceptInTheSameInstant(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 2)
	number := tb.swap(t, 0, 1, "1980", "1981")
	var all sync.WaitGroup
	for i := range 10 { // each of the two, five times at once
		m := tb.members[i%2]
		all.Go(func() {
			_, err := tb.MoveTrade(t.Context(), m, number, trade.Accept{By: m.Identity(), Version: 1, At: monday})
			if refusal, ok := errors.AsType[*trade.Refusal](err); err != nil && (!ok || refusal.Why != trade.AlreadyDone) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	one, err := tb.TradeOf(t.Context(), tb.members[0], number)
	if err != nil || one.State != trade.Agreed {
		t.Fatal(one.State, err)
	}
	shelf, err := tb.Shelf(t.Context(), tb.members[0])
	if err != nil {
		t.Fatal(err)
	}
	if h := shelf.Holdings[store.HoldingKey{Series: "run", Piece: "1980"}]; h.Taken != 1 {
		t.Fatalf("%+v", h)
	}
}

func TestSchemaRefusesToPromiseTwice(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(t.Context(), `
		INSERT INTO groups (chat, name) VALUES ('g', 'g');
		INSERT INTO members (group_id, account, name, joined_at) VALUES (1, 'a', 'a', now());
		INSERT INTO series VALUES (1, 'run', '{}');
		INSERT INTO pieces VALUES (1, 'run', '1980');
		INSERT INTO holdings (group_id, member_id, series, piece, quantity, spare, taken) VALUES (1, 1, 'run', '1980', 1, 1, 1)`); err != nil {
		t.Fatal(err)
	}
	for _, sql := range []string{
		`UPDATE holdings SET taken = taken + 1`, `UPDATE holdings SET spare = 0`, `UPDATE holdings SET spare = 2`, `UPDATE holdings SET quantity = 0`,
	} {
		if _, err := conn.Exec(t.Context(), sql); err == nil {
			t.Errorf("%s was let through", sql)
		}
	}
}

// However members behave, no piece is promised twice, none is lost and none appears: what all hold together is what all
// held at first, and every promise stands in an agreed trade.
func TestManyMembersAtOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 8)
	random := rand.New(rand.NewPCG(1, 2))
	for i, m := range tb.members {
		for piece := range 6 {
			if (i+piece)%3 != 0 {
				tb.change(t, m, spare(fmt.Sprint(1980+(i+piece*3)%12), 1+piece%2))
			}
			tb.change(t, m, want(fmt.Sprint(1980+(i*5+piece)%12)))
		}
	}
	before := tb.held(t)
	for _, m := range tb.members {
		if err := tb.Rematch(t.Context(), m.ID); err != nil {
			t.Fatal(err)
		}
	}
	var all sync.WaitGroup
	for i, m := range tb.members {
		seed := random.Uint64()
		all.Go(func() {
			own := rand.New(rand.NewPCG(seed, uint64(i)))
			for range 40 {
				tb.press(t, m, own)
			}
		})
	}
	all.Wait()
	after := tb.held(t)
	for piece, n := range before {
		if after[piece] != n {
			t.Errorf("%s: %d held at first, %d now", piece, n, after[piece])
		}
	}
	tb.checkPromises(t)
}

// press has a member do something with one of their trades.
func (tb *table) press(t *testing.T, m store.Member, own *rand.Rand) {
	open, err := tb.OpenTrades(t.Context(), m)
	if err != nil {
		t.Error(err)
		return
	}
	if len(open) == 0 {
		if err := tb.Rematch(t.Context(), m.ID); err != nil {
			t.Error(err)
		}
		return
	}
	one := open[own.IntN(len(open))]
	me := m.Identity()
	var e trade.Event
	switch n := own.IntN(10); {
	case one.State == trade.Agreed && n < 4:
		e = trade.Ship{By: me, At: monday}
	case one.State == trade.Agreed:
		e = trade.Receive{By: me, At: monday}
	case n < 8:
		e = trade.Accept{By: me, Version: one.Version, At: monday}
	case n < 9:
		e = trade.LeaveOut{By: me, Piece: one.Items[0].Piece, Version: one.Version, At: monday}
	default:
		e = trade.Decline{By: me}
	}
	_, err = tb.MoveTrade(t.Context(), m, one.Number, e)
	if _, refused := errors.AsType[*trade.Refusal](err); err != nil && !refused {
		t.Error(err)
	}
}

// held counts what all members hold, by piece.
func (tb *table) held(t *testing.T) map[string]int {
	t.Helper()
	sum := map[string]int{}
	for _, m := range tb.members {
		shelf, err := tb.Shelf(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for key, h := range shelf.Holdings {
			sum[key.Piece] += h.Quantity
		}
	}
	return sum
}

// checkPromises holds what is taken of every holding against the agreed trades.
func (tb *table) checkPromises(t *testing.T) {
	t.Helper()
	promised := map[int64]int{}
	seen := map[int64]bool{}
	for _, m := range tb.members {
		open, err := tb.OpenTrades(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range open {
			if one.State == trade.Agreed && !seen[one.ID] {
				seen[one.ID] = true
				for _, item := range one.Items {
					if !delivered(one, item) {
						promised[item.Holding]++
					}
				}
			}
		}
	}
	for _, m := range tb.members {
		shelf, err := tb.Shelf(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for key, h := range shelf.Holdings {
			if h.Taken != promised[h.ID] {
				t.Errorf("%v of %s: %d taken, %d in agreed trades", key, m.Name, h.Taken, promised[h.ID])
			}
		}
	}
}

// delivered reports whether a piece of a trade has moved already.
func delivered(one store.Trade, item trade.Item) bool {
	for _, p := range one.Parties {
		if p.Member == item.To {
			return p.Received
		}
	}
	return false
}

func TestRefusedEditChangesNothing(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	m := tb.members[0]
	tb.change(t, m, spare("1980", 2))
	refusal := errors.New("no")
	_, _, err := tb.Change(t.Context(), m, "said", func(s *store.Shelf) error {
		_ = spare("1981", 1)(s)
		return refusal
	})
	if !errors.Is(err, refusal) {
		t.Fatal(err)
	}
	shelf, err := tb.Shelf(t.Context(), m)
	if err != nil || len(shelf.Holdings) != 1 {
		t.Fatal(shelf, err)
	}
	if _, err := tb.Undo(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if _, err := tb.Undo(t.Context(), m); !errors.Is(err, store.ErrNothingToUndo) {
		t.Fatal(err)
	}
}

func TestPieceInUseStays(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	tb.change(t, tb.members[0], want("1985"))
	err := tb.SaveSeries(t.Context(), tb.group.ID, run(3))
	if _, ok := errors.AsType[*store.PieceInUseError](err); !ok {
		t.Fatal(err)
	}
	if err := tb.SaveSeries(t.Context(), tb.group.ID, run(6)); err != nil {
		t.Fatal(err)
	}
}
