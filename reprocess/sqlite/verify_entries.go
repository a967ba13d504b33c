package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// stream reads the rows of a query one by one beside the entries.
type stream struct {
	rows *sql.Rows
	row  []any // the current row; nil at the end; the next one takes its place
	n    int
	held []any // row, before the end
	into []any // where Scan puts it
}

// stream begins a query with n columns and stands on its first row.
func (c *check) stream(n int, query string) (*stream, error) {
	return streamOf(c.ctx, c.tx, n, query)
}

func streamOf(ctx context.Context, q querier, n int, query string) (*stream, error) {
	rows, err := q.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	s := &stream{rows: rows, n: n}
	return s, s.next()
}

func (s *stream) next() error {
	if !s.rows.Next() {
		s.row = nil
		return s.rows.Err()
	}
	if s.into == nil {
		s.held = make([]any, s.n)
		for i := range s.held {
			s.into = append(s.into, &s.held[i])
		}
	}
	s.row = s.held
	return s.rows.Scan(s.into...)
}

// beside are the streams that run along the entries.
type beside struct{ entry, node, act, ref, key, block *stream }

func (c *check) beside() (b beside, err error) {
	for _, q := range []struct {
		to    **stream
		n     int
		query string
	}{
		{&b.entry, 2, `SELECT seq, body FROM entry ORDER BY seq`},
		{&b.node, 2, `SELECT i, h FROM node ORDER BY i`},
		{&b.act, 7, `SELECT seq, at, act, result, by, kit, rule FROM act ORDER BY seq`},
		{&b.ref, 3, `SELECT seq, kind, id FROM act_ref ORDER BY seq, kind, id`},
		{&b.key, 2, `SELECT seq, key FROM key ORDER BY seq`},
		{&b.block, 4, `SELECT block, first_at, last_at, bits FROM entry_block ORDER BY block`},
	} {
		if *q.to, err = c.stream(q.n, q.query); err != nil {
			return b, err
		}
	}
	return b, nil
}

func (b beside) close() {
	for _, s := range []*stream{b.entry, b.node, b.act, b.ref, b.key, b.block} {
		if s != nil {
			s.rows.Close()
		}
	}
}

// entries walks all entries in order, once.
func (c *check) entries() error {
	b, err := c.beside()
	defer b.close()
	if err != nil {
		return err
	}
	for r, err := range inOrder(b.entry) {
		if err == nil {
			err = r.err
		}
		if err == nil {
			err = c.entry(r, b)
		}
		if err != nil {
			return err
		}
	}
	return c.leftOver(b)
}

// entry checks an entry whose own bytes are in order: its hashes, its place in the kit's chain,
// what the tables say about it, and folds it.
func (c *check) entry(r *ready, b beside) error {
	e, seq := r.e, r.seq
	leaf, store := c.tree.Append(r.body)
	for i, n := range store {
		if err := c.node(seq, b.node, n, i == 0); err != nil {
			return err
		}
	}
	if err := c.link(e, leaf); err != nil {
		return err
	}
	if err := expect("act", seq, b.act, r.act); err != nil {
		return err
	}
	if e.Key != "" {
		if err := expect("key", e.Key, b.key, []any{seq, e.Key}); err != nil {
			return err
		}
	}
	for _, row := range r.refs {
		if err := expect("act_ref", nil, b.ref, row); err != nil {
			return err
		}
	}
	if err := c.blockRow(seq, e, r.body, b.block); err != nil {
		return err
	}
	if err := c.frozenRoots(e); err != nil {
		return err
	}
	if err := c.fold.take(c.ctx, e); err != nil {
		return err
	}
	if c.book != nil {
		c.book.Take(e)
	}
	return c.atSize(seq)
}

// checkedEntry checks that the bytes are canonical, say the right number and can be read.
func checkedEntry(seq int64, body []byte) (*reprocess.Entry, error) {
	if err := ledger.Check(body); err != nil {
		return nil, entryDiffers(seq, "its bytes are not in their one form: %v", err)
	}
	env, err := ledger.ReadEnvelope(body)
	if err != nil {
		return nil, entryDiffers(seq, "%v", err)
	}
	if env.Seq != seq {
		return nil, entryDiffers(seq, "its bytes say that it is entry %d", env.Seq)
	}
	e, err := readEntry(body)
	if err != nil {
		return nil, entryDiffers(seq, "%v", err)
	}
	return e, nil
}

// node compares one recomputed hash with the stored one.
func (c *check) node(seq int64, s *stream, n ledger.Node, leaf bool) error {
	switch {
	case s.row == nil && leaf:
		return entryDiffers(seq, "has no stored hash; it was not written by the server")
	case s.row == nil || s.row[0] != n.I:
		return rowDiffers("node", n.I, "missing")
	}
	if h, ok := s.row[1].([]byte); ok && bytes.Equal(h, n.H[:]) {
		return s.next()
	}
	if !leaf {
		return rowDiffers("node", n.I, "is not the hash of its two halves")
	}
	return c.whichChanged(seq, n)
}

// whichChanged tells an entry whose bytes changed from a stored hash that changed, by the
// stored hash of the pair they belong to.
func (c *check) whichChanged(seq int64, leaf ledger.Node) error {
	changed := entryDiffers(seq, "its bytes are not the ones that were hashed")
	twin := seq + 1
	if seq%2 == 0 {
		twin = seq - 1
	}
	var body, pair []byte
	err := c.tx.QueryRowContext(c.ctx, `SELECT e.body, n.h FROM entry e, node n
		WHERE e.seq = ? AND n.i = ?`, twin, tlog.StoredHashIndex(1, (seq-1)/2)).Scan(&body, &pair)
	if errors.Is(err, sql.ErrNoRows) {
		return changed
	}
	if err != nil {
		return err
	}
	left, right := tlog.Hash(leaf.H), tlog.RecordHash(body)
	if twin < seq {
		left, right = right, left
	}
	if h := tlog.NodeHash(left, right); bytes.Equal(h[:], pair) {
		return rowDiffers("node", leaf.I, "is not the hash of entry %d", seq)
	}
	return changed
}

// link checks an entry's place in the chain of its kit.
func (c *check) link(e *reprocess.Entry, leaf ledger.Hash) error {
	if e.Kit == "" {
		return nil
	}
	before := c.chains[e.Kit]
	prev := ""
	if before.n > 0 {
		prev = before.leaf.String()
	}
	if e.KitSeq != before.n+1 || e.KitPrev != prev {
		return entryDiffers(e.Seq, "does not follow the entry before it of kit %s", e.Kit)
	}
	c.chains[e.Kit] = link{e.KitSeq, leaf}
	return nil
}

// expect compares the current row of a stream with what it has to be and goes on; row names it,
// nil by all its values.
func expect(table string, row any, s *stream, want []any) error {
	if row == nil && (s.row == nil || !slices.Equal(s.row, want)) {
		row = strings.Trim(fmt.Sprint(want), "[]")
	}
	switch {
	case s.row == nil || s.row[0] != want[0] && later(s.row[0], want[0]):
		return rowDiffers(table, row, "missing")
	case s.row[0] != want[0]:
		return rowDiffers(table, rowName(s.row), "follows from no entry")
	case !slices.Equal(s.row, want):
		return rowDiffers(table, row, "says %v, the entries say %v", s.row, want)
	}
	return s.next()
}

func later(got, want any) bool {
	a, ok1 := got.(int64)
	b, ok2 := want.(int64)
	return ok1 && ok2 && a > b
}

func rowName(row []any) string { return strings.Trim(fmt.Sprint(row...), "[]") }

func sortedRefs(e *reprocess.Entry) []reprocess.Ref {
	refs := actRefs(e)
	slices.SortFunc(refs, func(a, b reprocess.Ref) int {
		if a.Table != b.Table {
			return strings.Compare(string(a.Table), string(b.Table))
		}
		return strings.Compare(a.ID, b.ID)
	})
	return refs
}

// leftOver finds rows about entries that are not there.
func (c *check) leftOver(b beside) error {
	next := c.tree.Size() + 1
	if b.node.row != nil {
		return entryDiffers(next, "missing, though its hash is stored")
	}
	for _, s := range []struct {
		table string
		*stream
	}{{"act", b.act}, {"act_ref", b.ref}, {"key", b.key}} {
		if s.row == nil {
			continue
		}
		if later(s.row[0], next-1) {
			return entryDiffers(next, "missing, though the table %s knows of it", s.table)
		}
		return rowDiffers(s.table, rowName(s.row), "follows from no entry")
	}
	if b.block.row != nil {
		return rowDiffers("entry_block", b.block.row[0], "follows from no entry")
	}
	return nil
}
