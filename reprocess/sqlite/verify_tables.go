package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"slices"
	"strings"

	"handback/reprocess"
)

// readTables compares every row of every read table with the world folded from the entries.
func (c *check) readTables() error {
	if c.fold.written() { // what is still in hand goes to the others
		if err := c.fold.letGo(); err != nil {
			return err
		}
	}
	for i := range readTables {
		if err := c.readTable(&readTables[i]); err != nil {
			return err
		}
	}
	return nil
}

func (c *check) readTable(t *table) error {
	fields := t.fields()
	s, err := c.stream(len(fields), t.inOrder())
	if err != nil {
		return err
	}
	defer s.rows.Close()
	for want, err := range c.wanted(t) {
		if err != nil {
			return err
		}
		if err := sameRow(t.name, fields, s, want); err != nil {
			return err
		}
	}
	if s.row != nil {
		return rowDiffers(string(t.name), s.row[0], "follows from no entry")
	}
	return nil
}

// inOrder is the query of all rows by their ids.
func (t *table) inOrder() string {
	return "SELECT " + strings.Join(t.fields(), ", ") + " FROM " + string(t.name) + " ORDER BY id"
}

// wanted gives the rows that the entries leave, by their ids: from memory, or from the shelf
// once rows were let go of.
func (c *check) wanted(t *table) iter.Seq2[[]any, error] {
	if c.fold.written() && slices.Contains(growing, t.name) {
		return c.shelved(t)
	}
	return func(yield func([]any, error) bool) {
		ids := t.ids(c.fold.world)
		slices.Sort(ids)
		for _, id := range ids {
			row, err := t.row(id, c.fold.world.Get(reprocess.Ref{Table: t.name, ID: id}))
			if !yield(row, err) || err != nil {
				return
			}
		}
	}
}

// shelved gives the rows on the shelf; each takes the place of the one before.
func (c *check) shelved(t *table) iter.Seq2[[]any, error] {
	return func(yield func([]any, error) bool) {
		s, err := streamOf(c.ctx, c.shelf.tx, len(t.fields()), t.inOrder())
		if err != nil {
			yield(nil, noShelf(err))
			return
		}
		defer s.rows.Close()
		for s.row != nil {
			if !yield(s.row, nil) {
				return
			}
			if err := s.next(); err != nil {
				yield(nil, noShelf(err))
				return
			}
		}
	}
}

// sameRow compares the stream's row with the one wanted, field by field.
func sameRow(name reprocess.Table, fields []string, s *stream, want []any) error {
	id := want[0].(string)
	if s.row == nil || fmt.Sprint(s.row[0]) > id {
		return rowDiffers(string(name), id, "missing")
	}
	if s.row[0] != id {
		return rowDiffers(string(name), s.row[0], "follows from no entry")
	}
	for i, got := range s.row {
		if got != want[i] {
			return rowDiffers(string(name), id, "%s is %v, the entries say %v", fields[i], got, want[i])
		}
	}
	return s.next()
}

// chainTable compares the newest entry of each kit.
func (c *check) chainTable() error {
	s, err := c.stream(3, `SELECT kit, n, leaf FROM chain ORDER BY kit`)
	if err != nil {
		return err
	}
	defer s.rows.Close()
	kits := keys(c.chains)
	slices.Sort(kits)
	for _, kit := range kits {
		l := c.chains[kit]
		if s.row == nil || fmt.Sprint(s.row[0]) > kit {
			return rowDiffers("chain", kit, "missing")
		}
		if s.row[0] != kit {
			return rowDiffers("chain", s.row[0], "follows from no entry")
		}
		leaf, _ := s.row[2].([]byte)
		if s.row[1] != l.n || string(leaf) != string(l.leaf[:]) {
			return rowDiffers("chain", kit, "does not name the kit's newest entry")
		}
		if err := s.next(); err != nil {
			return err
		}
	}
	if s.row != nil {
		return rowDiffers("chain", s.row[0], "follows from no entry")
	}
	return nil
}

// schema compares tables, indexes and triggers with what this program's migrations make: a
// trigger that is gone lets entries be changed. Last of all the file's own structure is asked.
func (c *check) schema() error {
	want, err := freshSchema(c.ctx)
	if err != nil {
		return err
	}
	got, err := schemaOf(c.ctx, c.tx)
	if err != nil {
		return err
	}
	names := keys(want)
	for name := range got {
		if _, ok := want[name]; !ok {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		if got[name] != want[name] {
			return rowDiffers("sqlite_master", name, "is not as this program makes it")
		}
	}
	if err := c.migrations(); err != nil {
		return err
	}
	var text string
	if err := c.tx.QueryRowContext(c.ctx, `PRAGMA integrity_check(1)`).Scan(&text); err != nil {
		return err
	}
	if text != "ok" {
		return rowDiffers("sqlite_master", "integrity_check", "%s", text)
	}
	return nil
}

// migrations compares the steps that are said to have run with this program's.
func (c *check) migrations() error {
	all, err := migrations()
	if err != nil {
		return err
	}
	s, err := c.stream(3, `SELECT version, name, sha256 FROM migration ORDER BY version`)
	if err != nil {
		return err
	}
	defer s.rows.Close()
	for _, m := range all {
		if err := expect("migration", m.version, s, []any{int64(m.version), m.name, m.sum}); err != nil {
			return err
		}
	}
	if s.row != nil {
		return rowDiffers("migration", s.row[0], "is not one of this program's")
	}
	return nil
}

// freshSchema runs the migrations in memory.
func freshSchema(ctx context.Context) (map[string]string, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // each connection would be another database
	all, err := migrations()
	if err != nil {
		return nil, err
	}
	if err := migrate(ctx, db, all); err != nil {
		return nil, err
	}
	return schemaOf(ctx, db)
}

// schemaOf gives the text of every table, index and trigger, by name.
func schemaOf(ctx context.Context, q querier) (map[string]string, error) {
	rows, err := q.QueryContext(ctx, `SELECT name, coalesce(sql, '') FROM sqlite_master`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	schema := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		schema[name] = text
	}
	return schema, rows.Err()
}
