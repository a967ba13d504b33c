package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"handback/reprocess"
)

// The kinds of one-time codes.
const (
	CodeFirst  = "first"  // sets up the first supervisor
	CodeSecret = "secret" // a person sets their own secret
	CodePhone  = "phone"  // a browser becomes an enrolled phone
)

// codeLife is how long a code can be used.
const codeLife = 24 * time.Hour

// oneTime is what a code stands for.
type oneTime struct {
	Kind, Person, Phone string
	expires             reprocess.Instant
}

// putCode writes a code. Codes that lapsed, and earlier ones for the same person and kind,
// go: only the newest can be used.
func (s *Store) putCode(tx *sql.Tx, letters string, c oneTime) error {
	now := s.utc()
	_, err := tx.Exec(`DELETE FROM one_time WHERE expires <= ? OR
		kind = ? AND kind <> 'phone' AND person = ?`, now, c.Kind, c.Person)
	if err != nil {
		return err
	}
	_, err = tx.Exec(`INSERT INTO one_time (hash, kind, person, phone, expires)
		VALUES (?, ?, ?, ?, ?)`, s.codeHash(letters), c.Kind, c.Person, c.Phone, now.Add(codeLife))
	return err
}

// takeCode uses a code up; the second of two at once finds nothing.
func (s *Store) takeCode(tx *sql.Tx, letters, kind string) (oneTime, error) {
	c := oneTime{Kind: kind}
	err := tx.QueryRow(`DELETE FROM one_time WHERE hash = ? AND kind = ?
		RETURNING person, phone, expires`, s.codeHash(letters), kind).
		Scan(&c.Person, &c.Phone, &c.expires)
	if errors.Is(err, sql.ErrNoRows) || err == nil && !c.usable(s.utc()) {
		return c, badCode()
	}
	return c, err
}

// peekCode reads a code without using it up.
func (s *Store) peekCode(ctx context.Context, code string) (oneTime, error) {
	letters, ok := foldCode(code)
	if !ok {
		return oneTime{}, badCode()
	}
	var c oneTime
	err := s.read.QueryRowContext(ctx, `SELECT kind, person, phone, expires FROM one_time
		WHERE hash = ?`, s.codeHash(letters)).Scan(&c.Kind, &c.Person, &c.Phone, &c.expires)
	if errors.Is(err, sql.ErrNoRows) || err == nil && !c.usable(s.utc()) {
		return oneTime{}, badCode()
	}
	return c, storeFault(err)
}

// usable: not lapsed; a code that seems to last longer than any can comes from a clock that
// was set back, and is over too.
func (c oneTime) usable(now reprocess.Instant) bool {
	return now < c.expires && c.expires.Sub(now) <= codeLife
}

// codeHash is what the database keeps of a code: 60 random bits need the pepper.
func (s *Store) codeHash(letters string) []byte { return s.pepper().mac("one-time", letters) }

func badCode() *reprocess.Problem {
	return &reprocess.Problem{Code: reprocess.Forbidden, Rule: "code",
		Text: "This one-time code cannot be used: it is mistyped, used up or older than a day.",
		Fix:  "Check it, or ask for a new one."}
}

// CodeFor tells what a one-time code is for, so that the right page can greet the right
// person: its kind, and the person of a "secret" code.
func (s *Store) CodeFor(ctx context.Context, code string) (
	kind string, p *reprocess.Person, err error) {
	c, err := s.peekCode(ctx, code)
	if err != nil || c.Person == "" {
		return c.Kind, nil, err
	}
	p, err = s.personBy(ctx, `id = ?`, c.Person)
	return c.Kind, p, err
}

// FirstCode makes the code of the one-time link that sets up the first supervisor. Earlier
// ones go. A site with people refuses.
func (s *Store) FirstCode(ctx context.Context) (string, error) {
	letters := newLetters(codeLetters)
	err := s.side(ctx, func(tx *sql.Tx) error {
		var n int
		if err := tx.QueryRow(`SELECT count(*) FROM person`).Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			return &reprocess.Problem{Code: reprocess.Refused, Rule: "set_up_already",
				Text: "This site has been set up already.", Fix: "Ask a supervisor to add you."}
		}
		return s.putCode(tx, letters, oneTime{Kind: CodeFirst})
	})
	if err != nil {
		return "", storeFault(err)
	}
	return showCode(letters), nil
}

// SignedIn is what a used code leads to: tokens for the browser's cookies, each empty when
// there is none.
type SignedIn struct {
	Person     *reprocess.Person
	Token      string // of a new session; empty: not on an enrolled phone, so not signed in
	PhoneToken string // when this browser has just become an enrolled phone
}

// FirstRequest is the form of the one-time link.
type FirstRequest struct {
	Code, Name, SignIn, Secret, PhoneName string
}

// CreateFirst sets the site up: the first supervisor with their secret, and this browser as
// the first enrolled phone, in one entry of the console. The code is used up with it.
func (s *Store) CreateFirst(ctx context.Context, r FirstRequest) (*SignedIn, error) {
	if c, err := s.peekCode(ctx, r.Code); err != nil || c.Kind != CodeFirst {
		return nil, orBadCode(err)
	}
	letters, _ := foldCode(r.Code)
	p := &reprocess.Person{ID: reprocess.FirstSupervisorID, Name: r.Name, SignIn: r.SignIn,
		Roles: []reprocess.Role{reprocess.RoleSupervisor}}
	stored, mac, err := s.newSecret(ctx, r.Secret, p)
	if err != nil {
		return nil, err
	}
	out := &SignedIn{Token: newToken(), PhoneToken: newToken()}
	cmd := reprocess.FirstSupervisor{Name: r.Name, SignIn: r.SignIn, MAC: mac,
		Phone: newPhoneID(), PhoneName: r.PhoneName}
	_, err = s.doOnce(ctx, By{Actor: reprocess.Console()}, cmd, func(tx *sql.Tx) error {
		if _, err := s.takeCode(tx, letters, CodeFirst); err != nil {
			return err
		}
		if err := s.putPhoneToken(tx, out.PhoneToken, cmd.Phone); err != nil {
			return err
		}
		return s.putSecret(tx, p.ID, stored, mac, cmd.Phone, out.Token)
	})
	if err != nil {
		return nil, err
	}
	out.Person, err = s.personBy(ctx, `id = ?`, p.ID)
	return out, err
}

func orBadCode(err error) error {
	if err != nil {
		return err
	}
	return badCode()
}

// ResetSecret ends a person's secret and sessions, and gives a one-time code with which they
// set a new one: for somebody new, who forgot theirs, or who is locked out. With a phone name
// the browser that uses the code becomes an enrolled phone of that name. The supervisor never
// chooses or sees a secret, and the entry names them.
func (s *Store) ResetSecret(ctx context.Context, by By, personID, phoneName string) (
	code string, err error) {
	c := oneTime{Kind: CodeSecret, Person: personID}
	if phoneName != "" {
		c.Phone = newPhoneID()
	}
	cmd := reprocess.ResetSecret{Person: personID, Phone: c.Phone, PhoneName: phoneName}
	letters := newLetters(codeLetters)
	_, err = s.doOnce(ctx, by, cmd, func(tx *sql.Tx) error {
		if err := execAll(tx, personID, `DELETE FROM secret WHERE person = ?`,
			`DELETE FROM session WHERE person = ?`, `DELETE FROM guess WHERE who = ?`); err != nil {
			return err
		}
		return s.putCode(tx, letters, c)
	})
	if err != nil {
		return "", err
	}
	return showCode(letters), nil
}

// RedeemSecret sets the secret of the person whom a one-time code is for. On an enrolled
// phone, or when the code makes this browser one, they are signed in at once.
func (s *Store) RedeemSecret(ctx context.Context, code, secret, phoneToken string) (
	*SignedIn, error) {
	return s.RedeemBeside(ctx, code, secret, phoneToken, "")
}

// RedeemBeside is RedeemSecret in a browser in which somebody is signed in: the entry names
// them, for it may be they who use the code and not its owner.
func (s *Store) RedeemBeside(ctx context.Context, code, secret, phoneToken, beside string) (
	*SignedIn, error) {
	c, err := s.peekCode(ctx, code)
	if err != nil || c.Kind != CodeSecret {
		return nil, orBadCode(err)
	}
	letters, _ := foldCode(code)
	p, err := s.personBy(ctx, `id = ?`, c.Person)
	if err != nil || p == nil {
		return nil, orBadCode(err)
	}
	stored, mac, err := s.newSecret(ctx, secret, p)
	if err != nil {
		return nil, err
	}
	out := &SignedIn{Person: p}
	phoneID, err := s.redeemOn(ctx, c, phoneToken, out)
	if err != nil {
		return nil, err
	}
	_, err = s.doOnce(ctx, By{Actor: reprocess.Actor{Person: p, Phone: phoneID}},
		reprocess.SetSecret{Person: p.ID, MAC: mac, Code: true, Beside: beside},
		func(tx *sql.Tx) error {
			if _, err := s.takeCode(tx, letters, CodeSecret); err != nil {
				return err
			}
			if out.PhoneToken != "" {
				if err := s.putPhoneToken(tx, out.PhoneToken, phoneID); err != nil {
					return err
				}
			}
			return s.putSecret(tx, p.ID, stored, mac, phoneID, out.Token)
		})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// redeemOn finds the phone on which a code is used, and prepares the tokens.
func (s *Store) redeemOn(ctx context.Context, c oneTime, phoneToken string, out *SignedIn) (
	phoneID string, err error) {
	var revoked reprocess.Instant
	err = s.read.QueryRowContext(ctx, `SELECT revoked FROM phone WHERE id = ?`, c.Phone).
		Scan(&revoked)
	if err == nil && revoked == 0 {
		out.Token, out.PhoneToken = newToken(), newToken()
		return c.Phone, nil
	}
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", storeFault(err)
	}
	phoneID, err = s.signInPhone(ctx, phoneToken)
	if err == nil {
		out.Token = newToken()
		return phoneID, nil
	}
	if reprocess.AsProblem(err).Code == reprocess.Forbidden {
		return "", nil
	}
	return "", err
}

// ChangeSecret replaces a person's own secret: the old one proves who they are. Every other
// session of theirs ends; the token is of a new one.
func (s *Store) ChangeSecret(ctx context.Context, by By, old, secret string) (
	token string, err error) {
	p := by.Actor.Person
	if p == nil {
		return "", signedOut("nobody", "Nobody is signed in for this.")
	}
	if err := s.CheckSecret(ctx, p.ID, old, by.Actor.Phone); err != nil {
		return "", err
	}
	stored, mac, err := s.newSecret(ctx, secret, p)
	if err != nil {
		return "", err
	}
	token, by.Actor.Signed = newToken(), true
	_, err = s.doOnce(ctx, by, reprocess.SetSecret{Person: p.ID, MAC: mac},
		func(tx *sql.Tx) error {
			return s.putSecret(tx, p.ID, stored, mac, by.Actor.Phone, token)
		})
	if err != nil {
		return "", err
	}
	return token, nil
}

// GiveSecret sets the first secret of somebody from the console: for invented people of a
// demonstration. The rule refuses to replace one.
func (s *Store) GiveSecret(ctx context.Context, personID, secret string) error {
	p, err := s.personBy(ctx, `id = ?`, personID)
	if err != nil {
		return err
	}
	if p == nil {
		return &reprocess.Problem{Code: reprocess.NotFound, Rule: "unknown",
			Text: "There is no such person here.", Fix: "Add the person first."}
	}
	stored, mac, err := s.newSecret(ctx, secret, p)
	if err != nil {
		return err
	}
	_, err = s.doOnce(ctx, By{Actor: reprocess.Console()},
		reprocess.SetSecret{Person: personID, MAC: mac}, func(tx *sql.Tx) error {
			return s.putSecret(tx, personID, stored, mac, "", "")
		})
	return err
}

// newSecret judges a secret and hashes it.
func (s *Store) newSecret(ctx context.Context, secret string, p *reprocess.Person) (
	stored, mac string, err error) {
	if p := CheckNewSecret(secret, p); p != nil {
		return "", "", p
	}
	if stored, err = s.pepper().hash(ctx, s.opts.HashKiB, secret); err != nil {
		return "", "", reprocess.AsProblem(err)
	}
	return stored, s.pepper().hashMAC(p.ID, stored), nil
}

// putSecret writes a stored hash, forgives wrong tries, ends all sessions of the person and,
// with a token, begins a new one.
func (s *Store) putSecret(tx *sql.Tx, personID, stored, mac, phoneID, token string) error {
	_, err := tx.Exec(`INSERT INTO secret (person, phc, at) VALUES (?, ?, ?)
		ON CONFLICT (person) DO UPDATE SET phc = excluded.phc, at = excluded.at`,
		personID, stored, s.utc())
	if err != nil {
		return err
	}
	if err := execAll(tx, personID, `DELETE FROM session WHERE person = ?`,
		`DELETE FROM guess WHERE who = ?`); err != nil || token == "" {
		return err
	}
	return s.beginSession(tx, token, personID, phoneID, mac)
}
