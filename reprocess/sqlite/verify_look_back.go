package sqlite

import (
	"errors"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"handback/reprocess"
	"handback/reprocess/ledger"
	"handback/reprocess/lookback"
)

// CountsOf counts an answer by class, as its entry states it.
func CountsOf(f lookback.Frozen) reprocess.LookBackCounts {
	r := f.Result
	return reprocess.LookBackCounts{Cycles: len(r.Cycles), Caught: len(r.Caught),
		Exposed: len(r.Exposed), Unreleased: len(r.Unreleased), Unbounded: len(r.Unbounded),
		Recall: len(r.Recall), Embargo: len(r.Embargo), Restart: len(r.Restart),
		Unresolved: len(r.Unresolved), Wearers: r.Wearers, Unknown: f.Unknown}
}

// frozenRoots checks that a look-back was frozen over entries of this ledger: the hash that it
// states over the first so many of them. Their hashes were checked before.
func (c *check) frozenRoots(e *reprocess.Entry) error {
	for _, b := range e.Events {
		v, ok := b.Event.(reprocess.LookBackFrozen)
		if !ok {
			continue
		}
		if v.Size < 1 || v.Size >= e.Seq {
			return entryDiffers(e.Seq, "it froze a look-back over %d entries", v.Size)
		}
		root, err := ledger.RootAt(v.Size, nodes(c.ctx, c.tx))
		if err != nil {
			return err
		}
		if root.String() != v.Root {
			return entryDiffers(e.Seq, "its look-back was not frozen over the %d entries before it",
				v.Size)
		}
	}
	return nil
}

// frozenAnswers reads the answer of every frozen look-back and holds it against its entry. The
// bytes are the ones they are named by: that was checked before.
func (c *check) frozenAnswers(dir string) error {
	for _, id := range slices.Sorted(maps.Keys(c.fold.world.LookBacks)) {
		l := c.fold.world.LookBacks[id]
		content, err := os.ReadFile(filepath.Join(dir, l.SHA256[:2], l.SHA256))
		if errors.Is(err, fs.ErrNotExist) {
			continue // told as missing
		}
		if err != nil {
			return err
		}
		f, err := lookback.ReadFrozen(content)
		switch {
		case err != nil:
			return entryDiffers(l.Seq, "the kept answer of its look-back cannot be read: %v", err)
		case f.Size != l.Size || f.Root != l.Root || CountsOf(f) != l.Counts ||
			int64(len(content)) != l.Bytes || !slices.Equal(lookback.ReadKeys(l.Query), f.Keys):
			return entryDiffers(l.Seq, "the kept answer of its look-back says something else")
		}
	}
	return nil
}
