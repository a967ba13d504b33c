package sqlite

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"handback/reprocess"
)

// KeepFile stores bytes under their SHA-256 in DIR/files/FIRST-TWO/SHA256, so that an entry
// may name them: first the file, whole and synced, then the entry. Bytes that are there
// already are left alone.
func (s *Store) KeepFile(content []byte) (string, error) {
	hash := sha256.Sum256(content)
	name := hex.EncodeToString(hash[:])
	path := s.filePath(name)
	if sum, err := hashFile(path); err == nil && sum == name {
		return name, nil
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", diskFault(err)
	}
	if err := writeFile(path, content); err != nil {
		return "", diskFault(err)
	}
	return name, diskFault(syncFolder(filepath.Dir(dir)))
}

// KeptFile gives the bytes kept under a SHA-256. Bytes that are not the ones they are named
// by are never given out.
func (s *Store) KeptFile(name string) ([]byte, error) {
	if len(name) != 64 || strings.Trim(name, "0123456789abcdef") != "" {
		return nil, fileGone(nil)
	}
	content, err := os.ReadFile(s.filePath(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fileGone(err)
	}
	if err != nil {
		return nil, diskFault(err)
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != name {
		return nil, &reprocess.Problem{Code: reprocess.Unavailable, Rule: "file_damaged",
			Text: "The kept file is damaged: its bytes are not the ones it is named by.",
			Fix:  "Tell whoever looks after this server, and have the backup looked at."}
	}
	return content, nil
}

// CycleOfTest finds a cycle that has a file as the evidence of a test that counts, "" for
// none. It reads every cycle once, about 10 ms for a thousand.
func (s *Store) CycleOfTest(ctx context.Context, sha256 string) (string, error) {
	rows, err := s.read.QueryContext(ctx, `SELECT doc FROM cycle WHERE instr(doc, ?) > 0
		ORDER BY opened DESC`, `"sha256":"`+sha256+`"`)
	if err != nil {
		return "", storeFault(err)
	}
	defer rows.Close()
	for rows.Next() {
		var doc string
		var c reprocess.Cycle
		if err := rows.Scan(&doc); err != nil {
			return "", storeFault(err)
		}
		if err := json.Unmarshal([]byte(doc), &c); err != nil {
			return "", err
		}
		if c.HasTest(sha256) {
			return c.ID, nil
		}
	}
	return "", storeFault(rows.Err())
}

func (s *Store) filePath(name string) string { return s.path(filesName, name[:2], name) }

func fileGone(err error) error {
	return &reprocess.Problem{Code: reprocess.NotFound, Rule: "file_gone", Err: err,
		Text: "This file is not kept here.", Fix: "Look in the backup, if it was kept once."}
}

// diskFault says what a person can do about a folder that cannot be written.
func diskFault(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC):
		return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "disk_full", Err: err,
			Text: "The disk of the server is full and nothing was saved.",
			Fix:  "Tell whoever looks after the server; work on paper until then."}
	}
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "disk", Err: err,
		Text: "The file could not be kept.",
		Fix:  "Try again; if it repeats, tell whoever looks after this server."}
}
