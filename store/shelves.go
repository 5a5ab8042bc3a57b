package store

import (
	"context"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Shelf reads what a member told us.
func (s *Store) Shelf(ctx context.Context, m Member) (*Shelf, error) {
	var shelf *Shelf
	err := s.inSnapshot(ctx, "read the shelf", func(tx pgx.Tx) (err error) {
		shelf, err = loadShelf(ctx, tx, m.ID)
		return err
	})
	return shelf, err
}

func loadShelf(ctx context.Context, tx pgx.Tx, member int64) (*Shelf, error) {
	shelf := newShelf()
	rows, _ := tx.Query(ctx, `
		SELECT series, piece, condition, holding_id, quantity, spare, taken, ask, gift, note, quiet
		FROM holdings WHERE member_id = $1`, member)
	var key HoldingKey
	var h Holding
	_, err := pgx.ForEachRow(rows, []any{&key.Series, &key.Piece, &key.Condition, &h.ID, &h.Quantity, &h.Spare, &h.Taken, &h.Ask, &h.Gift, &h.Note, &h.Quiet},
		func() error { shelf.Holdings[key] = h; h = Holding{}; return nil })
	if err != nil {
		return nil, err
	}
	rows, _ = tx.Query(ctx, `
		SELECT w.series, w.wanted, w.want_id, w.quantity, w.taken, w.priority, w.least, w.top, w.note, w.quiet, w.replaces,
			array_agg(p.piece ORDER BY p.piece)
		FROM wants w JOIN want_pieces p USING (want_id)
		WHERE w.member_id = $1 GROUP BY w.want_id`, member)
	var wanted WantKey
	var w Want
	_, err = pgx.ForEachRow(rows, []any{&wanted.Series, &wanted.Wanted, &w.ID, &w.Quantity, &w.Taken, &w.Priority, &w.Least, &w.Top, &w.Note, &w.Quiet, &w.Replaces, &w.Pieces},
		func() error { shelf.Wants[wanted] = w; w = Want{}; return nil })
	if err != nil {
		return nil, err
	}
	rows, _ = tx.Query(ctx, `SELECT series, edits FROM sets WHERE member_id = $1`, member)
	var code string
	var edits series.Edits
	_, err = pgx.ForEachRow(rows, []any{&code, &edits},
		func() error { shelf.Sets[code] = edits; edits = series.Edits{}; return nil })
	return shelf, err
}

// changed is what differs between two shelves of one member, row by row, each as it was and as it is; nil where there
// was or is none. It is stored as JSON, for undo.
type changed struct {
	Holdings []changedHolding `json:",omitempty"`
	Wants    []changedWant    `json:",omitempty"`
	Sets     []changedSet     `json:",omitempty"`
}

type changedHolding struct {
	Key         HoldingKey
	Before, Now *Holding
}

type changedWant struct {
	Key         WantKey
	Before, Now *Want
}

type changedSet struct {
	Series      string
	Before, Now *series.Edits
}

func (c changed) none() bool { return len(c.Holdings)+len(c.Wants)+len(c.Sets) == 0 }

// difference lists what changed, in a fixed order, so that concurrent changes lock rows in the same order.
func difference(before, now *Shelf) (c changed) {
	for _, key := range keysOfBoth(before.Holdings, now.Holdings, compareHoldingKeys) {
		b, n := at(before.Holdings, key), at(now.Holdings, key)
		if !same(b, n, sameHolding) {
			c.Holdings = append(c.Holdings, changedHolding{key, b, n})
		}
	}
	for _, key := range keysOfBoth(before.Wants, now.Wants, compareWantKeys) {
		b, n := at(before.Wants, key), at(now.Wants, key)
		if !same(b, n, sameWant) {
			c.Wants = append(c.Wants, changedWant{key, b, n})
		}
	}
	for _, code := range keysOfBoth(before.Sets, now.Sets, compareStrings) {
		b, n := at(before.Sets, code), at(now.Sets, code)
		if !same(b, n, sameEdits) {
			c.Sets = append(c.Sets, changedSet{code, b, n})
		}
	}
	return c
}

func at[K comparable, V any](m map[K]V, key K) *V {
	if v, ok := m[key]; ok {
		return &v
	}
	return nil
}

func same[V any](a, b *V, equal func(a, b V) bool) bool {
	if a == nil || b == nil {
		return a == b
	}
	return equal(*a, *b)
}

func keysOfBoth[K comparable, V any](a, b map[K]V, compare func(a, b K) int) []K {
	all := maps.Clone(a)
	maps.Copy(all, b)
	return slices.SortedFunc(maps.Keys(all), compare)
}

func sameHolding(a, b Holding) bool {
	return a.Quantity == b.Quantity && a.Spare == b.Spare && sameMoney(a.Ask, b.Ask) && a.Gift == b.Gift && a.Note == b.Note && a.Quiet == b.Quiet
}

func sameWant(a, b Want) bool {
	return slices.Equal(a.Pieces, b.Pieces) && a.Quantity == b.Quantity && a.Priority == b.Priority && a.Least == b.Least &&
		sameMoney(a.Top, b.Top) && a.Note == b.Note && a.Quiet == b.Quiet &&
		(a.Replaces == b.Replaces || a.Replaces != nil && b.Replaces != nil && *a.Replaces == *b.Replaces)
}

func sameEdits(a, b series.Edits) bool {
	return a.Checklist == b.Checklist && slices.Equal(a.Without, b.Without) && slices.Equal(a.With, b.With) &&
		maps.EqualFunc(a.Also, b.Also, slices.Equal[[]string])
}

func sameMoney(a, b *melt.Minor) bool {
	return same(a, b, func(a, b melt.Minor) bool { return a == b })
}

// save writes the rows that changed. A holding that shrank below its promises is refused by the schema.
func (c changed) save(ctx context.Context, tx pgx.Tx, m Member) error {
	for _, h := range c.Holdings {
		if err := h.save(ctx, tx, m); err != nil {
			return err
		}
	}
	for _, w := range c.Wants {
		if err := w.save(ctx, tx, m); err != nil {
			return err
		}
	}
	for _, set := range c.Sets {
		query, args := `
			INSERT INTO sets (member_id, series, edits) VALUES ($1, $2, $3)
			ON CONFLICT (member_id, series) DO UPDATE SET edits = EXCLUDED.edits`, []any{m.ID, set.Series, set.Now}
		if set.Now == nil {
			query, args = `DELETE FROM sets WHERE member_id = $1 AND series = $2`, args[:2]
		}
		if _, err := tx.Exec(ctx, query, args...); err != nil {
			return err
		}
	}
	return nil
}

func (c changedHolding) save(ctx context.Context, tx pgx.Tx, m Member) error {
	if c.Now == nil {
		_, err := tx.Exec(ctx, `
			DELETE FROM holdings WHERE member_id = $1 AND series = $2 AND piece = $3 AND condition = $4`,
			m.ID, c.Key.Series, c.Key.Piece, c.Key.Condition)
		return err
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO holdings (group_id, member_id, series, piece, condition, quantity, spare, ask, gift, note, quiet)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
		ON CONFLICT (member_id, series, piece, condition) DO UPDATE SET
			quantity = EXCLUDED.quantity, spare = EXCLUDED.spare, ask = EXCLUDED.ask, gift = EXCLUDED.gift, note = EXCLUDED.note,
			quiet = EXCLUDED.quiet`,
		m.Group, m.ID, c.Key.Series, c.Key.Piece, c.Key.Condition, c.Now.Quantity, c.Now.Spare, c.Now.Ask, c.Now.Gift, c.Now.Note, c.Now.Quiet)
	return err
}

func (c changedWant) save(ctx context.Context, tx pgx.Tx, m Member) error {
	if c.Now == nil {
		_, err := tx.Exec(ctx, `DELETE FROM wants WHERE member_id = $1 AND series = $2 AND wanted = $3`, m.ID, c.Key.Series, c.Key.Wanted)
		return err
	}
	rows, _ := tx.Query(ctx, `
		INSERT INTO wants (group_id, member_id, series, wanted, quantity, priority, least, top, note, quiet, replaces)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
		ON CONFLICT (member_id, series, wanted) DO UPDATE SET
			quantity = EXCLUDED.quantity, priority = EXCLUDED.priority, least = EXCLUDED.least, top = EXCLUDED.top, note = EXCLUDED.note,
			quiet = EXCLUDED.quiet, replaces = EXCLUDED.replaces
		RETURNING want_id`,
		m.Group, m.ID, c.Key.Series, c.Key.Wanted, c.Now.Quantity, c.Now.Priority, c.Now.Least, c.Now.Top, c.Now.Note,
		c.Now.Quiet, c.Now.Replaces)
	id, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	if c.Before != nil && slices.Equal(c.Before.Pieces, c.Now.Pieces) {
		return nil
	}
	if _, err := tx.Exec(ctx, `DELETE FROM want_pieces WHERE want_id = $1`, id); err != nil {
		return err
	}
	_, err = tx.Exec(ctx, `
		INSERT INTO want_pieces (want_id, group_id, series, piece) SELECT $1, $2, $3, unnest($4::text[])`,
		id, m.Group, c.Key.Series, c.Now.Pieces)
	return err
}
