package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// Checkpoint signs the size and root of the ledger as it is now, keeps the note in the table
// checkpoint and as files/checkpoints/SIZE.txt, and gives it. At an unchanged size the note
// that is there is given again. It is refused when the ledger is shorter than, or differs
// from, what was signed before: that is a ledger put back from an old copy.
func (s *Store) Checkpoint(ctx context.Context) ([]byte, error) {
	var note []byte
	err := s.side(ctx, func(tx *sql.Tx) error {
		var err error
		note, err = s.checkpoint(ctx, tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return note, nil
}

func (s *Store) checkpoint(ctx context.Context, tx *sql.Tx) ([]byte, error) {
	ctx = context.WithoutCancel(ctx)
	var size int64
	var kept sql.NullString
	err := tx.QueryRowContext(ctx, `SELECT (SELECT coalesce(max(seq), 0) FROM entry),
		(SELECT note FROM checkpoint WHERE size = (SELECT max(seq) FROM entry))`).Scan(&size, &kept)
	if err != nil {
		return nil, err
	}
	if size == 0 {
		return nil, &reprocess.Problem{Code: reprocess.Refused, Rule: "empty",
			Text: "There is nothing to sign yet.", Fix: "Set the site up first."}
	}
	if err := s.notBehind(ctx, tx, size); err != nil {
		return nil, err
	}
	if kept.Valid {
		return []byte(kept.String), nil
	}
	root, err := ledger.RootAt(size, nodes(ctx, tx))
	if err != nil {
		return nil, err
	}
	at := s.opts.Clock().UTC
	note, err := ledger.SignCheckpoint(ledger.Checkpoint{Origin: s.secrets.origin, Size: size,
		Root: root, At: int64(at), Site: s.siteName(ctx, tx)}, s.secrets.signer)
	if err != nil {
		return nil, err
	}
	return note, s.keepNote(ctx, tx, size, note, at)
}

// keepNote remembers a note before it can leave the machine: first as what was signed, so
// that no other ledger of this size can be signed for, then in the table, then as a file.
func (s *Store) keepNote(ctx context.Context, tx *sql.Tx, size int64, note []byte,
	at reprocess.Instant) error {
	if err := writeFile(s.path(secretsName, signedFile), note); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO checkpoint (size, note, at) VALUES (?, ?, ?)`,
		size, string(note), int64(at)); err != nil {
		return err
	}
	dir := s.path(filesName, "checkpoints")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	return writeFile(s.path(filesName, "checkpoints", fmt.Sprintf("%d.txt", size)), note)
}

// notBehind compares the ledger with the newest note that was ever signed here.
func (s *Store) notBehind(ctx context.Context, tx *sql.Tx, size int64) error {
	note, err := os.ReadFile(s.path(secretsName, signedFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	key, err := s.Verifier()
	if err != nil {
		return err
	}
	cp, err := ledger.OpenCheckpoint(note, key)
	if err != nil {
		return err
	}
	behind := &reprocess.Problem{Code: reprocess.Refused, Rule: "behind",
		Text: fmt.Sprintf("The ledger is not the one of %d entries that was signed at %s.", cp.Size,
			ledger.FormatTime(cp.At)),
		Fix: "It was put back from an older copy: keep both and tell whoever audits this site."}
	if cp.Size > size {
		return behind
	}
	root, err := ledger.RootAt(cp.Size, nodes(ctx, tx))
	if err == nil && root != cp.Root {
		return behind
	}
	return err
}

// siteName is the site in the words of the settings, or of the options before there are any.
func (s *Store) siteName(ctx context.Context, q querier) string {
	v, err := one[reprocess.Settings](ctx, q, `SELECT doc FROM settings`)
	if err == nil && v.Site != "" {
		return v.Site
	}
	return s.opts.Site
}
