package store

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Week is what a weekly post tells a group. It holds nothing of what one member owns but what that member has let be seen.
type Week struct {
	Group     Group
	Catalogue *series.Catalogue
	Rules     PriceRules
	Name      string // ISO 8601, "2026-W53"
	Due       time.Time
	Passed    int // weeks before it that went by without a post while no bot was there
	First     bool

	Spot, WeekAgo *Spot
	History       []Spot // a price a day, of the year
	Common        []CommonPiece

	Fills     []Fill // pieces somebody can spare that somebody wants, new since the last post
	Proposed  map[Shape]int
	Closed    int // trades
	OneShort  []SetCount
	Completed []SetDone
	Gifts     []Gift
	Totals    *Totals // nil unless enough agreed to be counted

	Seen Seen
}

// CommonPiece is what an ordinary piece of a series is worth.
type CommonPiece struct {
	Series, Piece string
	Melt, Usual   melt.Minor
	Observed      int // how many observed premiums make the usual one; 0 when it is the series' or the group's
}

// Fill is a piece on offer that members want.
type Fill struct {
	Series, Piece string
	Wanters       int
}

// Shape is a kind of trade.
type Shape int

// The shapes.
const (
	ShapeSwap Shape = iota
	ShapeRing
	ShapeChain
)

// SetCount is how many members' sets of a series have come to within one piece.
type SetCount struct {
	Series string
	Sets   int
}

// SetDone is who completed a series: by name who lets themselves be seen, the others counted.
type SetDone struct {
	Series string
	Names  []string
	Others int
}

// Gift is who gave how many pieces away.
type Gift struct {
	Name   string
	Pieces int
}

// Totals are the holdings of those who agreed to be counted, taken together.
type Totals struct {
	Members, Pieces int
	Fine            melt.Weight
	Melt            *melt.Minor // nil without a price
}

// LeastCounted is how many must have agreed before a group's totals are shown: fewer, and a member could be told from them.
const LeastCounted = 5

// Seen is what was possible at a post; what was not in it is new at the next one.
type Seen struct {
	Fills    []string // "series/piece want": one for each want that something on offer fills
	OneShort []string // "member/series"
	Complete []string
}

// WeekSoFar is what the weekly post would tell if it were made now. Nothing is posted by it.
func (s *Store) WeekSoFar(ctx context.Context, g Group) (Week, error) {
	w, _, err := s.weekFacts(ctx, g.ID, nil)
	return w, err
}

// weekFacts gathers a post in one snapshot. Waits is true when the group would rather wait for a price.
func (s *Store) weekFacts(ctx context.Context, group int64, post *openPost) (w Week, waits bool, err error) {
	now := s.now()
	err = s.inSnapshot(ctx, "read the week", func(tx pgx.Tx) (err error) {
		w, waits = Week{Proposed: map[Shape]int{}}, false
		if w.Group, err = groupByID(ctx, tx, group); err != nil {
			return err
		}
		if w.Catalogue, err = s.Catalogue(ctx, w.Group); err != nil {
			return err
		}
		w.Name, w.Due = weekName(mondayOf(w.Group.Location(), now)), now
		if post != nil {
			w.Name, w.Due = post.Week, post.Due
		}
		if err := s.readWeekPrices(ctx, tx, &w, now); err != nil {
			return err
		}
		if post != nil && w.Spot != nil && w.Rules.Stale(w.Spot.At, now) || post != nil && w.Spot == nil {
			var chosen bool
			err := tx.QueryRow(ctx, `SELECT coalesce(bool_or(waits), false) FROM weekly WHERE group_id = $1`, group).Scan(&chosen)
			if waits = err == nil && chosen && now.Sub(post.Due) < WaitsAtMost; err != nil || waits {
				return err
			}
		}
		since, before, err := s.lastPost(ctx, tx, &w)
		if err != nil {
			return err
		}
		if err := s.readTrades(ctx, tx, &w, since); err != nil {
			return err
		}
		if err := s.readFills(ctx, tx, &w, before); err != nil {
			return err
		}
		return s.readSets(ctx, tx, &w, before)
	})
	return w, waits, err
}

// readWeekPrices reads what the post says of silver.
func (s *Store) readWeekPrices(ctx context.Context, tx pgx.Tx, w *Week, now time.Time) (err error) {
	if w.Rules, err = priceRules(ctx, tx, w.Group.ID); err != nil {
		return err
	}
	if w.Spot, err = spotBefore(ctx, tx, w.Group.ID, w.Group.Currency, now); err != nil || w.Spot == nil {
		return err
	}
	if w.WeekAgo, err = spotBefore(ctx, tx, w.Group.ID, w.Group.Currency, now.AddDate(0, 0, -7)); err != nil {
		return err
	}
	if w.History, err = spotHistory(ctx, tx, w.Group, now.AddDate(-1, 0, 0), now); err != nil {
		return err
	}
	return s.readCommon(ctx, tx, w)
}

// mostCommon is how many series the post values a piece of.
const mostCommon = 2

// readCommon values an ordinary piece of the series that the group has most to do with.
func (s *Store) readCommon(ctx context.Context, tx pgx.Tx, w *Week) error {
	values, err := s.newValuer(ctx, tx, w.Group, w.Spot, w.Catalogue)
	if err != nil {
		return err
	}
	rows, _ := tx.Query(ctx, `
		SELECT series FROM (SELECT series FROM holdings WHERE group_id = $1 UNION ALL SELECT series FROM wants WHERE group_id = $1) s
		GROUP BY series ORDER BY count(*) DESC, series`, w.Group.ID)
	codes, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, code := range codes {
		one, _ := w.Catalogue.Series(code)
		i := slices.IndexFunc(one.Pieces, func(p series.Piece) bool { return p.Scarcity == series.Common && one.MetalOf(p) == one.Metal })
		if i < 0 || len(w.Common) == mostCommon {
			continue
		}
		key := HoldingKey{Series: code, Piece: one.Pieces[i].Code}
		floor, err := melt.Value(one.Metal, w.Spot.Price, w.Group.Currency)
		usual := values.of(key)
		if err != nil || !usual.exists {
			continue // nobody knows what it is made of
		}
		w.Common = append(w.Common, CommonPiece{code, key.Piece, floor, usual.value, values.observed[key].Count})
	}
	return nil
}

// lastPost finds out since when news counts, and what was possible then.
func (s *Store) lastPost(ctx context.Context, tx pgx.Tx, w *Week) (since time.Time, before Seen, err error) {
	err = tx.QueryRow(ctx, `
		SELECT posted_at, seen FROM weekly_posts WHERE group_id = $1 AND posted_at IS NOT NULL
		ORDER BY posted_at DESC, due_at DESC LIMIT 1`, w.Group.ID).Scan(&since, &before)
	if err == pgx.ErrNoRows {
		w.First, err = true, nil
		since = s.now().AddDate(0, 0, -7)
	}
	if err != nil {
		return since, before, err
	}
	err = tx.QueryRow(ctx, `
		SELECT count(*) FROM weekly_posts WHERE group_id = $1 AND passed AND due_at > coalesce(
			(SELECT max(due_at) FROM weekly_posts WHERE group_id = $1 AND posted_at IS NOT NULL), '-infinity')`,
		w.Group.ID).Scan(&w.Passed)
	return since, before, err
}

// readTrades counts the trades proposed and closed since the last post, and who gave.
func (s *Store) readTrades(ctx context.Context, tx pgx.Tx, w *Week, since time.Time) error {
	rows, _ := tx.Query(ctx, `
		SELECT CASE WHEN chain THEN 2 WHEN (SELECT count(*) FROM trade_parties p WHERE p.trade_id = t.trade_id) > 2 THEN 1 ELSE 0 END
		FROM trades t WHERE group_id = $1 AND proposed_at > $2 AND state = 'proposed'`, w.Group.ID, since)
	shapes, err := pgx.CollectRows(rows, pgx.RowTo[Shape])
	if err != nil {
		return err
	}
	for _, shape := range shapes {
		w.Proposed[shape]++
	}
	if err := tx.QueryRow(ctx, `SELECT count(*) FROM trades WHERE group_id = $1 AND state = 'closed' AND moved_at > $2`,
		w.Group.ID, since).Scan(&w.Closed); err != nil {
		return err
	}
	rows, _ = tx.Query(ctx, `
		SELECT m.name, count(*) FROM trades t JOIN trade_items i USING (trade_id) JOIN members m ON m.member_id = i.from_member
		WHERE t.group_id = $1 AND t.state = 'closed' AND t.chain AND t.moved_at > $2
			AND NOT EXISTS (SELECT 1 FROM trade_items b WHERE b.trade_id = t.trade_id AND b.to_member = i.from_member)
		GROUP BY m.member_id ORDER BY lower(m.name), m.member_id`, w.Group.ID, since)
	w.Gifts, err = pgx.CollectRows(rows, pgx.RowToStructByPos[Gift])
	return err
}

// readFills finds the pieces on offer that somebody else wants, and says which of these matches are new.
func (s *Store) readFills(ctx context.Context, tx pgx.Tx, w *Week, before Seen) error {
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT p.series, p.piece, w.want_id, w.member_id
		FROM wants w JOIN want_pieces p USING (want_id) JOIN members wm ON wm.member_id = w.member_id
		JOIN holdings h ON h.group_id = p.group_id AND h.series = p.series AND h.piece = p.piece
		JOIN members hm ON hm.member_id = h.member_id
		WHERE w.group_id = $1 AND w.quantity > w.taken AND h.spare > h.taken AND h.member_id <> w.member_id
			AND h.condition >= w.least AND wm.left_at IS NULL AND hm.left_at IS NULL
		ORDER BY p.series, p.piece, w.want_id`, w.Group.ID)
	wanters := map[HoldingKey]map[int64]bool{}
	var key HoldingKey
	var want, member int64
	_, err := pgx.ForEachRow(rows, []any{&key.Series, &key.Piece, &want, &member}, func() error {
		id := fmt.Sprintf("%s/%s %d", key.Series, key.Piece, want)
		w.Seen.Fills = append(w.Seen.Fills, id)
		if !slices.Contains(before.Fills, id) {
			if wanters[key] == nil {
				wanters[key] = map[int64]bool{}
			}
			wanters[key][member] = true
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, key := range slices.SortedFunc(maps.Keys(wanters), compareHoldingKeys) {
		w.Fills = append(w.Fills, Fill{key.Series, key.Piece, len(wanters[key])})
	}
	return nil
}

// readSets looks at every member's sets: which came within one piece, which were completed, and what those who agreed hold
// together.
func (s *Store) readSets(ctx context.Context, tx pgx.Tx, w *Week, before Seen) error {
	rows, _ := tx.Query(ctx, `
		SELECT member_id, name, seen, EXISTS (SELECT 1 FROM counted c WHERE c.member_id = m.member_id)
		FROM members m WHERE group_id = $1 AND left_at IS NULL ORDER BY lower(name), member_id`, w.Group.ID)
	type member struct {
		ID            int64
		Name          string
		Seen, Counted bool
	}
	members, err := pgx.CollectRows(rows, pgx.RowToStructByPos[member])
	if err != nil {
		return err
	}
	short, done := map[string]int{}, map[string]*SetDone{}
	var sum total
	for _, m := range members {
		shelf, err := loadShelf(ctx, tx, m.ID)
		if err != nil {
			return err
		}
		if m.Counted {
			sum.add(shelf, w.Catalogue)
		}
		for _, one := range w.Catalogue.All() {
			c := shelf.Completion(one)
			id := fmt.Sprintf("%d/%s", m.ID, one.Code)
			switch {
			case len(c.Slots) < 2 || c.Had < len(c.Slots)-1:
			case c.Had < len(c.Slots):
				w.Seen.OneShort = append(w.Seen.OneShort, id)
				if !slices.Contains(before.OneShort, id) && !slices.Contains(before.Complete, id) {
					short[one.Code]++
				}
			default:
				w.Seen.Complete = append(w.Seen.Complete, id)
				if w.First || slices.Contains(before.Complete, id) {
					continue // when nobody was looking, nobody can say when it was completed
				}
				if done[one.Code] == nil {
					done[one.Code] = &SetDone{Series: one.Code}
				}
				if m.Seen {
					done[one.Code].Names = append(done[one.Code].Names, m.Name)
				} else {
					done[one.Code].Others++
				}
			}
		}
	}
	for _, one := range w.Catalogue.All() {
		if n := short[one.Code]; n > 0 {
			w.OneShort = append(w.OneShort, SetCount{one.Code, n})
		}
		if d := done[one.Code]; d != nil {
			w.Completed = append(w.Completed, *d)
		}
	}
	w.Totals = sum.shown(w.Spot, w.Group.Currency)
	return nil
}

// total adds holdings up.
type total struct {
	members, pieces int
	metals          map[melt.Metal]int
}

func (t *total) add(shelf *Shelf, catalogue *series.Catalogue) {
	t.members++
	if t.metals == nil {
		t.metals = map[melt.Metal]int{}
	}
	for key, h := range shelf.Holdings {
		one, _ := catalogue.Series(key.Series)
		if p, ok := one.Piece(key.Piece); ok {
			t.pieces += h.Quantity
			t.metals[one.MetalOf(p)] += h.Quantity
		}
	}
}

// shown is the total as it may be shown: nothing when fewer than LeastCounted make it up.
func (t total) shown(spot *Spot, c melt.Currency) *Totals {
	if t.members < LeastCounted {
		return nil
	}
	all := &Totals{Members: t.members, Pieces: t.pieces}
	fine, err := fineOf(t.metals)
	if err != nil {
		return nil
	}
	all.Fine = fine
	if spot != nil {
		if value, err := melt.Value(melt.Metal{Fine: fine}, spot.Price, c); err == nil && fine > 0 {
			all.Melt = &value
		}
	}
	return all
}

// fineOf is the fine metal of many pieces, rounded once for each kind of them, to the nanogram.
func fineOf(metals map[melt.Metal]int) (fine melt.Weight, err error) {
	for _, m := range slices.SortedFunc(maps.Keys(metals), func(a, b melt.Metal) int {
		return cmp.Or(cmp.Compare(a.Gross, b.Gross), cmp.Compare(a.Fineness, b.Fineness), cmp.Compare(a.Fine, b.Fine))
	}) {
		all, err := m.Times(metals[m])
		if err != nil {
			return 0, err
		}
		fine += all.FineWeight()
	}
	return fine, nil
}
