package sqlite

import (
	"errors"

	"handback/reprocess"
)

// blockRow takes an entry into the block that is being checked; a full one is compared with its
// row. A bit that was taken out of it would keep entries from being found.
func (c *check) blockRow(seq int64, e *reprocess.Entry, body []byte, s *stream) error {
	if !c.block.add(e.At, body) {
		return nil
	}
	k := (seq - 1) / blockLength
	full := c.block
	c.block = block{}
	switch {
	case s.row == nil || later(s.row[0], k):
		return rowDiffers("entry_block", k, "missing")
	case s.row[0] != k:
		return rowDiffers("entry_block", s.row[0], "follows from no entry")
	case !full.same(k, s.row):
		return rowDiffers("entry_block", k, "is not what its entries say")
	}
	return s.next()
}

// schemaAsHere refuses a folder whose schema is older: what is missing of it is no damage.
func (c *check) schemaAsHere() error {
	all, err := migrations()
	if err != nil {
		return err
	}
	var tables, steps int
	err = c.tx.QueryRowContext(c.ctx, `SELECT count(*) FROM sqlite_master
		WHERE type = 'table' AND name = 'entry_block'`).Scan(&tables)
	if err != nil || tables > 0 {
		return err
	}
	err = c.tx.QueryRowContext(c.ctx, `SELECT count(*) FROM migration`).Scan(&steps)
	if err != nil || steps >= len(all) {
		return err
	}
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "fold",
		Text: "This folder was last written by another version of the program.",
		Fix:  "Start it once, or verify with that version.",
		Err:  errors.New("its schema has fewer steps than this program's")}
}
