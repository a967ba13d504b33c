package sqlite

import (
	"errors"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"handback/reprocess"
)

// storeFault turns an error of the engine into what a person reads, told apart by result code
// and never by text. A full disk and a busy file pass; anything else is a fault inside.
func storeFault(err error) error {
	var p *reprocess.Problem
	var e *sqlite.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &p):
		return p
	case !errors.As(err, &e):
		return reprocess.AsProblem(err)
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "disk_full", Err: err,
			Text: "The disk of the server is full and nothing was saved.",
			Fix:  "Tell whoever looks after the server; work on paper until then."}
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "busy", Err: err,
			Text: "The server is busy and nothing was saved.", Fix: "Try again."}
	}
	return reprocess.AsProblem(err)
}
