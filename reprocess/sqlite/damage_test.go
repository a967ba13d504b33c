package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestEveryCellCounts damages every cell of every row of every recomputed table, one at a
// time, and the entries and checkpoints as well: each is noticed.
func TestEveryCellCounts(t *testing.T) {
	dir, _, _ := folder(t)
	db, err := sql.Open("sqlite", filepath.Join(dir, ledgerName))
	require.NoError(t, err)
	defer db.Close()
	tx, err := db.Begin()
	require.NoError(t, err)
	defer tx.Rollback()
	run := func(query string, args ...any) sql.Result {
		t.Helper()
		r, err := tx.Exec(query, args...)
		require.NoError(t, err, query)
		return r
	}
	for _, name := range column1(t, tx, `SELECT name FROM sqlite_master WHERE type = 'trigger'`) {
		run("DROP TRIGGER " + name)
	}
	require.Contains(t, damage(t, tx, dir), "table sqlite_master, row ",
		"untouched but for the triggers, which are compared after everything else")

	cells := 0
	for _, table := range damageable() {
		columns := column1(t, tx, `SELECT name FROM pragma_table_info('`+table+`')`)
		require.NotEmpty(t, columns, table)
		key := strings.Join(column1(t, tx,
			`SELECT name FROM pragma_table_info('`+table+`') WHERE pk > 0`), " || '|' || ")
		for _, row := range column1(t, tx, "SELECT "+key+" FROM "+table) {
			for _, col := range columns {
				run("SAVEPOINT whole")
				r := run(fmt.Sprintf(`UPDATE %s SET %s = CASE typeof(%[2]s) WHEN 'integer' THEN %[2]s + 1000
					WHEN 'blob' THEN cast(substr(%[2]s, 1, length(%[2]s) - 1) || '~' AS BLOB)
					ELSE %[2]s || '~' END WHERE %s = ?`, table, col, key), row)
				n, err := r.RowsAffected()
				require.NoError(t, err)
				require.Equal(t, int64(1), n, "%s %s %s", table, row, col)
				found := damage(t, tx, dir)
				require.NotContains(t, found, "sqlite_master", "%s, row %s, %s: unnoticed", table, row, col)
				run("ROLLBACK TO whole")
				cells++
			}
		}
	}
	require.Greater(t, cells, 500)
}

// damageable lists the tables whose cells all count.
func damageable() []string {
	tables := append([]string{"entry", "checkpoint"}, ledgerTables...)
	for _, t := range readTables {
		tables = append(tables, string(t.name))
	}
	return tables
}

// column1 reads one column of texts.
func column1(t *testing.T, tx *sql.Tx, query string) []string {
	t.Helper()
	rows, err := tx.Query(query)
	require.NoError(t, err, query)
	defer rows.Close()
	var list []string
	for rows.Next() {
		var s string
		require.NoError(t, rows.Scan(&s))
		list = append(list, s)
	}
	require.NoError(t, rows.Err())
	return list
}

// damage checks what a transaction sees and answers the difference.
func damage(t *testing.T, tx *sql.Tx, dir string) string {
	t.Helper()
	c := newCheck(context.Background(), tx, VerifyOptions{}, new(Report))
	err := c.run(dir)
	require.NoError(t, c.close())
	var d *difference
	require.True(t, errors.As(err, &d), "%v", err)
	return d.text
}
