package store

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/series"
)

// market is a group's spares and wants as the matcher sees them, with the way back to the rows behind them.
type market struct {
	pool     *match.Pool
	spot     *Spot
	holdings map[spareKey]int64 // a spare's holding
	wants    []int64            // by place in the pool's wants
}

type spareKey struct {
	member match.Member
	piece  match.Piece
}

// pieceID names a piece in a given condition, for the matcher: its value and who wants it differ with the condition.
func pieceID(key HoldingKey) match.Piece {
	id := key.Series + "/" + key.Piece
	if key.Condition != series.Unsaid {
		id += "@" + key.Condition.String()
	}
	return match.Piece(id)
}

// ReadPieceID is pieceID read back.
func ReadPieceID(p match.Piece) HoldingKey {
	id, word, _ := strings.Cut(string(p), "@")
	condition, _ := series.ParseCondition(word)
	code, piece, _ := strings.Cut(id, "/")
	return HoldingKey{code, piece, condition}
}

// readMarket reads everything in a group that could be traded now.
func (s *Store) readMarket(ctx context.Context, tx pgx.Tx, g Group, catalogue *series.Catalogue) (*market, error) {
	spot, err := latestSpot(ctx, tx, g)
	if err != nil {
		return nil, err
	}
	k := &market{
		spot:     spot,
		holdings: map[spareKey]int64{},
		pool:     &match.Pool{Currency: string(g.Currency), Ring: g.Ring, MinGain: 1, Chain: 2},
	}
	values := newValuer(g, spot, catalogue)
	if err := k.readTraders(ctx, tx, g); err != nil {
		return nil, err
	}
	kinds, err := k.readSpares(ctx, tx, g, values)
	if err != nil {
		return nil, err
	}
	return k, k.readWants(ctx, tx, g, values, kinds)
}

func (k *market) readTraders(ctx context.Context, tx pgx.Tx, g Group) error {
	rows, _ := tx.Query(ctx, `
		SELECT member_id, region, coalesce(topup_limit, $2) FROM members
		WHERE group_id = $1 AND left_at IS NULL ORDER BY member_id`, g.ID, g.TopUpLimit)
	var id int64
	var region string
	var limit melt.Minor
	_, err := pgx.ForEachRow(rows, []any{&id, &region, &limit}, func() error {
		if k.spot == nil {
			limit = 0 // values are weights then, and nobody pays in weight
		}
		k.pool.Members = append(k.pool.Members, match.Trader{ID: identity(id), Region: region, TopUp: limit, Trades: 1})
		return nil
	})
	return err
}

// readSpares fills in the spares and the pieces they are of, and returns the rows in which each piece is on offer.
func (k *market) readSpares(ctx context.Context, tx pgx.Tx, g Group, values valuer) (map[string][]HoldingKey, error) {
	kinds := map[string][]HoldingKey{}
	listed := map[match.Piece]bool{}
	rows, _ := tx.Query(ctx, `
		SELECT h.holding_id, h.member_id, h.series, h.piece, h.condition, h.spare - h.taken, h.ask, h.gift
		FROM holdings h JOIN members m USING (member_id)
		WHERE h.group_id = $1 AND h.spare > h.taken AND m.left_at IS NULL
		ORDER BY h.series, h.piece, h.condition, h.member_id`, g.ID)
	var id, owner int64
	var key HoldingKey
	var count int
	var ask *melt.Minor
	var gift bool
	_, err := pgx.ForEachRow(rows, []any{&id, &owner, &key.Series, &key.Piece, &key.Condition, &count, &ask, &gift}, func() error {
		w := values.of(key)
		if !w.exists {
			return nil // the catalogue of this snapshot does not know it yet
		}
		piece := pieceID(key)
		if !listed[piece] {
			listed[piece] = true
			k.pool.Pieces = append(k.pool.Pieces, match.PieceInfo{ID: piece, Series: key.Series, Ounces: ounces(w.metal), Value: w.value})
			kinds[key.Series+"/"+key.Piece] = append(kinds[key.Series+"/"+key.Piece], key)
		}
		value := w.value
		if ask != nil && k.spot != nil {
			value = *ask
		}
		k.pool.Spares = append(k.pool.Spares, match.Spare{Member: identity(owner), Piece: piece, Count: count, Value: value, Gift: gift})
		k.holdings[spareKey{identity(owner), piece}] = id
		return nil
	})
	return kinds, err
}

// readWants fills in the wants that something on offer could fill, once for each that is still to fill.
func (k *market) readWants(ctx context.Context, tx pgx.Tx, g Group, values valuer, kinds map[string][]HoldingKey) error {
	rows, _ := tx.Query(ctx, `
		SELECT w.want_id, w.member_id, w.series, w.quantity - w.taken, w.priority, w.least, w.top, array_agg(p.piece ORDER BY p.piece)
		FROM wants w JOIN want_pieces p USING (want_id) JOIN members m USING (member_id)
		WHERE w.group_id = $1 AND w.quantity > w.taken AND m.left_at IS NULL
		GROUP BY w.want_id ORDER BY w.want_id`, g.ID)
	var id, owner int64
	var code string
	var w Want
	_, err := pgx.ForEachRow(rows, []any{&id, &owner, &code, &w.Quantity, &w.Priority, &w.Least, &w.Top, &w.Pieces}, func() error {
		var fill []match.Fill
		for _, piece := range w.Pieces {
			for _, key := range kinds[code+"/"+piece] {
				value := values.of(key).value
				if key.Condition.Meets(w.Least) && (w.Top == nil || k.spot == nil || value <= *w.Top) {
					fill = append(fill, match.Fill{Piece: pieceID(key), Gain: gain(w.Priority, value)})
				}
			}
		}
		for n := 0; n < w.Quantity && len(fill) > 0; n++ {
			k.pool.Wants = append(k.pool.Wants, match.Want{Member: identity(owner), Fill: fill})
			k.wants = append(k.wants, id)
		}
		return nil
	})
	return err
}

// ounces is what a piece weighs on the scale, in troy ounces, for postage: no money is made of it but a tariff.
func ounces(m melt.Metal) float64 { return float64(m.Gross) / float64(melt.TroyOunce) }
