package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
)

// ErrNothingToUndo says that a member has nothing to take back.
var ErrNothingToUndo = errors.New("nothing to undo")

// OvertakenError refuses an undo because the rows have moved on since: a trade closed, say.
type OvertakenError struct {
	Said  string
	Trade int64 // the number of the trade that moved them; 0 when it was a later change
}

func (e *OvertakenError) Error() string { return "what was said has been overtaken: " + e.Said }

// Change lets a member edit their shelf, in one transaction with everything that follows from it: the record for undo,
// notices to members whom it concerns, proposals that no longer hold, and a job that looks for new trades. Edit must be
// pure: it may run more than once. If it refuses, its error comes back and nothing has changed.
func (s *Store) Change(ctx context.Context, m Member, said string, edit func(*Shelf) error) (before, now *Shelf, err error) {
	var refused error
	err = s.inTx(ctx, "change the shelf", func(tx pgx.Tx) error {
		before, now, _, refused, err = s.changeShelf(ctx, tx, m, func() string { return said }, edit)
		return err
	})
	return before, now, cmp.Or(refused, err)
}

// changeShelf is Change within a transaction; what was said is asked for after the edit. The change has no id when nothing differs or edit refused.
func (s *Store) changeShelf(ctx context.Context, tx pgx.Tx, m Member, said func() string, edit func(*Shelf) error) (before, now *Shelf, change int64, refused, err error) {
	if before, err = loadShelf(ctx, tx, m.ID); err != nil {
		return nil, nil, 0, nil, err
	}
	now = before.clone()
	if refused = edit(now); refused != nil {
		return before, now, 0, refused, nil
	}
	c := difference(before, now)
	if c.none() {
		return before, now, 0, nil, nil
	}
	err = tx.QueryRow(ctx, `
		INSERT INTO changes (member_id, said, at, rows) VALUES ($1, $2, $3, $4) RETURNING change_id`, m.ID, said(), s.now(), c).Scan(&change)
	if err != nil {
		return nil, nil, 0, nil, err
	}
	return before, now, change, nil, s.apply(ctx, tx, m, c)
}

// Undo takes back the last thing a member changed and has not taken back, or a yes that they said since and that others do
// not count on yet, and returns what they had said. What others count on is a *DeedError.
func (s *Store) Undo(ctx context.Context, m Member) (said string, err error) {
	var refused error
	err = s.inTx(ctx, "undo", func(tx pgx.Tx) error {
		refused = nil
		rows, _ := tx.Query(ctx, `
			SELECT change_id, said, at, rows FROM changes WHERE member_id = $1 AND NOT undone
			ORDER BY change_id DESC LIMIT 1`, m.ID)
		type change struct {
			ID   int64
			Said string
			At   time.Time
			Rows changed
		}
		last, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByPos[change])
		if err != nil && err != pgx.ErrNoRows {
			return err
		}
		deed, done, err := s.undoDeed(ctx, tx, m, last.At)
		if _, ok := errors.AsType[*DeedError](err); ok {
			refused = err
			return nil
		}
		if said = deed; done || err != nil {
			return err
		}
		if last.ID == 0 {
			refused = ErrNothingToUndo
			return nil
		}
		said = last.Said
		shelf, err := loadShelf(ctx, tx, m.ID)
		if err != nil {
			return err
		}
		restored := shelf.clone()
		if refused = last.Rows.takeBack(restored, said); refused != nil {
			if overtaken, ok := errors.AsType[*OvertakenError](refused); ok {
				overtaken.Trade, err = tradeThatMoved(ctx, tx, m, last.At)
			}
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE changes SET undone = true WHERE change_id = $1`, last.ID); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM purchases WHERE change_id = $1`, last.ID); err != nil {
			return err
		}
		return s.apply(ctx, tx, m, difference(shelf, restored))
	})
	return said, cmp.Or(refused, err)
}

// takeBack puts the rows of a change as they were. It refuses if any of them is no longer as the change left it, or if
// what would go is promised by now.
func (c changed) takeBack(shelf *Shelf, said string) error {
	for _, h := range c.Holdings {
		current := at(shelf.Holdings, h.Key)
		if !same(current, h.Now, sameHolding) {
			return &OvertakenError{Said: said}
		}
		if current != nil && current.Taken > 0 && (h.Before == nil || h.Before.Spare < current.Taken) {
			return &PromisedError{h.Key.Series, h.Key.Piece, current.Taken}
		}
		restore(shelf.Holdings, h.Key, h.Before)
	}
	for _, w := range c.Wants {
		current := at(shelf.Wants, w.Key)
		if !same(current, w.Now, sameWant) {
			return &OvertakenError{Said: said}
		}
		if current != nil && current.Taken > 0 && (w.Before == nil || w.Before.Quantity < current.Taken) {
			return &PromisedError{w.Key.Series, w.Key.Wanted, current.Taken}
		}
		restore(shelf.Wants, w.Key, w.Before)
	}
	for _, set := range c.Sets {
		restore(shelf.Sets, set.Series, set.Before)
	}
	return nil
}

func restore[K comparable, V any](m map[K]V, key K, v *V) {
	if v == nil {
		delete(m, key)
		return
	}
	m[key] = *v
}

// apply saves a change and does what follows from it in the same transaction.
func (s *Store) apply(ctx context.Context, tx pgx.Tx, m Member, c changed) error {
	if err := c.save(ctx, tx, m); err != nil {
		return err
	}
	if err := s.endHollow(ctx, tx, m); err != nil {
		return err
	}
	if err := s.tellOfMatches(ctx, tx, m, c); err != nil {
		return err
	}
	return s.rematchLater(ctx, tx, m.ID, c.opened())
}

// mostOpened is how many spares and wants of one change are looked at one by one: of more, everything is.
const mostOpened = 8

// opened lists the spares and wants by which a change could have opened trades: nil for so many that everything is to be
// looked at.
func (c changed) opened() *opened {
	by := &opened{}
	for _, h := range c.Holdings {
		if h.Now != nil && h.Now.Free() > 0 {
			by.Spares = append(by.Spares, h.Key)
		}
	}
	for _, w := range c.Wants {
		if w.Now != nil {
			by.Wants = append(by.Wants, w.Key)
		}
	}
	if len(by.Spares)+len(by.Wants) > mostOpened {
		return nil
	}
	return by
}

// hollow is true of a proposal t that promises more of a holding than is free, or fills a want that is not. What
// is offered where nobody had said that they want it fills none: its want is 0.
const hollow = `t.state = 'proposed' AND (
	EXISTS (
		SELECT 1 FROM trade_items i LEFT JOIN holdings h USING (holding_id) WHERE i.trade_id = t.trade_id
		GROUP BY i.holding_id, h.spare, h.taken HAVING count(*) > coalesce(h.spare - h.taken, 0))
	OR EXISTS (
		SELECT 1 FROM trade_items i LEFT JOIN wants w USING (want_id) WHERE i.trade_id = t.trade_id AND i.want_id <> 0
		GROUP BY i.want_id, w.quantity, w.taken HAVING count(*) > coalesce(w.quantity - w.taken, 0)))`

// endHollow ends the proposals of a member that count on a spare or a want which is gone.
func (s *Store) endHollow(ctx context.Context, tx pgx.Tx, m Member) error {
	rows, _ := tx.Query(ctx, `
		SELECT t.trade_id FROM trade_parties p JOIN trades t USING (trade_id)
		WHERE p.member_id = $1 AND `+hollow+`
		ORDER BY t.trade_id`, m.ID)
	doomed, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	if err != nil {
		return err
	}
	for _, id := range doomed {
		if err := s.move(ctx, tx, id, trade.Withdraw{By: m.Identity()}); err != nil {
			return fmt.Errorf("end a hollow proposal: %w", err)
		}
	}
	return nil
}

func compareHoldingKeys(a, b HoldingKey) int {
	return cmp.Or(strings.Compare(a.Series, b.Series), strings.Compare(a.Piece, b.Piece), cmp.Compare(a.Condition, b.Condition))
}

func compareWantKeys(a, b WantKey) int {
	return cmp.Or(strings.Compare(a.Series, b.Series), strings.Compare(a.Wanted, b.Wanted))
}

func compareStrings(a, b string) int { return strings.Compare(a, b) }
