package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"iter"
	"math"
	"strings"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// Filter chooses entries of the audit trail; empty fields choose all.
type Filter struct {
	Kit    string
	By     string            // person id
	Act    reprocess.Act     // one act
	Result string            // reprocess.ResultDone or ResultRefused
	Rule   string            // of a refusal
	From   reprocess.Instant // at or after
	To     reprocess.Instant // before; 0: no end
	After  int64             // numbers above this one
	Ref    reprocess.Ref     // a row that the entry names: a piece, cycle, lot, container, …

	Kits      []string // any of these kits; kits of different times can share a number
	Lots      []string // names any of these lots
	Boxes     []string // names any of these containers
	Procedure string   // names this version ("id@2"), or a cycle that runs under it
	Model     string   // names this model, or a piece of it
	State     string   // of a kit with a piece in this state now
	Site      string   // written down at this site
	Words     []string // each stands in some text of the entry; capitals do not matter
}

// All tells whether a filter lets everything through.
func (f Filter) All() bool {
	_, args := f.where()
	return len(args) == 0
}

// where gives the condition of a filter on the table act.
func (f Filter) where() (string, []any) {
	cond, args := []string{"1 = 1"}, []any{}
	add := func(set bool, text string, values ...any) {
		if set {
			cond, args = append(cond, text), append(args, values...)
		}
	}
	add(f.Kit != "", "kit = ? AND kit <> ''", f.Kit)
	add(f.By != "", "by = ?", f.By)
	add(f.Act != "", "act = ?", string(f.Act))
	add(f.Result != "", "result = ?", f.Result)
	add(f.Result != "" && f.Result != reprocess.ResultDone, "result <> 'done'") // for its index
	add(f.Rule != "", "rule = ?", f.Rule)
	add(f.After != 0, "act.seq > ?", f.After)
	add(f.From != 0, "at >= ?", int64(f.From))
	add(f.To != 0, "at < ?", int64(f.To))
	add(f.Ref.ID != "", "act.seq IN (SELECT seq FROM act_ref WHERE kind = ? AND id = ?)",
		string(f.Ref.Table), f.Ref.ID)
	f.whereMore(add)
	return strings.Join(cond, " AND "), args
}

// Entries lists entries of a filter, the newest first, with numbers below before (0: from the
// newest). The number of the last one is the next page's before.
func (s *Store) Entries(ctx context.Context, f Filter, before int64, limit int) (
	[]*reprocess.Entry, error) {
	return s.entriesOf(ctx, f, before, limit)
}

// Count counts the entries of a filter. Without one it is the number of the newest entry, since
// numbers have no gaps; with one it reads an index as far as there is one for it.
func (s *Store) Count(ctx context.Context, f Filter) (n int64, err error) {
	if f.All() {
		return s.Size(ctx)
	}
	return s.countOf(ctx, f, math.MaxInt64-1)
}

// CountTo counts the entries of a filter as far as most; one more stands for any number above,
// so that a page costs the same however long the history.
func (s *Store) CountTo(ctx context.Context, f Filter, most int64) (n int64, err error) {
	return s.countOf(ctx, f, most)
}

// Timeline lists the entries about one kit, the newest first.
func (s *Store) Timeline(ctx context.Context, kit string, before int64, limit int) (
	[]*reprocess.Entry, error) {
	return s.Entries(ctx, Filter{Kit: kit}, before, limit)
}

// Entry reads one entry.
func (s *Store) Entry(ctx context.Context, seq int64) (*reprocess.Entry, error) {
	body, err := s.Body(ctx, seq)
	if err != nil {
		return nil, err
	}
	e, err := readEntry(body)
	if err != nil {
		return nil, reprocess.AsProblem(err)
	}
	return e, nil
}

// Body gives the bytes of one entry as they were hashed.
func (s *Store) Body(ctx context.Context, seq int64) ([]byte, error) {
	var body []byte
	err := s.read.QueryRowContext(ctx, `SELECT body FROM entry WHERE seq = ?`, seq).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, notHere()
	}
	return body, storeFault(err)
}

// Size is the number of entries.
func (s *Store) Size(ctx context.Context) (n int64, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&n)
	return n, storeFault(err)
}

// bodiesPage is how many entries Bodies reads at a time.
const bodiesPage = 500

// Bodies gives the bytes of the entries from first to last, both included, in order. It reads
// them in pages and holds no query open while the caller works, so a slow client never keeps
// the write-ahead log from being folded back. Entries never change, so the pages agree.
func (s *Store) Bodies(ctx context.Context, first, last int64) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for next := first; next <= last; {
			page, err := s.bodies(ctx, next, min(last, next+bodiesPage-1))
			if err != nil {
				yield(nil, err)
				return
			}
			for _, body := range page {
				if !yield(body, nil) {
					return
				}
			}
			if len(page) == 0 {
				yield(nil, notHere())
				return
			}
			next += int64(len(page))
		}
	}
}

func (s *Store) bodies(ctx context.Context, first, last int64) ([][]byte, error) {
	rows, err := s.read.QueryContext(ctx,
		`SELECT body FROM entry WHERE seq BETWEEN ? AND ? ORDER BY seq`, first, last)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var page [][]byte
	for rows.Next() {
		var body []byte
		if err := rows.Scan(&body); err != nil {
			return nil, storeFault(err)
		}
		page = append(page, body)
	}
	return page, storeFault(rows.Err())
}

// Hashes reads the stored hashes of the tree, for proofs. Hashes below a size never change.
func (s *Store) Hashes(ctx context.Context) ledger.HashReader { return nodes(ctx, s.read) }

// Heads lists the newest entry of every kit, by kit id, with the number of entries they are
// true for, all from one moment.
func (s *Store) Heads(ctx context.Context) (heads []ledger.Head, size int64, err error) {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, 0, storeFault(err)
	}
	defer tx.Rollback() // nothing was written
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&size)
	if err != nil {
		return nil, 0, storeFault(err)
	}
	rows, err := tx.QueryContext(ctx, `SELECT kit, n, leaf FROM chain ORDER BY kit`)
	if err != nil {
		return nil, 0, storeFault(err)
	}
	defer rows.Close()
	for rows.Next() {
		var h ledger.Head
		var leaf []byte
		if err := rows.Scan(&h.Kit, &h.Seq, &leaf); err != nil {
			return nil, 0, storeFault(err)
		}
		copy(h.Leaf[:], leaf)
		heads = append(heads, h)
	}
	return heads, size, storeFault(rows.Err())
}

// NewestCheckpoint gives the newest signed checkpoint; before there is one, a not_found
// problem.
func (s *Store) NewestCheckpoint(ctx context.Context) (note []byte, size int64, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT size, note FROM checkpoint
		ORDER BY size DESC LIMIT 1`).Scan(&size, &note)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, 0, notHere()
	}
	return note, size, storeFault(err)
}
