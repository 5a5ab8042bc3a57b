package store

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/meetup"
	"spareounce/match/trade"
)

// Meetup is an evening at which members of a group meet in person.
type Meetup struct {
	ID     int64
	At     time.Time
	Place  string
	Coming []int64 // members, in the order in which they joined the group
}

// ErrNoMeetup says that a group has no meet-up before it.
var ErrNoMeetup = errors.New("no meet-up to come")

const (
	// meetupLasts is how long after its beginning a meet-up is still the one that members speak of.
	meetupLasts = 12 * time.Hour
	// meetupSteps is how much work the plan of a meet-up may take, a second or two.
	meetupSteps = 1_500_000
	// askedForMeetup is how many open proposals a member may stand in because of a meet-up: they are answered together.
	askedForMeetup = 8
)

// CallMeetup sets a group's next meet-up. Where it had one already, that one is called off: who said they come said so of
// another evening.
func (s *Store) CallMeetup(ctx context.Context, group int64, at time.Time, place string) error {
	return s.inTx(ctx, "call a meet-up", func(tx pgx.Tx) error {
		if err := s.callOff(ctx, tx, group); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `INSERT INTO meetups (group_id, at, place) VALUES ($1, $2, $3)`, group, at, place)
		return err
	})
}

// CallOffMeetup calls a group's meet-up off: ErrNoMeetup if there is none.
func (s *Store) CallOffMeetup(ctx context.Context, group int64) error {
	return s.inTx(ctx, "call off the meet-up", func(tx pgx.Tx) error {
		if _, err := s.meetup(ctx, tx, group); err != nil {
			return err
		}
		return s.callOff(ctx, tx, group)
	})
}

func (s *Store) callOff(ctx context.Context, tx pgx.Tx, group int64) error {
	_, err := tx.Exec(ctx, `UPDATE meetups SET called_off = true WHERE group_id = $1 AND NOT called_off AND at > $2`,
		group, s.now().Add(-meetupLasts))
	return err
}

// Come records that a member comes to the meet-up, or does not: ErrNoMeetup if there is none.
func (s *Store) Come(ctx context.Context, m Member, comes bool) (next Meetup, err error) {
	err = s.inTx(ctx, "come to the meet-up", func(tx pgx.Tx) error {
		if next, err = s.meetup(ctx, tx, m.Group); err != nil {
			return err
		}
		sql := `DELETE FROM meetup_members WHERE meetup_id = $1 AND member_id = $2`
		if comes {
			sql = `INSERT INTO meetup_members (meetup_id, member_id) VALUES ($1, $2) ON CONFLICT DO NOTHING`
		}
		if _, err := tx.Exec(ctx, sql, next.ID, m.ID); err != nil {
			return err
		}
		next, err = s.meetup(ctx, tx, m.Group)
		return err
	})
	return next, err
}

// meetup reads the next meet-up of a group, or the one that goes on.
func (s *Store) meetup(ctx context.Context, tx pgx.Tx, group int64) (next Meetup, err error) {
	err = tx.QueryRow(ctx, `
		SELECT meetup_id, at, place FROM meetups WHERE group_id = $1 AND NOT called_off AND at > $2 ORDER BY at LIMIT 1`,
		group, s.now().Add(-meetupLasts)).Scan(&next.ID, &next.At, &next.Place)
	if err == pgx.ErrNoRows {
		return next, ErrNoMeetup
	}
	if err != nil {
		return next, err
	}
	rows, _ := tx.Query(ctx, `
		SELECT member_id FROM meetup_members JOIN members USING (member_id)
		WHERE meetup_id = $1 AND left_at IS NULL ORDER BY member_id`, next.ID)
	next.Coming, err = pgx.CollectRows(rows, pgx.RowTo[int64])
	return next, err
}

// Meetup reads the next meet-up of a group and the open trades of which something can be handed over there: agreed ones, and
// those proposed among members who all come. ErrNoMeetup if there is none.
func (s *Store) Meetup(ctx context.Context, group int64) (next Meetup, there []Trade, err error) {
	err = s.inSnapshot(ctx, "read the meet-up", func(tx pgx.Tx) error {
		there = nil
		if next, err = s.meetup(ctx, tx, group); err != nil {
			return err
		}
		rows, _ := tx.Query(ctx, `
			SELECT DISTINCT trade_id FROM trade_parties JOIN trades USING (trade_id)
			WHERE member_id = ANY ($1) AND state IN ('proposed', 'agreed') ORDER BY trade_id`, next.Coming)
		ids, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		for _, id := range ids {
			t, err := loadTrade(ctx, tx, id)
			if err != nil {
				return err
			}
			if len(next.Handovers(t)) > 0 {
				there = append(there, t)
			}
		}
		return nil
	})
	return next, there, err
}

// Comes reports whether a member comes.
func (u Meetup) Comes(m match.Member) bool { return slices.Contains(u.Coming, memberID(m)) }

// Handovers are the pieces of a trade that can change hands at a meet-up. Of a trade that is agreed they are those between
// two who come which have not been sent; of a proposal all, if everyone in it comes and it is no silent one, whose parties
// may not be named.
func (u Meetup) Handovers(t Trade) (all []meetup.Handover) {
	waits := map[match.Member]bool{}
	for _, p := range t.Parties {
		if t.State == trade.Proposed && (t.Silent || !u.Comes(p.Member)) {
			return nil
		}
		waits[p.Member] = t.State == trade.Proposed || p.Stage == trade.Waiting || p.Stage == trade.ToSend
	}
	for _, item := range t.Items {
		if waits[item.From] && u.Comes(item.From) && u.Comes(item.To) {
			all = append(all, meetup.Handover{From: item.From, To: item.To, Piece: item.Piece})
		}
	}
	return all
}

// PlanMeetup looks for the trades that those who come to the meet-up can do among themselves, and proposes those that are
// new. It says how many were found and how many of them proposed: others are open already, or were turned down lately.
func (s *Store) PlanMeetup(ctx context.Context, group int64) (found, proposed int, err error) {
	next, _, err := s.Meetup(ctx, group)
	if err != nil {
		return 0, 0, err
	}
	finds, err := s.findForMeetup(ctx, group, next)
	if err != nil {
		return 0, 0, err
	}
	err = s.inTx(ctx, "propose what a meet-up allows", func(tx pgx.Tx) error {
		var before int64
		if err := tx.QueryRow(ctx, `SELECT last_trade FROM groups WHERE group_id = $1`, group).Scan(&before); err != nil {
			return err
		}
		for _, f := range finds {
			if err := s.propose(ctx, tx, f); err != nil {
				return err
			}
		}
		return tx.QueryRow(ctx, `SELECT count(*) FROM trades WHERE group_id = $1 AND number > $2`, group, before).Scan(&proposed)
	})
	return len(finds), proposed, err
}

// findForMeetup clears the market of those who come. The market is not held while that takes its time: what has gone
// meanwhile is not proposed.
func (s *Store) findForMeetup(ctx context.Context, group int64, next Meetup) (finds []find, err error) {
	k, err := s.market(ctx, group)
	if err != nil {
		return nil, err
	}
	l := k.list(next.Coming)
	k.mu.RUnlock()
	present := make([]match.Member, len(next.Coming))
	for i, id := range next.Coming {
		present[i] = identity(id)
	}
	plan, _ := meetup.Plan(l.pool, present, match.Options{Steps: meetupSteps})
	if k, err = s.market(ctx, group); err != nil {
		return nil, err
	}
	defer k.mu.RUnlock()
	for _, t := range plan.Trades {
		terms, err := k.terms(t, l.wants)
		if err != nil {
			s.log.InfoContext(ctx, "a trade for the meet-up has gone meanwhile", "group", group, "err", err)
			continue
		}
		terms.Middle = "" // they meet
		finds = append(finds, find{group: k.group, spot: k.spot, terms: terms, most: askedForMeetup})
	}
	return finds, nil
}
