package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// promise takes the spares and wants of an agreed trade, and ends every proposal that counted on them.
func (s *Store) promise(ctx context.Context, tx pgx.Tx, t Trade) error {
	if err := addTaken(ctx, tx, t, 1); err != nil {
		return err
	}
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT t.trade_id FROM trade_items mine
		JOIN trade_items other ON other.holding_id = mine.holding_id OR other.want_id = mine.want_id AND mine.want_id <> 0
		JOIN trades t ON t.trade_id = other.trade_id
		WHERE mine.trade_id = $1 AND `+hollow+` ORDER BY t.trade_id`, t.ID)
	overtaken, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range overtaken {
		if err := s.move(ctx, tx, id, trade.Overtake{}); isRefusal(err) {
			return fmt.Errorf("trade %d would not be overtaken: %v", id, err) // no refusal of ours: nothing may stand of this
		} else if err != nil {
			return err
		}
	}
	return nil
}

// addTaken moves the promises of a trade's rows. The schema refuses to promise a piece or fill a want twice.
func addTaken(ctx context.Context, tx pgx.Tx, t Trade, by int) error {
	if _, err := tx.Exec(ctx, `
		UPDATE holdings h SET taken = taken + $2 * i.n
		FROM (SELECT holding_id, count(*) AS n FROM trade_items WHERE trade_id = $1 GROUP BY holding_id) i
		WHERE h.holding_id = i.holding_id`, t.ID, by); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `
		UPDATE wants w SET taken = taken + $2 * i.n
		FROM (SELECT want_id, count(*) AS n FROM trade_items WHERE trade_id = $1 GROUP BY want_id) i
		WHERE w.want_id = i.want_id`, t.ID, by)
	return err
}

// leg lists the items that one party gives.
func (t Trade) leg(from match.Member) (items []trade.Item) {
	for _, item := range t.Items {
		if item.From == from {
			items = append(items, item)
		}
	}
	return items
}

// release gives back what an ended trade still promises: wants are open again, and so are spares that were never sent. What
// was sent and not accepted is in nobody's hands for certain: it stays on its sender's shelf, but no longer on offer.
func (s *Store) release(ctx context.Context, tx pgx.Tx, t Trade) error {
	for _, p := range t.Parties {
		if p.Stage == trade.Done {
			continue
		}
		sent := 0
		if p.Shipped {
			sent = 1
		}
		for _, item := range t.leg(p.Member) {
			if _, err := tx.Exec(ctx, `
				UPDATE holdings SET taken = taken - 1, spare = spare - $2 WHERE holding_id = $1`, item.Holding, sent); err != nil {
				return err
			}
			if _, err := tx.Exec(ctx, `UPDATE wants SET taken = taken - 1 WHERE want_id = $1`, item.Want); err != nil {
				return err
			}
		}
	}
	return nil
}

// deliver does what follows from each piece that has been accepted and each sum that has come: pieces move from shelf to
// shelf, wants they fill are struck off, and both sides' ledgers say so with the value on the day.
func (s *Store) deliver(ctx context.Context, tx pgx.Tx, g Group, before, after Trade) error {
	if before.State != trade.Agreed {
		return nil
	}
	var day *valuer
	for i, p := range after.Parties {
		if before.Parties[i].Stage == p.Stage || p.Stage != trade.Done {
			continue
		}
		if day == nil {
			var err error
			if day, err = s.valuerOfToday(ctx, tx, g); err != nil {
				return err
			}
		}
		for _, item := range after.leg(p.Member) {
			if err := s.moveItem(ctx, tx, after, item); err != nil {
				return err
			}
			if err := s.enter(ctx, tx, after, item, *day); err != nil {
				return err
			}
		}
	}
	for i, pay := range after.TopUps {
		if pay.Got && !before.TopUps[i].Got {
			if err := s.enterMoney(ctx, tx, after, pay); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Store) valuerOfToday(ctx context.Context, tx pgx.Tx, g Group) (*valuer, error) {
	spot, err := latestSpot(ctx, tx, g)
	if err != nil {
		return nil, err
	}
	catalogue, err := s.Catalogue(ctx, g)
	if err != nil {
		return nil, err
	}
	day, err := s.newValuer(ctx, tx, g, spot, catalogue)
	return &day, err
}

// moveItem moves one piece from shelf to shelf and strikes off the want it fills. Where that was for a better example, the
// one it replaces becomes spare.
func (s *Store) moveItem(ctx context.Context, tx pgx.Tx, t Trade, item trade.Item) error {
	key := ReadPieceID(item.Piece)
	if _, err := tx.Exec(ctx, `
		INSERT INTO holdings (group_id, member_id, series, piece, condition, quantity) VALUES ($1, $2, $3, $4, $5, 1)
		ON CONFLICT (member_id, series, piece, condition) DO UPDATE SET quantity = holdings.quantity + 1`,
		t.Group, memberID(item.To), key.Series, key.Piece, key.Condition); err != nil {
		return err
	}
	for _, statement := range []string{
		`DELETE FROM holdings WHERE holding_id = $1 AND quantity = 1`,
		`UPDATE holdings SET quantity = quantity - 1, spare = spare - 1, taken = taken - 1 WHERE holding_id = $1`,
	} {
		if _, err := tx.Exec(ctx, statement, item.Holding); err != nil {
			return err
		}
	}
	return s.strikeOff(ctx, tx, t, item, key)
}

// strikeOff strikes off the want that a piece fills: the one it was promised to, or where it was promised to none, one that
// its new owner has by now.
func (s *Store) strikeOff(ctx context.Context, tx pgx.Tx, t Trade, item trade.Item, key HoldingKey) error {
	want, promised := item.Want, 1
	if want == 0 {
		shelf, err := loadShelf(ctx, tx, memberID(item.To))
		if err != nil {
			return err
		}
		if want, promised = shelf.openWant(key, map[WantKey]int{}), 0; want == 0 {
			return nil
		}
	}
	freed, err := tx.Exec(ctx, `
		UPDATE holdings h SET spare = spare + 1 FROM wants w
		WHERE w.want_id = $1 AND h.member_id = w.member_id AND h.series = w.series AND h.piece = $2
			AND h.condition = w.replaces AND h.spare < h.quantity`, want, key.Piece)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `DELETE FROM wants WHERE want_id = $1 AND quantity = 1`, want); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `UPDATE wants SET quantity = quantity - 1, taken = taken - $2 WHERE want_id = $1`, want, promised); err != nil {
		return err
	}
	if promised == 0 {
		if err := s.endHollow(ctx, tx, Member{ID: memberID(item.To), Group: t.Group}); err != nil {
			return err
		}
	}
	if freed.RowsAffected() == 0 {
		return nil
	}
	return s.rematchLater(ctx, tx, memberID(item.To), nil)
}

const entry = `
	INSERT INTO ledger (group_id, member_id, at, trade, way, other, piece, value, currency, melt, melt_currency, spot, spot_at, spot_source)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`

// enter writes a piece into both sides' ledgers.
func (s *Store) enter(ctx context.Context, tx pgx.Tx, t Trade, item trade.Item, day valuer) error {
	var value *melt.Minor
	var spot Spot
	if day.spot != nil {
		spot = *day.spot
		fine := day.of(ReadPieceID(item.Piece))
		if worth, err := melt.Value(fine.metal, spot.Price, spot.Currency); err == nil {
			value = &worth
		}
	}
	currency := t.Currency
	if t.Spot == nil {
		currency = "" // values are weights then
	}
	for _, side := range []struct {
		member, other match.Member
		way           string
	}{{item.From, item.To, "went"}, {item.To, item.From, "came"}} {
		args := []any{t.Group, memberID(side.member), s.now(), t.Number, side.way, memberID(side.other), item.Piece, item.Value, currency}
		if value == nil {
			args = append(args, nil, "", nil, nil, "")
		} else {
			args = append(args, value, spot.Currency, spot.Price, spot.At, spot.Source)
		}
		if _, err := tx.Exec(ctx, entry, args...); err != nil {
			return err
		}
	}
	return nil
}

// enterMoney writes a top-up that has come into both sides' ledgers.
func (s *Store) enterMoney(ctx context.Context, tx pgx.Tx, t Trade, pay trade.TopUp) error {
	for _, side := range []struct {
		member, other match.Member
		way           string
	}{{pay.From, pay.To, "paid"}, {pay.To, pay.From, "got"}} {
		if _, err := tx.Exec(ctx, entry, t.Group, memberID(side.member), s.now(), t.Number, side.way, memberID(side.other),
			"", pay.Amount, t.Currency, nil, "", nil, nil, ""); err != nil {
			return err
		}
	}
	return nil
}
