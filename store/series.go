package store

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"spareounce/match/series"
)

// PieceInUseError says why a corrected series was refused: it lacks a piece that members hold or want.
type PieceInUseError struct{ Series string }

func (e *PieceInUseError) Error() string {
	return "a piece of " + e.Series + " that members hold or want is gone"
}

// SaveSeries adds a series to a group's catalogue, or corrects it. A piece that someone holds or wants cannot be taken
// out: *PieceInUseError.
func (s *Store) SaveSeries(ctx context.Context, group int64, one series.Series) error {
	codes := make([]string, len(one.Pieces))
	for i, p := range one.Pieces {
		codes[i] = p.Code
	}
	err := s.inTx(ctx, "save the series", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `
			INSERT INTO series (group_id, series, definition) VALUES ($1, $2, $3)
			ON CONFLICT (group_id, series) DO UPDATE SET definition = EXCLUDED.definition`,
			group, one.Code, one); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `
			DELETE FROM pieces WHERE group_id = $1 AND series = $2 AND piece <> ALL ($3::text[])`,
			group, one.Code, codes); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `
			INSERT INTO pieces (group_id, series, piece) SELECT $1, $2, unnest($3::text[]) ON CONFLICT DO NOTHING`,
			group, one.Code, codes); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `UPDATE groups SET catalogue = catalogue + 1 WHERE group_id = $1`, group)
		return err
	})
	if pg, ok := errors.AsType[*pgconn.PgError](err); ok && pg.Code == "23503" { // foreign_key_violation
		return &PieceInUseError{one.Code}
	}
	return err
}

// Catalogue returns what a group collects, as of the catalogue version that g carries. The answer is shared: read only.
func (s *Store) Catalogue(ctx context.Context, g Group) (*series.Catalogue, error) {
	s.mu.Lock()
	known := s.catalogues[g.ID]
	s.mu.Unlock()
	if known.Catalogue != nil && known.version == g.Catalogue {
		return known.Catalogue, nil
	}
	var all []series.Series
	err := s.inSnapshot(ctx, "read the catalogue", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `SELECT catalogue FROM groups WHERE group_id = $1`, g.ID)
		version, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		rows, _ = tx.Query(ctx, `SELECT definition FROM series WHERE group_id = $1 ORDER BY series`, g.ID)
		all, err = pgx.CollectRows(rows, pgx.RowTo[series.Series])
		known.version = version
		return err
	})
	if err != nil {
		return nil, err
	}
	known.Catalogue = series.NewCatalogue(all)
	s.mu.Lock()
	s.catalogues[g.ID] = known
	s.mu.Unlock()
	return known.Catalogue, nil
}
