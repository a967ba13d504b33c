package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// rowsOf are all rows that a fold leaves, those in memory put beside those on the shelf.
func rowsOf(t *testing.T, c *check) []string {
	t.Helper()
	if c.fold.written() {
		require.NoError(t, c.fold.letGo())
	}
	var list []string
	for i := range readTables {
		for row, err := range c.wanted(&readTables[i]) {
			require.NoError(t, err)
			list = append(list, fmt.Sprint(readTables[i].name, row))
		}
	}
	return list
}

// TestAFoldInPortionsIsTheSame: the kept history, which holds every event, leaves the same rows
// however few the fold may hold at once.
func TestAFoldInPortionsIsTheSame(t *testing.T) {
	bodies := historyBodies(t)
	fold := func(limit int) []string {
		c := newCheck(t.Context(), nil, VerifyOptions{portion: limit}, new(Report))
		defer func() { require.NoError(t, c.close()) }()
		put := func(string, ...any) error { return nil }
		require.NoError(t, foldBodies(t.Context(), put, c.fold, bodies))
		require.Equal(t, limit < 1000, c.fold.written())
		return rowsOf(t, c)
	}
	whole := fold(1 << 20)
	require.Greater(t, len(whole), 100)
	for _, limit := range []int{1, 2, 17, 60} {
		require.Equal(t, whole, fold(limit), limit)
	}
}

// TestAFoldInPortionsNeedsItsRows: without what was put aside the rows would be others, so the
// test above can fail.
func TestAFoldInPortionsNeedsItsRows(t *testing.T) {
	c := newCheck(t.Context(), nil, VerifyOptions{portion: 1}, new(Report))
	defer func() { require.NoError(t, c.close()) }()
	lost := 0
	c.fold.tables = func() (querier, putter, error) {
		q, put, err := c.openShelf()
		return q, func(query string, args ...any) error {
			if query == tableOf(reprocess.TableCycle).upsert {
				lost++
				return nil
			}
			return put(query, args...)
		}, err
	}
	put := func(string, ...any) error { return nil }
	require.NoError(t, foldBodies(t.Context(), put, c.fold, historyBodies(t)))
	require.Positive(t, lost)
	cycles := 0
	for range c.wanted(tableOf(reprocess.TableCycle)) {
		cycles++
	}
	require.Zero(t, cycles)
}

// TestAFoldHoldsNoMoreThanItsLimit: what is in memory does not grow with the history. Two
// histories, one three times the other; in both the most that is held between two entries is the
// limit and what the newest entry brought.
func TestAFoldHoldsNoMoreThanItsLimit(t *testing.T) {
	const kits, limit, brought = 6, 40, 12
	for _, passes := range []int{10, 30} {
		s := newBench(t)
		s.pool(kits)
		s.bulk(s.history(kits, passes))
		c := newCheck(t.Context(), nil, VerifyOptions{portion: limit}, new(Report))
		most, dirty, seen := 0, 0, 0
		size, err := s.Size(t.Context())
		require.NoError(t, err)
		for body, err := range s.Bodies(t.Context(), 1, size) {
			require.NoError(t, err)
			e, err := readEntry(body)
			require.NoError(t, err)
			require.NoError(t, c.fold.take(t.Context(), e))
			most, dirty = max(most, c.fold.held()), max(dirty, len(c.fold.dirty))
			if c.fold.written() {
				seen = max(seen, len(c.fold.facts.seen))
			}
		}
		require.True(t, c.fold.written())
		cycles := 0
		for range c.wanted(tableOf(reprocess.TableCycle)) {
			cycles++
		}
		require.GreaterOrEqual(t, cycles, kits*(passes-1), "the history is long")
		require.LessOrEqual(t, most, limit+brought, passes)
		require.LessOrEqual(t, dirty, limit+brought+20*kits, passes)
		require.LessOrEqual(t, seen, 2*(limit+brought)+20*kits, passes)
		require.NoError(t, c.close())
	}
}

// TestPortionsFindWhatMemoryFinds damages one row of every growing table in three ways: the
// difference is named alike whether finished work is held in memory or was put aside.
func TestPortionsFindWhatMemoryFinds(t *testing.T) {
	dir, _, _ := folder(t)
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	defer db.Close()
	tx, err := db.Begin()
	require.NoError(t, err)
	defer tx.Rollback()
	found := func(limit int) string {
		c := newCheck(context.Background(), tx, VerifyOptions{portion: limit}, new(Report))
		defer func() { require.NoError(t, c.close()) }()
		err := c.run(dir)
		require.Equal(t, limit == 1, c.fold.written())
		if err == nil {
			return ""
		}
		require.IsType(t, new(difference), err)
		return err.Error()
	}
	require.Empty(t, found(1))
	tried := 0
	for _, name := range growing {
		for _, harm := range []string{"UPDATE %s SET doc = doc || ' '", "DELETE FROM %s",
			"UPDATE %s SET id = id || '~' WHERE id = (SELECT max(id) FROM %[1]s)"} {
			mustExecTx(t, tx, "SAVEPOINT whole")
			n := mustExecTx(t, tx, fmt.Sprintf(harm, name))
			in, aside := found(1<<20), found(1)
			require.Equal(t, in, aside, "%s %s", name, harm)
			require.Equal(t, n > 0, in != "", "%s %s: %s", name, harm, in)
			if n > 0 {
				tried++
				require.Contains(t, in, "table "+string(name)+", row ")
			}
			mustExecTx(t, tx, "ROLLBACK TO whole")
		}
	}
	require.GreaterOrEqual(t, tried, 3*5, "lots, containers, labels, cycles and loans")
}

func mustExecTx(t *testing.T, tx *sql.Tx, query string) int64 {
	t.Helper()
	r, err := tx.Exec(query)
	require.NoError(t, err, query)
	n, err := r.RowsAffected()
	require.NoError(t, err)
	return n
}

// TestFoldingAnewInPortions leaves the same folder.
func TestFoldingAnewInPortions(t *testing.T) {
	dir, _, _ := folder(t)
	want := dump(t, dir)
	for _, limit := range []int{1, 5, 60} {
		aged(t, dir, 0)
		s, err := Open(dir, Options{Clock: newClock().now, portion: limit})
		require.NoError(t, err)
		require.NoError(t, s.Close())
		require.Equal(t, want, dump(t, dir), limit)
		verified(t, dir)
	}
}

// TestGrowingTablesAreReadTables: a name that is none would hold nothing and free nothing.
func TestGrowingTablesAreReadTables(t *testing.T) {
	w := reprocess.NewWorld()
	p := newPortions(0, nil)
	p.world = w
	for i, name := range growing {
		require.True(t, slices.Contains(reprocess.Tables(), name))
		require.NoError(t, tableOf(name).put(w, "X", []byte("{}")))
		require.Equal(t, i+1, p.held(), name)
	}
}
