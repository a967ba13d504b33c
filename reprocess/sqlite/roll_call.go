package sqlite

import (
	"context"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// CallRoll records the newest entry of every kit as one hash, so that a file about one kit can
// show that none of its entries is held back. An entry that comes between makes it be tried
// again, three times at most.
func (s *Store) CallRoll(ctx context.Context, actor reprocess.Actor) error {
	var err error
	for range 3 {
		heads, size, headsErr := s.Heads(ctx)
		if headsErr != nil {
			return headsErr
		}
		root, rootErr := ledger.RollRoot(heads)
		if rootErr != nil {
			return reprocess.AsProblem(rootErr)
		}
		_, err = s.Do(ctx, Request{Actor: actor, Cmd: reprocess.RollCall{
			Kits: int64(len(heads)), Root: root.String(), Size: size}})
		if p := reprocess.AsProblem(err); p == nil || p.Rule != "overtaken" {
			return err
		}
	}
	return err
}
