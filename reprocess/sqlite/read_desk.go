package sqlite

import (
	"context"

	"handback/reprocess"
)

// Places lists where kits lie now, each place once, in order: what a page proposes.
func (s *Store) Places(ctx context.Context) ([]string, error) {
	rows, err := s.read.QueryContext(ctx, `SELECT DISTINCT place FROM kit
		WHERE retired = 0 AND place <> '' ORDER BY place LIMIT 200`)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var all []string
	for rows.Next() {
		var place string
		if err := rows.Scan(&place); err != nil {
			return nil, storeFault(err)
		}
		all = append(all, place)
	}
	return all, storeFault(rows.Err())
}

// Pieces is every kit in use and every piece, those in no kit too.
func (s *Store) Pieces(ctx context.Context) (*reprocess.World, error) {
	return s.snapshot(ctx, func(l *loader) error {
		if err := l.where(ctx, reprocess.TableKit, "retired = 0", nil); err != nil {
			return err
		}
		return l.where(ctx, reprocess.TablePiece, "", nil)
	})
}
