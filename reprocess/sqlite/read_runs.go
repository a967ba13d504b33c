package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"strings"

	modernc "modernc.org/sqlite"

	"handback/reprocess"
)

// The function has_words(body, words) of every connection: does each of the folded words, with
// line breaks between them, stand in some text of the entry?
func init() {
	modernc.MustRegisterDeterministicScalarFunction("has_words", 2,
		func(_ *modernc.FunctionContext, args []driver.Value) (driver.Value, error) {
			body, _ := args[0].([]byte)
			words, _ := args[1].(string)
			return holdsWords(body, splitWords(words)), nil
		})
}

func splitWords(words string) [][]byte {
	var all [][]byte
	for word := range strings.SplitSeq(words, "\n") {
		all = append(all, []byte(word))
	}
	return all
}

// foldedWords are the words of a filter as they are looked for. None holds a line break.
func (f Filter) foldedWords() string {
	var all []string
	for _, word := range f.Words {
		all = append(all, string(foldWord(word)))
	}
	return strings.Join(all, "\n")
}

// run is a range of entries that can hold what is looked for, both numbers included.
type run struct{ first, last int64 }

// runPage is how many blocks are looked at before their entries are read: a megabyte of bits.
const runPage = 512

// runs gives the ranges of a filter below before (0: from the newest), the newest first, until
// yield answers no. Outside of them no entry has the words, the site or the time. The rest of
// the filter is left to the query of each range. Blocks without a row are never left out, and
// rows never change, so nothing is held open between the pages.
func (s *Store) runs(ctx context.Context, f Filter, before int64,
	yield func(run) (more bool, err error)) error {
	top := before
	if top <= 0 {
		size, err := s.Size(ctx)
		if err != nil {
			return err
		}
		top = size + 1
	}
	hint := f.hint()
	for top > 1 && hint != nil {
		page, next, err := s.runsPage(ctx, f, *hint, top)
		if err != nil {
			return err
		}
		for _, r := range page {
			if more, err := yield(r); err != nil || !more {
				return err
			}
		}
		top = next
	}
	if top <= 1 {
		return nil
	}
	_, err := yield(run{1, top - 1})
	return err
}

// hint is what a filter asks of a block; nil: nothing that blocks know.
func (f Filter) hint() *[]uint32 {
	words := f.Words
	if f.Site != "" {
		words = append(words[:len(words):len(words)], f.Site)
	}
	few := f.Kit != "" && f.Act != "" // found by their index sooner than by looking at all blocks
	if len(words) == 0 && (few || f.From == 0 && f.To == 0) {
		return nil
	}
	var folded [][]byte
	for _, word := range words {
		folded = append(folded, foldWord(word))
	}
	pieces := bitsOf(folded)
	return &pieces
}

// runsPage looks at the next blocks below top. next is the top of the following page, 1 at the
// end.
func (s *Store) runsPage(ctx context.Context, f Filter, pieces []uint32, top int64) (
	page []run, next int64, err error) {
	query := `SELECT block, first_at, last_at, x'' FROM entry_block`
	if len(pieces) > 0 {
		query = `SELECT block, first_at, last_at, bits FROM entry_block`
	}
	rows, err := s.read.QueryContext(ctx, query+` WHERE block >= 0 AND block < ?
		ORDER BY block DESC LIMIT ?`, (top-1+blockLength-1)/blockLength, runPage)
	if err != nil {
		return nil, 0, storeFault(err)
	}
	defer rows.Close()
	open, n := run{top, top - 1}, 0 // what can be read above the block; empty so far
	flush := func() {
		if open.first <= open.last {
			page = append(page, open)
		}
	}
	for ; rows.Next(); n++ {
		var k, first, last int64
		var bits sql.RawBytes
		if err := rows.Scan(&k, &first, &last, &bits); err != nil {
			return nil, 0, storeFault(err)
		}
		open.first = min(open.first, (k+1)*blockLength+1) // blocks without a row
		if f.within(first, last) && (len(pieces) == 0 || mayHold(bits, pieces)) {
			open.first = k*blockLength + 1
			continue
		}
		flush()
		open = run{k*blockLength + 1, k * blockLength}
	}
	if n < runPage { // there are no more rows
		open.first = 1
	}
	flush()
	return page, open.first, storeFault(rows.Err())
}

// within tells whether times from first to last can meet the filter's.
func (f Filter) within(first, last int64) bool {
	return last >= int64(f.From) && (f.To == 0 || first < int64(f.To))
}

// eachRun runs a query over the ranges of a filter. The query begins with "SELECT …" and
// more "ORDER BY …"; its last two values are the range.
func (s *Store) eachRun(ctx context.Context, f Filter, before int64, fields, order string,
	more func() []any, read func(*sql.Rows) (on bool, err error)) error {
	cond, args := f.where()
	stmt, err := s.read.PrepareContext(ctx, "SELECT "+f.byIndex(fields)+" WHERE "+cond+
		" AND act.seq BETWEEN ? AND ?"+order)
	if err != nil {
		return storeFault(err)
	}
	defer stmt.Close()
	args = args[:len(args):len(args)]
	return s.runs(ctx, f, before, func(r run) (bool, error) {
		rows, err := stmt.QueryContext(ctx, append(append(args, r.first, r.last), more()...)...)
		if err != nil {
			return false, storeFault(err)
		}
		defer rows.Close()
		for on := true; on && rows.Next(); {
			if on, err = read(rows); err != nil || !on {
				return false, err
			}
		}
		return true, storeFault(rows.Err())
	})
}

// byIndex names the index for one kind of act of one kit, which the database would not take by
// itself: it knows nothing of how many entries a kit has and how few of a kind.
func (f Filter) byIndex(fields string) string {
	if f.Kit == "" || f.Act == "" {
		return fields
	}
	return strings.Replace(fields, "FROM act", "FROM act INDEXED BY act_kit_act", 1)
}

func nothingMore() []any { return nil }

// entriesOf reads entries of a filter until there are limit.
func (s *Store) entriesOf(ctx context.Context, f Filter, before int64, limit int) (
	list []*reprocess.Entry, err error) {
	left := func() []any { return []any{limit - len(list)} }
	err = s.eachRun(ctx, f, before, "e.body FROM act JOIN entry e ON e.seq = act.seq",
		" ORDER BY act.seq DESC LIMIT ?", left, func(rows *sql.Rows) (bool, error) {
			var body sql.RawBytes
			if err := rows.Scan(&body); err != nil {
				return false, storeFault(err)
			}
			e, err := readEntry(body)
			if err != nil {
				return false, reprocess.AsProblem(err)
			}
			list = append(list, e)
			return len(list) < limit, nil
		})
	return list, err
}

// countOf counts as far as most; one more stands for any number above.
func (s *Store) countOf(ctx context.Context, f Filter, most int64) (n int64, err error) {
	left := func() []any { return []any{most + 1 - n} }
	err = s.eachRun(ctx, f, 0, "count(*) FROM (SELECT 1 FROM act", " LIMIT ?)", left,
		func(rows *sql.Rows) (bool, error) {
			var some int64
			err := rows.Scan(&some)
			n += some
			return n <= most, storeFault(err)
		})
	return n, err
}
