package sqlite

import (
	"context"

	"handback/reprocess"
)

// LastBlank is the greatest number ever printed on a blank sticker, bound ones too; 0 before
// the first.
func (s *Store) LastBlank(ctx context.Context) (n int, err error) {
	err = s.read.QueryRowContext(ctx,
		`SELECT coalesce(max(CAST(number AS INTEGER)), 0) FROM label WHERE number <> ''`).Scan(&n)
	return n, storeFault(err)
}

// Blanks lists the stickers of a range of printed numbers that are still blank and in force, by
// number.
func (s *Store) Blanks(ctx context.Context, first, last int) ([]*reprocess.Label, error) {
	return all[reprocess.Label](ctx, s.read, `SELECT doc FROM label WHERE kind = 'blank' AND
		withdrawn = 0 AND CAST(number AS INTEGER) BETWEEN ? AND ?
		ORDER BY CAST(number AS INTEGER)`, first, last)
}

// Unlabelled lists the kits in use with a piece that has no label in force.
func (s *Store) Unlabelled(ctx context.Context) (*reprocess.World, error) {
	return s.kits(ctx, `retired = 0 AND id IN (SELECT kit FROM piece WHERE state <> 'retired' AND
		NOT EXISTS (SELECT 1 FROM label WHERE label.target = piece.id AND label.withdrawn = 0))`,
		nil)
}
