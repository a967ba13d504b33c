package sqlite

import (
	"context"
	"crypto/hmac"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"errors"
	"time"

	"handback/reprocess"
)

// How long a session lasts (OWASP ASVS 5.0.0 7.3: both are the clinic's own choice, written
// down; the idle time is short because phones are shared).
const (
	sessionMax    = 12 * time.Hour
	idleFloor     = 10 * time.Minute
	idleFrontDesk = 30 * time.Minute // who only works at the front desk
	seenEvery     = 30 * time.Second // how exactly "last seen" is kept: one write in that time
)

// Session is one sign-in as a request finds it.
type Session struct {
	Person  *reprocess.Person
	Phone   string            // id of the enrolled phone, empty in a demonstration
	Started reprocess.Instant // sign-in
	Seen    reprocess.Instant // last request before this one, within half a minute
	Ends    reprocess.Instant // when it ends if nothing more is asked
}

// Actor is who acts in this session; signed when the secret was entered for this very act.
func (s *Session) Actor(signed bool) reprocess.Actor {
	return reprocess.Actor{Person: s.Person, Phone: s.Phone, Signed: signed}
}

// sessionRow is a session with the facts that keep it alive.
type sessionRow struct {
	Session
	secret, nowSecret string // HMAC of the stored hash: at sign-in, and in force
	revoked           int64  // of the phone, ms UTC; -1: no such phone
	settings          reprocess.Settings
}

// SessionOf finds the session of a token and counts this request as a sign of life. While a
// wet time of this person is running, waiting is work and does not count as idle; busy says
// the same of anything else the caller knows of. A session that is over is deleted, and a
// *reprocess.Problem says why. One query, and one write every half minute.
func (s *Store) SessionOf(ctx context.Context, token string, busy bool) (*Session, error) {
	hash, ok := tokenHash(token)
	if !ok {
		return nil, signedOut("signed_out", "You are not signed in.")
	}
	row, err := s.sessionRow(ctx, hash)
	if err != nil {
		return nil, err
	}
	now := s.utc()
	p, err := s.over(ctx, row, now, busy)
	if err != nil {
		return nil, err
	}
	if p != nil {
		err := s.side(ctx, func(tx *sql.Tx) error {
			_, err := tx.Exec(`DELETE FROM session WHERE hash = ?`, hash)
			return err
		})
		if err != nil {
			s.log.Error("ending a session", "err", err)
		}
		return nil, p
	}
	row.Ends = min(now.Add(row.idle()), row.Started.Add(sessionMax))
	if now.Sub(row.Seen) >= seenEvery {
		err = s.side(ctx, func(tx *sql.Tx) error {
			_, err := tx.Exec(`UPDATE session SET seen = ? WHERE hash = ?`, now, hash)
			return err
		})
	}
	return &row.Session, storeFault(err)
}

// SessionPerson tells whose a token is, without counting as a sign of life and without ending
// anything: for asking whether a wet time of theirs is running. Empty: nobody's.
func (s *Store) SessionPerson(ctx context.Context, token string) (personID string, err error) {
	hash, ok := tokenHash(token)
	if !ok {
		return "", nil
	}
	err = s.read.QueryRowContext(ctx, `SELECT person FROM session WHERE hash = ?`, hash).
		Scan(&personID)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return personID, storeFault(err)
}

func (s *Store) sessionRow(ctx context.Context, hash []byte) (*sessionRow, error) {
	r := &sessionRow{Session: Session{Person: new(reprocess.Person)}}
	var personDoc, macDoc, settingsDoc []byte
	err := s.read.QueryRowContext(ctx, `SELECT s.phone, s.secret, s.started, s.seen, p.doc,
		coalesce(m.doc, '""'), coalesce(h.revoked, -1),
		coalesce((SELECT doc FROM settings LIMIT 1), '{}')
		FROM session s JOIN person p ON p.id = s.person
		LEFT JOIN secret_mac m ON m.id = s.person
		LEFT JOIN phone h ON h.id = s.phone WHERE s.hash = ?`, hash).
		Scan(&r.Phone, &r.secret, &r.Started, &r.Seen, &personDoc, &macDoc, &r.revoked,
			&settingsDoc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, signedOut("signed_out", "You are not signed in.")
	}
	if err == nil {
		err = errors.Join(json.Unmarshal(personDoc, r.Person),
			json.Unmarshal(macDoc, &r.nowSecret), json.Unmarshal(settingsDoc, &r.settings))
	}
	if err != nil {
		return nil, storeFault(err)
	}
	return r, nil
}

// over says why a session has ended, nil while it lasts. All but the times follows from the
// ledger, so that leaving, a new secret and a lost phone end it at once, whoever wrote them.
func (s *Store) over(ctx context.Context, row *sessionRow, now reprocess.Instant, busy bool) (
	*reprocess.Problem, error) {
	if s.gone(row.Person) {
		return signedOut("left", row.Person.Name+" left on "+string(row.Person.Left)+"."), nil
	}
	p := row.over(now, busy)
	if p == nil || p.Rule != "session_idle" {
		return p, nil
	}
	until, err := s.wetUntil(ctx, row.Person.ID)
	if err != nil {
		return nil, err
	}
	row.Seen = max(row.Seen, min(until, now))
	return row.over(now, busy), nil
}

// wetUntil is when the last wet time that a person has started and nobody has ended will have
// lasted as long as its product needs; 0 when there is none. It reads the open cycles, and
// only when a session would end without it.
func (s *Store) wetUntil(ctx context.Context, personID string) (until reprocess.Instant, err error) {
	cycles, err := all[reprocess.Cycle](ctx, s.read, `SELECT c.doc FROM piece p
		JOIN cycle c ON c.id = p.cycle WHERE c.open = 1`)
	for _, c := range cycles {
		until = max(until, wetRunsUntil(c, personID))
	}
	return until, err
}

// wetRunsUntil is the same for one cycle. Records that were taken back do not count.
func wetRunsUntil(c *reprocess.Cycle, personID string) (until reprocess.Instant) {
	for _, r := range c.Records {
		switch {
		case r.Undone:
		case r.Kind == reprocess.RecWetNow && r.By == personID:
			until = r.Mark.At.Add(time.Duration(r.NeededS) * time.Second)
		case r.Kind == reprocess.RecWetNow, r.Kind == reprocess.RecSeenDry,
			r.Kind == reprocess.RecNotWatched:
			until = 0
		}
	}
	return until
}

// over looks at everything but the person.
func (r *sessionRow) over(now reprocess.Instant, busy bool) *reprocess.Problem {
	demo := r.settings.Demo && r.Phone == ""
	switch {
	case r.secret == "" || r.secret != r.nowSecret:
		return signedOut("secret_changed", "Your secret was changed since you signed in.")
	case r.revoked != 0 && !demo:
		return signedOut("phone_ended", "This phone may no longer be used for signing in.")
	case now.Sub(r.Started) >= sessionMax:
		return signedOut("session_long", "You signed in 12 hours ago.")
	case !busy && now.Sub(r.Seen) >= r.idle():
		return signedOut("session_idle", "You were signed out because nothing was done for "+
			minutesWords(r.idle().Milliseconds())+".")
	}
	return nil
}

// idle is how long nothing may happen.
func (r *sessionRow) idle() time.Duration {
	idle := time.Duration(r.settings.IdleMin) * time.Minute
	if idle <= 0 {
		idle = idleFloor
	}
	if len(r.Person.Roles) == 1 && r.Person.Has(reprocess.RoleFrontDesk) {
		idle = max(idle, idleFrontDesk)
	}
	return idle
}

// beginSession writes a new session. It clears those that are over by age, and the one that
// somebody left open on this phone: its cookie is about to be replaced.
func (s *Store) beginSession(tx *sql.Tx, token, personID, phoneID, mac string) error {
	hash, _ := tokenHash(token)
	now := s.utc()
	_, err := tx.Exec(`DELETE FROM session WHERE started <= ? OR phone = ? AND phone <> ''`,
		now.Add(-sessionMax), phoneID)
	if err != nil {
		return err
	}
	_, err = tx.Exec(`INSERT INTO session (hash, person, phone, secret, started, seen)
		VALUES (?, ?, ?, ?, ?, ?)`, hash, personID, phoneID, mac, now, now)
	return err
}

// SignOut ends a session; a token that has none is no error.
func (s *Store) SignOut(ctx context.Context, token string) error {
	hash, ok := tokenHash(token)
	if !ok {
		return nil
	}
	return storeFault(s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`DELETE FROM session WHERE hash = ?`, hash)
		return err
	}))
}

// SignOutEverywhere ends every session of a person.
func (s *Store) SignOutEverywhere(ctx context.Context, personID string) error {
	return storeFault(s.side(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`DELETE FROM session WHERE person = ?`, personID)
		return err
	}))
}

// FormToken is what forms of a session carry, so that no other site can send one. It follows
// from the session's token and the pepper: nothing is kept, and a restart loses no form. Forms
// before sign-in take the phone's token in its place.
func (s *Store) FormToken(token string) string {
	return base64.RawURLEncoding.EncodeToString(s.pepper().mac("form", token))
}

// CheckForm tells in constant time whether a form belongs to a session.
func (s *Store) CheckForm(token, form string) bool {
	return token != "" && hmac.Equal([]byte(s.FormToken(token)), []byte(form))
}

func signedOut(rule, text string) *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: rule, Text: text,
		Fix: "Sign in and try again."}
}
