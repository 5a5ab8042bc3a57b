package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
)

// Source is where a group finds the price, and what came of asking there. What Feed means is not the store's to know.
type Source struct {
	ID       int64
	Group    int64
	Feed     string // its description, as a keeper types it
	Currency melt.Currency
	ETag     string // with Modified, what the last answer was marked with
	Modified string
	Failures int // since it last had an answer
	AskAt    time.Time
	ReadAt   *time.Time  // when it last had a good price
	Price    *melt.Price // that price
	Why      string      // why it had none when it was last asked; empty when it had one
	Held     *melt.Price // a price that waits for a keeper's yes
	HeldAt   *time.Time  // the time of that price
}

const sourceColumns = `source_id, group_id, feed, currency, etag, modified, failures, ask_at, read_at, price, why, held, held_at`

// Reading is what came of asking a source.
type Reading struct {
	Spot           *Spot // a good price; nil when there was none
	Held           *Spot // a price that wants a keeper's yes
	Unchanged      bool  // the source says what it said, and that is a good price still: the last one in the history
	ETag, Modified string
	Why            string        // why there was no good price, in a member's words
	Wait           time.Duration // how long the source asks us to stay away
}

// ErrSourceKnown says that a group has that source already.
var ErrSourceKnown = errors.New("this source is known already")

// Sources lists a group's sources in the order in which they are asked.
func (s *Store) Sources(ctx context.Context, group int64) (all []Source, err error) {
	err = s.inSnapshot(ctx, "list the sources", func(tx pgx.Tx) error {
		all, err = sources(ctx, tx, group)
		return err
	})
	return all, err
}

func sources(ctx context.Context, tx pgx.Tx, group int64) ([]Source, error) {
	rows, _ := tx.Query(ctx, `SELECT `+sourceColumns+` FROM spot_sources WHERE group_id = $1 ORDER BY source_id`, group)
	return pgx.CollectRows(rows, pgx.RowToStructByPos[Source])
}

// AddSource adds a source after those that are there, with what it answered when it was tried.
func (s *Store) AddSource(ctx context.Context, group int64, feed string, c melt.Currency, r Reading) error {
	var known bool
	err := s.inTx(ctx, "add a source", func(tx pgx.Tx) error {
		err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM spot_sources WHERE group_id = $1 AND feed = $2)`, group, feed).Scan(&known)
		if err != nil || known {
			return err
		}
		var id int64
		if err := tx.QueryRow(ctx, `
			INSERT INTO spot_sources (group_id, feed, currency, ask_at) VALUES ($1, $2, $3, $4) RETURNING source_id`,
			group, feed, c, s.now()).Scan(&id); err != nil {
			return err
		}
		rules, err := priceRules(ctx, tx, group)
		if err != nil {
			return err
		}
		return s.saveReading(ctx, tx, Source{ID: id, Group: group}, rules, r)
	})
	if err == nil && known {
		return ErrSourceKnown
	}
	return err
}

// DropSource takes away a source of a group. Prices it gave stay.
func (s *Store) DropSource(ctx context.Context, group, source int64) error {
	return s.inTx(ctx, "drop a source", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `DELETE FROM spot_sources WHERE group_id = $1 AND source_id = $2`, group, source)
		return err
	})
}

// ConfirmHeld takes the prices that waited for a keeper's yes, and returns them.
func (s *Store) ConfirmHeld(ctx context.Context, group int64, name func(Source) string) (taken []Spot, err error) {
	err = s.inTx(ctx, "confirm prices", func(tx pgx.Tx) error {
		taken = nil
		all, err := sources(ctx, tx, group)
		if err != nil {
			return err
		}
		for _, src := range all {
			if src.Held != nil {
				taken = append(taken, Spot{At: *src.HeldAt, Currency: src.Currency, Price: *src.Held, Source: name(src)})
			}
		}
		if err := saveSpots(ctx, tx, group, taken); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			UPDATE spot_sources SET price = held, read_at = held_at, held = NULL, held_at = NULL, why = ''
			WHERE group_id = $1 AND held IS NOT NULL`, group)
		return err
	})
	return taken, err
}

// ReadArgs is the job of asking a group's sources that are due.
type ReadArgs struct {
	Group int64 `json:"group"`
}

// Kind names the job in the queue.
func (ReadArgs) Kind() string { return "read" }

// readSources asks a group's sources in order, for each currency until one has a good price; the others are left in peace.
// What each answers is kept in a transaction of its own, so that a crash in the middle costs only what was not yet asked.
func (s *Store) readSources(ctx context.Context, d Duties, group int64) error {
	var g Group
	var rules PriceRules
	var all []Source
	err := s.inSnapshot(ctx, "read the sources", func(tx pgx.Tx) (err error) {
		if g, err = groupByID(ctx, tx, group); err != nil {
			return err
		}
		if rules, err = priceRules(ctx, tx, group); err != nil {
			return err
		}
		all, err = sources(ctx, tx, group)
		return err
	})
	if errors.Is(err, pgx.ErrNoRows) {
		return nil // the group has been forgotten
	}
	if err != nil {
		return err
	}
	good := map[melt.Currency]bool{}
	for _, src := range all {
		if good[src.Currency] {
			if err := s.leaveInPeace(ctx, src, rules); err != nil {
				return err
			}
			continue
		}
		if src.AskAt.After(s.now()) {
			// Asked not long ago, by another bot perhaps: if it had a price then, that will do.
			good[src.Currency] = src.Why == "" && src.ReadAt != nil
			continue
		}
		last, err := s.SpotBefore(ctx, group, src.Currency, s.now())
		if err != nil {
			return err
		}
		r, err := d.Read(ctx, g, rules, src, last)
		if err != nil {
			return fmt.Errorf("read source %d: %w", src.ID, err)
		}
		good[src.Currency] = r.Spot != nil || r.Unchanged
		if err := s.inTx(ctx, "keep what a source says", func(tx pgx.Tx) error {
			return s.saveReading(ctx, tx, src, rules, r)
		}); err != nil {
			return err
		}
	}
	return nil
}

// leaveInPeace asks nothing of a source as long as an earlier one has a price.
func (s *Store) leaveInPeace(ctx context.Context, src Source, rules PriceRules) error {
	return s.inTx(ctx, "leave a source in peace", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `UPDATE spot_sources SET ask_at = greatest(ask_at, $2) WHERE source_id = $1`, src.ID, s.now().Add(rules.Every))
		return err
	})
}

// longestBackoff is the longest that a source which does not answer is left alone.
const longestBackoff = 24 * time.Hour

// backoff is how long after the nth failure in a row a source is asked again.
func backoff(every time.Duration, failures int) time.Duration {
	return min(every<<min(max(failures-1, 0), 12), longestBackoff)
}

func (s *Store) saveReading(ctx context.Context, tx pgx.Tx, src Source, rules PriceRules, r Reading) error {
	now := s.now()
	failures, wait := 0, rules.Every
	if r.Spot == nil && r.Held == nil && !r.Unchanged {
		failures = src.Failures + 1
		wait = backoff(rules.Every, failures)
	}
	wait = max(wait, r.Wait)
	if r.Spot != nil {
		if err := saveSpots(ctx, tx, src.Group, []Spot{*r.Spot}); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `
			UPDATE spot_sources SET etag = $2, modified = $3, failures = 0, ask_at = $4, read_at = $5, price = $6, why = '',
				held = NULL, held_at = NULL WHERE source_id = $1`,
			src.ID, r.ETag, r.Modified, now.Add(wait), now, r.Spot.Price)
		return err
	}
	if r.Unchanged {
		_, err := tx.Exec(ctx, `
			UPDATE spot_sources SET etag = $2, modified = $3, failures = 0, ask_at = $4, read_at = $5, why = '' WHERE source_id = $1`,
			src.ID, r.ETag, r.Modified, now.Add(wait), now)
		return err
	}
	var held *melt.Price
	var heldAt *time.Time
	if r.Held != nil {
		held, heldAt = &r.Held.Price, &r.Held.At
	}
	_, err := tx.Exec(ctx, `
		UPDATE spot_sources SET etag = '', modified = '', failures = $2, ask_at = $3, why = $4, held = $5, held_at = $6 WHERE source_id = $1`,
		src.ID, failures, now.Add(wait), r.Why, held, heldAt)
	return err
}
