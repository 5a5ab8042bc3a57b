package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Worth is what the group reckons a piece at.
type Worth struct {
	Metal melt.Metal
	Melt  melt.Minor // the metal in it at the spot price
	Usual melt.Minor // with the premium that is usual here
}

// Values says what pieces are worth in a group, all at one spot price.
type Values struct {
	Spot   *Spot // nil when the group knows none; then nothing has a worth
	Rules  PriceRules
	valuer valuer
}

// Values takes the group's last spot price and the premiums usual in it.
func (s *Store) Values(ctx context.Context, g Group, catalogue *series.Catalogue) (Values, error) {
	var v Values
	err := s.inSnapshot(ctx, "read the values", func(tx pgx.Tx) (err error) {
		if v.Spot, err = latestSpot(ctx, tx, g); err != nil {
			return err
		}
		if v.Rules, err = priceRules(ctx, tx, g.ID); err != nil {
			return err
		}
		v.valuer, err = s.newValuer(ctx, tx, g, v.Spot, catalogue)
		return err
	})
	return v, err
}

// Of is the worth of one example of a piece; false when there is no price or too little is known of the metal.
func (v Values) Of(code, piece string) (Worth, bool) {
	if v.Spot == nil {
		return Worth{}, false
	}
	w := v.valuer.of(HoldingKey{Series: code, Piece: piece})
	if !w.exists {
		return Worth{}, false
	}
	value, err := melt.Value(w.metal, v.Spot.Price, v.valuer.group.Currency)
	return Worth{w.metal, value, w.value}, err == nil
}

// OpenWant is a want of which some is not promised yet, without whose it is.
type OpenWant struct {
	Series string
	Pieces []string
	Left   int
	Least  series.Condition
}

// OthersWants lists what members other than one look for in some series, each want on its own.
func (s *Store) OthersWants(ctx context.Context, m Member, codes []string) ([]OpenWant, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT w.series, array_agg(p.piece ORDER BY p.piece), w.quantity - w.taken, w.least
		FROM wants w JOIN want_pieces p USING (want_id) JOIN members o USING (member_id)
		WHERE w.group_id = $1 AND w.series = ANY ($2) AND w.member_id <> $3 AND w.quantity > w.taken AND o.left_at IS NULL
		GROUP BY w.want_id ORDER BY w.want_id`, m.Group, codes, m.ID)
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[OpenWant])
	if err != nil {
		return nil, fmt.Errorf("list the others' wants: %w", err)
	}
	return all, nil
}

// FreeSpares counts what members other than one can still promise of some series, by series and piece.
func (s *Store) FreeSpares(ctx context.Context, m Member, codes []string) (map[HoldingKey]int, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT h.series, h.piece, sum(h.spare - h.taken)::int FROM holdings h JOIN members o USING (member_id)
		WHERE h.group_id = $1 AND h.series = ANY ($2) AND h.member_id <> $3 AND h.spare > h.taken AND o.left_at IS NULL
		GROUP BY h.series, h.piece`, m.Group, codes, m.ID)
	free := map[HoldingKey]int{}
	var key HoldingKey
	var n int
	if _, err := pgx.ForEachRow(rows, []any{&key.Series, &key.Piece, &n}, func() error { free[key] = n; return nil }); err != nil {
		return nil, fmt.Errorf("count the spares: %w", err)
	}
	return free, nil
}
