package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migration is one numbered step of the schema; its text never changes once it has run
// anywhere, which the checksum holds it to.
type migration struct {
	version int
	name    string
	text    string
	sum     string // SHA-256 of text, hex
}

// migrations lists the embedded steps in order. The files are NNNN_words.sql, from 0001
// without gaps.
func migrations() ([]migration, error) {
	names, err := fs.Glob(migrationFiles, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	var all []migration
	for i, path := range names {
		text, err := migrationFiles.ReadFile(path)
		if err != nil {
			return nil, err
		}
		name := strings.TrimSuffix(strings.TrimPrefix(path, "migrations/"), ".sql")
		number, _, _ := strings.Cut(name, "_")
		version, err := strconv.Atoi(number)
		if err != nil || version != i+1 {
			return nil, fmt.Errorf("the migration %s should be number %d", name, i+1)
		}
		sum := sha256.Sum256(text)
		all = append(all, migration{version, name, string(text), hex.EncodeToString(sum[:])})
	}
	return all, nil
}

const migrationTable = `CREATE TABLE IF NOT EXISTS migration (
  version INTEGER PRIMARY KEY, -- from 1, without gaps
  name    TEXT NOT NULL,
  sha256  TEXT NOT NULL        -- of the text that ran, hex
) STRICT`

// migrate brings a database to the newest schema, each step in its own transaction. A schema
// from a newer program, or a step that ran with another text, is refused.
func migrate(ctx context.Context, db *sql.DB, all []migration) error {
	if _, err := db.ExecContext(ctx, migrationTable); err != nil {
		return err
	}
	done, err := migrated(ctx, db)
	if err != nil {
		return err
	}
	if len(done) > len(all) {
		return fmt.Errorf("the database has schema %d, this program knows %d: "+
			"use the newer program that wrote it", len(done), len(all))
	}
	for i, m := range all {
		if i < len(done) {
			if done[i] != m.sum {
				return fmt.Errorf("schema step %s ran with another text than this program's: "+
					"use the program that wrote the database", m.name)
			}
			continue
		}
		if err := m.run(ctx, db); err != nil {
			return fmt.Errorf("schema step %s: %w", m.name, err)
		}
	}
	return nil
}

// migrated gives the checksums of the steps that ran, in order.
func migrated(ctx context.Context, db *sql.DB) ([]string, error) {
	rows, err := db.QueryContext(ctx, `SELECT version, sha256 FROM migration ORDER BY version`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var sums []string
	for rows.Next() {
		var version int
		var sum string
		if err := rows.Scan(&version, &sum); err != nil {
			return nil, err
		}
		if version != len(sums)+1 {
			return nil, fmt.Errorf("schema step %d is missing from the database", len(sums)+1)
		}
		sums = append(sums, sum)
	}
	return sums, rows.Err()
}

func (m migration) run(ctx context.Context, db *sql.DB) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit this does nothing
	if _, err := tx.ExecContext(ctx, m.text); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO migration (version, name, sha256)
		VALUES (?, ?, ?)`, m.version, m.name, m.sum); err != nil {
		return err
	}
	return tx.Commit()
}
