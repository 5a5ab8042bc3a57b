package store

import "context"

// ClearRound is the job of clearing a round.
func (s *Store) ClearRound(ctx context.Context, id int64) error { return s.clearRound(ctx, id) }
