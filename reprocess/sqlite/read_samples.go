package sqlite

import (
	"context"

	"handback/reprocess"
)

// Samples lists the samples, the newest first.
func (s *Store) Samples(ctx context.Context, limit int) ([]*reprocess.Sample, error) {
	return all[reprocess.Sample](ctx, s.read, `SELECT doc FROM sample
		ORDER BY CAST(substr(id, 2) AS INTEGER) DESC LIMIT ?`, limit)
}
