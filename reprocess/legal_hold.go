package reprocess

import "slices"

// LegalHold keeps what would otherwise be erased or removed, because somebody may still ask
// for it: of a kit, of one loan, or of a period. It stands until a supervisor lifts it.
type LegalHold struct {
	ID         string  `json:"id"` // H and the number of the entry that set it
	Kit        string  `json:"kit,omitempty"`
	Loan       string  `json:"loan,omitempty"`
	From       Date    `json:"from,omitempty"` // a period: its first day
	To         Date    `json:"to,omitempty"`   // its last day, empty: open
	Reason     string  `json:"reason"`
	At         Instant `json:"at"`
	By         string  `json:"by"`
	Lifted     Instant `json:"lifted,omitempty"`
	LiftedBy   string  `json:"lifted_by,omitempty"`
	LiftReason string  `json:"lift_reason,omitempty"`
}

// The acts of legal holds.
const (
	ActLegalHold Act = "legal_hold"
	ActLegalLift Act = "legal_hold_lift"
)

// TableLegalHold holds the legal holds, lifted ones too.
const TableLegalHold Table = "legal_hold"

// SetLegalHold sets a hold on exactly one of a kit, a loan and a period.
type SetLegalHold struct {
	Kit    string `json:"kit,omitempty"`
	Loan   string `json:"loan,omitempty"`
	From   Date   `json:"from,omitempty"`
	To     Date   `json:"to,omitempty"`
	Reason string `json:"reason"`
}

// LiftLegalHold ends one.
type LiftLegalHold struct {
	Hold   string `json:"hold"`
	Reason string `json:"reason"`
}

type (
	// LegalHoldSet begins a legal hold.
	LegalHoldSet struct {
		ID     string `json:"id"`
		Kit    string `json:"kit,omitempty"`
		Loan   string `json:"loan,omitempty"`
		From   Date   `json:"from,omitempty"`
		To     Date   `json:"to,omitempty"`
		Reason string `json:"reason"`
	}
	// LegalHoldLifted ends one.
	LegalHoldLifted struct {
		Hold   string `json:"hold"`
		Reason string `json:"reason"`
	}
)

// EventName is "legal_hold_set".
func (LegalHoldSet) EventName() string { return "legal_hold_set" }

// EventName is "legal_hold_lifted".
func (LegalHoldLifted) EventName() string { return "legal_hold_lifted" }

// Act is "legal_hold".
func (SetLegalHold) Act() Act { return ActLegalHold }

// Act is "legal_hold_lift".
func (LiftLegalHold) Act() Act { return ActLegalLift }

// Needs what is to be held.
func (s SetLegalHold) Needs() Needs {
	n := Needs{Kit: s.Kit}
	if s.Loan != "" {
		n.Loans = []string{s.Loan}
	}
	return n
}

// Needs nothing: legal holds are always loaded.
func (LiftLegalHold) Needs() Needs { return Needs{} }

func (s SetLegalHold) decide(c *Case) *Problem {
	reason, p := need("The reason", s.Reason, 200)
	if p != nil {
		return p
	}
	if p := s.what(c); p != nil {
		return p
	}
	c.emit(LegalHoldSet{ID: c.id("H", 0), Kit: s.Kit, Loan: s.Loan, From: s.From, To: s.To,
		Reason: reason})
	return nil
}

// what holds the command to one thing that is there.
func (s SetLegalHold) what(c *Case) *Problem {
	named := 0
	for _, given := range []bool{s.Kit != "", s.Loan != "", s.From != "" || s.To != ""} {
		if given {
			named++
		}
	}
	_, errFrom := ParseDate(string(s.From))
	_, errTo := ParseDate(string(s.To))
	switch {
	case named != 1:
		return invalid("hold_what", "Name one of them.",
			"A legal hold is on a kit, on a loan or on a period.")
	case s.Kit != "" && c.W.Kits[s.Kit] == nil:
		return missing("kit")
	case s.Loan != "" && c.W.Loans[s.Loan] == nil:
		return missing("loan")
	case errFrom != nil || errTo != nil || s.To != "" && s.From == "":
		return invalid("date", "Type days like 2026-11-24.",
			"A period needs its first day and, if it ends, its last.")
	case s.To != "" && s.To < s.From:
		return invalid("date", "Change one of the days.",
			"The period ends on %s, before it begins on %s.", s.To, s.From)
	}
	return nil
}

func (l LiftLegalHold) decide(c *Case) *Problem {
	h := c.W.Legal[l.Hold]
	if h == nil {
		return missing("legal hold")
	}
	if h.Lifted != 0 {
		return conflict("already_done", "Nothing to do.", "This legal hold was lifted already.")
	}
	reason, p := need("The reason", l.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(LegalHoldLifted{Hold: h.ID, Reason: reason})
	return nil
}

// applyLegal folds what is about keeping and erasing.
func (w *World) applyLegal(e *Entry, event Event) bool {
	switch v := event.(type) {
	case LegalHoldSet:
		put(w, w.Legal, TableLegalHold, v.ID, LegalHold{ID: v.ID, Kit: v.Kit, Loan: v.Loan,
			From: v.From, To: v.To, Reason: v.Reason, At: e.At, By: e.By})
	case LegalHoldLifted:
		change(w, w.Legal, TableLegalHold, v.Hold, func(h *LegalHold) {
			h.Lifted, h.LiftedBy, h.LiftReason = e.At, e.By, v.Reason
		})
	case WearerErased:
		change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) { l.Erased = e.At })
	default:
		return false
	}
	return true
}

// Holds are the legal holds that stand, oldest first.
type Holds []*LegalHold

// LegalHolds lists the holds that stand in a world whose small tables are loaded.
func LegalHolds(w *World) Holds {
	var all Holds
	for _, h := range w.Legal {
		if h.Lifted == 0 {
			all = append(all, h)
		}
	}
	slices.SortFunc(all, func(a, b *LegalHold) int {
		if a.At != b.At {
			return int(min(max(a.At-b.At, -1), 1))
		}
		return compareText(a.ID, b.ID)
	})
	return all
}

// Keeps finds the first hold that keeps something of a kit, of a loan ("" for none), from a
// moment; nil: nothing holds it. Whoever erases or removes asks this first. A moment of 0 is
// not known and every period keeps it.
func (h Holds) Keeps(kit, loan string, at Instant) *LegalHold { return h.keeps(kit, loan, at, at) }

// KeepsLoan asks the same for everything from hand-out to return; not back yet is up to now
// and beyond.
func (h Holds) KeepsLoan(l *Loan) *LegalHold {
	until := l.Back
	if until == 0 {
		until = farAway
	}
	return h.keeps(l.Kit, l.ID, l.Out, until)
}

// farAway is after every day that can be typed, ms UTC: 9999-12-31.
const farAway = Instant(253402214400000)

func (h Holds) keeps(kit, loan string, from, to Instant) *LegalHold {
	for _, x := range h {
		switch {
		case x.Kit != "" && x.Kit == kit, x.Loan != "" && x.Loan == loan,
			x.From != "" && x.during(from, to):
			return x
		}
	}
	return nil
}

// during tells whether a period and two moments overlap. A day more on either side is kept,
// whatever the zone of the clinic: what is in doubt stays.
func (h *LegalHold) during(from, to Instant) bool {
	if from == 0 || to == 0 {
		return true
	}
	first, last := DateIn(from, nil), DateIn(to, nil)
	return last >= h.From.AddDays(-1) && (h.To == "" || first <= h.To.AddDays(1))
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
