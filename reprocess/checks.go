package reprocess

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// CheckRule is a technical check that pieces of a model need again and again: an electrical
// safety test of the charger, the maker's maintenance. Basis says who asks for it.
type CheckRule struct {
	ID     string `json:"id"`
	Words  string `json:"words"`
	On     string `json:"on,omitempty"` // a part that travels with the piece; empty: the piece
	Months int    `json:"months"`       // from one check to the next, at the latest
	Basis  string `json:"basis,omitempty"`
}

// Of names what is checked: "charger: electrical safety".
func (r CheckRule) Of() string {
	if r.On == "" {
		return r.Words
	}
	return r.On + ": " + r.Words
}

// CheckDone is the newest check of one kind on a piece. Its entry holds the earlier ones.
type CheckDone struct {
	Check  string  `json:"check"` // id of the rule
	On     Date    `json:"on"`    // the day it was made, as the paper says
	Failed bool    `json:"failed,omitempty"`
	Tester string  `json:"tester"`           // who made it, often from outside
	SHA256 string  `json:"sha256,omitempty"` // the paper about it, kept
	Note   string  `json:"note,omitempty"`
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"` // entered
	By     string  `json:"by"`
}

// CheckSoonDays is how many days before its day a check is shown as due.
const CheckSoonDays = 30

// CheckStanding is where one check of one piece stands on a day.
type CheckStanding struct {
	Piece *Piece
	Kit   *Kit // nil for a loose piece or one whose kit is not loaded
	Rule  CheckRule
	Last  *CheckDone // nil: never recorded
	Next  Date       // last day in order; "" when never recorded
	Days  int        // whole days until Next; negative: overdue. 0 when never recorded
}

// Failed tells whether the newest check was failed.
func (s CheckStanding) Failed() bool { return s.Last != nil && s.Last.Failed }

// Overdue tells whether the check is out of order: its day has passed or none is known.
func (s CheckStanding) Overdue() bool { return s.Last == nil || s.Days < 0 }

// Words is the standing as a sentence without its stop.
func (s CheckStanding) Words() string {
	switch {
	case s.Last == nil:
		return s.Rule.Of() + " was never recorded"
	case s.Failed():
		return s.Rule.Of() + " failed on " + Day(s.Last.On)
	case s.Days < 0:
		return s.Rule.Of() + " was due on " + Day(s.Next)
	}
	return s.Rule.Of() + " is due on " + Day(s.Next)
}

// Checks lists where every check of a piece stands on a day, in the order of the model's list.
func (w *World) Checks(p *Piece, today Date) []CheckStanding {
	m := w.Models[p.Model]
	if m == nil {
		return nil
	}
	var all []CheckStanding
	for _, rule := range m.Checks {
		s := CheckStanding{Piece: p, Kit: w.Kits[p.Kit], Rule: rule}
		for i := range p.Checks {
			if p.Checks[i].Check == rule.ID {
				s.Last = &p.Checks[i]
				s.Next = s.Last.On.AddMonths(rule.Months)
				s.Days = today.DaysUntil(s.Next)
			}
		}
		all = append(all, s)
	}
	return all
}

// ChecksDue lists the checks of every piece in use that were failed, are overdue or come due
// within so many days (both included); what was never recorded first, then by day.
func ChecksDue(w *World, now Now, days int) []CheckStanding {
	var all []CheckStanding
	for _, p := range w.Pieces {
		if p.State == Retired {
			continue
		}
		for _, s := range w.Checks(p, now.Today()) {
			if s.Failed() || s.Overdue() || s.Days <= days {
				all = append(all, s)
			}
		}
	}
	slices.SortFunc(all, func(a, b CheckStanding) int {
		return cmp.Or(cmp.Compare(a.Next, b.Next), cmp.Compare(a.number(), b.number()),
			cmp.Compare(a.Piece.ID, b.Piece.ID), cmp.Compare(a.Rule.ID, b.Rule.ID))
	})
	return all
}

func (s CheckStanding) number() string {
	if s.Kit == nil {
		return ""
	}
	return s.Kit.Number
}

// AddMonths moves a day by calendar months; a day that the month lacks becomes its last one,
// so that 31 Jan and one month is 28 or 29 Feb. An empty or broken day stays empty.
func (d Date) AddMonths(n int) Date {
	t, err := time.Parse(DateLayout, string(d))
	if err != nil {
		return ""
	}
	first := time.Date(t.Year(), t.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Date(first.AddDate(0, 0, min(t.Day(), last)-1).Format(DateLayout))
}

// checkReason is the first check that keeps a piece from being lent: a failed one always, an
// overdue one where the clinic holds for it.
func (w *World) checkReason(p *Piece, today Date) *Problem {
	for _, s := range w.Checks(p, today) {
		switch {
		case s.Failed():
			return refuse("check_failed", "Have it repaired and checked again.", "%s.",
				title(s.Words()))
		case s.Overdue() && w.Settings.ChecksHold:
			return refuse("check_overdue", "Have it checked, then enter the check.", "%s.",
				title(s.Words()))
		}
	}
	return nil
}

func gateChecks(f *gateFacts) *Problem {
	if p := f.c.W.checkReason(f.piece, f.c.Now.Today()); p != nil {
		return f.refuse(p.Rule, p.Fix, "%s", p.Text)
	}
	return nil
}

// SetChecks replaces the list of technical checks of a model. Rows that stay keep their id, so
// that what was recorded for them stays theirs.
type SetChecks struct {
	Model  string      `json:"model"`
	Checks []CheckRule `json:"checks"`
}

// RecordCheck enters one technical check of a piece, as its paper says.
type RecordCheck struct {
	Kit    string `json:"kit,omitempty"`
	Piece  string `json:"piece"`
	Check  string `json:"check"`
	On     Date   `json:"on"`
	Result string `json:"result"` // "passed" or "failed"
	Tester string `json:"tester"`
	SHA256 string `json:"sha256,omitempty"`
	Note   string `json:"note,omitempty"`
}

// CheckRecorded is a check that was entered.
type CheckRecorded struct {
	Kit   string    `json:"kit,omitempty"`
	Piece string    `json:"piece"`
	Words string    `json:"words"` // of the rule on that day
	Done  CheckDone `json:"done"`
}

// EventName is "check_recorded".
func (CheckRecorded) EventName() string { return "check_recorded" }

// The acts of technical checks.
const (
	ActChecks Act = "checks"
	ActCheck  Act = "check"
)

// Act is "checks".
func (SetChecks) Act() Act { return ActChecks }

// Act is "check".
func (RecordCheck) Act() Act { return ActCheck }

// Needs nothing beyond the models.
func (SetChecks) Needs() Needs { return Needs{} }

// Needs the piece and its kit.
func (r RecordCheck) Needs() Needs { return Needs{Kit: r.Kit, Pieces: []string{r.Piece}} }

// mostChecks and mostCheckMonths bound slips of the finger; ten years is the longest interval
// that anybody asks for (common practice).
const (
	mostChecks      = 20
	mostCheckMonths = 120
)

func (s SetChecks) decide(c *Case) *Problem {
	old := c.W.Models[s.Model]
	if old == nil {
		return missing("model")
	}
	if len(s.Checks) > mostChecks {
		return invalid("checks", "Leave some out.", "A model has at most %d checks.", mostChecks)
	}
	m := *old
	m.Checks = nil
	for i, rule := range s.Checks {
		rule, p := rule.checked(old)
		if p != nil {
			return p
		}
		if rule.ID == "" {
			rule.ID = c.id("K", i+1)
		} else if !slices.ContainsFunc(old.Checks, func(o CheckRule) bool { return o.ID == rule.ID }) {
			return missing("check")
		}
		for _, other := range m.Checks {
			if other.ID == rule.ID || strings.EqualFold(other.Of(), rule.Of()) {
				return conflict("check_twice", "Name each once.", "%q stands twice.", rule.Of())
			}
		}
		m.Checks = append(m.Checks, rule)
	}
	c.emit(ModelSet{m})
	return nil
}

func (r CheckRule) checked(m *Model) (CheckRule, *Problem) {
	var p *Problem
	if r.Words, p = need("What is checked", r.Words, 60); p != nil {
		return r, p
	}
	if r.Basis, p = clean("The basis", r.Basis, 80); p != nil {
		return r, p
	}
	if r.On != "" && !contains(m.Parts, r.On) {
		return r, invalid("part", "Add it to the model's parts first, or choose another.",
			"%q is no part that travels with %s.", r.On, m.Name)
	}
	if r.Months < 1 || r.Months > mostCheckMonths {
		return r, invalid("months", "Type a whole number from 1 to 120.",
			"%d months from one check to the next cannot be right.", r.Months)
	}
	return r, nil
}

func (r RecordCheck) decide(c *Case) *Problem {
	piece, p := c.pieceOf(r.Kit, r.Piece)
	if p != nil {
		return p
	}
	rule, p := c.checkRule(piece, r.Check)
	if p != nil {
		return p
	}
	done, p := r.checked(c)
	if p != nil {
		return p
	}
	for _, was := range piece.Checks {
		if was.Check == r.Check && was.On > r.On {
			return refuse("check_older", "Enter the newest check only.",
				"A check of %s is on record already.", Day(was.On))
		}
	}
	c.emit(CheckRecorded{Kit: r.Kit, Piece: piece.ID, Words: rule.Of(), Done: done})
	if done.Failed {
		c.emit(Held{Piece: piece.ID, Grade: GradeHold, Reason: "check_failed", Note: rule.Of()})
	}
	return nil
}

func (c *Case) checkRule(p *Piece, id string) (CheckRule, *Problem) {
	if m := c.W.Models[p.Model]; m != nil {
		for _, rule := range m.Checks {
			if rule.ID == id {
				return rule, nil
			}
		}
	}
	return CheckRule{}, missing("check")
}

// checked reads what the paper says. A check of a day to come is none.
func (r RecordCheck) checked(c *Case) (CheckDone, *Problem) {
	d := CheckDone{Check: r.Check, On: r.On, SHA256: r.SHA256}
	on, err := ParseDate(string(r.On))
	switch {
	case err != nil || on == "":
		return d, invalid("date", "Type the day of the check like 2026-11-24.",
			"The day of the check is missing or cannot be read.")
	case on > c.Now.Today():
		return d, invalid("date", "Type the day on which it was made.",
			"%s is still to come.", Day(on))
	case r.Result != "passed" && r.Result != "failed":
		return d, invalid("result", "Choose passed or failed.", "The result is not given.")
	case r.SHA256 != "" && !isHash(r.SHA256):
		return d, invalid("paper", "Attach the paper again.", "The paper was not kept.")
	}
	d.Failed = r.Result == "failed"
	var p *Problem
	if d.Tester, p = need("Who tested", r.Tester, 60); p != nil {
		return d, p
	}
	d.Note, p = clean("Note", r.Note, 200)
	return d, p
}

// keepCheck puts a check in the place of the earlier one of its kind.
func (w *World) keepCheck(e *Entry, v CheckRecorded) {
	d := v.Done
	d.Seq, d.At, d.By = e.Seq, e.At, e.By
	w.changePiece(v.Piece, func(p *Piece) {
		kept := []CheckDone{d} // a fresh slice: an older copy of the piece may still be read
		for _, was := range p.Checks {
			if was.Check != d.Check {
				kept = append(kept, was)
			}
		}
		slices.SortFunc(kept, func(a, b CheckDone) int { return cmp.Compare(a.Check, b.Check) })
		p.Checks = kept
	})
}
