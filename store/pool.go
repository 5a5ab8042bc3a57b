package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// basis is what values are worked out from: when it changes, a market is valued anew.
type basis struct {
	group   Group // of which the settings count
	spot    *Spot
	postage []match.Tariff
	values  valuer
}

// stalls are a group's members by row, valued on one basis.
type stalls struct {
	basis
	of    map[int64]*stall
	kinds map[string][]kind // by series and piece, the kinds of it that have been on offer
}

// listing is a pool of the matcher's with what is behind it.
type listing struct {
	pool  *match.Pool
	wants []int64           // the row, by place in the pool's wants
	kinds map[string][]kind // of its pieces, as in stalls
}

func slotName(code, piece string) string { return code + "/" + piece }

// list makes a pool of the stalls of some members, of all when members is nil. The same stalls make the same pool.
func (k stalls) list(members []int64) listing { return k.listWith(members, nil) }

// listWith is list with some kinds known beside those on offer, so that wants of them are listed too.
func (k stalls) listWith(members []int64, more []kind) listing {
	k.kinds = map[string][]kind{}
	l := listing{kinds: k.kinds, pool: &match.Pool{
		Currency: string(k.group.Currency), Ring: k.group.Ring, MinGain: 1, Chain: chainsOf,
		Members: []match.Trader{}, Pieces: []match.PieceInfo{}, Spares: []match.Spare{}, Wants: []match.Want{},
	}}
	if k.spot != nil {
		l.pool.Postage = k.postage // without a price values are weights, from which no postage can be taken
	}
	if members == nil {
		members = slices.Sorted(maps.Keys(k.of))
	}
	members = slices.DeleteFunc(members, func(id int64) bool { return k.of[id] == nil || k.of[id].gone })
	for _, id := range members {
		s := k.of[id]
		l.pool.Members = append(l.pool.Members, k.trader(id, s))
		for _, piece := range s.pieces() {
			spare := s.spares[piece]
			w := k.values.of(spare.key)
			if !w.exists {
				continue // the catalogue of this picture does not know it yet
			}
			if k.isNew(spare.kind()) {
				l.pool.Pieces = append(l.pool.Pieces, k.piece(spare.kind()))
			}
			l.pool.Spares = append(l.pool.Spares, k.spare(id, piece, spare))
		}
	}
	for _, one := range more {
		if k.values.of(one.HoldingKey).exists && k.isNew(one) {
			l.pool.Pieces = append(l.pool.Pieces, k.piece(one))
		}
	}
	for _, id := range members {
		for _, row := range slices.Sorted(maps.Keys(k.of[id].wants)) {
			w := k.of[id].wants[row]
			fill := k.fill(w)
			for n := 0; n < w.Quantity && len(fill) > 0; n++ {
				l.pool.Wants = append(l.pool.Wants, match.Want{Member: identity(id), Fill: fill})
				l.wants = append(l.wants, row)
			}
		}
	}
	return l
}

// chainsOf is how many members a gift chain may have.
const chainsOf = 2

// isNew notes a kind of piece, and reports whether it was unknown.
func (k *stalls) isNew(one kind) bool {
	name := slotName(one.Series, one.Piece)
	if slices.ContainsFunc(k.kinds[name], one.same) {
		return false
	}
	k.kinds[name] = append(k.kinds[name], one)
	slices.SortFunc(k.kinds[name], func(a, b kind) int { return cmp.Compare(a.id(), b.id()) })
	return true
}

func (k *stalls) trader(id int64, s *stall) match.Trader {
	t := match.Trader{ID: identity(id), Region: s.region, TopUp: k.group.TopUpLimit, Trades: proposalsAtOnce}
	if s.limit != nil {
		t.TopUp = *s.limit
	}
	if k.spot == nil {
		t.TopUp = 0 // values are weights then, and nobody pays in weight
	}
	if s.gone {
		t.Trades = 0
	}
	return t
}

func (k *stalls) piece(one kind) match.PieceInfo {
	w := k.values.of(one.HoldingKey)
	return match.PieceInfo{ID: one.id(), Series: one.Series, Ounces: ounces(w.metal), Value: k.price(one)}
}

// price is what one of a kind counts for.
func (k *stalls) price(one kind) melt.Minor {
	if one.ask != nil && k.spot != nil {
		return *one.ask
	}
	return k.values.of(one.HoldingKey).value
}

func (k *stalls) spare(owner int64, piece match.Piece, s stallSpare) match.Spare {
	return match.Spare{Member: identity(owner), Piece: piece, Count: s.count, Value: k.price(s.kind()), Gift: s.gift}
}

// fill lists what on offer would fill a want. What that is worth to the member goes by the piece's own value: a high asking
// price does not make it worth more.
func (k *stalls) fill(w *stallWant) []match.Fill {
	var fill []match.Fill
	for _, piece := range w.Pieces {
		for _, one := range k.kinds[slotName(w.key.Series, piece)] {
			if one.Condition.Meets(w.Least) && (w.Top == nil || k.spot == nil || k.price(one) <= *w.Top) {
				fill = append(fill, match.Fill{Piece: one.id(), Gain: gain(w.Priority, k.values.of(one.HoldingKey).value)})
			}
		}
	}
	return fill
}

// ounces is what a piece weighs on the scale, in troy ounces, for postage: no money is made of it but a tariff.
func ounces(m melt.Metal) float64 { return float64(m.Gross) / float64(melt.TroyOunce) }

// terms turns what the matcher found into the terms of a trade, with the rows behind every piece. Wants are those of the
// pool in which it was found.
func (k *stalls) terms(f match.Trade, wants []int64) (trade.Terms, error) {
	terms := trade.Terms{Chain: f.Kind == match.Chain, Lapse: k.group.Lapse}
	if k.spot != nil {
		terms.Currency = k.group.Currency // else the values are weights
	}
	for _, m := range f.Members() {
		s := k.of[memberID(m)]
		if s == nil {
			return terms, fmt.Errorf("the matcher names %s, who is not in the pool", m)
		}
		terms.Parties = append(terms.Parties, trade.Party{Member: m, TopUpLimit: k.trader(memberID(m), s).TopUp})
	}
	for _, leg := range f.Legs {
		for _, item := range leg.Items {
			spare, ok := k.of[memberID(leg.From)].spares[item.Piece]
			if !ok || item.Want < 0 || item.Want >= len(wants) {
				return terms, fmt.Errorf("the matcher names %s of %s, want %d, which is not in the pool", item.Piece, leg.From, item.Want)
			}
			terms.Items = append(terms.Items, trade.Item{
				From: leg.From, To: leg.To, Holding: spare.holding, Want: wants[item.Want], Piece: pieceID(spare.key),
				Value: k.price(spare.kind()),
			})
			want := k.of[memberID(leg.To)].wants[wants[item.Want]]
			terms.Silent = terms.Silent || spare.quiet || want != nil && want.Quiet
		}
	}
	k.group.setOrder(&terms)
	return terms, nil
}
