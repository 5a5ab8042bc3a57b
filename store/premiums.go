package store

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Observed is what a piece fetched above melt in a group: in money for one piece, for what people pay above melt for a
// piece hangs on the piece more than on the price of silver.
type Observed struct {
	Series, Piece     string
	Median, Low, High melt.Minor // may be below zero
	Count             int
	Oldest, Newest    time.Time
}

const (
	// LeastObserved is how many observations make a premium; so many members must have taken part in them, so that
	// nobody sets what their own spares count for, and nobody's purchase can be read off.
	LeastObserved = 3
	leastWitness  = 2
	// ObservedDays is how long an observation counts.
	ObservedDays = 180
	// freshSpotDays is how old the spot price may have been when something was bought, for a premium over it to mean anything.
	freshSpotDays = 3
)

// observation is one price paid, above melt.
type observation struct {
	at      time.Time
	premium melt.Minor
	witness []int64
}

// ObservedPremiums lists what pieces of a group fetched above melt, in its currency, by series and piece: from trades that
// closed in which an owner's ask was agreed to, and from purchases that members recorded. Values that we made up ourselves
// are no observations.
func (s *Store) ObservedPremiums(ctx context.Context, g Group) (all []Observed, err error) {
	catalogue, err := s.Catalogue(ctx, g)
	if err != nil {
		return nil, err
	}
	err = s.inSnapshot(ctx, "read the premiums", func(tx pgx.Tx) error {
		seen, err := s.observedPremiums(ctx, tx, g, catalogue)
		if err != nil {
			return err
		}
		all = nil
		for _, o := range seen {
			all = append(all, o)
		}
		return nil
	})
	slices.SortFunc(all, func(a, b Observed) int {
		return cmp.Or(cmp.Compare(a.Series, b.Series), cmp.Compare(a.Piece, b.Piece))
	})
	return all, err
}

func (s *Store) observedPremiums(ctx context.Context, tx pgx.Tx, g Group, catalogue *series.Catalogue) (map[HoldingKey]Observed, error) {
	since := s.now().AddDate(0, 0, -ObservedDays)
	of := map[HoldingKey][]observation{}
	if err := s.observedTrades(ctx, tx, g, since, of); err != nil {
		return nil, err
	}
	if err := s.observedPurchases(ctx, tx, g, catalogue, since, of); err != nil {
		return nil, err
	}
	seen := map[HoldingKey]Observed{}
	for key, all := range of {
		if o, ok := summary(key, all); ok {
			seen[key] = o
		}
	}
	return seen, nil
}

// summary is the median of observations and their spread; false when they are too few.
func summary(key HoldingKey, all []observation) (Observed, bool) {
	witnesses := map[int64]bool{}
	for _, o := range all {
		for _, m := range o.witness {
			witnesses[m] = true
		}
	}
	if len(all) < LeastObserved || len(witnesses) < leastWitness {
		return Observed{}, false
	}
	o := Observed{Series: key.Series, Piece: key.Piece, Count: len(all), Oldest: all[0].at, Newest: all[0].at}
	premiums := make([]melt.Minor, len(all))
	for i, one := range all {
		premiums[i] = one.premium
		if one.at.Before(o.Oldest) {
			o.Oldest = one.at
		}
		if one.at.After(o.Newest) {
			o.Newest = one.at
		}
	}
	slices.Sort(premiums)
	o.Low, o.High = premiums[0], premiums[len(premiums)-1]
	o.Median = median(premiums)
	return o, true
}

// median is the middle of sorted amounts; of the two middle ones the mean, rounded half away from zero.
func median(sorted []melt.Minor) melt.Minor {
	n := len(sorted)
	a, b := sorted[(n-1)/2], sorted[n/2]
	sum := a/2 + b/2
	switch rest := a%2 + b%2; {
	case rest == 2 || rest == -2:
		return sum + rest/2
	case rest == 1 && sum >= 0, rest == -1 && sum <= 0:
		return sum + rest
	}
	return sum
}

func (s *Store) observedTrades(ctx context.Context, tx pgx.Tx, g Group, since time.Time, of map[HoldingKey][]observation) error {
	rows, _ := tx.Query(ctx, `
		SELECT p.series, p.piece, p.at, p.premium, i.from_member, i.to_member
		FROM premiums_seen p JOIN trade_items i USING (trade_id, position) JOIN trades t USING (trade_id)
		WHERE p.group_id = $1 AND p.currency = $2 AND p.at >= $3 AND t.state = 'closed'`, g.ID, g.Currency, since)
	var key HoldingKey
	var o observation
	var from, to int64
	_, err := pgx.ForEachRow(rows, []any{&key.Series, &key.Piece, &o.at, &o.premium, &from, &to}, func() error {
		o.witness = []int64{from, to}
		of[key] = append(of[key], o)
		return nil
	})
	return err
}

func (s *Store) observedPurchases(ctx context.Context, tx pgx.Tx, g Group, catalogue *series.Catalogue, since time.Time, of map[HoldingKey][]observation) error {
	rows, _ := tx.Query(ctx, `
		SELECT series, piece, at, price, spot, member_id FROM purchases
		WHERE group_id = $1 AND currency = $2 AND at >= $3 AND price > 0 AND spot_at > at - make_interval(days => $4)`,
		g.ID, g.Currency, since, freshSpotDays)
	var key HoldingKey
	var o observation
	var price melt.Minor
	var spot melt.Price
	var member int64
	_, err := pgx.ForEachRow(rows, []any{&key.Series, &key.Piece, &o.at, &price, &spot, &member}, func() error {
		one, _ := catalogue.Series(key.Series)
		p, _ := one.Piece(key.Piece)
		above, err := melt.PremiumOf(price, one.MetalOf(p), spot, g.Currency)
		if err != nil {
			return nil // of a piece whose metal nobody knows there is no premium
		}
		o.premium, o.witness = above.Money, []int64{member}
		of[key] = append(of[key], o)
		return nil
	})
	return err
}

// observe keeps what pieces go for in a trade that has just been agreed, where their owner's ask was agreed to. It counts
// once the trade has closed; that is when the pieces were worth it to somebody, but the ask is gone by then. In
// a trade that a member put forward the money is what they say, so no piece in it has a price of its own.
func (s *Store) observe(ctx context.Context, tx pgx.Tx, g Group, t Trade) error {
	if t.Spot == nil || t.Chain || t.Fixed || t.Currency != g.Currency {
		return nil
	}
	catalogue, err := s.Catalogue(ctx, g)
	if err != nil {
		return err
	}
	for position, item := range t.Items {
		var asked bool
		err := tx.QueryRow(ctx, `
			SELECT EXISTS (SELECT 1 FROM holdings WHERE holding_id = $1 AND ask = $2 AND NOT gift)`, item.Holding, item.Value).Scan(&asked)
		if err != nil {
			return err
		}
		key := ReadPieceID(item.Piece)
		one, _ := catalogue.Series(key.Series)
		p, _ := one.Piece(key.Piece)
		above, err := melt.PremiumOf(item.Value, one.MetalOf(p), *t.Spot, g.Currency)
		if !asked || err != nil {
			continue
		}
		if _, err := tx.Exec(ctx, `
			INSERT INTO premiums_seen (trade_id, position, group_id, series, piece, at, currency, premium)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT DO NOTHING`,
			t.ID, position, g.ID, key.Series, key.Piece, s.now(), g.Currency, above.Money); err != nil {
			return err
		}
	}
	return nil
}
