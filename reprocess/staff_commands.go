package reprocess

import (
	"slices"
	"strings"
)

// FirstSupervisorID is the id of the person who sets a new site up. It can be fixed because
// ids of later people carry the number of a later entry, and there is only ever one first.
const FirstSupervisorID = "S1"

// FirstSupervisor sets a new site up from the console: the first person, their secret, and
// the phone they did it on, which may reach the sign-in from now on. Only when nobody is on
// the staff yet.
type FirstSupervisor struct {
	Name      string `json:"name"`
	SignIn    string `json:"sign_in"`
	MAC       string `json:"mac"` // HMAC of the stored hash, bound to FirstSupervisorID
	Phone     string `json:"phone"`
	PhoneName string `json:"phone_name"`
}

// Act is "first_supervisor".
func (FirstSupervisor) Act() Act { return ActFirstSupervisor }

// Needs nothing beyond the staff.
func (FirstSupervisor) Needs() Needs { return Needs{} }

func (f FirstSupervisor) decide(c *Case) *Problem {
	if len(c.W.People) > 0 {
		return refuse("set_up_already", "Ask a supervisor to add you.",
			"This site has been set up already.")
	}
	if !c.Actor.isConsole() {
		return &Problem{Code: Forbidden, Rule: "console", Text: "Only the server's own link " +
			"can set up the first supervisor.", Fix: "Use the link that the server printed."}
	}
	person, p := (Person{Name: f.Name, SignIn: f.SignIn, Roles: []Role{RoleSupervisor}}).checked(c)
	if p != nil {
		return p
	}
	phone, p := EnrolPhone{f.Phone, f.PhoneName}.checked(c)
	if p != nil {
		return p
	}
	if p := checkMAC(f.MAC); p != nil {
		return p
	}
	person.ID = FirstSupervisorID
	c.emit(PersonSet{person})
	c.emit(SecretSet{Person: person.ID, MAC: f.MAC})
	c.emit(phone)
	return nil
}

// SetPerson adds somebody to the staff (no ID) or changes somebody (their ID, and the whole
// new description). Leaving is a change: Left is the last day.
type SetPerson struct {
	Person Person `json:"person"`
}

// Act is "person".
func (SetPerson) Act() Act { return ActPerson }

// Needs nothing beyond the staff.
func (SetPerson) Needs() Needs { return Needs{} }

func (s SetPerson) decide(c *Case) *Problem {
	if s.Person.ID != "" && c.W.People[s.Person.ID] == nil {
		return missing("person")
	}
	person, p := s.Person.checked(c)
	if p != nil {
		return p
	}
	if old := c.W.People[s.Person.ID]; old != nil && old.Pass || s.Person.Pass {
		return refuse("is_pass", "Give a pass or end it on the page of passes.",
			"A pass is not changed like one of the staff.")
	}
	person.Supervised = nil // counted from the cycles, never told
	if id := c.skipsSignOff(&person); id != "" {
		return refuse("sign_off", "Sign them off instead, after enough supervised cycles.",
			"%s is learning this procedure.", person.Name)
	}
	if c.endsSupervision(&person) {
		return refuse("last_supervisor", "Make somebody else a supervisor first.",
			"%s is the last supervisor.", person.Name)
	}
	if person.ID == "" {
		person.ID = c.id("S", 0)
	}
	c.emit(PersonSet{person})
	return nil
}

// endsSupervision tells whether a change takes away the last supervisor who stays.
func (c *Case) endsSupervision(changed *Person) bool {
	old := c.W.People[changed.ID]
	if old == nil || !old.supervises() || changed.supervises() {
		return false
	}
	for id, p := range c.W.People {
		if id != changed.ID && p.supervises() {
			return false
		}
	}
	return true
}

func (p *Person) supervises() bool { return p.Has(RoleSupervisor) && p.Left == "" }

// checked gives the description in its one spelling.
func (p Person) checked(c *Case) (Person, *Problem) {
	var problem *Problem
	if p.Name, problem = need("The name", p.Name, 80); problem != nil {
		return p, problem
	}
	if problem = checkSignIn(c, p.ID, p.SignIn); problem != nil {
		return p, problem
	}
	if p.Roles, problem = checkRoles(p.Roles); problem != nil {
		return p, problem
	}
	if _, err := ParseDate(string(p.Left)); err != nil {
		return p, invalid("date", "Type the last day like 2026-11-24.", "%v.", err)
	}
	for _, row := range p.Competences {
		if problem = row.check(c); problem != nil {
			return p, problem
		}
	}
	p.Roles, p.Competences = slices.Clone(p.Roles), slices.Clone(p.Competences)
	return p, nil
}

// signInLetters may stand in a sign-in name: typed on a phone without changing keyboards.
const signInLetters = "abcdefghijklmnopqrstuvwxyz0123456789.-"

// checkSignIn holds a sign-in name to its form, and to one person for ever: a name that came
// to somebody else would put old signatures in doubt.
func checkSignIn(c *Case, id, name string) *Problem {
	if len(name) < 2 || len(name) > 20 || strings.Trim(name, signInLetters) != "" {
		return invalid("sign_in", "Type it again in small letters.", "A sign-in name is 2 to 20 "+
			"of the letters a to z, digits, dot and dash.")
	}
	for _, other := range c.W.People {
		if other.SignIn == name && other.ID != id {
			return conflict("sign_in_taken", "Choose another one; sign-in names are never "+
				"given to a second person.", "The sign-in name %s belongs to %s.", name, other.Name)
		}
	}
	return nil
}

// checkRoles gives the roles once each, in the order of Roles.
func checkRoles(roles []Role) ([]Role, *Problem) {
	var out []Role
	for _, r := range Roles() {
		if slices.Contains(roles, r) {
			out = append(out, r)
		}
	}
	for _, r := range roles {
		if !slices.Contains(out, r) {
			return nil, invalid("role", "Choose from the list.", "There is no role %q.", string(r))
		}
	}
	if len(out) == 0 {
		return nil, invalid("role", "Choose at least one.", "Nobody can work without a role.")
	}
	return out, nil
}

func (row Competence) check(c *Case) *Problem {
	known := false
	for _, proc := range c.W.Procedures {
		known = known || proc.ID == row.Procedure
	}
	_, errFrom := ParseDate(string(row.From))
	_, errUntil := ParseDate(string(row.Until))
	switch {
	case !known:
		return missing("procedure")
	case row.From == "" || errFrom != nil || errUntil != nil:
		return invalid("date", "Type days like 2026-11-24.",
			"A competence needs the day it begins and, if it ends, its last day.")
	case row.Until != "" && row.Until < row.From:
		return invalid("date", "Change one of the days.",
			"The competence ends on %s, before it begins on %s.", row.Until, row.From)
	}
	return nil
}

// SetSecret says that a person has set their own secret. Nobody else can: a signature must be
// its owner's alone. The console may give a first one, and never replaces one.
type SetSecret struct {
	Person string `json:"person"`
	MAC    string `json:"mac"` // HMAC of the stored hash, bound to the person; 64 hex digits
	// Code: by a one-time code, which shows who held it and not who they are. Beside is who else
	// was signed in in that browser then.
	Code   bool   `json:"code,omitempty"`
	Beside string `json:"beside,omitempty"`
}

// Act is "secret".
func (SetSecret) Act() Act { return ActSecret }

// Needs nothing beyond the staff.
func (SetSecret) Needs() Needs { return Needs{} }

func (s SetSecret) decide(c *Case) *Problem {
	person := c.W.People[s.Person]
	if person == nil {
		return missing("person")
	}
	own := c.Actor.Person.ID == s.Person
	first := c.Actor.isConsole() && c.W.Secrets[s.Person] == ""
	if !own && !first {
		return &Problem{Code: Forbidden, Rule: "own_secret",
			Text: "A secret is set by its owner alone.",
			Fix:  "A supervisor can reset it and hand over a one-time code."}
	}
	if p := c.gone(person); p != nil {
		return p
	}
	if p := checkMAC(s.MAC); p != nil {
		return p
	}
	if s.Beside != "" && (!s.Code || c.W.People[s.Beside] == nil) {
		return missing("person")
	}
	c.emit(SecretSet(s))
	return nil
}

// gone refuses what is for people on the staff only.
func (c *Case) gone(person *Person) *Problem {
	if person.Left != "" && c.Now.Today() > person.Left {
		return refuse("left", "Take the leaving back first, if they are here again.",
			"%s left on %s.", person.Name, person.Left)
	}
	return nil
}

// ResetSecret ends a person's secret, and with it every sign-in that used it. The supervisor
// never chooses or sees the next one: the person sets it with a one-time code. With a phone
// the browser in which that code is used becomes an enrolled phone.
type ResetSecret struct {
	Person    string `json:"person"`
	Phone     string `json:"phone,omitempty"`      // new id; empty: enrol none
	PhoneName string `json:"phone_name,omitempty"` // with Phone only
}

// ActSecretReset is "secret_reset". It is signed: with the code somebody takes a colleague's place,
// so a screen that was left open must not be enough. In records from before it was an act of its
// own it stands as "person".
const ActSecretReset Act = "secret_reset"

// Act is "secret_reset".
func (ResetSecret) Act() Act { return ActSecretReset }

// Needs nothing beyond the staff.
func (ResetSecret) Needs() Needs { return Needs{} }

func (r ResetSecret) decide(c *Case) *Problem {
	person := c.W.People[r.Person]
	if person == nil {
		return missing("person")
	}
	if c.Actor.Person.ID == r.Person {
		return refuse("own_reset", "Change it under your own name, or ask another supervisor.",
			"Nobody resets their own secret.")
	}
	if p := c.gone(person); p != nil {
		return p
	}
	c.emit(SecretSet{Person: r.Person})
	if r.Phone == "" && r.PhoneName == "" {
		return nil
	}
	phone, p := EnrolPhone{r.Phone, r.PhoneName}.checked(c)
	if p == nil {
		c.emit(phone)
	}
	return p
}

func checkMAC(mac string) *Problem {
	if len(mac) != 64 || strings.Trim(mac, "0123456789abcdef") != "" {
		return invalid("mac", "Set the secret again.", "The mark of the secret is damaged.")
	}
	return nil
}

// EnrolPhone lets a phone or station reach the sign-in.
type EnrolPhone struct {
	Phone string `json:"phone"` // new id, made with its token
	Name  string `json:"name"`  // such as "Bench 2", at most 40 characters
}

// Act is "phone".
func (EnrolPhone) Act() Act { return ActPhone }

// Needs nothing beyond the phones.
func (EnrolPhone) Needs() Needs { return Needs{} }

func (e EnrolPhone) decide(c *Case) *Problem {
	event, p := e.checked(c)
	if p == nil {
		c.emit(event)
	}
	return p
}

func (e EnrolPhone) checked(c *Case) (PhoneEnrolled, *Problem) {
	name, p := need("The name of the phone", e.Name, 40)
	if p != nil {
		return PhoneEnrolled{}, p
	}
	if len(e.Phone) < 2 || len(e.Phone) > 20 || strings.Trim(e.Phone, phoneLetters) != "" {
		return PhoneEnrolled{}, invalid("phone", "Begin the enrolment again.",
			"The id of the phone is damaged.")
	}
	if c.W.Phones[e.Phone] != nil {
		return PhoneEnrolled{}, conflict("phone_known", "Begin the enrolment again.",
			"This phone is enrolled already.")
	}
	for _, other := range c.W.Phones {
		if other.Revoked == 0 && strings.EqualFold(other.Name, name) {
			return PhoneEnrolled{}, conflict("phone_name", "Choose another name, or end the "+
				"other phone first.", "Another phone is called %s.", other.Name)
		}
	}
	return PhoneEnrolled{e.Phone, name}, nil
}

const phoneLetters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"

// RevokePhone ends a phone at once: lost, or no longer used. It can be enrolled again only
// as a new one.
type RevokePhone struct {
	Phone  string `json:"phone"`
	Reason string `json:"reason"`
}

// Act is "phone_revoke".
func (RevokePhone) Act() Act { return ActPhoneRevoke }

// Needs nothing beyond the phones.
func (RevokePhone) Needs() Needs { return Needs{} }

func (r RevokePhone) decide(c *Case) *Problem {
	phone := c.W.Phones[r.Phone]
	if phone == nil {
		return missing("phone")
	}
	if phone.Revoked != 0 {
		return conflict("phone_ended", "Nothing more is needed.",
			"The phone %s was ended already, at %s.", phone.Name, phone.Revoked)
	}
	reason, p := need("The reason", r.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(PhoneRevoked{r.Phone, reason})
	return nil
}

// ConsoleID stands for the command line in entries; no person has it.
const ConsoleID = "console"

func (a Actor) isConsole() bool { return a.Person != nil && a.Person.ID == ConsoleID }
