package reprocess

import (
	"cmp"
	"slices"
	"strings"
)

// Supervised counts the released cycles in which a learner recorded something under a
// procedure; the gate let none of them out before it was countersigned (P19).
type Supervised struct {
	Procedure string `json:"procedure"`
	Cycles    int    `json:"cycles"`
}

// UsualSupervised is how many supervised cycles a sign-off asks for unless the clinic set
// another number: common practice, three times seen to be done right.
const UsualSupervised = 3

// CompetenceSoonDays is how many days before its end a competence is warned about.
const CompetenceSoonDays = 30

// NeedSupervised is the number of supervised cycles that a sign-off asks for.
func (s Settings) NeedSupervised() int {
	if s.Supervised == 0 {
		return UsualSupervised
	}
	return s.Supervised
}

// SupervisedCycles is the count of a person under a procedure.
func (p *Person) SupervisedCycles(procedure string) int {
	for _, s := range p.Supervised {
		if s.Procedure == procedure {
			return s.Cycles
		}
	}
	return 0
}

// Ends is the last day on which a person stands to a procedure as today, when that is within
// the days of the warning (both included); "" when it is not, or when there is nothing to end.
func (p *Person) Ends(procedure string, today Date) Date {
	now := p.Competence(procedure, today)
	if now != LearningIt && now != Competent {
		return ""
	}
	for n := range CompetenceSoonDays + 1 {
		if p.Competence(procedure, today.AddDays(n+1)) < now {
			return today.AddDays(n)
		}
	}
	return ""
}

// countSupervised adds a released cycle to the counts of those who learned in it.
func (w *World) countSupervised(c *Cycle) {
	if c == nil {
		return
	}
	procedure, _, _ := strings.Cut(c.Procedure, "@")
	var learners []string
	for _, r := range c.Records {
		if id, _ := r.Did(); r.Learning && !r.Undone {
			learners = withOne(learners, id)
		}
	}
	for _, id := range learners {
		change(w, w.People, TablePerson, id, func(p *Person) { p.countOne(procedure) })
	}
}

func (p *Person) countOne(procedure string) {
	p.Supervised = slices.Clone(p.Supervised)
	for i := range p.Supervised {
		if p.Supervised[i].Procedure == procedure {
			p.Supervised[i].Cycles++
			return
		}
	}
	p.Supervised = append(p.Supervised, Supervised{procedure, 1})
	slices.SortFunc(p.Supervised, func(a, b Supervised) int { return cmp.Compare(a.Procedure, b.Procedure) })
}

// SignOff ends somebody's learning: a supervisor signs that they are competent for a procedure
// from today, after enough supervised cycles.
type SignOff struct {
	Person    string `json:"person"`
	Procedure string `json:"procedure"`
	Until     Date   `json:"until,omitempty"`
}

// ActSignOff is "sign_off".
const ActSignOff Act = "sign_off"

// Act is "sign_off".
func (SignOff) Act() Act { return ActSignOff }

// Needs nothing beyond the staff.
func (SignOff) Needs() Needs { return Needs{} }

func (s SignOff) decide(c *Case) *Problem {
	who := c.W.People[s.Person]
	if who == nil {
		return missing("person")
	}
	if p := c.gone(who); p != nil {
		return p
	}
	today := c.Now.Today()
	standing, done := who.Competence(s.Procedure, today), who.SupervisedCycles(s.Procedure)
	switch {
	case who.ID == c.Actor.Person.ID:
		return refuse("own_sign_off", "Ask another supervisor.", "Nobody signs themselves off.")
	case standing == Competent:
		return conflict("already_done", "Nothing to do.", "%s is competent for it already.", who.Name)
	case standing != LearningIt:
		return refuse("not_learning", "Enter them as learning first.",
			"%s is not learning this procedure today.", who.Name)
	case done < c.W.Settings.NeedSupervised():
		return refuse("supervised", "Let them go on under supervision.",
			"%s has %d supervised cycles; %d are asked for.", who.Name, done,
			c.W.Settings.NeedSupervised())
	}
	row := Competence{Procedure: s.Procedure, From: today, Until: s.Until,
		By: c.Actor.Person.ID, Name: c.Actor.Person.Name}
	if p := row.check(c); p != nil {
		return p
	}
	person := *who
	person.Competences = append(slices.Clone(who.Competences), row)
	person.Supervised = nil // counted from the cycles, never told
	c.emit(PersonSet{person})
	return nil
}

// skipsSignOff finds a procedure for which a change of staff would turn somebody who is
// learning into somebody competent without a sign-off.
func (c *Case) skipsSignOff(changed *Person) string {
	old := c.W.People[changed.ID]
	if old == nil {
		return ""
	}
	today := c.Now.Today()
	for _, row := range changed.Competences {
		if !row.Learning && !slices.Contains(old.Competences, row) &&
			!slices.ContainsFunc(old.Competences, row.shorter) &&
			old.Competence(row.Procedure, today) == LearningIt {
			return row.Procedure
		}
	}
	return ""
}

// shorter tells whether a row is an old one with an earlier last day; a later one would make
// somebody competent on more days than before.
func (row Competence) shorter(old Competence) bool {
	earlier := row.Until != "" && (old.Until == "" || row.Until < old.Until)
	old.Until = row.Until
	return earlier && old == row
}
