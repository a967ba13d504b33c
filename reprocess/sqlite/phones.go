package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"handback/reprocess"
)

// By is who acts and the key of their form, for acts that touch both the ledger and the tables
// of sign-in.
type By struct {
	Actor reprocess.Actor
	Key   string // idempotency key of the form; empty: none
}

// PhoneOf finds the enrolled phone of a cookie. A browser that is not enrolled, and a phone
// that was ended, get a *reprocess.Problem that says what to do.
func (s *Store) PhoneOf(ctx context.Context, token string) (*reprocess.EnrolledPhone, error) {
	hash, ok := tokenHash(token)
	if !ok {
		return nil, notEnrolled()
	}
	var doc []byte
	err := s.read.QueryRowContext(ctx, `SELECT h.doc FROM phone_token t
		JOIN phone h ON h.id = t.phone WHERE t.hash = ?`, hash).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, notEnrolled()
	}
	phone := new(reprocess.EnrolledPhone)
	if err == nil {
		err = json.Unmarshal(doc, phone)
	}
	if err != nil {
		return nil, storeFault(err)
	}
	if phone.Revoked != 0 {
		return nil, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "phone_ended",
			Text: "This phone may no longer be used for signing in.",
			Fix:  "Use another phone, or ask a supervisor to enrol this one again."}
	}
	return phone, nil
}

func notEnrolled() *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "phone_unknown",
		Text: "This phone is not enrolled for signing in.",
		Fix:  "Ask a supervisor for a one-time code that enrols it."}
}

// signInPhone is the phone of a sign-in. Only a demonstration lets any browser in, as no
// phone: its people and data are invented, and every page says so.
func (s *Store) signInPhone(ctx context.Context, token string) (string, error) {
	phone, err := s.PhoneOf(ctx, token)
	if err == nil {
		return phone.ID, nil
	}
	demo, errDemo := s.demo(ctx)
	if errDemo != nil {
		return "", errDemo
	}
	if demo && reprocess.AsProblem(err).Rule == "phone_unknown" {
		return "", nil
	}
	return "", err
}

func (s *Store) demo(ctx context.Context) (bool, error) {
	var doc []byte
	err := s.read.QueryRowContext(ctx, `SELECT doc FROM settings LIMIT 1`).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	var set reprocess.Settings
	if err == nil {
		err = json.Unmarshal(doc, &set)
	}
	return set.Demo, storeFault(err)
}

// EnrolThisPhone enrols the browser that a supervisor holds in their hands and gives the
// token for its cookie. Entry and token are one commit.
func (s *Store) EnrolThisPhone(ctx context.Context, by By, name string) (token string, err error) {
	token, phoneID := newToken(), newPhoneID()
	_, err = s.doOnce(ctx, by, reprocess.EnrolPhone{Phone: phoneID, Name: name},
		func(tx *sql.Tx) error { return s.putPhoneToken(tx, token, phoneID) })
	if err != nil {
		return "", err
	}
	return token, nil
}

// InvitePhone enrols a phone that is somewhere else: the entry is the supervisor's, now; the
// browser in which the one-time code is typed becomes that phone.
func (s *Store) InvitePhone(ctx context.Context, by By, name string) (code string, err error) {
	c := oneTime{Kind: CodePhone, Phone: newPhoneID()}
	letters := newLetters(codeLetters)
	_, err = s.doOnce(ctx, by, reprocess.EnrolPhone{Phone: c.Phone, Name: name},
		func(tx *sql.Tx) error { return s.putCode(tx, letters, c) })
	if err != nil {
		return "", err
	}
	return showCode(letters), nil
}

// RedeemPhone makes this browser the phone of a one-time code and gives the token for its
// cookie.
func (s *Store) RedeemPhone(ctx context.Context, code string) (token string, err error) {
	letters, ok := foldCode(code)
	if !ok {
		return "", badCode()
	}
	token = newToken()
	err = s.side(ctx, func(tx *sql.Tx) error {
		c, err := s.takeCode(tx, letters, CodePhone)
		if err != nil {
			return err
		}
		return s.putPhoneToken(tx, token, c.Phone)
	})
	if err != nil {
		return "", storeFault(err)
	}
	return token, nil
}

// RevokePhone ends a phone at once, and every session on it.
func (s *Store) RevokePhone(ctx context.Context, by By, phoneID, reason string) error {
	_, err := s.doOnce(ctx, by, reprocess.RevokePhone{Phone: phoneID, Reason: reason},
		func(tx *sql.Tx) error {
			return execAll(tx, phoneID, `DELETE FROM phone_token WHERE phone = ?`,
				`DELETE FROM session WHERE phone = ?`, `DELETE FROM one_time WHERE phone = ? AND
				kind = 'phone'`)
		})
	return err
}

// newPhoneID makes the id of a phone before its entry exists: T and 8 letters, 40 bits; the
// rule refuses one that is taken.
func newPhoneID() string { return "T" + newLetters(8) }

func (s *Store) putPhoneToken(tx *sql.Tx, token, phoneID string) error {
	hash, _ := tokenHash(token)
	_, err := tx.Exec(`INSERT INTO phone_token (hash, phone, at) VALUES (?, ?, ?)`,
		hash, phoneID, s.utc())
	return err
}

// doOnce decides a command and writes what belongs to its entry in the same commit. When the
// form had been sent before, the entry stands but its token or code is not known any more:
// the person is told so.
func (s *Store) doOnce(ctx context.Context, by By, cmd reprocess.Command,
	also func(tx *sql.Tx) error) (*reprocess.Entry, error) {
	ran := false
	e, err := s.Do(ctx, Request{Cmd: cmd, Actor: by.Actor, Key: by.Key,
		also: func(tx *sql.Tx, _ *reprocess.Entry) error {
			ran = true
			return also(tx)
		}})
	if err == nil && !ran {
		err = &reprocess.Problem{Code: reprocess.Conflict, Rule: "done_before",
			Text: "This was done already.", Fix: "Open the page again and look."}
	}
	return e, err
}

func execAll(tx *sql.Tx, arg string, statements ...string) error {
	for _, q := range statements {
		if _, err := tx.Exec(q, arg); err != nil {
			return err
		}
	}
	return nil
}
