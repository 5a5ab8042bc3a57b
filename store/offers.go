package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/match/trade"
)

// Offer is what one member puts to another: so many of their spares for so many of the other's, and money from one of the
// two. With nothing got and no money it is a gift.
type Offer struct {
	To         Member
	Give, Get  []Asked
	Pays, Paid melt.Minor // what who offers pays, or is paid
}

// Asked is so many of a piece, in a condition if one was said.
type Asked struct {
	Key   HoldingKey
	Count int
}

// NotSpareError says that a member has not that many of a piece to spare.
type NotSpareError struct {
	Member int64
	Key    HoldingKey
	Spare  int // free, as the others may know it
}

func (e *NotSpareError) Error() string {
	return fmt.Sprintf("member %d has %d of %s/%s to spare", e.Member, e.Spare, e.Key.Series, e.Key.Piece)
}

// OfferTrade proposes a trade that a member puts forward, and to which they say yes by doing so. The values are frozen at the
// group's last silver price; the money is what was put forward, whatever the values say. It is a *NotSpareError when a piece
// is not free, and a *trade.Refusal when the offer makes no trade.
func (s *Store) OfferTrade(ctx context.Context, g Group, m Member, o Offer) (t Trade, err error) {
	catalogue, err := s.Catalogue(ctx, g)
	if err != nil {
		return t, err
	}
	var refused error
	err = s.inTx(ctx, "offer a trade", func(tx pgx.Tx) error {
		refused = nil
		spot, err := latestSpot(ctx, tx, g)
		if err != nil {
			return err
		}
		me, you := m.Identity(), o.To.Identity()
		values, err := s.newValuer(ctx, tx, g, spot, catalogue)
		if err != nil {
			return err
		}
		terms := trade.Terms{Lapse: g.Lapse, By: me, Fixed: true, Chain: len(o.Get) == 0 && o.Pays == 0 && o.Paid == 0}
		if spot != nil {
			terms.Currency = g.Currency
		}
		terms.Parties = []trade.Party{{Member: me}, {Member: you}}
		g.setOrder(&terms)
		if terms.Items, refused, err = offered(ctx, tx, values, m, o.To, o.Give, o.Get); err != nil || refused != nil {
			return err
		}
		if terms.TopUps, refused = payments(me, you, o); refused != nil {
			return nil
		}
		if len(terms.TopUps) > 0 {
			terms.Currency = g.Currency // without a silver price too: then the values beside it are weights, and not shown as money
		}
		made, notices, err := trade.Propose(terms, s.now())
		if refused = err; refused != nil {
			return nil
		}
		t = Trade{Group: g.ID, Trade: made}
		if spot != nil {
			t.Spot, t.SpotAt, t.SpotSource = &spot.Price, &spot.At, spot.Source
		}
		ok, err := s.insertTrade(ctx, tx, &t)
		if err != nil {
			return err
		}
		if !ok {
			t, refused, err = s.joinOffer(ctx, tx, t, me)
			return err
		}
		if err := s.insertDeed(ctx, tx, t, "Offer", me, true); err != nil {
			return err
		}
		return s.tellParties(ctx, tx, g, t, notices)
	})
	return t, cmp.Or(err, refused)
}

// joinOffer says yes for a member to the open trade that is what they offer, if they have not said so.
func (s *Store) joinOffer(ctx context.Context, tx pgx.Tx, offer Trade, me match.Member) (t Trade, refused, err error) {
	var id int64
	err = tx.QueryRow(ctx, `
		SELECT trade_id FROM trades WHERE group_id = $1 AND terms = $2 AND state IN ('proposed', 'agreed')`,
		offer.Group, termsOf(offer.Trade)).Scan(&id)
	if err != nil {
		return t, nil, err
	}
	if t, err = loadTrade(ctx, tx, id); err != nil {
		return t, nil, err
	}
	if refused = s.move(ctx, tx, id, trade.Accept{By: me, Version: t.Version, At: s.now()}); refused != nil && !isRefusal(refused) {
		return t, nil, refused
	}
	t, err = loadTrade(ctx, tx, id)
	return t, refused, err
}

// payments is the money of an offer.
func payments(me, you match.Member, o Offer) (pays []trade.TopUp, refused error) {
	if o.Pays < 0 || o.Paid < 0 || o.Pays > 0 && o.Paid > 0 {
		return nil, &trade.Refusal{Why: trade.NoTopUp, By: me}
	}
	if o.Pays > 0 {
		pays = append(pays, trade.TopUp{From: me, To: you, Amount: o.Pays})
	}
	if o.Paid > 0 {
		pays = append(pays, trade.TopUp{From: you, To: me, Amount: o.Paid})
	}
	return pays, nil
}

// CounterTrade puts other pieces and other money to the other party of a swap. Values are taken at the silver price that the
// trade froze, so that both offers are measured alike.
func (s *Store) CounterTrade(ctx context.Context, g Group, m Member, number int64, version int, o Offer) (t Trade, err error) {
	catalogue, err := s.Catalogue(ctx, g)
	if err != nil {
		return t, err
	}
	var refused error
	err = s.inTx(ctx, fmt.Sprintf("counter trade %d", number), func(tx pgx.Tx) error {
		refused = nil
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		if t, err = loadTrade(ctx, tx, id); err != nil {
			return err
		}
		me, you := m.Identity(), t.other(m.Identity())
		if you == "" {
			refused = &trade.Refusal{Why: trade.NoRing, By: me}
			return nil
		}
		var spot *Spot
		if t.Spot != nil {
			spot = &Spot{*t.SpotAt, t.Currency, *t.Spot, t.SpotSource}
		}
		other, err := memberByID(ctx, tx, memberID(you))
		if err != nil {
			return err
		}
		values, err := s.newValuer(ctx, tx, g, spot, catalogue)
		if err != nil {
			return err
		}
		e := trade.Counter{By: me, Version: version, At: s.now()}
		if e.Items, refused, err = offered(ctx, tx, values, m, other, o.Give, o.Get); err != nil || refused != nil {
			return err
		}
		if e.TopUps, refused = payments(me, you, o); refused != nil {
			return nil
		}
		if refused = s.move(ctx, tx, id, e); refused != nil && !isRefusal(refused) {
			return refused
		}
		t, err = loadTrade(ctx, tx, id)
		return err
	})
	return t, cmp.Or(err, refused)
}

// other is the other party of a swap, "" where there is none.
func (t Trade) other(m match.Member) match.Member {
	if len(t.Parties) != 2 || t.Chain || !t.Has(m) {
		return ""
	}
	i := slices.IndexFunc(t.Parties, func(p trade.Party) bool { return p.Member != m })
	return t.Parties[i].Member
}

// offered finds the rows behind what two members would give each other.
func offered(ctx context.Context, tx pgx.Tx, values valuer, me, you Member, give, get []Asked) (items []trade.Item, refused, err error) {
	mine, err := loadShelf(ctx, tx, me.ID)
	if err != nil {
		return nil, nil, err
	}
	yours, err := loadShelf(ctx, tx, you.ID)
	if err != nil {
		return nil, nil, err
	}
	for _, side := range []struct {
		from, to       Member
		giver, getter  *Shelf
		pieces         []Asked
		quietIsNothing bool
	}{{me, you, mine, yours, give, false}, {you, me, yours, mine, get, true}} {
		taken := map[HoldingKey]int{}
		filled := map[WantKey]int{}
		for _, asked := range side.pieces {
			for range asked.Count {
				key, ok := side.giver.freeRow(asked.Key, taken, side.quietIsNothing)
				if !ok {
					return nil, &NotSpareError{side.from.ID, asked.Key, side.giver.freeOf(asked.Key, side.quietIsNothing)}, nil
				}
				taken[key]++
				h := side.giver.Holdings[key]
				item := trade.Item{
					From: side.from.Identity(), To: side.to.Identity(), Holding: h.ID, Piece: pieceID(key),
					Want: side.getter.openWant(key, filled), Value: values.of(key).value,
				}
				if h.Ask != nil && values.spot != nil {
					item.Value = *h.Ask
				}
				items = append(items, item)
			}
		}
	}
	return items, nil, nil
}

// freeRow finds a row of a piece that can still be promised; in any condition if none was said, the best first. To others a
// quiet spare is none.
func (s *Shelf) freeRow(key HoldingKey, taken map[HoldingKey]int, quietIsNothing bool) (HoldingKey, bool) {
	rows := s.rows(key.Series, key.Piece)
	slices.Reverse(rows)
	for _, row := range rows {
		h := s.Holdings[row]
		if (key.Condition == series.Unsaid || row == key) && h.Free() > taken[row] && !(quietIsNothing && h.Quiet) {
			return row, true
		}
	}
	return HoldingKey{}, false
}

func (s *Shelf) freeOf(key HoldingKey, quietIsNothing bool) (n int) {
	for _, row := range s.rows(key.Series, key.Piece) {
		if h := s.Holdings[row]; (key.Condition == series.Unsaid || row == key) && !(quietIsNothing && h.Quiet) {
			n += h.Free()
		}
	}
	return n
}

// openWant finds the row of a want that a piece would fill, the one that fewest pieces fill; 0 for none. Filled counts what
// an offer fills already.
func (s *Shelf) openWant(key HoldingKey, filled map[WantKey]int) int64 {
	var best WantKey
	var found bool
	for k, w := range s.Wants {
		if k.Series != key.Series || !slices.Contains(w.Pieces, key.Piece) || !key.Condition.Meets(w.Least) || w.Quantity-w.Taken <= filled[k] {
			continue
		}
		if !found || cmp.Or(len(w.Pieces)-len(s.Wants[best].Pieces), compareWantKeys(k, best)) < 0 {
			best, found = k, true
		}
	}
	if !found {
		return 0
	}
	filled[best]++
	return s.Wants[best].ID
}
