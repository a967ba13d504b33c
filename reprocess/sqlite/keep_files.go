package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"

	"handback/reprocess"
)

// FileBook reads what the entries say of every kept file, and how many entries there were. It
// looks at each entry that speaks of one, about 20 µs each.
func (s *Store) FileBook(ctx context.Context) (book reprocess.FileBook, size int64, err error) {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, 0, storeFault(err)
	}
	defer tx.Rollback() // nothing was written
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&size)
	if err != nil {
		return nil, 0, storeFault(err)
	}
	rows, err := tx.QueryContext(ctx, `SELECT body FROM entry
		WHERE instr(body, 'sha256') > 0 OR instr(body, 'files_removed') > 0 ORDER BY seq`)
	if err != nil {
		return nil, 0, storeFault(err)
	}
	defer rows.Close()
	book = reprocess.FileBook{}
	for rows.Next() {
		var body sql.RawBytes
		if err := rows.Scan(&body); err != nil {
			return nil, 0, storeFault(err)
		}
		e, err := readEntry(body)
		if err != nil {
			return nil, 0, reprocess.AsProblem(err)
		}
		book.Take(e)
	}
	return book, size, storeFault(rows.Err())
}

// RemoveOldFiles removes recordings and pictures that were kept as long as the clinic's rule
// asks: first the entry that names them, then the bytes. Bytes that an earlier run left behind
// go too. It answers how many files the entries of this run name.
func (s *Store) RemoveOldFiles(ctx context.Context, actor reprocess.Actor) (int, error) {
	removed, overtaken := 0, 0
	for {
		book, size, err := s.FileBook(ctx)
		if err != nil {
			return removed, err
		}
		w, err := s.SetUp(ctx)
		if err != nil {
			return removed, err
		}
		since := w.Settings.KeptSince(s.Now())
		due, err := s.unheld(ctx, book.Due(since), book, reprocess.LegalHolds(w))
		if err != nil {
			return removed, err
		}
		if len(due) == 0 {
			return removed, s.sweepRemoved(book)
		}
		due = due[:min(len(due), reprocess.MostRemoved)]
		_, err = s.Do(ctx, Request{Actor: actor, Cmd: reprocess.RemoveFiles{Files: due,
			Since: since, Size: size}})
		if p := reprocess.AsProblem(err); p != nil && p.Rule == "overtaken" && overtaken < 3 {
			overtaken++
			continue
		}
		if err != nil {
			return removed, err
		}
		removed += len(due)
	}
}

// sweepRemoved deletes the bytes of files whose removal is recorded.
func (s *Store) sweepRemoved(book reprocess.FileBook) error {
	var errs []error
	for name, line := range book {
		if !line.Gone() || len(name) != 64 {
			continue
		}
		if err := os.Remove(s.filePath(name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return diskFault(errors.Join(errs...))
}
