package sqlite

import (
	"context"
	"database/sql"
)

// openSides opens what lives beside the ledger.
func (s *Store) openSides(_ context.Context) error { return nil }

// closeSides closes it.
func (s *Store) closeSides() {}

// side runs f on the writing connection, in a transaction of its own, between two batches of
// requests. It is for tables that are not folded from the ledger. f may run once only and
// must not keep tx. An error of f rolls back and is given to the caller.
func (s *Store) side(ctx context.Context, f func(tx *sql.Tx) error) error {
	j := &job{side: f, answer: make(chan error, 1)}
	return s.submit(ctx, j)
}
