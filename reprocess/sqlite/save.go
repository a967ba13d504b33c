package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"runtime/debug"
	"strings"

	"handback/reprocess"
)

// commitJobs decides and commits the asks of several jobs together and answers each job. When
// that fails for another reason than the commit itself, they are replayed one by one, so that
// one bad command does not take the others with it.
func (w *scribe) commitJobs(jobs []*job) {
	var asks []*ask
	for _, j := range jobs {
		asks = append(asks, j.asks...)
	}
	if len(asks) == 0 {
		return
	}
	replay, err := w.commit(asks)
	if err == nil || !replay {
		w.answer(jobs, err)
		return
	}
	w.store.log.Error("a batch failed and is replayed one by one", "asks", len(asks), "err", err)
	for _, j := range jobs {
		w.answer([]*job{j}, w.replay(j))
	}
}

// replay commits the asks of a job one by one, or all at once where they stand together.
func (w *scribe) replay(j *job) error {
	if j.whole {
		_, err := w.commit(j.asks)
		return err
	}
	for _, a := range j.asks {
		if _, err := w.commit([]*ask{a}); err != nil {
			return err
		}
	}
	return nil
}

func (w *scribe) answer(jobs []*job, err error) {
	if err != nil {
		w.store.log.Error("nothing was saved", "err", err)
		err = storeFault(err)
	}
	for _, j := range jobs {
		j.answer <- err
	}
}

// commit decides asks and commits them in one transaction. On an error nothing is saved and
// every cache is forgotten; replay says that another try can do no harm.
func (w *scribe) commit(asks []*ask) (replay bool, err error) {
	ctx := context.Background()
	tx, err := w.store.writeDB.BeginTx(ctx, nil)
	if err != nil {
		return true, err
	}
	defer func() {
		if r := recover(); r != nil {
			replay, err = true, fmt.Errorf("panic: %v\n%s", r, debug.Stack())
		}
		if err != nil {
			tx.Rollback() // after a failed Commit this does nothing
			w.forget()
		}
	}()
	small, err := w.work(ctx, tx, asks)
	if err != nil {
		return true, err
	}
	if small {
		w.store.setUp.changing()
		defer w.store.setUp.changed()
	}
	if err := tx.Commit(); err != nil {
		return false, err
	}
	if len(w.facts.w.Cycles) > maxCycles {
		w.facts = nil
	}
	return false, nil
}

// work is everything between begin and commit; small tells that a small table changed.
func (w *scribe) work(ctx context.Context, tx *sql.Tx, asks []*ask) (small bool, err error) {
	if err := w.takeUp(ctx, tx); err != nil {
		return false, err
	}
	b := &batch{first: w.tree.Size() + 1, keys: map[string]int64{}, chains: map[string]bool{},
		rows: map[reprocess.Ref]bool{}}
	for _, a := range asks {
		if err := w.decide(ctx, tx, b, a); err != nil {
			return false, err
		}
	}
	if err := w.flush(ctx, tx, b); err != nil {
		return false, err
	}
	for _, a := range asks {
		if a.also == nil || !a.done || a.repeat {
			continue
		}
		if err := a.also(tx, b.acts[a.seq-b.first]); err != nil {
			return false, err
		}
	}
	for r := range b.rows {
		small = small || isSmall(r.Table)
	}
	return small, nil
}

// flush writes what a batch collected. Rows of read tables are written once, however many
// entries changed them.
func (w *scribe) flush(ctx context.Context, tx *sql.Tx, b *batch) error {
	put := w.putter(ctx, tx)
	for i, body := range b.bodies {
		if err := put(insertEntry, b.first+int64(i), body); err != nil {
			return err
		}
	}
	var hashes, refs [][]any
	for _, n := range b.nodes {
		hashes = append(hashes, []any{n.I, n.H[:]})
	}
	if err := put.rows(insertNode, insertNodes, hashes); err != nil {
		return err
	}
	for i, e := range b.acts {
		if err := putAct(put, e); err != nil {
			return err
		}
		refs = append(refs, refRows(e.Seq, b.refs[i])...)
	}
	if err := put.rows(insertRef, insertRefs, refs); err != nil {
		return err
	}
	for kit := range b.chains {
		l := w.chains[kit]
		if err := put(putChain, kit, l.n, l.leaf[:]); err != nil {
			return err
		}
	}
	last := b.first + int64(len(b.bodies)) - 1
	if err := w.blocks(ctx, tx, put, b.first, last); err != nil {
		return err
	}
	return flushRows(put, w.facts.w, b.rows)
}

// putter runs one statement.
type putter func(query string, args ...any) error

// putter runs the writer's compiled statements within a transaction.
func (w *scribe) putter(ctx context.Context, tx *sql.Tx) putter {
	inTx := map[string]*sql.Stmt{}
	return func(query string, args ...any) error {
		if inTx[query] == nil {
			inTx[query] = tx.StmtContext(ctx, w.stmts[query])
		}
		_, err := inTx[query].ExecContext(ctx, args...)
		return err
	}
}

// refRows are the rows of an entry in the table act_ref.
func refRows(seq int64, refs []reprocess.Ref) [][]any {
	var rows [][]any
	for _, r := range refs {
		rows = append(rows, []any{seq, string(r.Table), r.ID})
	}
	return rows
}

// rows inserts rows, as many at a time as go into one statement: each statement costs some
// microseconds of its own.
func (put putter) rows(one, many string, rows [][]any) error {
	for len(rows) >= manyRows {
		var args []any
		for _, row := range rows[:manyRows] {
			args = append(args, row...)
		}
		if err := put(many, args...); err != nil {
			return err
		}
		rows = rows[manyRows:]
	}
	for _, row := range rows {
		if err := put(one, row...); err != nil {
			return err
		}
	}
	return nil
}

// putAct writes the lines by which an entry is found again.
func putAct(put putter, e *reprocess.Entry) error {
	if e.Key != "" {
		if err := put(insertKey, e.Key, e.Seq); err != nil {
			return err
		}
	}
	return put(insertAct, actRow(e)...)
}

// actRow is an entry's row in the table act.
func actRow(e *reprocess.Entry) []any {
	rule := ""
	if e.Refusal != nil {
		rule = e.Refusal.Rule
	}
	return []any{e.Seq, int64(e.At), string(e.Act), e.Result, e.By, e.Kit, rule}
}

// prepare compiles the statements of the writer once, on the one writing connection. It has to
// happen outside a transaction, which would hold that connection.
func (w *scribe) prepare(ctx context.Context) error {
	queries := []string{insertEntry, insertNode, insertNodes, insertKey, insertAct, insertRef,
		insertRefs, insertBlock, putChain,
		clearSettings, selectKey}
	for _, t := range readTables {
		queries = append(queries, t.upsert)
	}
	for _, query := range queries {
		stmt, err := w.store.writeDB.PrepareContext(ctx, query)
		if err != nil {
			return err
		}
		w.stmts[query] = stmt
	}
	return nil
}

// The statements of the writer.
const (
	insertEntry = `INSERT INTO entry (seq, body) VALUES (?, ?)`
	insertNode  = `INSERT INTO node (i, h) VALUES (?, ?)`
	insertKey   = `INSERT INTO key (key, seq) VALUES (?, ?)`
	insertAct   = `INSERT INTO act (seq, at, act, result, by, kit, rule) VALUES (?, ?, ?, ?, ?, ?, ?)`
	insertRef   = `INSERT INTO act_ref (seq, kind, id) VALUES (?, ?, ?)`
	putChain    = `INSERT INTO chain (kit, n, leaf) VALUES (?, ?, ?)
		ON CONFLICT (kit) DO UPDATE SET n = excluded.n, leaf = excluded.leaf`
	clearSettings = `DELETE FROM settings`
	selectKey     = `SELECT e.body FROM key k JOIN entry e ON e.seq = k.seq WHERE k.key = ?`
)

// manyRows is how many rows of one table go into one statement.
const manyRows = 20

var (
	insertNodes = insertNode + strings.Repeat(", (?, ?)", manyRows-1)
	insertRefs  = insertRef + strings.Repeat(", (?, ?, ?)", manyRows-1)
)
