package store

import (
	"context"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
)

// market is a group's stalls in memory with the matcher's index of them, kept up to date by change. Any number of
// processes may keep one of the same group: each reads what has moved since it last looked.
type market struct {
	mu   sync.RWMutex
	used time.Time // by the store's own lock

	stalls
	index   *match.Index
	wants   []int64                   // by place in the index, the row
	dead    int                       // places that are no longer anybody's
	wanting map[string]map[int64]bool // by series and piece, the rows of the wants that name it
	asks    map[int64]asking          // by want row
	seen    uint64                    // what transactions before this one did is in here; 0: nothing is
	asked   time.Time                 // when acceptance was last counted
	answers Answers
}

// asking is a want and whose it is.
type asking struct {
	owner int64
	want  *stallWant
}

// marketsKept is how many groups' markets stay in memory: those that were used last.
const marketsKept = 64

// market returns the market of a group as it stands now, locked for reading; unlock it after use. Its changes come from
// one picture of the database that is taken under the market's own lock, so that it never goes back in time.
func (s *Store) market(ctx context.Context, group int64) (*market, error) {
	k := s.marketOf(group)
	k.mu.Lock()
	err := s.inSnapshot(ctx, "read the market", func(tx pgx.Tx) error { return s.refresh(ctx, tx, k, group) })
	if err != nil {
		k.seen = 0 // half a change may be in it
		k.mu.Unlock()
		return nil, err
	}
	k.mu.Unlock()
	k.mu.RLock()
	return k, nil
}

func (s *Store) marketOf(group int64) *market {
	s.mu.Lock()
	defer s.mu.Unlock()
	k := s.markets[group]
	if k == nil {
		if len(s.markets) >= marketsKept {
			oldest := slices.MinFunc(slices.Collect(maps.Keys(s.markets)), func(a, b int64) int {
				return s.markets[a].used.Compare(s.markets[b].used)
			})
			delete(s.markets, oldest)
		}
		k = &market{}
		s.markets[group] = k
	}
	k.used = time.Now()
	return k
}

// refresh brings a market to the state of one picture of the database.
func (s *Store) refresh(ctx context.Context, tx pgx.Tx, k *market, group int64) error {
	// Not beyond the last change that is seen to be committed: numbers after it that came to nothing may be given out
	// again after a crash of the database.
	var now string
	if err := tx.QueryRow(ctx, `
		SELECT least(pg_snapshot_xmin(pg_current_snapshot()),
			coalesce((SELECT xact FROM market_changes WHERE group_id = $1 ORDER BY xact DESC LIMIT 1), '1'))::text`, group).Scan(&now); err != nil {
		return err
	}
	open, err := strconv.ParseUint(now, 10, 64)
	if err != nil {
		return fmt.Errorf("the transaction before which all is seen is %q: %w", now, err)
	}
	b, err := s.readBasis(ctx, tx, group)
	if err != nil {
		return err
	}
	if k.seen == 0 {
		if k.of, err = readStalls(ctx, tx, group, nil); err != nil {
			return err
		}
		k.basis = b
		k.rebuild()
	} else if err := k.follow(ctx, tx, group, b); err != nil {
		return err
	}
	if at := s.now(); k.seen == 0 || at.Sub(k.asked) >= answersAge || at.Before(k.asked) {
		if k.answers, err = readAnswers(ctx, tx, group); err != nil {
			return err
		}
		k.asked = at
	}
	k.index.SetAcceptance(k.answers.Acceptance())
	k.seen = open
	return nil
}

// follow applies what has changed since a market was last looked at.
func (k *market) follow(ctx context.Context, tx pgx.Tx, group int64, b basis) error {
	rows, _ := tx.Query(ctx, `
		SELECT member_id FROM market_changes WHERE group_id = $1 AND xact >= $2::text::xid8
			AND xact < pg_snapshot_xmax(pg_current_snapshot())
		ORDER BY member_id`, group, strconv.FormatUint(k.seen, 10))
	changed, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	var fresh map[int64]*stall
	if len(changed) > 0 {
		if fresh, err = readStalls(ctx, tx, group, changed); err != nil {
			return err
		}
	}
	if !k.basis.same(b) {
		maps.Copy(k.of, fresh)
		k.basis = b
		k.rebuild()
		return nil
	}
	for _, id := range changed {
		if s := fresh[id]; s != nil {
			k.put(id, s)
		}
	}
	if k.dead > 1000 && k.dead > len(k.wants)/2 {
		k.rebuild()
	}
	return nil
}

// readBasis reads what the values in a group are worked out from.
func (s *Store) readBasis(ctx context.Context, tx pgx.Tx, group int64) (b basis, err error) {
	if b.group, err = groupByID(ctx, tx, group); err != nil {
		return b, err
	}
	if b.spot, err = latestSpot(ctx, tx, b.group); err != nil {
		return b, err
	}
	if b.postage, err = readPostage(ctx, tx, group); err != nil {
		return b, err
	}
	catalogue, err := s.Catalogue(ctx, b.group)
	if err != nil {
		return b, err
	}
	b.values, err = s.newValuer(ctx, tx, b.group, b.spot, catalogue)
	return b, err
}

// same reports whether two bases give the same values, and the same pool of the same stalls.
func (b basis) same(o basis) bool {
	b.values.known, o.values.known = nil, nil
	return reflect.DeepEqual(b, o)
}

// rebuild makes the index anew from the stalls.
func (k *market) rebuild() {
	for id, s := range k.of {
		if s.gone {
			delete(k.of, id)
		}
	}
	l := k.list(nil)
	k.index, k.wants, k.kinds, k.dead = match.NewIndex(l.pool), l.wants, l.kinds, 0
	k.wanting, k.asks = map[string]map[int64]bool{}, map[int64]asking{}
	for id, s := range k.of {
		for row, w := range s.wants {
			w.places = nil
			k.note(id, row, w)
		}
	}
	for place, row := range k.wants {
		w := k.asks[row].want
		w.places = append(w.places, place)
	}
}

// note remembers which pieces a want names.
func (k *market) note(owner, row int64, w *stallWant) {
	k.asks[row] = asking{owner, w}
	for _, piece := range w.Pieces {
		name := slotName(w.key.Series, piece)
		if k.wanting[name] == nil {
			k.wanting[name] = map[int64]bool{}
		}
		k.wanting[name][row] = true
	}
}

// put replaces one member's stall, telling the index no more than what differs.
func (k *market) put(id int64, now *stall) {
	before := k.of[id]
	if before == nil {
		before = &stall{gone: true}
	}
	k.of[id] = now
	if !now.sameTrader(before) {
		k.index.SetMember(k.trader(id, now))
	}
	for _, piece := range before.pieces() {
		if _, still := now.spares[piece]; !still {
			k.index.SetSpare(match.Spare{Member: identity(id), Piece: piece})
		}
	}
	for _, piece := range now.pieces() {
		spare := now.spares[piece]
		if spare.same(before.spares[piece]) || !k.values.of(spare.key).exists {
			continue
		}
		if k.isNew(spare.kind()) {
			k.index.SetPiece(k.piece(spare.kind()))
			k.open(slotName(spare.key.Series, spare.key.Piece))
		}
		k.index.SetSpare(k.spare(id, piece, spare))
	}
	for _, row := range slices.Sorted(maps.Keys(before.wants)) {
		old, w := before.wants[row], now.wants[row]
		if w != nil && w.same(old) {
			now.wants[row] = old
			continue
		}
		k.removeWant(row, old)
	}
	for _, row := range slices.Sorted(maps.Keys(now.wants)) {
		if w := now.wants[row]; w != before.wants[row] {
			k.addWant(id, row, w)
		}
	}
}

// open has the wants that name a piece see that it has come on offer in one more kind.
func (k *market) open(name string) {
	for _, row := range slices.Sorted(maps.Keys(k.wanting[name])) {
		one := k.asks[row]
		k.removeWant(row, one.want)
		k.addWant(one.owner, row, one.want)
	}
}

func (k *market) addWant(owner, row int64, w *stallWant) {
	k.note(owner, row, w)
	w.places = nil
	fill := k.fill(w)
	for n := 0; n < w.Quantity && len(fill) > 0; n++ {
		w.places = append(w.places, k.index.AddWant(match.Want{Member: identity(owner), Fill: fill}))
		k.wants = append(k.wants, row)
	}
}

func (k *market) removeWant(row int64, w *stallWant) {
	for _, place := range w.places {
		k.index.RemoveWant(place)
		k.dead++
	}
	w.places = nil
	delete(k.asks, row)
	for _, piece := range w.Pieces {
		delete(k.wanting[slotName(w.key.Series, piece)], row)
	}
}
