package reprocess

// The acts of passes, a supervisor's: letting somebody from outside read the record for some
// days is signed; ending it is not, so that it takes one tap.
const (
	ActPass    Act = "pass"
	ActPassEnd Act = "pass_end"
)

// MostPassDays is how long a pass may last, days: three months (our own choice).
const MostPassDays = 92

// IssuePass lets an inspector read: a person of the role of an auditor whose last day is fixed
// and who never acts. They may take exports out, each an entry; wearers' references are not
// for them.
type IssuePass struct {
	Name  string `json:"name"`
	Until Date   `json:"until"` // last day
}

// EndPass ends one at once.
type EndPass struct {
	Person string `json:"person"`
}

// Act is "pass".
func (IssuePass) Act() Act { return ActPass }

// Act is "pass_end".
func (EndPass) Act() Act { return ActPassEnd }

// Needs nothing beyond the staff.
func (IssuePass) Needs() Needs { return Needs{} }

// Needs nothing beyond the staff.
func (EndPass) Needs() Needs { return Needs{} }

func (i IssuePass) decide(c *Case) *Problem {
	today := c.Now.Today()
	if _, err := ParseDate(string(i.Until)); err != nil || i.Until == "" {
		return invalid("date", "Type the last day like 2026-11-24.", "A pass needs its last day.")
	}
	if i.Until < today || i.Until > today.AddDays(MostPassDays) {
		return invalid("pass_days", "Change the last day.",
			"A pass lasts from today to %d days from now at the most.", MostPassDays)
	}
	id := c.id("S", 0)
	person, p := (Person{Name: i.Name, SignIn: "pass" + id[1:], Roles: []Role{RoleAuditor},
		Left: i.Until}).checked(c)
	if p != nil {
		return p
	}
	person.ID, person.Pass = id, true
	c.emit(PersonSet{person})
	return nil
}

func (x EndPass) decide(c *Case) *Problem {
	person := c.W.People[x.Person]
	if person == nil || !person.Pass {
		return missing("pass")
	}
	if c.Now.Today() > person.Left {
		return conflict("already_done", "Nothing to do.", "This pass has ended already.")
	}
	v := *person
	v.Left = c.Now.Today().AddDays(-1)
	c.emit(PersonSet{v})
	return nil
}

// onlyReads tells whether a pass keeps somebody from an act: all but their own secret, the
// sign-in and what an export takes out.
func onlyReads(p *Person, a Act) bool {
	return p.Pass && a != ActSecret && a != ActExport && a != ActPassUse
}
