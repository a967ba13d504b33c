package sqlite

import (
	"context"
	"database/sql"
)

// openSides opens what lives beside the ledger.
func (s *Store) openSides(ctx context.Context) (err error) {
	s.wearers, err = openWearers(ctx, s.path(wearersName))
	return err
}

// closeSides closes it.
func (s *Store) closeSides() {
	if s.wearers == nil {
		return
	}
	if err := s.wearers.Close(); err != nil {
		s.log.Error("closing the wearer links", "err", err)
	}
}

// side runs f on the writing connection, in a transaction of its own, between two batches of
// requests. It is for tables that are not folded from the ledger. f may run once only and
// must not keep tx. An error of f rolls back and is given to the caller.
func (s *Store) side(ctx context.Context, f func(tx *sql.Tx) error) error {
	j := &job{side: f, answer: make(chan error, 1)}
	return s.submit(ctx, j)
}
