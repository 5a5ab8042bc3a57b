package store

import (
	"cmp"
	"context"
	"fmt"
	"strconv"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// Member is one person in one group.
type Member struct {
	ID         int64
	Group      int64
	Account    string // the chat's own id
	Name       string
	Keeper     bool
	Region     string
	TopUpLimit *melt.Minor // nil: the group's
	Seen       bool        // may be named as a holder of what is not spare
	Muted      bool
	QuietFrom  *Clock // both or neither, in the group's zone
	QuietTo    *Clock
	DigestAt   *Clock
	Gone       bool   // has left the group
	Locale     string // how they read numbers, BCP 47; "" when they have not said
	Chosen     string // the language they chose to be answered in, BCP 47; "" when they have not said
	Chat       string // the language of their chat, BCP 47; "" when it does not say
}

// Language is what a member is answered in: what they chose, else what their chat uses; "" when neither is known.
func (m Member) Language() string { return cmp.Or(m.Chosen, m.Chat) }

// Clock is a time of day in minutes after midnight.
type Clock int

// String is the clock as people write it, 22:30.
func (c Clock) String() string { return fmt.Sprintf("%d:%02d", int(c)/60, int(c)%60) }

// Identity is the member as match knows them.
func (m Member) Identity() match.Member { return identity(m.ID) }

func identity(id int64) match.Member { return match.Member(strconv.FormatInt(id, 10)) }

// memberID is identity read back; 0, which is nobody, for a word we did not make.
func memberID(m match.Member) int64 {
	id, _ := strconv.ParseInt(string(m), 10, 64)
	return id
}

const memberColumns = `member_id, group_id, account, name, keeper, region, topup_limit, seen, muted,
	extract(epoch FROM quiet_from)::int / 60, extract(epoch FROM quiet_to)::int / 60, extract(epoch FROM digest_at)::int / 60,
	left_at IS NOT NULL, locale, language, chat_language`

func scanMember(row pgx.CollectableRow) (m Member, err error) {
	err = row.Scan(&m.ID, &m.Group, &m.Account, &m.Name, &m.Keeper, &m.Region, &m.TopUpLimit, &m.Seen, &m.Muted,
		&m.QuietFrom, &m.QuietTo, &m.DigestAt, &m.Gone, &m.Locale, &m.Chosen, &m.Chat)
	return m, err
}

// Join returns the member of a group behind a chat account, making them at first sight; it keeps their name and their
// standing as keeper as the chat has them now, and welcomes back who had left.
func (s *Store) Join(ctx context.Context, group int64, account, name string, keeper bool, language string) (Member, error) {
	rows, _ := s.pool.Query(ctx, `SELECT `+memberColumns+` FROM members WHERE group_id = $1 AND account = $2`, group, account)
	m, err := pgx.CollectExactlyOneRow(rows, scanMember)
	if err == nil && m.Name == name && m.Keeper == keeper && !m.Gone && (language == "" || m.Chat == language) {
		return m, nil
	}
	if err != nil && err != pgx.ErrNoRows {
		return Member{}, fmt.Errorf("find the member: %w", err)
	}
	err = s.inTx(ctx, "join", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `
			INSERT INTO members (group_id, account, name, keeper, joined_at, chat_language) VALUES ($1, $2, $3, $4, $5, $6)
			ON CONFLICT (group_id, account) DO UPDATE SET name = EXCLUDED.name, keeper = EXCLUDED.keeper, left_at = NULL,
				chat_language = coalesce(nullif(EXCLUDED.chat_language, ''), members.chat_language)
			RETURNING `+memberColumns, group, account, name, keeper, s.now(), language)
		m, err = pgx.CollectExactlyOneRow(rows, scanMember)
		return err
	})
	return m, err
}

// Members lists who is in a group, by name.
func (s *Store) Members(ctx context.Context, group int64) ([]Member, error) {
	rows, _ := s.pool.Query(ctx, `
		SELECT `+memberColumns+` FROM members WHERE group_id = $1 AND left_at IS NULL ORDER BY lower(name), member_id`, group)
	all, err := pgx.CollectRows(rows, scanMember)
	if err != nil {
		return nil, fmt.Errorf("list the members: %w", err)
	}
	return all, nil
}

// MemberNames maps our ids of everyone who was ever in the group to their names, for wording notices and trades.
func (s *Store) MemberNames(ctx context.Context, group int64) (map[int64]string, error) {
	rows, _ := s.pool.Query(ctx, `SELECT member_id, name FROM members WHERE group_id = $1`, group)
	names := map[int64]string{}
	var id int64
	var name string
	_, err := pgx.ForEachRow(rows, []any{&id, &name}, func() error { names[id] = name; return nil })
	if err != nil {
		return nil, fmt.Errorf("read the members' names: %w", err)
	}
	return names, nil
}

func memberByID(ctx context.Context, tx pgx.Tx, id int64) (Member, error) {
	rows, _ := tx.Query(ctx, `SELECT `+memberColumns+` FROM members WHERE member_id = $1`, id)
	return pgx.CollectExactlyOneRow(rows, scanMember)
}

// SaveMember writes what a member may change of themselves: region, limit, being seen, muting, quiet hours,
// digest, locale and the language chosen.
func (s *Store) SaveMember(ctx context.Context, m Member) error {
	return s.inTx(ctx, "save the member", func(tx pgx.Tx) error {
		before, err := memberByID(ctx, tx, m.ID)
		if err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `
			UPDATE members SET region = $2, topup_limit = $3, seen = $4, muted = $5,
				quiet_from = $6 * interval '1 minute' + time '0:00', quiet_to = $7 * interval '1 minute' + time '0:00',
				digest_at = $8 * interval '1 minute' + time '0:00', locale = $9,
				language = $10
			WHERE member_id = $1`,
			m.ID, m.Region, m.TopUpLimit, m.Seen, m.Muted, m.QuietFrom, m.QuietTo, m.DigestAt, m.Locale, m.Chosen); err != nil {
			return err
		}
		if before.Region == m.Region && sameMoney(before.TopUpLimit, m.TopUpLimit) {
			return nil
		}
		return s.rematchLater(ctx, tx, m.ID, nil) // what was out of reach may no longer be
	})
}

// Mute stops notices about a series for a member, or lets them through again.
func (s *Store) Mute(ctx context.Context, member int64, series string, mute bool) error {
	return s.inTx(ctx, "mute", func(tx pgx.Tx) error {
		if !mute {
			_, err := tx.Exec(ctx, `DELETE FROM mutes WHERE member_id = $1 AND series = $2`, member, series)
			return err
		}
		_, err := tx.Exec(ctx, `INSERT INTO mutes (member_id, series) VALUES ($1, $2) ON CONFLICT DO NOTHING`, member, series)
		return err
	})
}

// Muted lists the series a member does not want to hear of.
func (s *Store) Muted(ctx context.Context, member int64) ([]string, error) {
	rows, _ := s.pool.Query(ctx, `SELECT series FROM mutes WHERE member_id = $1 ORDER BY series`, member)
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// Leave records that a member is gone: proposals they stand in end, and so do agreed trades of which nothing is on its way;
// of others the other parties and the keepers are told. Their spares and wants are no longer matched. What they told us
// stays for their return.
func (s *Store) Leave(ctx context.Context, m Member) error {
	return s.inTx(ctx, "leave", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `UPDATE members SET left_at = $2 WHERE member_id = $1`, m.ID, s.now()); err != nil {
			return err
		}
		open, err := tradesOf(ctx, tx, m.ID, trade.Proposed, trade.Agreed)
		if err != nil {
			return err
		}
		for _, id := range open {
			if err := s.move(ctx, tx, id, trade.Withdraw{By: m.Identity()}); err != nil && !isRefusal(err) {
				return err
			}
		}
		return nil
	})
}
