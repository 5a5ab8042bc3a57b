package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/trade"
)

// Notice is something a member must be told.
type Notice struct {
	ID   int64
	Kind NoticeKind
	Born time.Time
	Body NoticeBody
	// Message names what is told together, and is the same whenever that is tried again.
	Message int64
}

// NoticeKind says what a notice is about.
type NoticeKind string

// The kinds: two of matches, the rest of trades.
const (
	SpareForYou  NoticeKind = "spare"         // Other can spare the piece you want
	WantOfYours  NoticeKind = "want"          // Other wants the piece you can spare
	TradeAsked   NoticeKind = "asked"         // a trade is proposed to you
	TradeAsks    NoticeKind = "changed"       // its terms have changed: you are asked again
	TradeMoved   NoticeKind = "moved"         // agreed, ended or closed: the body's Event says which
	PieceSent    NoticeKind = "sent"          // what you are to get is on its way
	TradeDeed    NoticeKind = "deed"          // anything else that happens to an agreed trade: the body's What says it
	RoundCleared NoticeKind = "round"         // what the body's Round has come to, for who held it
	RoundNothing NoticeKind = "round nothing" // the body's Round has found nothing for you
	WeWereAway   NoticeKind = "away"          // we did not run since the body's Since, and what came due is told now
	PlaceLacks   NoticeKind = "place lacks"   // for a keeper: the parties of trades can't be given a place, for the body's Lacks
)

// NoticeBody is what the words of a notice are made from.
type NoticeBody struct {
	Series, Piece string     `json:",omitempty"`
	Other         int64      `json:",omitempty"` // the member it is about
	Trade         int64      `json:",omitempty"` // its number in the group
	Version       int        `json:",omitempty"`
	State         string     `json:",omitempty"` // of the trade, as it was when this was born
	Ending        string     `json:",omitempty"`
	Round         int64      `json:",omitempty"`
	What          string     `json:",omitempty"` // a trade.NoticeKind's name
	Since         *time.Time `json:",omitempty"`
	Channel       string     `json:",omitempty"` // a name of the chat's
	Lacks         []string   `json:",omitempty"` // permissions, as the chat calls them
}

// aboutTrade reports whether a notice is told at once, on its own, and kept from no one by muting.
func (k NoticeKind) aboutTrade() bool { return k != SpareForYou && k != WantOfYours }

// tell records a notice for a member, once for each key, and a job that will say it.
func (s *Store) tell(ctx context.Context, tx pgx.Tx, g Group, m Member, kind NoticeKind, key string, body NoticeBody) error {
	now, err := s.note(ctx, tx, g, m, kind, key, body)
	if err != nil || !now {
		return err
	}
	_, err = s.jobs.InsertTx(ctx, tx, TellArgs{Member: m.ID}, nil)
	return err
}

// note records a notice for a member, once for each key, and reports whether a job is to say it now. Matches are not told
// to who has muted everything or the series.
func (s *Store) note(ctx context.Context, tx pgx.Tx, g Group, m Member, kind NoticeKind, key string, body NoticeBody) (bool, error) {
	now := s.now()
	due := dueAt(g, m, kind, now)
	rows, _ := tx.Query(ctx, `
		INSERT INTO notices (member_id, kind, key, body, born_at, due_at)
		SELECT $1, $2, $3, $4, $5, $6
		WHERE $7 OR NOT ($8 OR EXISTS (SELECT 1 FROM mutes WHERE member_id = $1 AND series = $9))
		ON CONFLICT (member_id, key) DO NOTHING
		RETURNING notice_id`,
		m.ID, kind, key, body, now, due, kind.aboutTrade(), m.Muted, body.Series)
	if _, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[int64]); err == pgx.ErrNoRows {
		return false, nil // told before, or muted
	} else if err != nil {
		return false, err
	}
	return !due.After(now), nil // Tick will see to what is due later
}

// dueAt is when a notice may be said: matches wait for the member's daily digest if they have one, everything waits for
// the end of their quiet hours. The clocks are in the group's zone.
func dueAt(g Group, m Member, kind NoticeKind, now time.Time) time.Time {
	due := now
	if m.DigestAt != nil && !kind.aboutTrade() {
		due = nextClock(g.Location(), *m.DigestAt, now)
	}
	if m.QuietFrom == nil || *m.QuietFrom == *m.QuietTo {
		return due
	}
	local := due.In(g.Location())
	minute := Clock(local.Hour()*60 + local.Minute())
	quiet := minute >= *m.QuietFrom && minute < *m.QuietTo
	if *m.QuietFrom > *m.QuietTo { // over midnight
		quiet = minute >= *m.QuietFrom || minute < *m.QuietTo
	}
	if quiet {
		return nextClock(g.Location(), *m.QuietTo, due)
	}
	return due
}

// nextClock is the first instant after now at which a clock in the zone shows c. On a day whose clocks skip c it is the
// instant that Go makes of it, at most an hour off.
func nextClock(zone *time.Location, c Clock, now time.Time) time.Time {
	local := now.In(zone)
	for day := 0; ; day++ {
		at := time.Date(local.Year(), local.Month(), local.Day()+day, int(c)/60, int(c)%60, 0, 0, zone)
		if at.After(now) {
			return at.UTC()
		}
	}
}

// tellOfMatches records notices for both sides of every match that a change has made: a spare somebody wants, a want
// somebody can fill.
func (s *Store) tellOfMatches(ctx context.Context, tx pgx.Tx, m Member, c changed) error {
	g, err := groupByID(ctx, tx, m.Group)
	if err != nil {
		return err
	}
	var due []int64 // members, in the order in which they come up; one job tells each all of it
	for _, h := range c.Holdings {
		free := func(h *Holding) int {
			if h == nil {
				return 0
			}
			return h.Free()
		}
		if free(h.Now) > free(h.Before) && !h.Now.Quiet {
			if err := s.tellWanters(ctx, tx, g, m, h.Key, &due); err != nil {
				return err
			}
		}
	}
	for _, w := range c.Wants {
		if w.Now != nil && (w.Before == nil || len(w.Now.Pieces) > len(w.Before.Pieces)) {
			if err := s.tellHolders(ctx, tx, g, m, w.Key, &due); err != nil {
				return err
			}
		}
	}
	for _, id := range due {
		if _, err := s.jobs.InsertTx(ctx, tx, TellArgs{Member: id}, nil); err != nil {
			return err
		}
	}
	return nil
}

// tellWanters tells of a new spare to every other member whose want it could fill.
func (s *Store) tellWanters(ctx context.Context, tx pgx.Tx, g Group, owner Member, key HoldingKey, due *[]int64) error {
	rows, _ := tx.Query(ctx, `
		SELECT w.member_id, bool_and(w.quiet) FROM want_pieces p JOIN wants w USING (want_id) JOIN members m USING (member_id)
		WHERE p.group_id = $1 AND p.series = $2 AND p.piece = $3
			AND w.member_id <> $4 AND w.least <= $5 AND w.quantity > w.taken AND m.left_at IS NULL
		GROUP BY w.member_id ORDER BY w.member_id`, g.ID, key.Series, key.Piece, owner.ID, key.Condition)
	type wanter struct {
		Member int64
		Quiet  bool
	}
	wanters, err := pgx.CollectRows(rows, pgx.RowToStructByPos[wanter])
	if err != nil {
		return err
	}
	for _, w := range wanters {
		m, err := memberByID(ctx, tx, w.Member)
		if err != nil {
			return err
		}
		if err := s.tellOfMatch(ctx, tx, g, owner, m, key.Series, key.Piece, w.Quiet, due); err != nil {
			return err
		}
	}
	return nil
}

// tellHolders tells of a new want to every other member who can spare a piece for it.
func (s *Store) tellHolders(ctx context.Context, tx pgx.Tx, g Group, wanter Member, key WantKey, due *[]int64) error {
	rows, _ := tx.Query(ctx, `
		SELECT DISTINCT h.member_id, h.piece, w.quiet
		FROM wants w JOIN want_pieces p USING (want_id)
		JOIN holdings h ON h.group_id = p.group_id AND h.series = p.series AND h.piece = p.piece
		JOIN members m ON m.member_id = h.member_id
		WHERE w.member_id = $1 AND w.series = $2 AND w.wanted = $3
			AND h.member_id <> $1 AND h.spare > h.taken AND NOT h.quiet AND h.condition >= w.least AND m.left_at IS NULL
		ORDER BY h.member_id, h.piece`, wanter.ID, key.Series, key.Wanted)
	type match struct {
		Holder int64
		Piece  string
		Quiet  bool
	}
	holders, err := pgx.CollectRows(rows, pgx.RowToStructByPos[match])
	if err != nil {
		return err
	}
	for _, h := range holders {
		owner, err := memberByID(ctx, tx, h.Holder)
		if err != nil {
			return err
		}
		if err := s.tellOfMatch(ctx, tx, g, owner, wanter, key.Series, h.Piece, h.Quiet, due); err != nil {
			return err
		}
	}
	return nil
}

// tellOfMatch tells both sides that owner can spare what wanter wants. The key holds no date: the same match is told
// once, however often the spare comes and goes. Of a quiet want its owner alone hears.
func (s *Store) tellOfMatch(ctx context.Context, tx pgx.Tx, g Group, owner, w Member, code, piece string, quiet bool, due *[]int64) error {
	key := fmt.Sprintf("%s/%s from %d to %d", code, piece, owner.ID, w.ID)
	add := func(m Member, kind NoticeKind, key string, other int64) error {
		now, err := s.note(ctx, tx, g, m, kind, key, NoticeBody{Series: code, Piece: piece, Other: other})
		if now && !slices.Contains(*due, m.ID) {
			*due = append(*due, m.ID)
		}
		return err
	}
	err := add(w, SpareForYou, "spare "+key, owner.ID)
	if err != nil || quiet {
		return err
	}
	return add(owner, WantOfYours, "want "+key, w.ID)
}

// tellParties turns what a trade says after an event into notices. What is for the keepers goes to those who have no part in
// the trade.
func (s *Store) tellParties(ctx context.Context, tx pgx.Tx, g Group, r tradeRow, notices []trade.Notice) error {
	for _, n := range notices {
		members := []int64{memberID(n.To)}
		if n.To == trade.Keepers {
			var err error
			if members, err = impartialKeepers(ctx, tx, r); err != nil {
				return err
			}
		}
		body := NoticeBody{
			Trade: r.Number, Version: r.Version, Other: memberID(n.About),
			State: r.State.String(), Ending: r.Ending.String(),
		}
		kind, ok := noticeKinds[n.Kind]
		if !ok {
			kind, body.What = TradeDeed, n.Kind.String()
		}
		key := fmt.Sprintf("trade %d.%d %s %s %s", r.Number, r.Version, kind, body.State, n.About)
		if kind == TradeDeed || kind == PieceSent { // the same may be said again, of another deed
			key = fmt.Sprintf("trade %d %s %s #%d", r.Number, cmp.Or(body.What, string(kind)), n.About, r.Deeds)
		}
		for _, id := range members {
			m, err := memberByID(ctx, tx, id)
			if err != nil {
				return err
			}
			if err := s.tell(ctx, tx, g, m, kind, key, body); err != nil {
				return err
			}
		}
	}
	return nil
}

// impartialKeepers lists the keepers of a group who have no part in a trade.
func impartialKeepers(ctx context.Context, tx pgx.Tx, t Trade) ([]int64, error) {
	rows, _ := tx.Query(ctx, `
		SELECT member_id FROM members m WHERE group_id = $1 AND keeper AND left_at IS NULL AND member_id IS DISTINCT FROM $3
			AND NOT EXISTS (SELECT 1 FROM trade_parties p WHERE p.trade_id = $2 AND p.member_id = m.member_id)
		ORDER BY member_id`, t.Group, t.ID, orNobody(t.Middle))
	return pgx.CollectRows(rows, pgx.RowTo[int64])
}

// due reads what a member may be told now, a message each: matches together first, then each notice of a trade on its own,
// for it carries buttons. What goes into a message is settled for good before it is said for the first time. Only one at
// a time may ask for a member.
func (s *Store) due(ctx context.Context, member int64) ([][]Notice, error) {
	if _, err := s.pool.Exec(ctx, `
		UPDATE notices SET message = CASE WHEN kind IN ('spare', 'want') THEN oldest ELSE notice_id END
		FROM (SELECT min(notice_id) AS oldest FROM notices
			WHERE member_id = $1 AND told_at IS NULL AND message IS NULL AND due_at <= $2 AND kind IN ('spare', 'want')) matches
		WHERE member_id = $1 AND told_at IS NULL AND message IS NULL AND due_at <= $2`, member, s.now()); err != nil {
		return nil, fmt.Errorf("settle what is told together: %w", err)
	}
	rows, _ := s.pool.Query(ctx, `
		SELECT notice_id, kind, born_at, body, message FROM notices
		WHERE member_id = $1 AND told_at IS NULL AND message IS NOT NULL
		ORDER BY kind <> 'away', kind NOT IN ('spare', 'want'), message, notice_id`, member)
	notices, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Notice])
	if err != nil {
		return nil, fmt.Errorf("read what is due: %w", err)
	}
	var messages [][]Notice
	for _, n := range notices {
		if last := len(messages) - 1; last >= 0 && messages[last][0].Message == n.Message {
			messages[last] = append(messages[last], n)
			continue
		}
		messages = append(messages, []Notice{n})
	}
	return messages, nil
}

// told records that notices have been said, so that they are not said again.
func (s *Store) told(ctx context.Context, notices []Notice) error {
	ids := make([]int64, len(notices))
	for i, n := range notices {
		ids[i] = n.ID
	}
	_, err := s.pool.Exec(ctx, `UPDATE notices SET told_at = $2 WHERE notice_id = ANY ($1) AND told_at IS NULL`, ids, s.now())
	if err != nil {
		return fmt.Errorf("record what was told: %w", err)
	}
	return nil
}

// noticeKinds are the trade's own words for what it tells.
var noticeKinds = map[trade.NoticeKind]NoticeKind{
	trade.Asked: TradeAsked, trade.AskedAgain: TradeAsks, trade.AgreedNow: TradeMoved, trade.EndedNow: TradeMoved,
	trade.ClosedNow: TradeMoved, trade.ShippedToYou: PieceSent,
}
