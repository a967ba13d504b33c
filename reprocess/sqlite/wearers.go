package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"os"
	"strings"

	"handback/reprocess"
)

// wearersName is the file of the links from random tokens to wearer references. It stands
// apart from the ledger because a link can be erased and an entry cannot, and it has its own,
// shorter row of backups.
const wearersName = "wearers.db"

const wearersSchema = `CREATE TABLE link (
  token     TEXT PRIMARY KEY, -- 128 random bits in hex; a new one for every loan
  reference TEXT NOT NULL,    -- number or short code, never a name; '' when erased
  made      INTEGER NOT NULL, -- ms UTC
  erased    INTEGER NOT NULL  -- ms UTC, 0: not
) STRICT, WITHOUT ROWID;
CREATE INDEX link_reference ON link (reference COLLATE NOCASE) WHERE reference <> '';`

// openWearers opens the file of links, one connection for reading and writing. What is erased
// is overwritten (secure_delete).
func openWearers(ctx context.Context, path string) (*sql.DB, error) {
	if err := closeToOthers(path); err != nil {
		return nil, unusable("The file of wearer links cannot be closed to others.", err)
	}
	db, err := openDB(ctx, path, append([]string{"secure_delete(1)"}, writerPragmas...),
		"&_txlock=immediate")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	sum := sha256.Sum256([]byte(wearersSchema))
	err = migrate(ctx, db, []migration{{1, "wearers", wearersSchema, hex.EncodeToString(sum[:])}})
	if err != nil {
		db.Close()
		return nil, unusable("The file of wearer links cannot be used.", err)
	}
	return db, nil
}

// closeToOthers makes a file that only its owner reads, or closes one that is there, with its
// write-ahead log. It has to come before the engine opens the file: the log is made with the
// rights that the file has at that moment.
func closeToOthers(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	f.Close()
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		if err := os.Chmod(name, 0o600); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// referenceLetters may stand in a wearer reference, besides letters and digits.
const referenceLetters = "._/-"

// checkReference holds a wearer reference to its form: 1 to 40 letters without spaces, so that
// a name does not come easily.
func checkReference(reference string) (string, error) {
	reference = strings.TrimSpace(reference)
	bad := reference == "" || len(reference) > 40
	for _, c := range []byte(reference) {
		letter := 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9'
		bad = bad || !letter && !strings.ContainsRune(referenceLetters, rune(c))
	}
	if !bad {
		return reference, nil
	}
	return "", &reprocess.Problem{Code: reprocess.Invalid, Rule: "reference",
		Text: "A wearer reference is 1 to 40 letters, digits, dots, dashes and strokes, without spaces.",
		Fix:  "Type a number or short code, never a name."}
}

// WearerToken makes the random token of one loan and keeps its link to the reference. The link
// is on the disk when this returns: make it before the entry that names the token.
func (s *Store) WearerToken(ctx context.Context, reference string) (string, error) {
	reference, err := checkReference(reference)
	if err != nil {
		return "", err
	}
	token := hex.EncodeToString(random(16))
	_, err = s.wearers.ExecContext(ctx, `INSERT INTO link (token, reference, made, erased)
		VALUES (?, ?, ?, 0)`, token, reference, s.utc())
	if err != nil {
		return "", storeFault(err)
	}
	return token, nil
}

// WearerRef looks up the reference of a loan's token. Whoever shows it to a person records
// the look-up as an entry. An erased link is a not_found problem that says since when.
func (s *Store) WearerRef(ctx context.Context, token string) (string, error) {
	var reference string
	var erased reprocess.Instant
	err := s.wearers.QueryRowContext(ctx, `SELECT reference, erased FROM link WHERE token = ?`,
		token).Scan(&reference, &erased)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", &reprocess.Problem{Code: reprocess.NotFound, Rule: "no_link",
			Text: "There is no wearer reference for this loan here.",
			Fix:  "Look on the hand-out slip, or in a backup of the wearer links."}
	case err != nil:
		return "", storeFault(err)
	case erased != 0:
		return "", &reprocess.Problem{Code: reprocess.NotFound, Rule: "erased",
			Text: "The wearer reference of this loan was erased on " +
				string(reprocess.DateIn(erased, s.Now().Zone)) + ".",
			Fix: "The loan itself still counts; the wearer cannot be reached from here."}
	}
	return reference, nil
}

// LoansOf lists the loans of a wearer reference, oldest first; capital and small letters are
// the same.
func (s *Store) LoansOf(ctx context.Context, reference string) ([]*reprocess.Loan, error) {
	return behind[reprocess.Loan](ctx, s, reference,
		`SELECT doc FROM loan WHERE wearer = ? ORDER BY out_at, id`)
}

// behind reads what stands under any of the tokens of a reference, token by token; the query
// takes one token.
func behind[T any](ctx context.Context, s *Store, reference, query string) ([]*T, error) {
	reference, err := checkReference(reference)
	if err != nil {
		return nil, err
	}
	tokens, err := s.tokensOf(ctx, reference)
	if err != nil {
		return nil, storeFault(err)
	}
	var list []*T
	for _, token := range tokens {
		some, err := all[T](ctx, s.read, query, token)
		if err != nil {
			return nil, err
		}
		list = append(list, some...)
	}
	return list, nil
}

func (s *Store) tokensOf(ctx context.Context, reference string) ([]string, error) {
	rows, err := s.wearers.QueryContext(ctx, `SELECT token FROM link
		WHERE reference = ? COLLATE NOCASE AND reference <> '' ORDER BY made, token`, reference)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var tokens []string
	for rows.Next() {
		var token string
		if err := rows.Scan(&token); err != nil {
			return nil, err
		}
		tokens = append(tokens, token)
	}
	return tokens, rows.Err()
}

// EraseWearer erases the reference of one loan for good, in the file and in its write-ahead
// log; backups of the file keep it until they are thrown away. The token and the loan stay,
// so that counts stay right. Erasing again empties the log again.
func (s *Store) EraseWearer(ctx context.Context, token string) error {
	res, err := s.wearers.ExecContext(ctx, `UPDATE link SET reference = '', erased = ?
		WHERE token = ? AND erased = 0`, s.utc(), token)
	if err != nil {
		return storeFault(err)
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		_, err := s.WearerRef(ctx, token)
		if reprocess.AsProblem(err).Rule != "erased" {
			return err
		}
	}
	return s.emptyWearersLog(ctx)
}

// DropWearer forgets a link whose loan never came to be, because its entry was refused. A
// token that a loan carries stays.
func (s *Store) DropWearer(ctx context.Context, token string) error {
	var n int
	err := s.read.QueryRowContext(ctx, `SELECT count(*) FROM loan WHERE wearer = ?`, token).Scan(&n)
	if err != nil {
		return storeFault(err)
	}
	if n > 0 {
		return &reprocess.Problem{Code: reprocess.Refused, Rule: "loan_stands",
			Text: "A loan carries this wearer reference.", Fix: "Erase the reference instead."}
	}
	if _, err := s.wearers.ExecContext(ctx, `DELETE FROM link WHERE token = ?`, token); err != nil {
		return storeFault(err)
	}
	return s.emptyWearersLog(ctx)
}

// emptyWearersLog folds the write-ahead log into the file and cuts it, so that no older copy
// of a page is left in it.
func (s *Store) emptyWearersLog(ctx context.Context) error {
	var busy, log, moved int
	err := s.wearers.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).
		Scan(&busy, &log, &moved)
	if err == nil && busy != 0 {
		return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "busy",
			Text: "The reference is erased, but a copy of it may still be in the log of the file.",
			Fix:  "Erase it once more when nothing else reads the file, such as a backup."}
	}
	return storeFault(err)
}

// KeepWearers keeps many links at once, token → reference, for loans that are taken over or
// invented. All or nothing; made before the entries that name the tokens.
func (s *Store) KeepWearers(ctx context.Context, links map[string]string) error {
	tx, err := s.wearers.BeginTx(ctx, nil)
	if err != nil {
		return storeFault(err)
	}
	defer tx.Rollback()
	for token, reference := range links {
		if reference, err = checkReference(reference); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO link (token, reference, made, erased)
			VALUES (?, ?, ?, 0)`, token, reference, s.utc()); err != nil {
			return storeFault(err)
		}
	}
	if err := tx.Commit(); err != nil {
		return storeFault(err)
	}
	return nil
}
