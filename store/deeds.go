package store

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/trade"
)

// Deed is something that happened to a trade.
type Deed struct {
	At      time.Time
	By      match.Member // "" for the clock
	What    string       // the event's name in package trade, "Accept"; "Propose" for the first
	Version int          // of the terms, after it
	Items   []trade.Item // where it made new terms
	TopUps  []trade.TopUp
}

// deedTerms are the terms that a deed made.
type deedTerms struct {
	Items  []trade.Item
	TopUps []trade.TopUp `json:",omitempty"`
}

// saveDeed writes down what has happened to a trade, and the terms if they are new.
func (s *Store) saveDeed(ctx context.Context, tx pgx.Tx, t Trade, e trade.Event, told []trade.Notice, newTerms bool) error {
	what, by := "Propose", match.Member("")
	if e != nil {
		what, by = deedOf(e, told)
	}
	return s.insertDeed(ctx, tx, t, what, by, newTerms)
}

func (s *Store) insertDeed(ctx context.Context, tx pgx.Tx, t Trade, what string, by match.Member, newTerms bool) error {
	var terms *deedTerms
	if newTerms {
		terms = &deedTerms{t.Items, t.TopUps}
	}
	_, err := tx.Exec(ctx, `
		INSERT INTO trade_deeds (trade_id, n, at, member, deed, version, terms) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		t.ID, t.Deeds, s.now(), orNobody(by), what, t.Version, terms)
	return err
}

// deedOf names an event and who did it; of the clock's, what it told.
func deedOf(e trade.Event, told []trade.Notice) (what string, by match.Member) {
	what = strings.TrimPrefix(fmt.Sprintf("%T", e), "trade.")
	if who := reflect.ValueOf(e).FieldByName("By"); who.IsValid() {
		by = match.Member(who.String())
	}
	if object, ok := e.(trade.Object); ok {
		what += ": " + object.Problem.String()
	}
	if _, ok := e.(trade.Due); ok && len(told) > 0 {
		what += ": " + told[0].Kind.String()
	}
	return what, by
}

// Deeds lists what has happened to a trade that the member may see, oldest first.
func (s *Store) Deeds(ctx context.Context, m Member, number int64) (t Trade, deeds []Deed, err error) {
	err = s.inSnapshot(ctx, "read what happened to the trade", func(tx pgx.Tx) error {
		id, err := tradeID(ctx, tx, m, number)
		if err != nil {
			return err
		}
		if t, err = loadTrade(ctx, tx, id); err != nil {
			return err
		}
		deeds, err = readDeeds(ctx, tx, id)
		return err
	})
	return t.seenBy(m), deeds, err
}

func readDeeds(ctx context.Context, tx pgx.Tx, id int64) ([]Deed, error) {
	rows, _ := tx.Query(ctx, `SELECT at, member, deed, version, terms FROM trade_deeds WHERE trade_id = $1 ORDER BY n`, id)
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (d Deed, err error) {
		var by *int64
		var terms *deedTerms
		if err = row.Scan(&d.At, &by, &d.What, &d.Version, &terms); err != nil {
			return d, err
		}
		if by != nil {
			d.By = identity(*by)
		}
		if terms != nil {
			d.Items, d.TopUps = terms.Items, terms.TopUps
		}
		return d, nil
	})
}

// DeedError refuses an undo because what the member did last is a deed in a trade, on which others count.
type DeedError struct {
	Trade int64 // its number
	What  string
}

func (e *DeedError) Error() string { return fmt.Sprintf("%s in trade %d", e.What, e.Trade) }

// undoDeed takes back the last thing a member did in a trade, if that came after the last change of their shelf: a yes that others
// do not count on yet. Anything else is a *DeedError.
func (s *Store) undoDeed(ctx context.Context, tx pgx.Tx, m Member, since time.Time) (said string, done bool, err error) {
	var id, number int64
	var what string
	err = tx.QueryRow(ctx, `
		SELECT trade_id, number, deed FROM trade_deeds JOIN trades USING (trade_id)
		WHERE member = $1 AND at >= $2 AND deed <> 'TakeBack' ORDER BY at DESC, trade_id DESC, n DESC LIMIT 1`, m.ID, since).Scan(&id, &number, &what)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", false, nil
	}
	if err != nil {
		return "", false, err
	}
	if what != "Accept" {
		return "", false, &DeedError{number, what}
	}
	err = s.move(ctx, tx, id, trade.TakeBack{By: m.Identity()})
	if refusal, ok := errors.AsType[*trade.Refusal](err); ok {
		if refusal.Why == trade.AlreadyDone {
			return "", false, nil // taken back already: what came before it is next
		}
		return "", false, &DeedError{number, what}
	}
	return fmt.Sprintf("accept %d", number), err == nil, err
}

// tradeThatMoved finds the trade that moved any of a member's pieces since a time; 0 when none has.
func tradeThatMoved(ctx context.Context, tx pgx.Tx, m Member, since time.Time) (number int64, err error) {
	err = tx.QueryRow(ctx, `
		SELECT coalesce(max(trade), 0) FROM ledger WHERE member_id = $1 AND at >= $2 AND piece <> ''`, m.ID, since).Scan(&number)
	return number, err
}
