package sqlite

import (
	"context"
	"crypto/hmac"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"time"
	"unicode/utf8"

	"handback/reprocess"
)

// authTables are the tables of sign-in, which are not folded from the ledger, each with the
// reason. Nothing in them can make a signature by itself: whoever changes them still needs
// the pepper, or a secret that the ledger vouches for.
var authTables = []NotFolded{
	{"secret", "a stored hash must not travel with the ledger; its HMAC is in secret_mac"},
	{"guess", "wrong tries are counted before anybody is known, and forgiven"},
	{"phone_guess", "wrong tries of the last hour"},
	{"session", "who is signed in right now; it ends by itself"},
	{"phone_token", "the hash of a cookie; that the phone is enrolled is in phone"},
	{"one_time", "codes are used once or lapse after a day"},
	{"told", "who was told of a new secret of theirs; the entries that they were told of stand"},
}

// Limits on guessing (OWASP ASVS 5.0.0 6.3.1; NIST SP 800-63B: at most 100 failures in a row).
// Six digits and 100 tries are one chance in ten thousand.
const (
	freeTries    = 5
	lastTry      = 100
	phoneTries   = 20 // wrong secrets per phone and hour
	guessHour    = reprocess.Instant(3_600_000)
	unknownAfter = 24 * guessHour // wrong tries at names that nobody has are kept a day
)

// waits are the pauses after the 5th, 6th, 7th and every later wrong secret in a row.
var waits = []time.Duration{30 * time.Second, 2 * time.Minute, 10 * time.Minute, time.Hour}

// waitAfter is the pause after n wrong secrets in a row.
func waitAfter(n int) time.Duration {
	if n < freeTries {
		return 0
	}
	return waits[min(n-freeTries, len(waits)-1)]
}

// SignInRequest is what the sign-in page sends.
type SignInRequest struct {
	SignIn     string // short name, any case
	Secret     string // PIN or password
	PhoneToken string // of the browser's cookie
}

// SignIn checks name and secret on an enrolled phone and begins a session: a new token each
// time. It answers a *reprocess.Problem: the same one, after the same work, for a name that
// nobody has and for a wrong secret. About two commits and one hash.
func (s *Store) SignIn(ctx context.Context, r SignInRequest) (string, *reprocess.Person, error) {
	phoneID, err := s.signInPhone(ctx, r.PhoneToken)
	if err != nil {
		return "", nil, err
	}
	name := strings.ToLower(strings.TrimSpace(r.SignIn))
	p, err := s.personBy(ctx, `sign_in = ?`, name)
	if err != nil {
		return "", nil, err
	}
	who := "?" + hex.EncodeToString(s.pepper().mac("unknown-name", name)[:12])
	if p != nil {
		who = p.ID
	}
	mac, row, err := s.prove(ctx, who, p, r.Secret, phoneID)
	if err != nil {
		return "", nil, err
	}
	token := newToken()
	err = s.side(ctx, func(tx *sql.Tx) error {
		if err := forgive(tx, who, row); err != nil {
			return err
		}
		return s.beginSession(tx, token, p.ID, phoneID, mac)
	})
	if err != nil {
		return "", nil, storeFault(err)
	}
	return token, p, nil
}

// CheckSecret proves that the person who is signed in signs this very act. It counts and
// waits as sign-in does.
func (s *Store) CheckSecret(ctx context.Context, personID, secret, phoneID string) error {
	p, err := s.personBy(ctx, `id = ?`, personID)
	if err != nil {
		return err
	}
	if p == nil {
		return signedOut("nobody", "Nobody is signed in for this.")
	}
	_, row, err := s.prove(ctx, p.ID, p, secret, phoneID)
	if err != nil {
		return err
	}
	return storeFault(s.side(ctx, func(tx *sql.Tx) error { return forgive(tx, p.ID, row) }))
}

// prove counts the try as wrong first, so that many at once cannot slip past the limit, then
// checks it. It gives the HMAC of the stored hash and the row of the phone's count; the caller
// forgives both counts in its own transaction.
func (s *Store) prove(ctx context.Context, who string, p *reprocess.Person,
	secret, phoneID string) (mac string, row int64, err error) {
	failed, row, err := s.countTry(ctx, who, phoneID)
	if err != nil {
		return "", 0, err
	}
	stored, mac, err := s.storedSecret(ctx, p)
	if err != nil {
		return "", 0, err
	}
	ok, err := s.pepper().check(ctx, stored, secret)
	switch {
	case err != nil:
		return "", 0, reprocess.AsProblem(err)
	case !ok || mac == "":
		s.log.Warn("wrong secret", "who", who, "phone", phoneID, "in_a_row", failed)
		return "", 0, wrongSecret(failed)
	case !hmac.Equal([]byte(s.pepper().hashMAC(p.ID, stored)), []byte(mac)):
		s.log.Error("a stored hash is not the one in the ledger", "person", p.ID)
		return "", 0, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "secret_swapped",
			Text: "The stored secret is not the one that was set here.",
			Fix:  "Tell a supervisor at once, and have your secret reset."}
	case NeedsPassword(p.Roles) && utf8.RuneCountInString(secret) < passwordMin:
		return "", 0, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "secret_short",
			Text: "Your roles ask for a password of at least 12 characters by now.",
			Fix:  "Ask a supervisor to reset your secret, then choose a longer one."}
	}
	return mac, row, nil
}

// dummySecret has the cost of a real hash and fits no secret.
func (s *Store) dummySecret() string {
	return phc{kib: s.opts.HashKiB, time: argonTime, threads: argonThreads,
		salt: make([]byte, argonSalt), key: make([]byte, argonKey)}.String()
}

// storedSecret gives the stored hash of a person and the HMAC that the ledger holds of it.
// Whoever has none, or is nobody here, gets the dummy and no HMAC.
func (s *Store) storedSecret(ctx context.Context, p *reprocess.Person) (
	stored, mac string, err error) {
	if p == nil || s.gone(p) {
		return s.dummySecret(), "", nil
	}
	var doc string
	err = s.read.QueryRowContext(ctx, `SELECT s.phc, m.doc FROM secret s
		JOIN secret_mac m ON m.id = s.person WHERE s.person = ?`, p.ID).Scan(&stored, &doc)
	if errors.Is(err, sql.ErrNoRows) {
		return s.dummySecret(), "", nil
	}
	if err == nil {
		err = json.Unmarshal([]byte(doc), &mac)
	}
	if err != nil {
		return "", "", storeFault(err)
	}
	if _, err := parsePHC(stored); err != nil {
		s.log.Error("a stored hash is damaged", "person", p.ID)
		return s.dummySecret(), "", nil
	}
	return stored, mac, nil
}

// personBy finds somebody by a condition on the table of people; nil when there is nobody.
func (s *Store) personBy(ctx context.Context, cond, arg string) (*reprocess.Person, error) {
	var doc []byte
	err := s.read.QueryRowContext(ctx, `SELECT doc FROM person WHERE `+cond, arg).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	p := new(reprocess.Person)
	if err == nil {
		err = json.Unmarshal(doc, p)
	}
	if err != nil {
		return nil, storeFault(err)
	}
	return p, nil
}

// gone tells whether somebody's last day at the clinic is over.
func (s *Store) gone(p *reprocess.Person) bool { return p.Left != "" && s.Now().Today() > p.Left }

// utc is the present without the zone, which costs a look at the settings.
func (s *Store) utc() reprocess.Instant { return s.opts.Clock().UTC }

// countTry refuses a try that comes too early, and counts every other as wrong.
func (s *Store) countTry(ctx context.Context, who, phoneID string) (
	failed int, row int64, err error) {
	now := s.utc()
	err = s.side(ctx, func(tx *sql.Tx) error {
		failed, err = mayTry(tx, who, now)
		if err != nil {
			return err
		}
		if err := mayTryPhone(tx, phoneID, now); err != nil {
			return err
		}
		failed++
		row, err = putTry(tx, who, phoneID, failed, now)
		return err
	})
	return failed, row, storeFault(err)
}

// mayTry reads how often a person failed in a row and refuses during a wait. A wait longer
// than the longest there is comes from a clock that was set back, and does not count.
func mayTry(tx *sql.Tx, who string, now reprocess.Instant) (failed int, err error) {
	var until reprocess.Instant
	err = tx.QueryRow(`SELECT failed, wait_until FROM guess WHERE who = ?`, who).
		Scan(&failed, &until)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, err
	}
	if failed >= lastTry {
		return 0, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "locked_out",
			Text: "There were 100 wrong secrets in a row, so this name is closed.",
			Fix:  "Ask a supervisor to reset the secret."}
	}
	if left := until - now; left > 0 && left <= guessHour {
		return 0, tooSoon("Too many wrong secrets in a row.", left)
	}
	return failed, nil
}

func mayTryPhone(tx *sql.Tx, phoneID string, now reprocess.Instant) error {
	var n int
	var oldest reprocess.Instant
	err := tx.QueryRow(`SELECT count(*), coalesce(min(at), 0) FROM (SELECT at FROM phone_guess
		WHERE phone = ? AND at > ? AND at <= ? ORDER BY at DESC LIMIT ?)`,
		phoneID, now-guessHour, now, phoneTries).Scan(&n, &oldest)
	if err == nil && n >= phoneTries {
		return tooSoon("Too many wrong secrets on this phone.", oldest+guessHour-now)
	}
	return err
}

func putTry(tx *sql.Tx, who, phoneID string, failed int, now reprocess.Instant) (int64, error) {
	_, err := tx.Exec(`DELETE FROM phone_guess WHERE at <= ? OR at > ?`, now-guessHour, now)
	if err != nil {
		return 0, err
	}
	if _, err := tx.Exec(`DELETE FROM guess WHERE who LIKE '?%' AND last <= ?`,
		now-unknownAfter); err != nil {
		return 0, err
	}
	if _, err := tx.Exec(`INSERT INTO guess (who, failed, wait_until, last) VALUES (?, ?, ?, ?)
		ON CONFLICT (who) DO UPDATE SET failed = excluded.failed,
		wait_until = excluded.wait_until, last = excluded.last`,
		who, failed, now.Add(waitAfter(failed)), now); err != nil {
		return 0, err
	}
	res, err := tx.Exec(`INSERT INTO phone_guess (phone, at) VALUES (?, ?)`, phoneID, now)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

// forgive takes back what a right secret was counted as before it was known to be right.
func forgive(tx *sql.Tx, who string, row int64) error {
	if _, err := tx.Exec(`DELETE FROM guess WHERE who = ?`, who); err != nil {
		return err
	}
	_, err := tx.Exec(`DELETE FROM phone_guess WHERE id = ?`, row)
	return err
}

func tooSoon(text string, left reprocess.Instant) *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Unavailable, Rule: "wait", Text: text,
		Fix: "Wait " + minutesWords(int64(left)) + " and try again, or ask a supervisor."}
}

func wrongSecret(failed int) *reprocess.Problem {
	fix := "Try again."
	if wait := waitAfter(failed); wait > 0 {
		fix = "Wait " + minutesWords(wait.Milliseconds()) + " before the next try."
	}
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "wrong_secret",
		Text: "The name or the secret is not right.", Fix: fix}
}

// Locked is somebody whose wrong secrets have led to a wait.
type Locked struct {
	Person string            // person id
	Failed int               // wrong secrets in a row
	Until  reprocess.Instant // end of the wait; a hundred in a row only end by a reset
}

// LockedOut lists who had so many wrong secrets in a row that they had to wait, most first:
// for the supervisor's page.
func (s *Store) LockedOut(ctx context.Context) ([]Locked, error) {
	rows, err := s.read.QueryContext(ctx, `SELECT who, failed, wait_until FROM guess
		WHERE failed >= ? AND who NOT LIKE '?%' ORDER BY failed DESC, who`, freeTries)
	if err != nil {
		return nil, storeFault(err)
	}
	defer rows.Close()
	var out []Locked
	for rows.Next() {
		var l Locked
		if err := rows.Scan(&l.Person, &l.Failed, &l.Until); err != nil {
			return nil, storeFault(err)
		}
		out = append(out, l)
	}
	return out, storeFault(rows.Err())
}

// pepper is the key of DIR/secrets, 32 bytes, read when the store opened.
func (s *Store) pepper() *pepper { return (*pepper)(s.secrets.pepper) }
