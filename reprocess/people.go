package reprocess

import "slices"

// Role is what a person may do. A person can have several.
type Role string

// The roles.
const (
	RoleReprocessing Role = "reprocessing"
	RoleRelease      Role = "release"
	RoleFrontDesk    Role = "front_desk"
	RoleTechnician   Role = "technician"
	RoleInfection    Role = "infection_control"
	RoleAuditor      Role = "auditor"
	RoleSupervisor   Role = "supervisor"
)

// Roles lists every role once, in the order staff pages show them.
func Roles() []Role {
	return []Role{RoleReprocessing, RoleRelease, RoleFrontDesk, RoleTechnician,
		RoleInfection, RoleAuditor, RoleSupervisor}
}

// Competence says that a person may carry out a procedure, between two days (both included;
// an empty Until is open). Learning means under own secret, countersigned, never releasing.
type Competence struct {
	Procedure string `json:"procedure"`
	From      Date   `json:"from"`
	Until     Date   `json:"until,omitempty"`
	Learning  bool   `json:"learning,omitempty"`
	By        string `json:"by,omitempty"`   // who signed it off, if somebody did
	Name      string `json:"name,omitempty"` // their printed name
}

// Person is somebody on the staff. The name stands in the ledger: a signature without a name
// proves nothing. Ids are never reused; leaving ends sessions and keeps past signatures.
type Person struct {
	ID          string       `json:"id"`
	Name        string       `json:"name"`
	SignIn      string       `json:"sign_in"` // short name typed at sign-in, lower case
	Roles       []Role       `json:"roles"`
	Competences []Competence `json:"competences,omitempty"`
	Left        Date         `json:"left,omitempty"`
	Pass        bool         `json:"pass,omitempty"` // an inspector's: reads until Left, never acts

	Supervised []Supervised `json:"supervised,omitempty"` // counted by the fold alone
}

// Has tells whether the person has any of the roles.
func (p *Person) Has(roles ...Role) bool {
	for _, r := range roles {
		if slices.Contains(p.Roles, r) {
			return true
		}
	}
	return false
}

// Standing is how a person stands to a procedure on a day.
type Standing uint8

// The standings, from none to full.
const (
	NotCompetent Standing = iota
	Lapsed
	LearningIt
	Competent
)

// Competence looks up how the person stands to a procedure on a day; the best row counts.
func (p *Person) Competence(procedure string, day Date) Standing {
	best := NotCompetent
	for _, c := range p.Competences {
		if c.Procedure == procedure {
			best = max(best, c.on(day))
		}
	}
	return best
}

func (c Competence) on(day Date) Standing {
	switch {
	case day < c.From, c.Until != "" && day > c.Until:
		return Lapsed
	case c.Learning:
		return LearningIt
	}
	return Competent
}

// Actor is who acts: a signed-in person on an enrolled phone, or the console. Signed is true
// only when the person has just re-entered their secret for this very act.
type Actor struct {
	Person *Person
	Phone  string  // id of the enrolled phone, empty when there is none
	Signed bool    // own secret re-entered for this act
	Second *Person // a second person who entered theirs for this act
}

// Console is the actor of acts from the command line.
func Console() Actor {
	return Actor{Person: &Person{ID: "console", Name: "console",
		Roles: []Role{RoleSupervisor}}, Signed: true}
}
