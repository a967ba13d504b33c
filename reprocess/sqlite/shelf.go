package sqlite

import (
	"context"
	"database/sql"
	"errors"

	"handback/reprocess"
)

// shelf holds rows of read tables that a check has let go of: a database of its own in a
// temporary file, which has no name and goes with the connection.
type shelf struct {
	db    *sql.DB
	tx    *sql.Tx
	stmts map[string]*sql.Stmt
}

// shelfPragmas: nothing of it has to outlive the check, and some megabytes stay in memory.
var shelfPragmas = []string{"journal_mode = OFF", "synchronous = OFF", "cache_size = -8000"}

// openShelf makes empty tables as this program's migrations make them.
func openShelf(ctx context.Context) (s *shelf, err error) {
	s = &shelf{stmts: map[string]*sql.Stmt{}}
	if s.db, err = sql.Open("sqlite", ""); err != nil {
		return nil, noShelf(err)
	}
	s.db.SetMaxOpenConns(1) // each connection would be another database
	if err := s.begin(ctx); err != nil {
		s.db.Close()
		return nil, noShelf(err)
	}
	return s, nil
}

func (s *shelf) begin(ctx context.Context) error {
	for _, p := range shelfPragmas {
		if _, err := s.db.ExecContext(ctx, "PRAGMA "+p); err != nil {
			return err
		}
	}
	all, err := migrations()
	if err != nil {
		return err
	}
	if err := migrate(ctx, s.db, all); err != nil {
		return err
	}
	s.tx, err = s.db.BeginTx(ctx, nil)
	return err
}

// put runs one statement, compiled once.
func (s *shelf) put(query string, args ...any) (err error) {
	stmt := s.stmts[query]
	if stmt == nil {
		if stmt, err = s.tx.Prepare(query); err != nil {
			return noShelf(err)
		}
		s.stmts[query] = stmt
	}
	_, err = stmt.Exec(args...)
	return noShelf(err)
}

func (s *shelf) close() error { return errors.Join(s.tx.Commit(), s.db.Close()) }

// noShelf says what to do when there is no place for the temporary file.
func noShelf(err error) error {
	if err == nil {
		return nil
	}
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "temporary", Err: err,
		Text: "There is no place for the temporary file of this check.",
		Fix:  "Make room in the folder for temporary files, or name another one in TMPDIR."}
}
