package store

import (
	"context"
	"maps"
	"slices"

	"spareounce/match"
	"spareounce/match/series"
)

// UsefulPiece is a piece of which one more in the group would open trades that cannot be made without it.
type UsefulPiece struct {
	Key    HoldingKey
	Wanted int  // wants that it could fill and that are not promised yet
	Exact  bool // what it would gain is proved, with the holder it was tried with; else it is the best that was found in the time
}

// Work for one question: how many pieces are tried in earnest, and how long the matcher may think about each, in its steps
// of about a microsecond.
const (
	usefulTries = 6
	usefulSteps = 150_000
)

// MostUseful says which pieces would help a group most if one member bought one and could spare it, the most helpful first.
// It clears the group as it stands and again with each piece added. Nothing is changed and nothing proposed.
func (s *Store) MostUseful(ctx context.Context, group int64, most int) ([]UsefulPiece, error) {
	k, err := s.market(ctx, group)
	if err != nil {
		return nil, err
	}
	k.mu.RUnlock()
	k.mu.Lock() // listing remembers values
	pool := k.listWith(nil, k.wishedFor()).pool
	k.mu.Unlock()

	var found []UsefulPiece
	for _, u := range match.MostUseful(pool, match.Options{Steps: usefulSteps}, usefulTries) {
		if u.Gain == 0 {
			continue
		}
		wanted := 0
		for _, w := range pool.Wants {
			if slices.ContainsFunc(w.Fill, func(f match.Fill) bool { return f.Piece == u.Piece }) {
				wanted++
			}
		}
		key := ReadPieceID(u.Piece)
		if slices.ContainsFunc(found, func(f UsefulPiece) bool { return f.Key.Series == key.Series && f.Key.Piece == key.Piece }) {
			continue // the same in another condition
		}
		if found = append(found, UsefulPiece{key, wanted, u.Exact}); len(found) == most {
			break
		}
	}
	return found, nil
}

// wishedFor lists every piece that somebody wants, as new as a shop has it: so it will do for whoever wants one.
func (k stalls) wishedFor() []kind {
	var all []kind
	for _, id := range slices.Sorted(maps.Keys(k.of)) {
		if k.of[id].gone {
			continue
		}
		for _, row := range slices.Sorted(maps.Keys(k.of[id].wants)) {
			w := k.of[id].wants[row]
			for _, piece := range w.Pieces {
				all = append(all, kind{HoldingKey: HoldingKey{w.key.Series, piece, series.Sealed}})
			}
		}
	}
	return all
}
