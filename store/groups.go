package store

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/melt"
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
	KeeperRole      string        // the chat's own id of a role whose holders keep the group too
	Gone            *time.Time    // since when the group is without us
}

const groupColumns = `group_id, chat, name, zone, currency, premium_per_ounce, topup_limit, ring, lapse, catalogue,
	channel, threads, keeper_role, gone_at`

func scanGroup(row pgx.CollectableRow) (g Group, err error) {
	err = row.Scan(&g.ID, &g.Chat, &g.Name, &g.Zone, &g.Currency, &g.PremiumPerOunce, &g.TopUpLimit, &g.Ring, &g.Lapse, &g.Catalogue,
		&g.Channel, &g.Threads, &g.KeeperRole, &g.Gone)
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

// SaveGroup writes what keepers may change of a group: zone, currency, premium, limits, ring, lapse, and what the
// chat may do where.
func (s *Store) SaveGroup(ctx context.Context, g Group) error {
	return s.inTx(ctx, "save the group", func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `
			UPDATE groups SET zone = $2, currency = $3, premium_per_ounce = $4, topup_limit = $5, ring = $6, lapse = $7,
				channel = $8, threads = $9, keeper_role = $10
			WHERE group_id = $1`,
			g.ID, g.Zone, g.Currency, g.PremiumPerOunce, g.TopUpLimit, g.Ring, g.Lapse, g.Channel, g.Threads, g.KeeperRole)
		return err
	})
}
