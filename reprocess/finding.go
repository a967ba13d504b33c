package reprocess

import (
	"strconv"
	"strings"
)

// Finding is something that somebody has to put right by a day, with what shows that it was.
// It is about a kit, about an entry, or about neither.
type Finding struct {
	ID     string  `json:"id"`
	Text   string  `json:"text"`
	Action string  `json:"action,omitempty"` // what is to be done
	Owner  string  `json:"owner"`            // person id
	Due    Date    `json:"due"`
	Kit    string  `json:"kit,omitempty"`
	Entry  int64   `json:"entry,omitempty"` // what it was found in
	At     Instant `json:"at"`
	By     string  `json:"by"`

	Closed   Instant `json:"closed,omitempty"`
	ClosedBy string  `json:"closed_by,omitempty"`
	Done     string  `json:"done,omitempty"`     // what was done
	Evidence string  `json:"evidence,omitempty"` // "entry 123", or the hash of a kept file
}

// Overdue tells whether it is open past its day; on the day itself it is not.
func (f *Finding) Overdue(today Date) bool { return f.Closed == 0 && today > f.Due }

type (
	// FindingOpened adds a finding; when and by whom are the entry's.
	FindingOpened struct{ Finding }
	// FindingMoved gives it another owner or day.
	FindingMoved struct {
		Finding string `json:"finding"`
		Owner   string `json:"owner"`
		Due     Date   `json:"due"`
		Reason  string `json:"reason"`
	}
	// FindingClosed says what was done and what shows it.
	FindingClosed struct {
		Finding  string `json:"finding"`
		Done     string `json:"done"`
		Evidence string `json:"evidence"`
	}
)

// EventName is "finding_opened".
func (FindingOpened) EventName() string { return "finding_opened" }

// EventName is "finding_moved".
func (FindingMoved) EventName() string { return "finding_moved" }

// EventName is "finding_closed".
func (FindingClosed) EventName() string { return "finding_closed" }

// The acts on findings: anybody may find something, its owner or a judge ends it.
const (
	ActFinding      Act = "finding"
	ActFindingMove  Act = "finding_move"
	ActFindingClose Act = "finding_close"
)

// farthestDue bounds the day of a finding, in days from today.
const farthestDue = 366

// OpenFinding writes a finding down.
type OpenFinding struct {
	Text   string `json:"text"`
	Action string `json:"action,omitempty"`
	Owner  string `json:"owner"`
	Due    Date   `json:"due"`
	Kit    string `json:"kit,omitempty"`
	Entry  int64  `json:"entry,omitempty"`
}

// MoveFinding gives a finding another owner or another day, with a reason.
type MoveFinding struct {
	Finding string `json:"finding"`
	Owner   string `json:"owner"`
	Due     Date   `json:"due"`
	Reason  string `json:"reason"`
}

// CloseFinding ends a finding. Evidence is "entry 123" or the SHA-256 of a file that the
// server stored before.
type CloseFinding struct {
	Finding  string `json:"finding"`
	Done     string `json:"done"`
	Evidence string `json:"evidence"`
}

// Act is "finding".
func (OpenFinding) Act() Act { return ActFinding }

// Act is "finding_move".
func (MoveFinding) Act() Act { return ActFindingMove }

// Act is "finding_close".
func (CloseFinding) Act() Act { return ActFindingClose }

// Needs the kit, when it is about one.
func (f OpenFinding) Needs() Needs { return Needs{Kit: f.Kit} }

// Needs the finding.
func (f MoveFinding) Needs() Needs { return Needs{Rows: []Ref{{TableFinding, f.Finding}}} }

// Needs the finding.
func (f CloseFinding) Needs() Needs { return Needs{Rows: []Ref{{TableFinding, f.Finding}}} }

func (f OpenFinding) decide(c *Case) *Problem {
	text, p := need("What was found", f.Text, 200)
	if p != nil {
		return p
	}
	action, p := clean("What is to be done", f.Action, 200)
	if p != nil {
		return p
	}
	if f.Kit != "" {
		if _, p := c.kit(f.Kit); p != nil {
			return p
		}
	}
	if f.Entry < 0 || f.Entry >= c.Seq {
		return missing("entry")
	}
	owner, due, p := c.charged(f.Owner, f.Due)
	if p != nil {
		return p
	}
	c.emit(FindingOpened{Finding{ID: c.id("F", 0), Text: text, Action: action, Owner: owner,
		Due: due, Kit: f.Kit, Entry: f.Entry, At: c.Now.UTC, By: c.Actor.Person.ID}})
	return nil
}

// charged checks who is to put it right and by when.
func (c *Case) charged(owner string, due Date) (string, Date, *Problem) {
	who, p := c.onStaff(owner)
	if p != nil {
		return "", "", p
	}
	day, err := ParseDate(string(due))
	if err != nil {
		return "", "", invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	today := c.Now.Today()
	if day < today || day > today.AddDays(farthestDue) {
		return "", "", invalid("date", "Choose a day from today on and within a year.",
			"%s is no day to put it right by.", Day(day))
	}
	return who.ID, day, nil
}

// openFinding finds one that is open.
func (c *Case) openFinding(id string) (*Finding, *Problem) {
	f := c.W.Findings[id]
	if f == nil {
		return nil, missing("finding")
	}
	if f.Closed != 0 {
		return nil, conflict("closed", "Open another one if it came back.",
			"This finding was closed on %s.", Day(DateIn(f.Closed, c.Now.Zone)))
	}
	return f, nil
}

func (f MoveFinding) decide(c *Case) *Problem {
	v, p := c.openFinding(f.Finding)
	if p != nil {
		return p
	}
	owner, due, p := c.charged(f.Owner, f.Due)
	if p != nil {
		return p
	}
	if owner == v.Owner && due == v.Due {
		return conflict("already_done", "Nothing to do.", "It has this owner and this day already.")
	}
	reason, p := need("The reason", f.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(FindingMoved{Finding: v.ID, Owner: owner, Due: due, Reason: reason})
	return nil
}

func (f CloseFinding) decide(c *Case) *Problem {
	v, p := c.openFinding(f.Finding)
	if p != nil {
		return p
	}
	if me := c.Actor.Person; me.ID != v.Owner && !me.Has(judges...) {
		return &Problem{Code: Forbidden, Rule: "not_owner",
			Text: "Only its owner, infection control or a supervisor closes a finding.",
			Fix:  "Ask one of them."}
	}
	done, p := need("What was done", f.Done, 200)
	if p != nil {
		return p
	}
	evidence, p := c.evidence(f.Evidence)
	if p != nil {
		return p
	}
	c.emit(FindingClosed{Finding: v.ID, Done: done, Evidence: evidence})
	return nil
}

// evidence reads the hash of a kept file, or the number of an entry that is there.
func (c *Case) evidence(text string) (string, *Problem) {
	if isHash(text) {
		return text, nil
	}
	figures := strings.TrimPrefix(text, "entry ")
	n, err := strconv.ParseInt(figures, 10, 64)
	if err != nil || strconv.FormatInt(n, 10) != figures || n < 1 || n >= c.Seq {
		return "", invalid("evidence",
			"Type the number of the entry that shows it, or add a picture.",
			"What shows that it was put right is not there.")
	}
	return "entry " + figures, nil
}
