package store

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/series"
)

// stall is what one member could trade now, as it stands in the rows.
type stall struct {
	region string
	limit  *melt.Minor // on top-ups; nil: the group's
	gone   bool
	spares map[match.Piece]stallSpare
	wants  map[int64]*stallWant // by row
}

// stallSpare is what a member can spare of a piece in one condition.
type stallSpare struct {
	holding int64
	key     HoldingKey
	count   int
	ask     *melt.Minor
	gift    bool
	quiet   bool
}

// stallWant is a want that is not yet filled or promised; Quantity is what is left of it.
type stallWant struct {
	key WantKey
	Want
	places []int // in the index
}

func (s *stall) sameTrader(o *stall) bool {
	return s.region == o.region && sameMoney(s.limit, o.limit) && s.gone == o.gone
}

func (s stallSpare) same(o stallSpare) bool {
	return s.holding == o.holding && s.count == o.count && sameMoney(s.ask, o.ask) && s.gift == o.gift && s.quiet == o.quiet
}

func (w *stallWant) same(o *stallWant) bool { return w.key == o.key && sameWant(w.Want, o.Want) }

// pieces lists a stall's spares in catalogue order of their keys.
func (s *stall) pieces() []match.Piece {
	return slices.SortedFunc(maps.Keys(s.spares), func(a, b match.Piece) int {
		return compareHoldingKeys(s.spares[a].key, s.spares[b].key)
	})
}

// readStalls reads the stalls of some members, or of everyone who is in the group when members is nil. Who is asked for
// by name and has left has an empty stall.
func readStalls(ctx context.Context, tx pgx.Tx, group int64, members []int64) (map[int64]*stall, error) {
	stalls := map[int64]*stall{}
	rows, _ := tx.Query(ctx, `
		SELECT member_id, region, topup_limit, left_at IS NOT NULL FROM members
		WHERE group_id = $1 AND ($2::bigint[] IS NULL AND left_at IS NULL OR member_id = ANY ($2))`, group, members)
	var id, owner int64
	var s stall
	_, err := pgx.ForEachRow(rows, []any{&id, &s.region, &s.limit, &s.gone}, func() error {
		s.spares, s.wants = map[match.Piece]stallSpare{}, map[int64]*stallWant{}
		one := s
		stalls[id], s = &one, stall{}
		return nil
	})
	if err != nil {
		return nil, err
	}
	rows, _ = tx.Query(ctx, `
		SELECT holding_id, member_id, series, piece, condition, spare - taken, ask, gift, quiet FROM holdings
		WHERE group_id = $1 AND spare > taken AND ($2::bigint[] IS NULL OR member_id = ANY ($2))`, group, members)
	var spare stallSpare
	columns := []any{&spare.holding, &owner, &spare.key.Series, &spare.key.Piece, &spare.key.Condition, &spare.count, &spare.ask, &spare.gift, &spare.quiet}
	_, err = pgx.ForEachRow(rows, columns, func() error {
		if at := stalls[owner]; at != nil && !at.gone {
			at.spares[spare.kind().id()] = spare
		}
		spare = stallSpare{}
		return nil
	})
	if err != nil {
		return nil, err
	}
	rows, _ = tx.Query(ctx, `
		SELECT w.want_id, w.member_id, w.series, w.wanted, w.quantity - w.taken, w.priority, w.least, w.top, w.quiet, array_agg(p.piece ORDER BY p.piece)
		FROM wants w JOIN want_pieces p USING (want_id)
		WHERE w.group_id = $1 AND w.quantity > w.taken AND ($2::bigint[] IS NULL OR w.member_id = ANY ($2))
		GROUP BY w.want_id`, group, members)
	var w stallWant
	_, err = pgx.ForEachRow(rows, []any{&w.ID, &owner, &w.key.Series, &w.key.Wanted, &w.Quantity, &w.Priority, &w.Least, &w.Top, &w.Quiet, &w.Pieces}, func() error {
		if at := stalls[owner]; at != nil && !at.gone {
			one := w
			at.wants[w.ID] = &one
		}
		w = stallWant{}
		return nil
	})
	return stalls, err
}

// kind is what the matcher takes for one piece: examples in the same condition at the same asking price. Value differs with
// both, and so does who wants them.
type kind struct {
	HoldingKey
	ask *melt.Minor
}

func (s stallSpare) kind() kind { return kind{s.key, s.ask} }

func (k kind) same(o kind) bool { return k.HoldingKey == o.HoldingKey && sameMoney(k.ask, o.ask) }

// id names a kind: "harbour/85@bright=4500".
func (k kind) id() match.Piece {
	id := pieceID(k.HoldingKey)
	if k.ask != nil {
		id += match.Piece(fmt.Sprintf("=%d", *k.ask))
	}
	return id
}

// pieceID names a piece in a given condition.
func pieceID(key HoldingKey) match.Piece {
	id := key.Series + "/" + key.Piece
	if key.Condition != series.Unsaid {
		id += "@" + key.Condition.String()
	}
	return match.Piece(id)
}

// ReadPieceID reads what pieceID, or the id of a kind, says.
func ReadPieceID(p match.Piece) HoldingKey {
	text, _, _ := strings.Cut(string(p), "=")
	id, word, _ := strings.Cut(text, "@")
	condition, _ := series.ParseCondition(word)
	code, piece, _ := strings.Cut(id, "/")
	return HoldingKey{code, piece, condition}
}
