package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// Group is an island: its catalogue, members, values and trades are visible to no other group.
type Group struct {
	ID              int64
	Chat            string // the chat's own id
	Name            string
	Zone            string // IANA
	Currency        melt.Currency
	PremiumPerOunce melt.Minor    // usual premium on a troy ounce of fine metal
	TopUpLimit      melt.Minor    // for members who set none
	Ring            int           // most members in one ring
	Lapse           time.Duration // how long members have to answer a proposal
	Catalogue       int64         // raised by every change of a series
	Channel         string        // where the chat posts to the whole group; "" for where it thinks best
	Threads         bool          // the chat may open private threads
	Sending         Sending       // who sends first
	Middle          *int64        // the member trusted to stand in the middle, if there is one
	KeeperRole      string        // the chat's own id of a role whose holders keep the group too
	Gone            *time.Time    // since when the group is without us
	Language        string        // what is said to the whole group is said in it, BCP 47
}

// Sending is a group's rule for who sends first.
type Sending string

// The rules. In a gift chain nobody sends before they have got something, whatever the rule.
const (
	Together   Sending = "together"    // all at once
	NewerFirst Sending = "newer first" // the newest member in a trade, and the others when that has been accepted
	InMiddle   Sending = "middle"      // everything goes to a trusted member, who sends it on when all of it is there
)

const groupColumns = `group_id, chat, name, zone, currency, premium_per_ounce, topup_limit, ring, lapse, catalogue,
	channel, threads, keeper_role, gone_at, sending, middle, language`

func scanGroup(row pgx.CollectableRow) (g Group, err error) {
	err = row.Scan(&g.ID, &g.Chat, &g.Name, &g.Zone, &g.Currency, &g.PremiumPerOunce, &g.TopUpLimit, &g.Ring, &g.Lapse, &g.Catalogue,
		&g.Channel, &g.Threads, &g.KeeperRole, &g.Gone, &g.Sending, &g.Middle, &g.Language)
	return g, err
}

// Location is the group's zone. A zone that this machine does not know is UTC: late is fine, silent is not.
func (g Group) Location() *time.Location {
	zone, err := time.LoadLocation(g.Zone)
	if err != nil {
		return time.UTC
	}
	return zone
}

// Group returns the group of a chat, making it at first sight.
func (s *Store) Group(ctx context.Context, chat, name string) (Group, error) {
	rows, _ := s.pool.Query(ctx, `SELECT `+groupColumns+` FROM groups WHERE chat = $1`, chat)
	g, err := pgx.CollectExactlyOneRow(rows, scanGroup)
	if err == nil {
		return g, nil
	}
	if err != pgx.ErrNoRows {
		return Group{}, fmt.Errorf("find the group: %w", err)
	}
	err = s.inTx(ctx, "make the group", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `
			INSERT INTO groups (chat, name) VALUES ($1, $2)
			ON CONFLICT (chat) DO UPDATE SET chat = EXCLUDED.chat
			RETURNING `+groupColumns, chat, name)
		g, err = pgx.CollectExactlyOneRow(rows, scanGroup)
		return err
	})
	return g, err
}

// groupByID is for jobs, which know a group by our id.
func groupByID(ctx context.Context, tx pgx.Tx, id int64) (Group, error) {
	rows, _ := tx.Query(ctx, `SELECT `+groupColumns+` FROM groups WHERE group_id = $1`, id)
	return pgx.CollectExactlyOneRow(rows, scanGroup)
}

// SaveGroup writes what keepers may change of a group: zone, currency, premium, limits, ring, lapse, who sends first, the language of
// its posts, and what the chat may do where.
func (s *Store) SaveGroup(ctx context.Context, g Group) error {
	return s.inTx(ctx, "save the group", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `
			DELETE FROM postage USING groups g
			WHERE postage.group_id = $1 AND g.group_id = $1 AND g.currency <> $2`, g.ID, g.Currency); err != nil {
			return err // what was so much in one money is not so much in another
		}
		_, err := tx.Exec(ctx, `
			UPDATE groups SET zone = $2, currency = $3, premium_per_ounce = $4, topup_limit = $5, ring = $6, lapse = $7,
				channel = $8, threads = $9, keeper_role = $10,
				sending = $11, middle = $12, language = $13
			WHERE group_id = $1`,
			g.ID, g.Zone, g.Currency, g.PremiumPerOunce, g.TopUpLimit, g.Ring, g.Lapse, g.Channel, g.Threads, g.KeeperRole,
			cmp.Or(g.Sending, Together), g.Middle, cmp.Or(g.Language, "en"))
		if err != nil {
			return err
		}
		return moveWeekly(ctx, tx, g)
	})
}

// setOrder says who sends first by the group's rule; in a chain nobody sends before they have got. Members are numbered in
// the order in which they joined.
func (g Group) setOrder(terms *trade.Terms) {
	newest := 0
	for i, p := range terms.Parties {
		if memberID(p.Member) > memberID(terms.Parties[newest].Member) {
			newest = i
		}
	}
	isParty := func(m match.Member) bool {
		return slices.ContainsFunc(terms.Parties, func(p trade.Party) bool { return p.Member == m })
	}
	for i := range terms.Parties {
		switch {
		case terms.Chain:
			terms.Parties[i].Turn = i
		case g.Sending == NewerFirst && i != newest:
			terms.Parties[i].Turn = 1
		}
	}
	if g.Sending == InMiddle && g.Middle != nil && !terms.Chain && !isParty(identity(*g.Middle)) {
		terms.Middle = identity(*g.Middle)
	}
}
