package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/trade"
)

func loadTrade(ctx context.Context, tx pgx.Tx, id int64) (t Trade, err error) {
	t.ID = id
	var state, ending string
	var middle *int64
	err = tx.QueryRow(ctx, `
		SELECT group_id, number, version, state, ending, currency, chain, silent, fixed, middle, passed_on, deeds, deadline, lapse,
			spot, spot_at, spot_source, proposed_at, reasons, coalesce(round_id, 0), together
		FROM trades WHERE trade_id = $1`, id).Scan(&t.Group, &t.Number, &t.Version, &state, &ending, &t.Currency, &t.Chain,
		&t.Silent, &t.Fixed, &middle, &t.PassedOn, &t.Deeds, &t.Deadline, &t.Lapse, &t.Spot, &t.SpotAt, &t.SpotSource, &t.ProposedAt,
		&t.Reasons, &t.Round, &t.Together)
	if err != nil {
		return t, err
	}
	if middle != nil {
		t.Middle = identity(*middle)
	}
	var okState, okEnding bool
	t.State, okState = trade.ParseState(state)
	t.Ending, okEnding = trade.ParseEnding(ending)
	if !okState || !okEnding {
		return t, fmt.Errorf("trade %d is %q, %q", id, state, ending)
	}
	if err := t.loadParties(ctx, tx); err != nil {
		return t, err
	}
	rows, _ := tx.Query(ctx, `
		SELECT from_member, to_member, holding_id, want_id, piece, value FROM trade_items WHERE trade_id = $1 ORDER BY position`, id)
	var from, to int64
	var item trade.Item
	_, err = pgx.ForEachRow(rows, []any{&from, &to, &item.Holding, &item.Want, &item.Piece, &item.Value}, func() error {
		item.From, item.To = identity(from), identity(to)
		t.Items = append(t.Items, item)
		return nil
	})
	if err != nil {
		return t, err
	}
	rows, _ = tx.Query(ctx, `
		SELECT from_member, to_member, amount, paid, got, due, nudges FROM trade_topups WHERE trade_id = $1 ORDER BY position`, id)
	var pay trade.TopUp
	var due *time.Time
	_, err = pgx.ForEachRow(rows, []any{&from, &to, &pay.Amount, &pay.Paid, &pay.Got, &due, &pay.Nudges}, func() error {
		pay.From, pay.To, pay.Due = identity(from), identity(to), timeOf(due)
		t.TopUps = append(t.TopUps, pay)
		return nil
	})
	return t, err
}

func (t *Trade) loadParties(ctx context.Context, tx pgx.Tx) error {
	rows, _ := tx.Query(ctx, `
		SELECT member_id, topup_limit, turn, accepted, shipped, arrived, received, problem, gone, stage, due, nudges, tracking, late
		FROM trade_parties WHERE trade_id = $1 ORDER BY position`, t.ID)
	var member int64
	var p trade.Party
	var problem, stage string
	var due *time.Time
	var parcel Parcel
	_, err := pgx.ForEachRow(rows, []any{
		&member, &p.TopUpLimit, &p.Turn, &p.Accepted, &p.Shipped, &p.Arrived, &p.Received, &problem, &p.Left, &stage, &due, &p.Nudges,
		&parcel.Tracking, &parcel.Late,
	}, func() error {
		var okProblem, okStage bool
		p.Problem, okProblem = trade.ParseProblem(problem)
		p.Stage, okStage = trade.ParseStage(stage)
		if !okProblem || !okStage {
			return fmt.Errorf("a party of trade %d is %q, %q", t.ID, stage, problem)
		}
		p.Member, p.Due = identity(member), timeOf(due)
		t.Parties = append(t.Parties, p)
		if parcel != (Parcel{}) {
			if t.Parcels == nil {
				t.Parcels = map[match.Member]Parcel{}
			}
			t.Parcels[p.Member] = parcel
			parcel = Parcel{}
		}
		return nil
	})
	return err
}

// timeOf and orNull are a time that may not be: zero here, null there.
func timeOf(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.UTC()
}

func orNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

func orNobody(m match.Member) *int64 {
	if m == "" {
		return nil
	}
	return new(memberID(m))
}

// insertTrade writes a new proposal; false when the same one is open already.
func (s *Store) insertTrade(ctx context.Context, tx pgx.Tx, t *Trade) (bool, error) {
	rows, _ := tx.Query(ctx, `
		WITH next AS (UPDATE groups SET last_trade = last_trade + 1 WHERE group_id = $1 RETURNING last_trade)
		INSERT INTO trades (group_id, number, version, state, ending, currency, chain, deadline, lapse, terms,
			spot, spot_at, spot_source, proposed_at, moved_at, silent, fixed, middle, deeds, reasons, round_id, together)
		SELECT $1, last_trade, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $13, $14, $15, $16, 1,
			coalesce($17::jsonb, 'null'), nullif($18::bigint, 0), $19 FROM next
		WHERE NOT EXISTS (SELECT 1 FROM trades WHERE group_id = $1 AND terms = $9 AND state IN ('proposed', 'agreed'))
		RETURNING trade_id, number`,
		t.Group, t.Version, t.State.String(), t.Ending.String(), t.Currency, t.Chain, t.Deadline, t.Lapse, termsOf(t.Trade),
		t.Spot, t.SpotAt, t.SpotSource, s.now(), t.Silent, t.Fixed, orNobody(t.Middle), t.Reasons, t.Round, t.Together)
	_, err := pgx.ForEachRow(rows, []any{&t.ID, &t.Number}, func() error { return nil })
	if err != nil || t.ID == 0 {
		return false, err
	}
	t.Deeds = 1
	return true, s.saveParts(ctx, tx, *t)
}

func (s *Store) saveTrade(ctx context.Context, tx pgx.Tx, t Trade) error {
	if _, err := tx.Exec(ctx, `
		UPDATE trades SET version = $2, state = $3, ending = $4, deadline = $5, terms = $6, moved_at = $7,
			fixed = $8, passed_on = $9, deeds = $10
		WHERE trade_id = $1`,
		t.ID, t.Version, t.State.String(), t.Ending.String(), t.Deadline, termsOf(t.Trade), s.now(), t.Fixed, t.PassedOn, t.Deeds); err != nil {
		return err
	}
	return s.saveParts(ctx, tx, t)
}

// saveParts writes a trade's parties, items and top-ups in place of what is there.
func (s *Store) saveParts(ctx context.Context, tx pgx.Tx, t Trade) error {
	batch := &pgx.Batch{}
	batch.Queue(`DELETE FROM trade_parties WHERE trade_id = $1`, t.ID)
	batch.Queue(`DELETE FROM trade_items WHERE trade_id = $1`, t.ID)
	batch.Queue(`DELETE FROM trade_topups WHERE trade_id = $1`, t.ID)
	for i, p := range t.Parties {
		batch.Queue(`
			INSERT INTO trade_parties (trade_id, position, member_id, topup_limit, turn, accepted, shipped, arrived, received,
				problem, gone, stage, due, nudges, tracking, late)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`,
			t.ID, i, memberID(p.Member), p.TopUpLimit, p.Turn, p.Accepted, p.Shipped, p.Arrived, p.Received,
			p.Problem.String(), p.Left, p.Stage.String(), orNull(p.Due), p.Nudges, t.Parcels[p.Member].Tracking, t.Parcels[p.Member].Late)
	}
	for i, item := range t.Items {
		batch.Queue(`
			INSERT INTO trade_items (trade_id, position, from_member, to_member, holding_id, want_id, piece, value)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			t.ID, i, memberID(item.From), memberID(item.To), item.Holding, item.Want, item.Piece, item.Value)
	}
	for i, pay := range t.TopUps {
		batch.Queue(`
			INSERT INTO trade_topups (trade_id, position, from_member, to_member, amount, paid, got, due, nudges)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			t.ID, i, memberID(pay.From), memberID(pay.To), pay.Amount, pay.Paid, pay.Got, orNull(pay.Due), pay.Nudges)
	}
	return tx.SendBatch(ctx, batch).Close()
}

// termsOf writes who gives what to whom, and who pays whom where that was put forward, in one line: the same for the same
// trade wherever its ring begins.
func termsOf(t trade.Trade) string {
	gifts := make([]string, len(t.Items))
	for i, item := range t.Items {
		gifts[i] = fmt.Sprintf("%s>%s:%s", item.From, item.To, item.Piece)
	}
	if t.Fixed {
		for _, pay := range t.TopUps {
			gifts = append(gifts, fmt.Sprintf("%s>%s=%d", pay.From, pay.To, pay.Amount))
		}
	}
	slices.Sort(gifts)
	return strings.Join(gifts, " ")
}

// tradesOf lists the trades in which a member stands and which are in one of some states, oldest first.
func tradesOf(ctx context.Context, tx pgx.Tx, member int64, in ...trade.State) ([]int64, error) {
	names := make([]string, len(in))
	for i, state := range in {
		names[i] = state.String()
	}
	rows, _ := tx.Query(ctx, `
		SELECT trade_id FROM trade_parties JOIN trades USING (trade_id)
		WHERE member_id = $1 AND state = ANY ($2) ORDER BY trade_id`, member, names)
	return pgx.CollectRows(rows, pgx.RowTo[int64])
}
