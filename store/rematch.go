package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/trade"
)

const (
	// proposalsAtOnce is how many open proposals a member may stand in before they are asked no more: a few good ones
	// are answered, a pile is not.
	proposalsAtOnce = 3
	// restDays is how long a trade that somebody declined, or let lapse, is not proposed again.
	restDays = 30
)

// Rematch looks for trades that a member could be in now and proposes the best that are new. It reads one picture of the
// group, decides without holding anything, then writes what still holds.
func (s *Store) Rematch(ctx context.Context, member int64) error {
	var k *market
	var g Group
	var m Member
	var version, matched int64
	err := s.inSnapshot(ctx, "read the market", func(tx pgx.Tx) (err error) {
		if m, err = memberByID(ctx, tx, member); err != nil {
			return err
		}
		if err = tx.QueryRow(ctx, `SELECT told_of, matched FROM members WHERE member_id = $1`, member).Scan(&version, &matched); err != nil {
			return err
		}
		if m.Gone || matched >= version {
			return nil // an earlier job has seen this change already
		}
		if g, err = groupByID(ctx, tx, m.Group); err != nil {
			return err
		}
		catalogue, err := s.Catalogue(ctx, g)
		if err != nil {
			return err
		}
		k, err = s.readMarket(ctx, tx, g, catalogue)
		return err
	})
	if err != nil || k == nil {
		return err
	}
	found := match.NewIndex(k.pool).For(m.Identity(), 2*proposalsAtOnce)
	return s.inTx(ctx, "propose trades", func(tx pgx.Tx) error {
		for _, f := range found {
			if err := s.propose(ctx, tx, g, k, f); err != nil {
				return err
			}
		}
		_, err := tx.Exec(ctx, `UPDATE members SET matched = greatest(matched, $2) WHERE member_id = $1`, member, version)
		return err
	})
}

// rematchLater has a job look for trades that a change of a member's has opened.
func (s *Store) rematchLater(ctx context.Context, tx pgx.Tx, member int64) error {
	if _, err := tx.Exec(ctx, `UPDATE members SET told_of = told_of + 1 WHERE member_id = $1`, member); err != nil {
		return err
	}
	_, err := s.jobs.InsertTx(ctx, tx, RematchArgs{Member: member}, nil)
	return err
}

// propose writes one trade that the matcher found, unless it is open already, was turned down lately, one of its parties
// has enough to answer, or a piece has gone since the market was read.
func (s *Store) propose(ctx context.Context, tx pgx.Tx, g Group, k *market, f match.Trade) error {
	terms, err := k.terms(g, f)
	if err != nil {
		return err
	}
	made, notices, err := trade.Propose(terms, s.now())
	if isRefusal(err) {
		s.log.WarnContext(ctx, "the matcher's trade was refused", "group", g.ID, "err", err)
		return nil
	}
	if err != nil {
		return err
	}
	t := Trade{Group: g.ID, Trade: made}
	if k.spot != nil {
		t.Spot, t.SpotAt, t.SpotSource = &k.spot.Price, &k.spot.At, k.spot.Source
	}
	ok, err := s.welcome(ctx, tx, t)
	if err != nil || !ok {
		return err
	}
	if ok, err := s.insertTrade(ctx, tx, &t); err != nil || !ok {
		return err
	}
	var gone bool
	if err := tx.QueryRow(ctx, `SELECT `+hollow+` FROM trades t WHERE t.trade_id = $1`, t.ID).Scan(&gone); err != nil {
		return err
	}
	if gone {
		_, err := tx.Exec(ctx, `DELETE FROM trades WHERE trade_id = $1`, t.ID)
		return err
	}
	return s.tellParties(ctx, tx, g, t, notices)
}

// welcome reports whether a trade may be proposed now.
func (s *Store) welcome(ctx context.Context, tx pgx.Tx, t Trade) (ok bool, err error) {
	ids := make([]int64, len(t.Parties))
	for i, p := range t.Parties {
		ids[i] = memberID(p.Member)
	}
	err = tx.QueryRow(ctx, `
		SELECT NOT EXISTS (
			SELECT 1 FROM trades WHERE group_id = $1 AND terms = $2 AND (state IN ('proposed', 'agreed')
				OR ending IN ('declined', 'lapsed') AND moved_at > $3::timestamptz - make_interval(days => $4)))
		AND NOT EXISTS (
			SELECT 1 FROM trade_parties JOIN trades USING (trade_id)
			WHERE member_id = ANY ($5) AND state = 'proposed' GROUP BY member_id HAVING count(*) >= $6)`,
		t.Group, termsOf(t.Trade), s.now(), restDays, ids, proposalsAtOnce).Scan(&ok)
	return ok, err
}

// terms turns what the matcher found into the terms of a trade, with the rows behind every piece.
func (k *market) terms(g Group, f match.Trade) (trade.Terms, error) {
	terms := trade.Terms{Chain: f.Kind == match.Chain, Lapse: g.Lapse}
	if k.spot != nil {
		terms.Currency = g.Currency // else the values are weights
	}
	limits := map[match.Member]match.Trader{}
	for _, trader := range k.pool.Members {
		limits[trader.ID] = trader
	}
	values := map[spareKey]match.Spare{}
	for _, spare := range k.pool.Spares {
		values[spareKey{spare.Member, spare.Piece}] = spare
	}
	for _, leg := range f.Legs {
		terms.Parties = append(terms.Parties, trade.Party{Member: leg.From, TopUpLimit: limits[leg.From].TopUp})
		for _, item := range leg.Items {
			spare := spareKey{leg.From, item.Piece}
			holding, ok := k.holdings[spare]
			if !ok || item.Want < 0 || item.Want >= len(k.wants) {
				return terms, fmt.Errorf("the matcher names %s of %s, want %d, which is not in the pool", item.Piece, leg.From, item.Want)
			}
			terms.Items = append(terms.Items, trade.Item{
				From: leg.From, To: leg.To, Holding: holding, Want: k.wants[item.Want], Piece: item.Piece, Value: values[spare].Value,
			})
		}
	}
	if terms.Chain {
		last := f.Legs[len(f.Legs)-1].To
		terms.Parties = append(terms.Parties, trade.Party{Member: last, TopUpLimit: limits[last].TopUp})
	}
	return terms, nil
}
