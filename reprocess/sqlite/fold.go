package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"handback/reprocess"
)

// foldedTables are what a fold of the entries leaves beside the read tables. The tables node,
// key and chain follow from the entries' bytes alone, whatever the fold.
var foldedTables = []string{"act", "act_ref", "entry_block"}

// foldVersion tells which fold wrote the read tables: 0 for a folder from before folds had
// numbers. Rows counts the rows of the table: 1 unless somebody changed it.
func foldVersion(ctx context.Context, q querier) (version, rows int64, err error) {
	var there int
	err = q.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_master
		WHERE type = 'table' AND name = 'fold'`).Scan(&there)
	if err != nil || there == 0 {
		return 0, 1, err
	}
	err = q.QueryRowContext(ctx, `SELECT coalesce(max(version), 0), count(*) FROM fold`).
		Scan(&version, &rows)
	return version, rows, err
}

// foldedAsHere refuses to compare read tables that another fold wrote: every difference found
// would be the program's and not the folder's.
func (c *check) foldedAsHere() error {
	version, rows, err := foldVersion(c.ctx, c.tx)
	switch {
	case err != nil:
		return err
	case rows != 1:
		return rowDiffers("fold", "version", "there are %d rows, there is one", rows)
	case version == reprocess.FoldVersion:
		return nil
	}
	p := &reprocess.Problem{Code: reprocess.Unavailable, Rule: "fold",
		Text: "This folder was last written by another version of the program.",
		Fix:  "Start it once, or verify with that version.",
		Err:  fmt.Errorf("fold %d, this program has %d", version, reprocess.FoldVersion)}
	if version > reprocess.FoldVersion {
		p.Fix = "Verify with that version: it is newer than this one."
	}
	return p
}

// refold folds every read table anew when another fold wrote them, in one transaction: a
// server that is killed meanwhile leaves the folder as it was, to be folded at the next start.
// Memory is bounded by the pool and the work in hand, not by the history (BenchmarkLong).
func (w *scribe) refold(ctx context.Context) error {
	version, rows, err := foldVersion(ctx, w.store.writeDB)
	switch {
	case err != nil:
		return unusable("The database cannot be read.", err)
	case version > reprocess.FoldVersion:
		return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "fold",
			Text: "This folder was last written by a newer version of the program.",
			Fix:  "Start that version, or put back a copy of the folder from before it.",
			Err:  fmt.Errorf("fold %d, this program has %d", version, reprocess.FoldVersion)}
	case version == reprocess.FoldVersion && rows == 1:
		return nil
	}
	tx, err := w.store.writeDB.BeginTx(ctx, nil)
	if err != nil {
		return unusable("The database cannot be written.", err)
	}
	defer tx.Rollback() // after Commit this does nothing
	entries, err := w.foldAnew(ctx, tx)
	if err == nil {
		err = tx.Commit()
	}
	w.forget()
	if err != nil {
		return unusable("The read tables cannot be folded from the entries.", err)
	}
	if entries > 0 {
		w.store.log.Info("the read tables were folded anew from the entries",
			"entries", entries, "from fold", version, "to fold", reprocess.FoldVersion)
	}
	return nil
}

// foldAnew replaces the rows of every folded table within tx and sets the version. It answers
// how many entries there were.
func (w *scribe) foldAnew(ctx context.Context, tx *sql.Tx) (entries int64, err error) {
	if err := emptyFolded(ctx, tx); err != nil {
		return 0, err
	}
	put := w.putter(ctx, tx)
	fold := newPortions(w.store.opts.portion, func() (querier, putter, error) { return tx, put, nil })
	for {
		bodies, err := bodiesAfter(ctx, tx, entries)
		if err != nil {
			return entries, err
		}
		if len(bodies) == 0 {
			break
		}
		if err := foldBodies(ctx, put, fold, bodies); err != nil {
			return entries, err
		}
		entries += int64(len(bodies))
	}
	if err := w.blocks(ctx, tx, put, 1, entries); err != nil {
		return entries, err
	}
	if err := fold.write(); err != nil {
		return entries, err
	}
	return entries, setFold(ctx, tx)
}

func emptyFolded(ctx context.Context, tx *sql.Tx) error {
	names := foldedTables
	for _, t := range readTables {
		names = append(names[:len(names):len(names)], string(t.name))
	}
	for _, name := range names {
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+name); err != nil {
			return err
		}
	}
	return nil
}

// bodiesAfter reads the next entries, as many as share a batch.
func bodiesAfter(ctx context.Context, q querier, seq int64) ([][]byte, error) {
	rows, err := q.QueryContext(ctx, `SELECT body FROM entry WHERE seq > ? ORDER BY seq LIMIT ?`,
		seq, maxBatch)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var bodies [][]byte
	for rows.Next() {
		var body []byte
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		bodies = append(bodies, body)
	}
	return bodies, rows.Err()
}

// foldBodies folds entries and writes the lines by which they are found.
func foldBodies(ctx context.Context, put putter, fold *portions, bodies [][]byte) error {
	var refs [][]any
	for _, body := range bodies {
		e, err := readEntry(body)
		if err != nil {
			return err
		}
		if err := fold.take(ctx, e); err != nil {
			return err
		}
		if err := put(insertAct, actRow(e)...); err != nil {
			return err
		}
		refs = append(refs, refRows(e.Seq, actRefs(e))...)
	}
	return put.rows(insertRef, insertRefs, refs)
}

func setFold(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM fold`); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO fold (version) VALUES (?)`, reprocess.FoldVersion)
	return err
}
