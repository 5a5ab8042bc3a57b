package storetest

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// Crowd is how much a database holds that has been in use for years.
type Crowd struct {
	Groups  int
	Members int // of each group, an even number
	Trades  int // of each group, closed long ago
	Open    int // swaps between each two neighbours that wait for an answer
}

// Long is when the trades of a crowd were closed, Now when those that wait were proposed.
var (
	Long = time.Date(2024, 3, 4, 10, 0, 0, 0, time.UTC)
	Now  = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
)

// Fill makes a crowd in an empty database, and returns the store on it, whose clock stands still at Now, and its groups.
// Every group collects the series "run", of which members have some pieces, spare some and want some; neighbours, by
// account "a1" and "a2", "a3" and "a4", have pieces of the series "deal" that they are asked to swap: the trades from
// Trades+1 on, Open for each two, are theirs in turn.
func (c Crowd) Fill(t testing.TB, address string, s *store.Store) []store.Group {
	t.Helper()
	groups := make([]store.Group, c.Groups)
	for n := range groups {
		g, err := s.Group(t.Context(), fmt.Sprintf("g%d", n+1), fmt.Sprintf("Group %d", n+1))
		if err != nil {
			t.Fatal(err)
		}
		groups[n] = g
	}
	for code, pieces := range map[string]int{"run": 30, "deal": 2 * c.Open} {
		one := series.Series{Code: code, Name: code, Metal: melt.Metal{Gross: melt.TroyOunce, Fineness: 9990}}
		for i := range pieces {
			piece := fmt.Sprint(1980 + i)
			one.Pieces = append(one.Pieces, series.Piece{Code: piece, Label: piece, Year: 1980 + i})
			one.Slots = append(one.Slots, series.Slot{Code: piece, Label: piece, Fill: []string{piece}})
		}
		if err := s.SaveSeries(t.Context(), groups[0].ID, one); err != nil {
			t.Fatal(err)
		}
	}
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	for _, statement := range c.statements(groups[0].ID) {
		if _, err := conn.Exec(t.Context(), statement); err != nil {
			t.Fatalf("%v in %s", err, statement)
		}
	}
	for n := range groups {
		if groups[n], err = s.Group(t.Context(), groups[n].Chat, groups[n].Name); err != nil {
			t.Fatal(err)
		}
	}
	return groups
}

// statements fill the tables by rule, so that the same crowd is the same rows. A member's place in their group is in
// their account; the n-th trade of a group is between the n-th and the 7n+1st member, going round.
func (c Crowd) statements(first int64) []string {
	long, now := Long.Format(time.RFC3339), Now.Format(time.RFC3339)
	people := `(SELECT group_id, member_id, substr(account, 2)::int AS place FROM members)`
	return []string{
		fmt.Sprintf(`INSERT INTO series SELECT g.group_id, series, definition FROM series, groups g WHERE g.group_id <> %d`, first),
		fmt.Sprintf(`INSERT INTO pieces SELECT g.group_id, series, piece FROM pieces, groups g WHERE g.group_id <> %d`, first),
		fmt.Sprintf(`INSERT INTO members (group_id, account, name, joined_at)
			SELECT group_id, 'a' || n, 'Member ' || n, '%s' FROM groups, generate_series(1, %d) n`, long, c.Members),
		`INSERT INTO holdings (group_id, member_id, series, piece, quantity, spare)
			SELECT group_id, member_id, 'run', 1980 + (member_id * 7 + n * 11) % 30, 2, n % 2 FROM members, generate_series(1, 10) n`,
		`INSERT INTO wants (group_id, member_id, series, wanted, quantity)
			SELECT group_id, member_id, 'run', 1980 + (member_id * 13 + n * 7) % 30, 1 FROM members, generate_series(1, 10) n`,
		fmt.Sprintf(`INSERT INTO holdings (group_id, member_id, series, piece, quantity, spare)
			SELECT group_id, member_id, 'deal', 1980 + 2 * n + place %% 2, 1, 1 FROM %s p, generate_series(0, %d) n`, people, c.Open-1),
		fmt.Sprintf(`INSERT INTO wants (group_id, member_id, series, wanted, quantity)
			SELECT group_id, member_id, 'deal', 1980 + 2 * n + (place + 1) %% 2, 1 FROM %s p, generate_series(0, %d) n`, people, c.Open-1),
		`INSERT INTO want_pieces SELECT want_id, group_id, series, wanted FROM wants`,
		fmt.Sprintf(`INSERT INTO trades (group_id, number, version, state, ending, currency, chain, deadline, lapse, terms, proposed_at, moved_at)
			SELECT group_id, n, 1, 'closed', '', 'USD', false, '%[1]s', '3 days', 'old ' || n, '%[1]s', '%[1]s'
			FROM groups, generate_series(1, %[2]d) n ORDER BY n`, long, c.Trades),
		fmt.Sprintf(`INSERT INTO trades (group_id, number, version, state, ending, currency, chain, deadline, lapse, terms, proposed_at, moved_at)
			SELECT group_id, %[1]d + n, 1, 'proposed', '', 'USD', false, '%[2]s'::timestamptz + '3 days', '3 days', 'new ' || n, '%[2]s', '%[2]s'
			FROM groups, generate_series(1, %[3]d) n`, c.Trades, now, c.Open*c.Members/2),
		fmt.Sprintf(`UPDATE groups SET last_trade = %d`, c.Trades+c.Open*c.Members/2),
		`ANALYZE`,
		fmt.Sprintf(`INSERT INTO trade_parties (trade_id, position, member_id, topup_limit, accepted, shipped, received)
			SELECT trade_id, position, member_id, 1000, state = 'closed', state = 'closed', state = 'closed'
			FROM trades t, (VALUES (0), (1)) AS seat (position), %s p
			WHERE p.group_id = t.group_id AND place = %s`, people, c.partner("position")),
		fmt.Sprintf(`INSERT INTO trade_items (trade_id, position, from_member, to_member, holding_id, want_id, piece, value)
			SELECT trade_id, giver.position, giver.member_id, taker.member_id,
				coalesce(holding_id, -trade_id * 2 - giver.position), coalesce(want_id, -trade_id * 2 - giver.position),
				coalesce(h.series || '/' || h.piece, 'run/1980'), 3500
			FROM trades t JOIN trade_parties giver USING (trade_id) JOIN trade_parties taker USING (trade_id)
			LEFT JOIN holdings h ON state = 'proposed' AND h.member_id = giver.member_id AND h.series = 'deal'
				AND h.piece::int / 2 = 990 + (number - %[1]d - 1) %% greatest(%[2]d, 1)
			LEFT JOIN wants w ON w.member_id = taker.member_id AND w.series = h.series AND w.wanted = h.piece
			WHERE giver.position <> taker.position`, c.Trades, c.Open),
		fmt.Sprintf(`INSERT INTO notices (member_id, kind, key, body, born_at, due_at, told_at, message)
			SELECT member_id, 'moved', 'trade ' || number, '{}', '%[1]s', '%[1]s', '%[1]s', trade_id
			FROM trades JOIN trade_parties USING (trade_id)`, long),
		fmt.Sprintf(`INSERT INTO changes (member_id, said, at, rows)
			SELECT member_id, 'said', '%s', '{}' FROM members, generate_series(1, %d)`, long, max(1, c.Trades/c.Members)),
		`ANALYZE`,
	}
}

// partner is an expression for the place in the group of a trade's first or second party.
func (c Crowd) partner(position string) string {
	return fmt.Sprintf(`CASE state
		WHEN 'closed' THEN 1 + CASE %[1]s WHEN 0 THEN number %% %[2]d ELSE (number + 1 + number %% (%[2]d - 1)) %% %[2]d END
		ELSE 2 * ((number - %[3]d - 1) / greatest(%[4]d, 1)) + 1 + %[1]s END`, position, c.Members, c.Trades, c.Open)
}
