package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
)

// Holder is a member who has a piece.
type Holder struct {
	Member    int64
	Name      string
	Key       HoldingKey
	Spare     int // free to be promised; 0 when the piece is only held, by a member who chose to be seen
	Ask       *melt.Minor
	Gift      bool
	Note      string
	WantsBack int // wants of theirs that the asker could fill
}

// Who lists who can spare any of some pieces of a series, best condition first, then members who hold one and chose to
// be seen. The asker is left out, and so are those who have left.
func (s *Store) Who(ctx context.Context, asker Member, code string, pieces []string) ([]Holder, error) {
	var holders []Holder
	err := s.inSnapshot(ctx, "ask who has it", func(tx pgx.Tx) (err error) {
		rows, _ := tx.Query(ctx, `
			SELECT h.member_id, m.name, h.series, h.piece, h.condition, CASE WHEN h.quiet THEN 0 ELSE greatest(h.spare - h.taken, 0) END, h.ask, h.gift, h.note,
				(SELECT count(DISTINCT w.want_id) FROM holdings mine
				 JOIN want_pieces p ON p.group_id = mine.group_id AND p.series = mine.series AND p.piece = mine.piece
				 JOIN wants w USING (want_id)
				 WHERE mine.member_id = $2 AND mine.spare > mine.taken AND w.member_id = h.member_id AND w.quantity > w.taken
					AND mine.condition >= w.least AND NOT w.quiet)
			FROM holdings h JOIN members m USING (member_id)
			WHERE h.group_id = $1 AND h.series = $3 AND h.piece = ANY ($4) AND h.member_id <> $2 AND m.left_at IS NULL
				AND (h.spare > h.taken AND NOT h.quiet OR m.seen)
			ORDER BY h.spare > h.taken AND NOT h.quiet DESC, h.gift DESC, h.condition DESC, lower(m.name), h.member_id
			LIMIT 40`, asker.Group, asker.ID, code, pieces)
		holders, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (h Holder, err error) {
			err = row.Scan(&h.Member, &h.Name, &h.Key.Series, &h.Key.Piece, &h.Key.Condition, &h.Spare, &h.Ask, &h.Gift, &h.Note, &h.WantsBack)
			return h, err
		})
		return err
	})
	return holders, err
}

// Scarcity is how a piece stands in the group: how many members want it, how many are free to go round.
type Scarcity struct {
	Series, Piece string
	Wanted, Spare int
}

// Scarcest lists the wanted pieces of a group, the least covered by spares first; all series for "".
func (s *Store) Scarcest(ctx context.Context, group int64, code string, limit int) ([]Scarcity, error) {
	rows, _ := s.pool.Query(ctx, `
		WITH wanted AS (
			SELECT p.series, p.piece, sum(w.quantity - w.taken) AS n
			FROM want_pieces p JOIN wants w USING (want_id) JOIN members m USING (member_id)
			WHERE p.group_id = $1 AND w.group_id = $1 AND m.group_id = $1 AND ($2 = '' OR p.series = $2)
				AND m.left_at IS NULL AND w.quantity > w.taken AND NOT w.quiet
			GROUP BY p.series, p.piece
		), spare AS (
			SELECT h.series, h.piece, sum(h.spare - h.taken) AS n
			FROM holdings h JOIN members m USING (member_id)
			WHERE h.group_id = $1 AND m.group_id = $1 AND h.spare > h.taken AND NOT h.quiet AND m.left_at IS NULL
			GROUP BY h.series, h.piece
		)
		SELECT w.series, w.piece, w.n::int, coalesce(s.n, 0)::int
		FROM wanted w LEFT JOIN spare s USING (series, piece)
		ORDER BY w.n - coalesce(s.n, 0) DESC, w.n DESC, w.series, w.piece
		LIMIT $3`, group, code, limit)
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Scarcity])
}

// Wanting lists the members, other than one, who let it be known that they want a piece in a given condition, by name.
func (s *Store) Wanting(ctx context.Context, m Member, key HoldingKey) ([]Member, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT `+memberColumns+` FROM members m WHERE group_id = $1 AND member_id <> $4 AND left_at IS NULL AND EXISTS (
			SELECT 1 FROM want_pieces p JOIN wants w USING (want_id)
			WHERE w.member_id = m.member_id AND p.series = $2 AND p.piece = $3 AND w.least <= $5 AND w.quantity > w.taken AND NOT w.quiet)
		ORDER BY lower(name), member_id LIMIT 20`, m.Group, key.Series, key.Piece, m.ID, key.Condition)
	return pgx.CollectRows(rows, scanMember)
}

// Wanters counts the members, other than one, who want a piece in a given condition.
func (s *Store) Wanters(ctx context.Context, m Member, key HoldingKey) (n int, err error) {
	err = s.pool.QueryRow(ctx, `
		SELECT count(DISTINCT w.member_id) FROM want_pieces p JOIN wants w USING (want_id) JOIN members o USING (member_id)
		WHERE p.group_id = $1 AND p.series = $2 AND p.piece = $3 AND w.member_id <> $4 AND w.least <= $5
			AND w.quantity > w.taken AND NOT w.quiet AND o.left_at IS NULL`, m.Group, key.Series, key.Piece, m.ID, key.Condition).Scan(&n)
	return n, err
}
