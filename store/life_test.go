package store_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"pgregory.net/rapid"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// life is a random group whose members press anything at any time, on a real database.
type life struct {
	*store.Store
	sql     *pgx.Conn
	clock   *atomic.Int64 // nanoseconds after monday
	group   store.Group
	members []store.Member
	whole   string // what all members held together at first
	dice    *rand.Rand
	chart   map[string]bool
}

// However members of whatever group press whatever at whatever time, every piece is somewhere exactly once, nothing is
// promised twice, a refusal changes nothing, what is told is what the state chart says, and time ends every trade.
func TestALifeOfTrades(t *testing.T) {
	t.Parallel()
	address := storetest.Database(t)
	var clock atomic.Int64
	now := func() time.Time { return monday.Add(time.Duration(clock.Load())) }
	s, err := store.Open(t.Context(), address, now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close(context.WithoutCancel(t.Context())) })
	groups := 0
	chart := rowsOfChart()
	rapid.Check(t, func(t *rapid.T) {
		groups++
		// By a seed, for rapid draws mostly near the ends of a range, and groups so drawn have next to no trades.
		dice := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		l := &life{Store: s, sql: conn, clock: &clock, chart: chart, dice: dice}
		l.found(t, fmt.Sprint("group ", groups))
		for range 10 + dice.IntN(30) {
			l.press(t)
			l.holds(t)
		}
		l.timeEndsEverything(t)
	})
}

// rowsOfChart are the chart's lines without who is told: state, event, state after.
func rowsOfChart() map[string]bool {
	rows := map[string]bool{}
	for line := range strings.Lines(trade.Chart()) {
		if cells := strings.Split(line, "|"); len(cells) > 4 {
			rows[strings.TrimSpace(cells[1])+"|"+strings.TrimSpace(cells[2])+"|"+strings.TrimSpace(cells[3])] = true
		}
	}
	return rows
}

// found makes a group: three to six members, some keepers, with spares, gifts and wants, some of them quiet.
func (l *life) found(t *rapid.T, name string) {
	ctx := context.Background()
	g, err := l.Group(ctx, name, name)
	must(t, err)
	must(t, l.SaveSeries(ctx, g.ID, run(8)))
	g, err = l.Group(ctx, name, name)
	must(t, err)
	for i := range 3 + l.dice.IntN(4) {
		m, err := l.Join(ctx, g.ID, fmt.Sprint(i), fmt.Sprintf("Member %d", i), l.dice.IntN(3) == 0, "")
		must(t, err)
		l.members = append(l.members, m)
	}
	g.Sending = pick(l.dice, []store.Sending{store.Together, store.NewerFirst, store.InMiddle})
	if g.Sending == store.InMiddle {
		g.Middle = new(pick(l.dice, l.members).ID)
	}
	must(t, l.SaveGroup(ctx, g))
	if l.group, err = l.Group(ctx, name, name); l.dice.IntN(2) == 0 {
		must(t, l.SaveSpot(ctx, g.ID, store.Spot{At: monday, Currency: "USD", Price: 31 * melt.PriceUnit, Source: "a keeper"}))
	}
	must(t, err)
	for _, m := range l.members {
		_, _, err := l.Change(ctx, m, "said", func(shelf *store.Shelf) error { return l.furnish(shelf) })
		must(t, err)
	}
	l.whole = l.ask(t, everyPiece, l.group.ID)
	for _, m := range l.members {
		must(t, l.Rematch(ctx, m.ID))
	}
}

func (l *life) furnish(shelf *store.Shelf) error {
	for range 1 + l.dice.IntN(4) {
		key := store.HoldingKey{Series: "run", Piece: l.anyPiece()}
		if err := shelf.Offer(key, 1+l.dice.IntN(2), true); err != nil {
			return err
		}
		gift, quiet := l.dice.IntN(4) == 0, l.dice.IntN(5) == 0
		shelf.Describe(key, func(h *store.Holding) { h.Gift, h.Quiet = gift, quiet })
	}
	for range 1 + l.dice.IntN(5) {
		piece := l.anyPiece()
		quiet := l.dice.IntN(5) == 0
		err := shelf.Wish(store.WantKey{Series: "run", Wanted: piece}, []string{piece}, 1, true, func(w *store.Want) { w.Quiet = quiet })
		if err != nil {
			return err
		}
	}
	return nil
}

func (l *life) anyPiece() string { return fmt.Sprint(1980 + l.dice.IntN(8)) }

func pick[T any](dice *rand.Rand, from []T) T { return from[dice.IntN(len(from))] }

func must(t *rapid.T, err error) {
	if err != nil {
		t.Helper()
		t.Fatal(err)
	}
}

// deeds are what may come next, as often as they are listed.
var deeds = append(slices.Repeat([]string{"event"}, 20), "look", "look", "offer", "offer", "offer", "offer", "undo", "time", "time", "door")

// press has somebody do something, or time pass.
func (l *life) press(t *rapid.T) {
	ctx := context.Background()
	m := pick(l.dice, l.members)
	switch pick(l.dice, deeds) {
	case "look":
		must(t, l.Rematch(ctx, m.ID))
	case "offer":
		l.offer(t, m)
	case "undo":
		before := l.ask(t, everything, l.group.ID)
		_, err := l.Undo(ctx, m)
		l.refusedOnlyThat(t, "undo", err, before)
		l.whole = l.ask(t, everyPiece, l.group.ID) // what a member says they hold may change what there is
	case "time":
		l.clock.Add(int64(time.Duration(pick(l.dice, []int{1, 30, 80, 200, 600})) * time.Hour))
		must(t, l.PassTime(ctx))
	case "door":
		if l.dice.IntN(2) == 0 {
			must(t, l.Leave(ctx, m))
		} else {
			_, err := l.Join(ctx, l.group.ID, m.Account, m.Name, m.Keeper, "")
			must(t, err)
		}
	default:
		l.event(t, m)
	}
}

// offer has a member put an offer or a counter-offer to another.
func (l *life) offer(t *rapid.T, m store.Member) {
	ctx := context.Background()
	asked := func(m store.Member) []store.Asked {
		shelf, err := l.Shelf(ctx, m)
		must(t, err)
		held := slices.SortedFunc(maps.Keys(shelf.Holdings), func(a, b store.HoldingKey) int { return strings.Compare(a.Piece, b.Piece) })
		held = append(held, store.HoldingKey{Series: "run", Piece: l.anyPiece()})
		return []store.Asked{{Key: pick(l.dice, held), Count: 1 + l.dice.IntN(5)/4}}
	}
	o := store.Offer{To: pick(l.dice, l.members), Give: asked(m)}
	if l.dice.IntN(4) > 0 {
		o.Get = asked(o.To)
		o.Paid = melt.Minor(pick(l.dice, []int{0, 0, 500}))
	}
	before := l.ask(t, everything, l.group.ID)
	if open := l.open(t, m); len(open) > 0 && l.dice.IntN(2) == 0 {
		_, err := l.CounterTrade(ctx, l.group, m, pick(l.dice, open).Number, 0, o)
		l.refusedOnlyThat(t, "counter", err, before)
		return
	}
	_, err := l.OfferTrade(ctx, l.group, m, o)
	l.refusedOnlyThat(t, "offer", err, before)
}

func (l *life) open(t *rapid.T, m store.Member) []store.Trade {
	open, err := l.OpenTrades(context.Background(), m)
	must(t, err)
	return open
}

// event has somebody, mostly a party, make something happen to one of a member's trades.
func (l *life) event(t *rapid.T, m store.Member) {
	ctx := context.Background()
	open := l.open(t, m)
	for i := 0; len(open) == 0 && i < len(l.members); i++ {
		open = l.open(t, l.members[i])
	}
	if len(open) == 0 {
		return
	}
	one := pick(l.dice, open)
	if agreed := slices.IndexFunc(open, func(one store.Trade) bool { return one.State == trade.Agreed }); agreed >= 0 && l.dice.IntN(2) == 0 {
		one = open[agreed]
	}
	m = pick(l.dice, l.members)
	if p := pick(l.dice, one.Parties); l.dice.IntN(10) > 0 {
		m = l.members[slices.IndexFunc(l.members, func(m store.Member) bool { return m.Identity() == p.Member })]
	}
	e := l.anyEvent(m.Identity(), one)
	before, told := l.ask(t, everything, l.group.ID), l.ask(t, lastNotice, l.group.ID)
	want, notices, refused := one.Apply(e)
	_, err := l.MoveTrade(ctx, m, one.Number, e)
	l.refusedOnlyThat(t, fmt.Sprintf("%T%+v", e, e), err, before)
	if errors.Is(err, store.ErrNoTrade) {
		return
	}
	if (err == nil) != (refused == nil) {
		t.Fatalf("%T%+v: the store says %v, the rules say %v", e, e, err, refused)
	}
	if err != nil {
		return
	}
	l.isInChart(t, one.Trade, e, want)
	l.toldAsSaid(t, one, want, notices, told)
}

func (l *life) anyEvent(me match.Member, one store.Trade) trade.Event {
	at := monday.Add(time.Duration(l.clock.Load()))
	accept := trade.Accept{By: me, Version: one.Version, At: at}
	events := append(slices.Repeat([]trade.Event{accept}, 20),
		trade.Decline{By: me}, trade.TakeBack{By: me}, trade.LeaveOut{By: me, Piece: one.Items[0].Piece, At: at})
	if one.State == trade.Agreed {
		events = []trade.Event{
			trade.Ship{By: me, At: at}, trade.Ship{By: me, At: at, Anyway: true}, trade.PassOn{By: me, At: at}, trade.Arrive{By: me, At: at},
			trade.Receive{By: me, At: at}, trade.Receive{By: me, At: at}, trade.Object{By: me, Problem: trade.WrongPiece, At: at},
			trade.Object{By: me, Problem: trade.NotArrived, At: at}, trade.Pay{By: me, At: at}, trade.GetPaid{By: me, At: at},
			trade.Break{By: me}, accept,
		}
	}
	return pick(l.dice, events)
}

// refusedOnlyThat checks that what was refused was refused for a reason a member can be told, and changed nothing.
func (l *life) refusedOnlyThat(t *rapid.T, what string, err error, before string) {
	if err == nil {
		return
	}
	refusal, _ := errors.AsType[*trade.Refusal](err)
	short, _ := errors.AsType[*store.NotSpareError](err)
	overtaken, _ := errors.AsType[*store.OvertakenError](err)
	promised, _ := errors.AsType[*store.PromisedError](err)
	deed, _ := errors.AsType[*store.DeedError](err)
	plain := errors.Is(err, store.ErrNoTrade) || errors.Is(err, store.ErrNothingToUndo)
	if refusal == nil && short == nil && overtaken == nil && promised == nil && deed == nil && !plain {
		t.Fatalf("%s: %v", what, err)
	}
	if after := l.ask(t, everything, l.group.ID); after != before {
		t.Fatalf("%s was refused (%v), and yet something has changed", what, err)
	}
}

// isInChart checks that what happened stands in the state chart.
func (l *life) isInChart(t *rapid.T, before trade.Trade, e trade.Event, after trade.Trade) {
	to := after.State.String()
	if after.Ending != trade.None {
		to += ", " + after.Ending.String()
	}
	row := before.State.String() + "|" + strings.TrimPrefix(fmt.Sprintf("%T", e), "trade.") + "|" + to
	if !l.chart[row] {
		t.Fatalf("%s is not in the chart", row)
	}
}

// toldAsSaid checks that exactly those are told of a trade who must be: a party once for each notice, and for the keepers
// each one who has no part in it.
func (l *life) toldAsSaid(t *rapid.T, one store.Trade, now trade.Trade, notices []trade.Notice, last string) {
	want := map[string]int{}
	for _, n := range notices {
		if n.To != trade.Keepers {
			want[string(n.To)]++
			continue
		}
		for _, m := range l.members {
			fresh := l.ask(t, `SELECT (keeper AND left_at IS NULL)::text FROM members WHERE member_id = $1`, m.ID)
			if id := m.Identity(); fresh == "true" && !one.Has(id) && id != now.Middle {
				want[string(id)]++
			}
		}
	}
	got := map[string]int{}
	rows, _ := l.sql.Query(context.Background(), `
		SELECT member_id::text FROM notices JOIN members USING (member_id)
		WHERE group_id = $1 AND notice_id > $2::bigint AND (body->>'Trade')::bigint = $3`, l.group.ID, last, one.Number)
	told, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(t, err)
	for _, id := range told {
		got[id]++
	}
	if !maps.Equal(got, want) {
		t.Fatalf("of trade %d are told %v, want %v: %v", one.Number, got, want, notices)
	}
}

const (
	everyPiece = `SELECT coalesce(string_agg(piece || ' x' || n, ', ' ORDER BY piece), '') FROM (
		SELECT piece, sum(quantity) AS n FROM holdings WHERE group_id = $1 GROUP BY piece) held`
	lastNotice = `SELECT coalesce(max(notice_id), 0)::text FROM notices JOIN members USING (member_id) WHERE group_id = $1`
	// everything is a fingerprint of all that a group has told us and been promised.
	everything = `SELECT md5(concat(
		(SELECT string_agg(h::text, '|' ORDER BY holding_id) FROM holdings h WHERE group_id = $1),
		(SELECT string_agg(w::text, '|' ORDER BY want_id) FROM wants w WHERE group_id = $1),
		(SELECT string_agg(t::text, '|' ORDER BY trade_id) FROM trades t WHERE group_id = $1),
		(SELECT string_agg(p::text, '|' ORDER BY trade_id, position) FROM trade_parties p JOIN trades USING (trade_id) WHERE group_id = $1),
		(SELECT string_agg(i::text, '|' ORDER BY trade_id, position) FROM trade_items i JOIN trades USING (trade_id) WHERE group_id = $1),
		(SELECT string_agg(u::text, '|' ORDER BY trade_id, position) FROM trade_topups u JOIN trades USING (trade_id) WHERE group_id = $1),
		(SELECT string_agg(d::text, '|' ORDER BY trade_id, n) FROM trade_deeds d JOIN trades USING (trade_id) WHERE group_id = $1),
		(SELECT string_agg(n::text, '|' ORDER BY notice_id) FROM notices n JOIN members USING (member_id) WHERE group_id = $1),
		(SELECT string_agg(l::text, '|' ORDER BY entry_id) FROM ledger l WHERE group_id = $1)))`
	// broken counts rows whose promises are not what the agreed trades still owe: a piece not accepted, a want not met.
	broken = `
		WITH owed AS (
			SELECT i.holding_id, i.want_id FROM trade_items i JOIN trades t USING (trade_id)
			JOIN trade_parties g ON g.trade_id = i.trade_id AND g.member_id = i.to_member
			WHERE t.group_id = $1 AND t.state = 'agreed' AND NOT g.received)
		SELECT ((SELECT count(*) FROM holdings h WHERE group_id = $1
				AND taken <> (SELECT count(*) FROM owed WHERE owed.holding_id = h.holding_id))
			+ (SELECT count(*) FROM wants w WHERE group_id = $1
				AND taken <> (SELECT count(*) FROM owed WHERE owed.want_id = w.want_id))
			+ (SELECT count(*) FROM owed WHERE holding_id NOT IN (SELECT holding_id FROM holdings)))::text`
)

// ask answers one question to the database with one text.
func (l *life) ask(t *rapid.T, question string, args ...any) (answer string) {
	must(t, l.sql.QueryRow(context.Background(), question, args...).Scan(&answer))
	return answer
}

// holds checks what must hold at any time.
func (l *life) holds(t *rapid.T) {
	if whole := l.ask(t, everyPiece, l.group.ID); whole != l.whole {
		t.Fatalf("held at first %s, now %s", l.whole, whole)
	}
	if n := l.ask(t, broken, l.group.ID); n != "0" {
		t.Fatalf("%s promises are not what the agreed trades owe", n)
	}
}

// timeEndsEverything lets time pass until no trade is open: what is promised then is nothing.
func (l *life) timeEndsEverything(t *rapid.T) {
	for range 12 {
		l.clock.Add(int64(22 * 24 * time.Hour))
		must(t, l.PassTime(context.Background()))
		l.holds(t)
	}
	for _, m := range l.members {
		if open := l.open(t, m); slices.ContainsFunc(open, func(one store.Trade) bool { return true }) {
			t.Fatalf("stuck: %+v", open[0])
		}
	}
	if n := l.ask(t, `SELECT (coalesce((SELECT sum(taken) FROM holdings WHERE group_id = $1), 0)
		+ coalesce((SELECT sum(taken) FROM wants WHERE group_id = $1), 0))::text`, l.group.ID); n != "0" {
		t.Fatalf("%s are still promised", n)
	}
}
