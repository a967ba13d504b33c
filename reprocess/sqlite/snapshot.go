package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"iter"
	"os"
	"path/filepath"

	"handback/reprocess/ledger"
)

// Snapshot is a data folder opened for reading alone: beside a running server, without its
// lock, changing nothing. It shows the entries there were when it was opened; entries never
// change, so no transaction is held while a slow reader works.
type Snapshot struct {
	db    *sql.DB
	dir   string
	size  int64
	quiet fs.FileInfo // of the ledger when no server ran; nil beside one
}

// OpenSnapshot opens a folder. Without a write-ahead log no server runs and opening the file
// in the ordinary way would make one, so it is then opened as unchanging; Check tells whether
// that stayed true.
func OpenSnapshot(ctx context.Context, dir string) (*Snapshot, error) {
	path := filepath.Join(dir, ledgerName)
	info, err := os.Stat(path)
	if err != nil {
		return nil, unusable("There is no ledger in "+dir+".", err)
	}
	s, more := &Snapshot{dir: dir}, ""
	if !exists(path + "-wal") {
		s.quiet, more = info, "&immutable=1"
	}
	if s.db, err = openReader(ctx, path, more); err != nil {
		return nil, err
	}
	if err := s.begin(ctx); err != nil {
		s.db.Close()
		return nil, unusable("The ledger cannot be read.", err)
	}
	return s, nil
}

// begin fixes the number of entries.
func (s *Snapshot) begin(ctx context.Context) error {
	return s.db.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM entry`).Scan(&s.size)
}

// Check tells whether what was read can be relied on: a folder that was at rest must not have
// been written to meanwhile. Ask it after the last read.
func (s *Snapshot) Check() error {
	if s.quiet == nil {
		return nil
	}
	path := filepath.Join(s.dir, ledgerName)
	after, err := os.Stat(path)
	if err == nil && os.SameFile(s.quiet, after) && s.quiet.Size() == after.Size() &&
		s.quiet.ModTime().Equal(after.ModTime()) && !exists(path+"-wal") {
		return nil
	}
	return unusable("The folder changed while it was read: run this again.",
		errors.New("a server was started meanwhile"))
}

// Close closes the file.
func (s *Snapshot) Close() error { return s.db.Close() }

// Size is the number of entries.
func (s *Snapshot) Size() int64 { return s.size }

// Bodies gives the bytes of all entries in order, as they were hashed; it can be run again.
func (s *Snapshot) Bodies(ctx context.Context) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		// Store.Bodies counts in itself, so each run asks for it anew.
		(&Store{read: s.db}).Bodies(ctx, 1, s.size)(yield)
	}
}

// Hashes reads the stored hashes of the tree, for proofs.
func (s *Snapshot) Hashes(ctx context.Context) ledger.HashReader { return nodes(ctx, s.db) }

// Checkpoint gives the newest signed checkpoint over at most the snapshot's entries; before
// there is one, a not_found problem.
func (s *Snapshot) Checkpoint(ctx context.Context) (note []byte, size int64, err error) {
	err = s.db.QueryRowContext(ctx, `SELECT size, note FROM checkpoint WHERE size <= ?
		ORDER BY size DESC LIMIT 1`, s.size).Scan(&size, &note)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, 0, notHere()
	}
	return note, size, storeFault(err)
}

// Cuts lists the sizes of all checkpoints, ascending: those that somebody may have kept.
func (s *Snapshot) Cuts(ctx context.Context) (sizes []int64, err error) {
	rows, err := s.db.QueryContext(ctx, `SELECT size FROM checkpoint WHERE size <= ?
		ORDER BY size`, s.size)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	for rows.Next() {
		var size int64
		if err := rows.Scan(&size); err != nil {
			return nil, storeFault(err)
		}
		sizes = append(sizes, size)
	}
	return sizes, storeFault(rows.Err())
}

// VKey is the folder's public key, one line.
func (s *Snapshot) VKey() (string, error) {
	line, err := readLine(filepath.Join(s.dir, secretsName, vkeyFile))
	if err != nil {
		return "", unusable("The public key of this folder cannot be read.", err)
	}
	return line, nil
}

// Signer is the folder's signing key: whoever may read the folder of secrets may sign.
func (s *Snapshot) Signer() (ledger.Signer, error) {
	line, err := readLine(filepath.Join(s.dir, secretsName, keyFile))
	if err != nil {
		return nil, unusable("The signing key of this folder cannot be read.", err)
	}
	signer, err := ledger.ParseSigner(line)
	if err != nil {
		return nil, unusable("The signing key of this folder cannot be used.", err)
	}
	return signer, nil
}

// References gives the wearer reference behind each token that still has one, in lower case:
// one wearer is one reference however it was typed. A folder without the file of links, or one
// whose links were all erased, gives none.
func (s *Snapshot) References(ctx context.Context) (map[string]string, error) {
	path, more := filepath.Join(s.dir, wearersName), ""
	if !exists(path) {
		return nil, nil
	}
	if !exists(path + "-wal") {
		more = "&immutable=1"
	}
	db, err := openReader(ctx, path, more)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	rows, err := db.QueryContext(ctx,
		`SELECT token, lower(reference) FROM link WHERE reference <> ''`)
	if err != nil {
		return nil, unusable("The file of wearer links cannot be read.", err)
	}
	defer rows.Close()
	links := map[string]string{}
	for rows.Next() {
		var token, reference string
		if err := rows.Scan(&token, &reference); err != nil {
			return nil, storeFault(err)
		}
		links[token] = reference
	}
	return links, storeFault(rows.Err())
}
