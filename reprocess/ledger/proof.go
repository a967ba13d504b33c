package ledger

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// ProveEntry proves that entry seq (from 1) is in the log of the given size: the audit path of
// RFC 6962 section 2.1.1, at most 63 hashes, from the leaf upwards.
func ProveEntry(seq, size int64, r HashReader) ([]Hash, error) {
	p, err := tlog.ProveRecord(size, seq-1, r)
	if err != nil {
		return nil, fmt.Errorf("entry %d cannot be proved in a log of %d: %w", seq, size, err)
	}
	return fromTlog(p), nil
}

// CheckEntry checks such a proof against the root of the log of the given size; leaf is the
// LeafHash of the entry's bytes.
func CheckEntry(proof []Hash, seq int64, leaf Hash, size int64, root Hash) error {
	err := tlog.CheckRecord(toTlog(proof), size, tlog.Hash(root), seq-1, tlog.Hash(leaf))
	if err != nil {
		return fmt.Errorf("entry %d is not proved to be in the log of %d entries", seq, size)
	}
	return nil
}

// ProvePrefix proves that the log of size old (at least 1) is the beginning of the log of the
// given size: the consistency proof of RFC 6962 section 2.1.2.
func ProvePrefix(old, size int64, r HashReader) ([]Hash, error) {
	p, err := tlog.ProveTree(size, old, r)
	if err != nil {
		return nil, fmt.Errorf("a log of %d cannot be proved to begin one of %d: %w", old, size, err)
	}
	return fromTlog(p), nil
}

// CheckPrefix checks such a proof against both roots.
func CheckPrefix(proof []Hash, old int64, oldRoot Hash, size int64, root Hash) error {
	err := tlog.CheckTree(toTlog(proof), size, tlog.Hash(root), old, tlog.Hash(oldRoot))
	if err != nil {
		return fmt.Errorf("the log of %d entries is not proved to begin the log of %d", old, size)
	}
	return nil
}
