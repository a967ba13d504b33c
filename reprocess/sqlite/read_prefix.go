package sqlite

import (
	"context"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// PrefixProof proves that the log of one signed checkpoint begins that of a later one, and checks
// the proof against both signed roots before giving it: at most 64 hashes (RFC 6962, 2.1.2).
func (s *Store) PrefixProof(ctx context.Context, old, size int64) ([]ledger.Hash, error) {
	if old < 1 || old >= size {
		return nil, &reprocess.Problem{Code: reprocess.Invalid, Rule: "older",
			Text: "The other checkpoint is not older.", Fix: "Choose one over fewer entries."}
	}
	first, err := s.CheckpointOf(ctx, old)
	if err != nil {
		return nil, err
	}
	last, err := s.CheckpointOf(ctx, size)
	if err != nil {
		return nil, err
	}
	proof, err := ledger.ProvePrefix(old, size, s.Hashes(ctx))
	if err != nil {
		return nil, reprocess.AsProblem(err)
	}
	if err := ledger.CheckPrefix(proof, old, first.Root, size, last.Root); err != nil {
		return nil, &reprocess.Problem{Code: reprocess.Internal, Rule: "proof", Err: err,
			Text: "The later checkpoint does not go on from the earlier one.",
			Fix:  "Check everything now, and tell whoever audits this site."}
	}
	return proof, nil
}
