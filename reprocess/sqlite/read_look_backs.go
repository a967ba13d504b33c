package sqlite

import (
	"context"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// LookBacks lists the frozen look-backs, the newest first.
func (s *Store) LookBacks(ctx context.Context, limit int) ([]*reprocess.FrozenLookBack, error) {
	return all[reprocess.FrozenLookBack](ctx, s.read, `SELECT doc FROM look_back
		ORDER BY CAST(substr(id, 2) AS INTEGER) DESC LIMIT ?`, limit)
}

// Root is the hash over the snapshot's entries, as a checkpoint over them would state it.
func (s *Snapshot) Root(ctx context.Context) (string, error) { return s.RootAt(ctx, s.size) }

// RootAt is the hash over the first so many entries.
func (s *Snapshot) RootAt(ctx context.Context, size int64) (string, error) {
	root, err := ledger.RootAt(size, s.Hashes(ctx))
	return root.String(), storeFault(err)
}
