package sqlite

import (
	"context"
	"database/sql"

	"handback/reprocess"
)

const (
	insertBlock = `INSERT INTO entry_block (block, first_at, last_at, bits) VALUES (?, ?, ?, ?)`
	blockRead   = `SELECT act.at, e.body FROM entry e JOIN act USING (seq)
		WHERE e.seq BETWEEN ? AND ? ORDER BY e.seq`
)

// blocks writes the rows of the blocks that the entries from first to last filled. It reads
// their entries through the transaction that wrote them: 64 rows for every 64 acts.
func (w *scribe) blocks(ctx context.Context, q querier, put putter, first, last int64) error {
	for k := (first - 1) / blockLength; (k+1)*blockLength <= last; k++ {
		b, err := blockOf(ctx, q, k)
		if err != nil {
			return err
		}
		if err := put(insertBlock, b.row(k)...); err != nil {
			return err
		}
	}
	return nil
}

// blockOf reads the entries of a block.
func blockOf(ctx context.Context, q querier, k int64) (*block, error) {
	rows, err := q.QueryContext(ctx, blockRead, k*blockLength+1, (k+1)*blockLength)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	b := new(block)
	for rows.Next() {
		var at int64
		var body sql.RawBytes
		if err := rows.Scan(&at, &body); err != nil {
			return nil, err
		}
		b.add(reprocess.Instant(at), body)
	}
	return b, rows.Err()
}

// fillPortion is how many blocks one transaction makes at the start: 64 000 entries.
const fillPortion = 1000

// fillBlocks makes the rows that a folder from before the table has none of, in portions, so
// that a server that is killed meanwhile goes on at the next start.
func (w *scribe) fillBlocks(ctx context.Context) error {
	for {
		made, err := w.fillSome(ctx)
		if err != nil {
			return unusable("The index of the trail cannot be made.", err)
		}
		if made == 0 {
			return nil
		}
		w.store.log.Info("the index of the trail was made", "blocks", made)
	}
}

func (w *scribe) fillSome(ctx context.Context) (made int64, err error) {
	tx, err := w.store.writeDB.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback() // after Commit this does nothing
	var next, size int64
	err = tx.QueryRowContext(ctx, `SELECT (SELECT coalesce(max(block) + 1, 0) FROM entry_block),
		(SELECT coalesce(max(seq), 0) FROM entry)`).Scan(&next, &size)
	if err != nil {
		return 0, err
	}
	if made = min(size/blockLength-next, fillPortion); made <= 0 {
		return 0, nil
	}
	put := w.putter(ctx, tx)
	err = w.blocks(ctx, tx, put, next*blockLength+1, (next+made)*blockLength)
	if err != nil {
		return 0, err
	}
	return made, tx.Commit()
}
