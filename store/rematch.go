package store

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/trade"
)

const (
	// proposalsAtOnce is how many open proposals a member may stand in before they are asked no more: a few good ones
	// are answered, a pile is not.
	proposalsAtOnce = 3
	// restDays is how long a trade that somebody declined, let lapse or did not finish is not proposed again.
	restDays = 30
)

// wholeUpTo is the largest group, in members, in which every change of a member's has all their trades looked for. In a
// larger one that takes seconds, and only what the change has opened is.
const wholeUpTo = 200

// opened is what a change of a member's could have opened trades by.
type opened struct {
	Spares []HoldingKey `json:"spares,omitempty"`
	Wants  []WantKey    `json:"wants,omitempty"`
	Change int64        `json:"change"` // which of the member's it was, by number
}

// Rematch looks for trades that a member could be in now and proposes the best that are new. It reads one picture of the
// group, decides without holding anything of the database, then writes what still holds.
func (s *Store) Rematch(ctx context.Context, member int64) error {
	return s.rematch(ctx, RematchArgs{Member: member})
}

func (s *Store) rematch(ctx context.Context, job RematchArgs) error {
	var m Member
	var version, matched int64
	err := s.inSnapshot(ctx, "find the member to match", func(tx pgx.Tx) (err error) {
		if m, err = memberByID(ctx, tx, job.Member); err != nil {
			return err
		}
		return tx.QueryRow(ctx, `SELECT told_of, matched FROM members WHERE member_id = $1`, job.Member).Scan(&version, &matched)
	})
	if err != nil || m.Gone || matched >= version || job.Opened != nil && matched >= job.Opened.Change {
		return err // a look at everything has seen this change already
	}
	found, whole, err := s.findFor(ctx, m, job.Opened)
	if err != nil {
		return err
	}
	return s.inTx(ctx, "propose trades", func(tx pgx.Tx) error {
		for _, f := range found {
			if err := s.propose(ctx, tx, f); err != nil {
				return err
			}
		}
		if !whole {
			return nil
		}
		_, err := tx.Exec(ctx, `UPDATE members SET matched = greatest(matched, $2) WHERE member_id = $1`, job.Member, version)
		return err
	})
}

// find is a trade that the matcher found, with the terms and reasons it would be proposed with.
type find struct {
	group   Group
	spot    *Spot
	terms   trade.Terms
	reasons *Reasons
	round   int64 // in which it was found; 0: by a member's change
	most    int   // open proposals that a party may stand in already, and one more; 0: as many as usual
}

// findFor finds the best trades that a member could be in now: all of them, or in a large group, where it is known what a
// change could have opened, those that it has.
func (s *Store) findFor(ctx context.Context, m Member, by *opened) (found []find, whole bool, err error) {
	k, err := s.market(ctx, m.Group)
	if err != nil {
		return nil, false, err
	}
	defer k.mu.RUnlock()
	const most = 2 * proposalsAtOnce
	var best []match.Trade
	if whole = by == nil || len(k.of) <= wholeUpTo; whole {
		best = k.index.For(m.Identity(), most)
	} else {
		best = k.openedBy(m, by, most)
	}
	for _, f := range append(k.handedDown(m), best...) {
		terms, err := k.terms(f, k.wants)
		if err != nil {
			return nil, false, err
		}
		found = append(found, find{group: k.group, spot: k.spot, terms: terms, reasons: k.reasons(f)})
	}
	return found, whole, nil
}

// handedDownAmong is how many members the longest chain of hand-me-downs has that is proposed. Nobody in it sends before they
// have got something, so a long one that breaks leaves nobody the poorer.
const handedDownAmong = 5

// handedDown finds the longest chain that each gift of a member could start, where it goes beyond who gets the gift.
func (k *market) handedDown(m Member) (chains []match.Trade) {
	of := k.of[m.ID]
	if of == nil {
		return nil
	}
	for _, piece := range of.pieces() {
		if !of.spares[piece].gift {
			continue
		}
		for _, chain := range k.index.HandMeDowns(m.Identity(), piece, handedDownAmong, 1) {
			if len(chain.Legs) > 1 {
				chains = append(chains, chain)
			}
		}
	}
	return chains
}

// openedBy finds the best trades that a change has opened.
func (k *market) openedBy(m Member, by *opened, most int) (best []match.Trade) {
	for _, piece := range k.of[m.ID].pieces() {
		if slices.Contains(by.Spares, k.of[m.ID].spares[piece].key) {
			best = append(best, k.index.OpenedBySpare(m.Identity(), piece, most)...)
		}
	}
	for _, row := range slices.Sorted(maps.Keys(k.of[m.ID].wants)) {
		if w := k.of[m.ID].wants[row]; slices.Contains(by.Wants, w.key) && len(w.places) > 0 {
			best = append(best, k.index.OpenedByWant(w.places[0], most)...)
		}
	}
	p := k.answers.Acceptance()
	slices.SortStableFunc(best, func(a, b match.Trade) int { return cmp.Compare(b.Expected(p), a.Expected(p)) })
	return best[:min(len(best), most)]
}

// rematchLater has a job look for trades that a change of a member's has opened: by, or nil for anything.
func (s *Store) rematchLater(ctx context.Context, tx pgx.Tx, member int64, by *opened) error {
	var change int64
	err := tx.QueryRow(ctx, `UPDATE members SET told_of = told_of + 1 WHERE member_id = $1 RETURNING told_of`, member).Scan(&change)
	if err != nil {
		return err
	}
	if by != nil {
		by.Change = change
	}
	_, err = s.jobs.InsertTx(ctx, tx, RematchArgs{Member: member, Opened: by}, nil)
	return err
}

// propose writes one trade that the matcher found, unless it is open already, was turned down lately, one of its parties
// has enough to answer, or a piece has gone since the market was read.
func (s *Store) propose(ctx context.Context, tx pgx.Tx, f find) error {
	made, notices, err := trade.Propose(f.terms, s.now())
	if isRefusal(err) {
		s.log.WarnContext(ctx, "the matcher's trade was refused", "group", f.group.ID, "err", err)
		return nil
	}
	if err != nil {
		return err
	}
	t := Trade{Group: f.group.ID, Trade: made, Reasons: f.reasons, Round: f.round}
	if f.spot != nil {
		t.Spot, t.SpotAt, t.SpotSource = &f.spot.Price, &f.spot.At, f.spot.Source
	}
	ok, err := s.welcome(ctx, tx, t, cmp.Or(f.most, proposalsAtOnce))
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
	if err := s.saveDeed(ctx, tx, t, nil, nil, true); err != nil {
		return err
	}
	return s.tellParties(ctx, tx, f.group, t, notices)
}

// welcome reports whether a trade may be proposed now, to members who are to stand in so many open proposals at most.
func (s *Store) welcome(ctx context.Context, tx pgx.Tx, t Trade, most int) (ok bool, err error) {
	ids := make([]int64, len(t.Parties))
	for i, p := range t.Parties {
		ids[i] = memberID(p.Member)
	}
	err = tx.QueryRow(ctx, `
		SELECT NOT EXISTS (
			SELECT 1 FROM trades WHERE group_id = $1 AND terms = $2 AND (state IN ('proposed', 'agreed')
				OR ending IN ('declined', 'lapsed', 'broken', 'unfinished') AND moved_at > $3::timestamptz - make_interval(days => $4)))
		AND NOT EXISTS (
			SELECT 1 FROM trade_parties JOIN trades USING (trade_id)
			WHERE member_id = ANY ($5) AND state = 'proposed' GROUP BY member_id HAVING count(*) >= $6)`,
		t.Group, termsOf(t.Trade), s.now(), restDays, ids, most).Scan(&ok)
	return ok, err
}
