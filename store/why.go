package store

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/trade"
)

// Why says why a want of a member's has no agreed trade.
type Why struct {
	Kind    WhyKind
	Trade   int64       // WhyAsked, WhyPromised: the trade's number
	Until   time.Time   // WhyResting: when it may be proposed again
	Holders []WhyHolder // who can spare one, the nearest to a trade first
}

// WhyKind is the reason.
type WhyKind int

const (
	// WhyNotWanted: the member has no such want.
	WhyNotWanted WhyKind = iota
	// WhyPromised: an agreed trade fills it.
	WhyPromised
	// WhyAsked: a proposal that the member stands in would.
	WhyAsked
	// WhyResting: a trade would, but it was turned down lately.
	WhyResting
	// WhyBusy: a trade would, but somebody in it has as many proposals to answer as they are asked at once.
	WhyBusy
	// WhySoon: a trade would, and it is about to be proposed.
	WhySoon
	// WhyNobody: nobody else says that they can spare one.
	WhyNobody
	// WhyCondition: there are some, in lesser condition than the member asks for.
	WhyCondition
	// WhyTooDear: there are some, above the most the member would give.
	WhyTooDear
	// WhyUnwanted: who can spare one wants nothing that the member can spare.
	WhyUnwanted
	// WhyNear: who can spare one wants something of the member's, yet a swap lacks what the first holder's Lacks say.
	WhyNear
)

// WhyHolder is a member who can spare a piece that would do.
type WhyHolder struct {
	Member int64
	Key    HoldingKey
	Lacks  []match.Lack
	Wants  []WantKey // what they look for, most wanted first: no more than "wants" shows anyone who asks
}

// holdersTold is how many holders are named, wantsTold how many of their wants.
const holdersTold, wantsTold = 3, 5

// ErrNoWant says that a member has no such want.
var ErrNoWant = errors.New("no such want")

// Why finds out why a want has no trade. It may have a job look for one, if there is one to propose.
func (s *Store) Why(ctx context.Context, m Member, key WantKey) (Why, error) {
	var w Why
	var row int64
	err := s.inSnapshot(ctx, "find the want", func(tx pgx.Tx) (err error) {
		w, row, err = standing(ctx, tx, m, key)
		return err
	})
	if errors.Is(err, ErrNoWant) {
		return Why{Kind: WhyNotWanted}, nil
	}
	if err != nil || w.Kind != WhyNotWanted {
		return w, err
	}
	w, found, err := s.whyNot(ctx, m, row)
	if err != nil || found == nil {
		return w, err
	}
	err = s.inTx(ctx, "see why it is not proposed", func(tx pgx.Tx) error {
		w, err = s.heldBack(ctx, tx, m, found)
		return err
	})
	return w, err
}

// standing finds a want, and the trade that fills it or would.
func standing(ctx context.Context, tx pgx.Tx, m Member, key WantKey) (w Why, row int64, err error) {
	var quantity, taken int
	err = tx.QueryRow(ctx, `
		SELECT want_id, quantity, taken FROM wants WHERE member_id = $1 AND series = $2 AND wanted = $3`,
		m.ID, key.Series, key.Wanted).Scan(&row, &quantity, &taken)
	if err == pgx.ErrNoRows {
		return w, 0, ErrNoWant
	}
	if err != nil {
		return w, 0, err
	}
	var agreed bool
	err = tx.QueryRow(ctx, `
		SELECT number, state = 'agreed' FROM trades JOIN trade_items USING (trade_id)
		WHERE want_id = $1 AND (state = 'agreed' AND $2 OR state = 'proposed' AND NOT $2) ORDER BY trade_id LIMIT 1`,
		row, taken >= quantity).Scan(&w.Trade, &agreed)
	switch {
	case err == pgx.ErrNoRows:
		return w, row, nil
	case agreed:
		w.Kind = WhyPromised
	default:
		w.Kind = WhyAsked
	}
	return w, row, err
}

// whyNot asks the matcher about a want that no trade fills. If there is a trade after all it is returned.
func (s *Store) whyNot(ctx context.Context, m Member, row int64) (Why, *find, error) {
	k, err := s.market(ctx, m.Group)
	if err != nil {
		return Why{}, nil, err
	}
	defer k.mu.RUnlock()
	ask, ok := k.asks[row]
	if !ok {
		return Why{Kind: WhyNotWanted}, nil, nil // it went this very moment
	}
	if len(ask.want.places) == 0 {
		return k.unfit(m.ID, ask.want), nil, nil
	}
	why := k.index.WhyNot(ask.want.places[0])
	w := Why{Kind: WhyNobody}
	switch why.Kind {
	case match.HasTrade:
		terms, err := k.terms(*why.Trade, k.wants)
		return w, &find{group: k.group, spot: k.spot, terms: terms}, err
	case match.NobodyHas:
		return k.unfit(m.ID, ask.want), nil, nil
	case match.HoldersWantNothing:
		w.Kind = WhyUnwanted
	case match.HoldersNearMiss:
		w.Kind = WhyNear
	case match.NoTradesLeft:
		w.Kind = WhyBusy
	}
	return k.openly(m.ID, w, why.Holders), nil, nil
}

// openly keeps of a reason what the member may know: nobody's quiet spare, and nothing of what somebody wants quietly.
func (k *market) openly(me int64, w Why, holders []match.WhyHolder) Why {
	for _, h := range holders {
		id := memberID(h.Member)
		if k.of[id].spares[h.Piece].quiet || len(w.Holders) == holdersTold {
			continue
		}
		if !k.looksFor(id, me) {
			h.Lacks = nil
		}
		w.Holders = append(w.Holders, WhyHolder{id, ReadPieceID(h.Piece), h.Lacks, k.wanted(id)})
	}
	slices.SortStableFunc(w.Holders, func(a, b WhyHolder) int { return cmp.Compare(min(1, len(b.Lacks)), min(1, len(a.Lacks))) })
	switch {
	case len(w.Holders) == 0:
		w.Kind = WhyNobody
	case w.Kind == WhyNear && len(w.Holders[0].Lacks) == 0:
		w.Kind = WhyUnwanted
	}
	return w
}

// looksFor reports whether a member wants something of another's, and does so openly.
func (k *market) looksFor(id, other int64) bool {
	for _, w := range k.of[id].wants {
		if w.Quiet {
			continue
		}
		for _, f := range k.fill(w) {
			if _, ok := k.of[other].spares[f.Piece]; ok {
				return true
			}
		}
	}
	return false
}

// unfit tells a piece that nobody can spare from one that is there, but not as the member wants it.
func (k *market) unfit(me int64, want *stallWant) Why {
	w := Why{Kind: WhyNobody}
	for _, id := range slices.Sorted(maps.Keys(k.of)) {
		for _, piece := range k.of[id].pieces() {
			key := k.of[id].spares[piece].key
			if id == me || k.of[id].spares[piece].quiet || key.Series != want.key.Series || !slices.Contains(want.Pieces, key.Piece) {
				continue
			}
			switch {
			case key.Condition.Meets(want.Least):
				w.Kind = WhyTooDear // all else of it fits
			case w.Kind == WhyNobody:
				w.Kind = WhyCondition
			}
			if len(w.Holders) < holdersTold {
				w.Holders = append(w.Holders, WhyHolder{Member: id, Key: key})
			}
		}
	}
	return w
}

// wanted lists what a member looks for, what matters most to them first.
func (k *market) wanted(id int64) []WantKey {
	wants := slices.SortedFunc(maps.Values(k.of[id].wants), func(a, b *stallWant) int {
		return cmp.Or(cmp.Compare(b.Priority, a.Priority), compareWantKeys(a.key, b.key))
	})
	var keys []WantKey
	for _, w := range wants {
		if !w.Quiet && len(keys) < wantsTold {
			keys = append(keys, w.key)
		}
	}
	return keys
}

// heldBack says why a trade that there is has not been proposed. If nothing holds it back a job will.
func (s *Store) heldBack(ctx context.Context, tx pgx.Tx, m Member, f *find) (w Why, err error) {
	ids := make([]int64, len(f.terms.Parties))
	for i, p := range f.terms.Parties {
		ids[i] = memberID(p.Member)
	}
	var until *time.Time
	var busy bool
	err = tx.QueryRow(ctx, `
		SELECT (SELECT max(moved_at) + make_interval(days => $4) FROM trades
				WHERE group_id = $1 AND terms = $2 AND ending IN ('declined', 'lapsed')),
			EXISTS (SELECT 1 FROM trade_parties JOIN trades USING (trade_id)
				WHERE member_id = ANY ($3) AND state = 'proposed' GROUP BY member_id HAVING count(*) >= $5)`,
		m.Group, termsOf(trade.Trade{Items: f.terms.Items}), ids, restDays, proposalsAtOnce).Scan(&until, &busy)
	switch {
	case err != nil:
		return w, err
	case until != nil && until.After(s.now()):
		return Why{Kind: WhyResting, Until: *until}, nil
	case busy:
		return Why{Kind: WhyBusy}, nil
	}
	return Why{Kind: WhySoon}, s.rematchLater(ctx, tx, m.ID, nil)
}
