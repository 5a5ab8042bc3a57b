package store

import (
	"cmp"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"spareounce/match"
)

// ExportPool returns a group as a pool that names nobody: members go by ids that are the same from export to export and
// tell nothing, and all is sorted by them, so that no order tells who came first. What each id stands for comes beside it,
// for who may know. Without quiet, what members offer or want quietly stays out.
func (s *Store) ExportPool(ctx context.Context, group int64, quiet bool) (*match.Pool, map[match.Member]string, error) {
	names, err := s.MemberNames(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	var key string
	if err := s.pool.QueryRow(ctx, `SELECT pool_key::text FROM groups WHERE group_id = $1`, group).Scan(&key); err != nil {
		return nil, nil, fmt.Errorf("export the pool: %w", err)
	}
	k, err := s.market(ctx, group)
	if err != nil {
		return nil, nil, err
	}
	one := k.apart(nil)
	for id, m := range k.of {
		one.of[id] = m
		if !quiet {
			one.of[id] = m.shown()
		}
	}
	k.mu.RUnlock()
	pool := one.list(nil).pool
	who := map[match.Member]string{}
	opaque := func(m match.Member) match.Member {
		mac := hmac.New(sha256.New, []byte(key))
		mac.Write([]byte(m))
		id := match.Member("m" + hex.EncodeToString(mac.Sum(nil)[:8]))
		who[id] = names[memberID(m)]
		return id
	}
	for i := range pool.Members {
		pool.Members[i].ID = opaque(pool.Members[i].ID)
	}
	for i := range pool.Spares {
		pool.Spares[i].Member = opaque(pool.Spares[i].Member)
	}
	for i := range pool.Wants {
		pool.Wants[i].Member = opaque(pool.Wants[i].Member)
	}
	sortPool(pool)
	return pool, who, nil
}

// shown is a stall without what its member offers or wants quietly.
func (s *stall) shown() *stall {
	open := *s
	open.spares, open.wants = map[match.Piece]stallSpare{}, map[int64]*stallWant{}
	for piece, spare := range s.spares {
		if !spare.quiet {
			open.spares[piece] = spare
		}
	}
	for row, w := range s.wants {
		if !w.Quiet {
			open.wants[row] = w
		}
	}
	return &open
}

func sortPool(p *match.Pool) {
	slices.SortFunc(p.Members, func(a, b match.Trader) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortFunc(p.Pieces, func(a, b match.PieceInfo) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortFunc(p.Spares, func(a, b match.Spare) int {
		return cmp.Or(cmp.Compare(a.Member, b.Member), cmp.Compare(a.Piece, b.Piece))
	})
	slices.SortFunc(p.Wants, func(a, b match.Want) int {
		return cmp.Or(cmp.Compare(a.Member, b.Member), slices.CompareFunc(a.Fill, b.Fill, func(a, b match.Fill) int {
			return cmp.Or(cmp.Compare(a.Piece, b.Piece), cmp.Compare(a.Gain, b.Gain))
		}))
	})
}
