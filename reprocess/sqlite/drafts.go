package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"handback/reprocess"
)

// Limits of uploads.
const (
	MostFileBytes  = 64 << 20  // of one file, as recording.MaxBytes
	MostPieceBytes = 256 << 10 // of one piece of it
	draftsOfKit    = 8         // uploads of one kit that may wait at once
	draftDay       = reprocess.Instant(24 * 60 * 60 * 1000)
	draftsName     = "drafts"
)

// draftTables are not folded from the ledger, each with the reason.
var draftTables = []NotFolded{
	{"draft", "uploads under way; a draft is no fact until an entry uses it, and lasts a day"},
}

// Draft is one upload under way. Have counts the bytes that are on the disk.
type Draft struct {
	ID, Kit, Person string
	Size, Have      int64
	Want            string // SHA-256 as the browser computed it, hex, or ""
	SHA256          string // as the server computed it, "" until all is there
	At              reprocess.Instant
}

// Whole tells whether all of it is there and was hashed.
func (d Draft) Whole() bool { return d.SHA256 != "" }

// NewDraft begins an upload of size bytes. Drafts older than a day are dropped first; want is
// the browser's SHA-256 or "".
func (s *Store) NewDraft(ctx context.Context, kit, person string, size int64, want string) (
	Draft, error) {
	if size < 1 || size > MostFileBytes {
		return Draft{}, draftProblem(reprocess.Invalid, "file_size",
			fmt.Sprintf("The file has %d bytes; 1 to %d can be taken.", size, MostFileBytes),
			"Export a recording of a minute or two instead of the whole memory.")
	}
	if err := s.dropOldDrafts(ctx); err != nil {
		return Draft{}, err
	}
	var b [16]byte
	if _, err := io.ReadFull(s.opts.Random, b[:]); err != nil {
		return Draft{}, err
	}
	d := Draft{ID: base64.RawURLEncoding.EncodeToString(b[:]), Kit: kit, Person: person,
		Size: size, Want: want, At: s.Now().UTC}
	if err := os.MkdirAll(s.path(filesName, draftsName), 0o700); err != nil {
		return Draft{}, diskFault(err)
	}
	// The row comes first: bytes without a row are swept away.
	if err := s.side(ctx, func(tx *sql.Tx) error {
		var n int
		err := tx.QueryRowContext(ctx, `SELECT count(*) FROM draft WHERE kit = ?`, kit).Scan(&n)
		if err == nil && n >= draftsOfKit {
			_, err = tx.ExecContext(ctx, `DELETE FROM draft WHERE id IN
				(SELECT id FROM draft WHERE kit = ? ORDER BY at, id LIMIT ?)`, kit, n-draftsOfKit+1)
		}
		if err == nil {
			_, err = tx.ExecContext(ctx, `INSERT INTO draft (id, kit, person, size, sha256, whole, at)
				VALUES (?, ?, ?, ?, ?, '', ?)`, d.ID, kit, person, size, want, int64(d.At))
		}
		return err
	}); err != nil {
		return Draft{}, err
	}
	f, err := os.OpenFile(s.draftPath(d.ID), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err == nil {
		err = f.Close()
	}
	return d, diskFault(err)
}

// FindDraft gives an upload of a kit, with how much of it is there.
func (s *Store) FindDraft(ctx context.Context, kit, id string) (Draft, error) {
	d := Draft{ID: id, Kit: kit}
	err := s.read.QueryRowContext(ctx,
		`SELECT person, size, sha256, whole, at FROM draft WHERE id = ? AND kit = ?`, id, kit).
		Scan(&d.Person, &d.Size, &d.Want, &d.SHA256, &d.At)
	if errors.Is(err, sql.ErrNoRows) || err == nil && s.Now().UTC-d.At > draftDay {
		return d, draftGone()
	}
	if err != nil {
		return d, storeFault(err)
	}
	info, err := os.Stat(s.draftPath(id))
	if err != nil {
		return d, draftGone()
	}
	d.Have = info.Size()
	return d, nil
}

// AddPiece appends the piece that begins at a byte. A piece that is there already changes
// nothing, so that it may be sent again; a gap is refused, with how far it is.
func (s *Store) AddPiece(ctx context.Context, kit, id string, at int64, piece []byte) (
	Draft, error) {
	s.drafts.Lock()
	defer s.drafts.Unlock()
	d, err := s.FindDraft(ctx, kit, id)
	if err != nil {
		return d, err
	}
	end := at + int64(len(piece))
	switch {
	case len(piece) > MostPieceBytes || len(piece) == 0 || at < 0 || end > d.Size:
		return d, draftProblem(reprocess.Invalid, "piece", "This piece does not belong to the file.",
			"Choose the file again.")
	case at > d.Have:
		return d, draftProblem(reprocess.Conflict, "piece",
			fmt.Sprintf("%d bytes are here, this piece begins at %d.", d.Have, at), "Go on from there.")
	case end > d.Have:
		if err := appendTo(s.draftPath(id), piece[d.Have-at:]); err != nil {
			return d, diskFault(err)
		}
		d.Have = end
	}
	if d.Have == d.Size && !d.Whole() {
		return s.finish(ctx, d)
	}
	return d, nil
}

// finish computes the hash itself and holds it against the browser's, if it sent one.
func (s *Store) finish(ctx context.Context, d Draft) (Draft, error) {
	sum, err := hashFile(s.draftPath(d.ID))
	if err != nil {
		return d, diskFault(err)
	}
	if d.Want != "" && d.Want != sum {
		return d, errors.Join(s.DropDraft(ctx, d.ID), draftProblem(reprocess.Conflict, "file_damaged",
			"The file did not arrive as it was sent.", "Upload it again."))
	}
	d.SHA256 = sum
	return d, s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE draft SET whole = ? WHERE id = ?`, sum, d.ID)
		return err
	})
}

// ReadDraft gives the bytes of a whole upload.
func (s *Store) ReadDraft(ctx context.Context, kit, id string) (Draft, []byte, error) {
	d, err := s.FindDraft(ctx, kit, id)
	if err != nil {
		return d, nil, err
	}
	if !d.Whole() {
		return d, nil, draftProblem(reprocess.Conflict, "not_whole",
			fmt.Sprintf("%d of %d bytes are here.", d.Have, d.Size), "Wait, or upload the file again.")
	}
	content, err := os.ReadFile(s.draftPath(id))
	if err != nil {
		return d, nil, draftGone()
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != d.SHA256 {
		return d, nil, draftProblem(reprocess.Conflict, "file_damaged",
			"The file is not as it arrived.", "Upload it again.")
	}
	return d, content, nil
}

// Drafts lists the whole uploads of a kit, the newest first.
func (s *Store) Drafts(ctx context.Context, kit string) ([]Draft, error) {
	rows, err := s.read.QueryContext(ctx, `SELECT id, person, size, whole, at FROM draft
		WHERE kit = ? AND at > ? ORDER BY at DESC, id`, kit, int64(s.Now().UTC-draftDay))
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var all []Draft
	for rows.Next() {
		d := Draft{Kit: kit}
		if err := rows.Scan(&d.ID, &d.Person, &d.Size, &d.SHA256, &d.At); err != nil {
			return nil, storeFault(err)
		}
		if info, err := os.Stat(s.draftPath(d.ID)); err == nil {
			d.Have = info.Size()
			all = append(all, d)
		}
	}
	return all, storeFault(rows.Err())
}

// DropDraft forgets an upload and its bytes.
func (s *Store) DropDraft(ctx context.Context, id string) error {
	err := s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM draft WHERE id = ?`, id)
		return err
	})
	if gone := os.Remove(s.draftPath(id)); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
		return errors.Join(err, diskFault(gone))
	}
	return err
}

// dropOldDrafts forgets uploads of yesterday, and bytes that no row speaks of.
func (s *Store) dropOldDrafts(ctx context.Context) error {
	now := s.Now().UTC
	if err := s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM draft WHERE at < ?`, int64(now-draftDay))
		return err
	}); err != nil {
		return err
	}
	files, err := os.ReadDir(s.path(filesName, draftsName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return diskFault(err)
	}
	for _, f := range files {
		var n int
		err := s.read.QueryRowContext(ctx, `SELECT count(*) FROM draft WHERE id = ?`, f.Name()).Scan(&n)
		if err != nil || n > 0 {
			continue
		}
		if err := os.Remove(s.draftPath(f.Name())); err != nil {
			s.log.Error("dropping an old upload", "err", err)
		}
	}
	return nil
}

func (s *Store) draftPath(id string) string { return s.path(filesName, draftsName, id) }

func appendTo(path string, piece []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(piece)
	return errors.Join(err, f.Close())
}

func draftProblem(code reprocess.Code, rule, text, fix string) *reprocess.Problem {
	return &reprocess.Problem{Code: code, Rule: rule, Text: text, Fix: fix}
}

func draftGone() *reprocess.Problem {
	return draftProblem(reprocess.NotFound, "draft_gone",
		"This upload is not here any more; uploads are kept for a day.", "Upload the file again.")
}
