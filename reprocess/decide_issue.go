package reprocess

import "time"

func dueDay(c *Case, days int, due Date) (Date, *Problem) {
	if days < 1 || days > longestLoan {
		return "", invalid("days", "Type a whole number from 1 to 400.",
			"%d planned days cannot be right.", days)
	}
	d, err := ParseDate(string(due))
	if err != nil {
		return "", invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	if d == "" {
		d = c.Now.Today().AddDays(days)
	}
	if d < c.Now.Today() {
		return "", invalid("date", "Choose a day from today on.", "%s is past.", Day(d))
	}
	return d, nil
}

// HandOutAfter records after the fact that a kit went out without a release or without a
// record. It raises an alarm, puts the kit on call-back and enters the look-back.
type HandOutAfter struct {
	Kit    string  `json:"kit"`
	Wearer string  `json:"wearer,omitempty"`
	Out    Instant `json:"out,omitempty"` // zero: nobody knows
	Reason string  `json:"reason"`
}

// Act is "issue_after_the_fact".
func (HandOutAfter) Act() Act { return ActIssueAfter }

// Needs the kit.
func (h HandOutAfter) Needs() Needs { return Needs{Kit: h.Kit} }

func (h HandOutAfter) decide(c *Case) *Problem {
	k, p := c.kit(h.Kit)
	if p != nil {
		return p
	}
	reason, p := need("How it happened", h.Reason, 200)
	if p != nil {
		return p
	}
	l := Loan{ID: c.id("L", 0), Kit: k.ID, Pieces: k.Pieces, Wearer: h.Wearer, Out: h.Out,
		After: true}
	l.Flags, _ = c.pending(k) // they went out with it, and come back with it
	if up := c.W.Loans[k.Loan]; up.Open() {
		if p := wardAfter(k, up); p != nil {
			return p
		}
		l.Ward, l.Under, l.Due, l.Flags = up.Ward, up.ID, up.Due, carried(up.Flags, l.Flags)
	}
	if h.Out > c.Now.UTC {
		return invalid("time", "Type when it left.", "%s is still to come.", h.Out)
	}
	c.emit(HandedOut{l})
	for _, id := range k.Pieces {
		c.emit(PieceMoved{Piece: id, State: Recalled, Reason: reason})
	}
	return nil
}

// Extend changes the planned days of an open loan, counted from the hand-out.
type Extend struct {
	Kit  string `json:"kit"`
	Days int    `json:"days"`
}

// Act is "extend".
func (Extend) Act() Act { return ActExtend }

// Needs the kit with its loan.
func (e Extend) Needs() Needs { return Needs{Kit: e.Kit} }

func (e Extend) decide(c *Case) *Problem {
	k, p := c.kit(e.Kit)
	if p != nil {
		return p
	}
	l := c.W.Loans[k.Loan]
	if !l.Open() {
		return refuse("not_out", "Hand it out first.", "Kit %s is not out.", k.Number)
	}
	out := c.Now.Today()
	if l.Out != 0 {
		out = DateIn(l.Out, c.Now.Zone)
	}
	due, p := dueDay(c, e.Days, out.AddDays(e.Days))
	if p != nil {
		return p
	}
	c.emit(LoanExtended{Loan: l.ID, Days: e.Days, Due: due})
	if up := c.keeping(k); up != l { // the ward keeps it as long as its wearer wears it
		c.emit(LoanExtended{Loan: up.ID, Days: e.Days, Due: due})
	}
	return nil
}

// UndoHandOut says that the pack never left or came back sealed, within a day.
type UndoHandOut struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason"`
}

// Act is "issue_undo".
func (UndoHandOut) Act() Act { return ActIssueUndo }

// Needs the kit with its loan.
func (u UndoHandOut) Needs() Needs { return Needs{Kit: u.Kit} }

func (u UndoHandOut) decide(c *Case) *Problem {
	k, p := c.kit(u.Kit)
	if p != nil {
		return p
	}
	l := c.W.Loans[k.Loan]
	switch {
	case !l.Open():
		return refuse("not_out", "Nothing to do.", "Kit %s is not out.", k.Number)
	case l.After || l.TakenOver || k.Release == nil || k.Release.Seq != l.Release:
		return refuse("not_sealed", "Take it back.",
			"Kit %s did not go out on a release of this log.", k.Number)
	case l.OnWard() || l.Worn > 0:
		return refuse("worn_on_ward", "Record that the wearer gave it back, or take it back.",
			"Kit %s was put on on %s; that is not undone.", k.Number, l.Ward)
	case c.Now.UTC.Sub(l.Out) > 24*time.Hour:
		return refuse("undo_late", "Take it back.", "It went out more than a day ago.")
	}
	reason, p := need("Reason", u.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(HandOutUndone{Loan: l.ID, Kit: k.ID, Reason: reason})
	return nil
}

// BreakRelease says that a released pack was opened, got wet or was dropped.
type BreakRelease struct {
	Kit string `json:"kit"`
	Why string `json:"why"` // opened, wet, dropped
}

// Act is "break_release".
func (BreakRelease) Act() Act { return ActBreakRelease }

// Needs the kit.
func (b BreakRelease) Needs() Needs { return Needs{Kit: b.Kit} }

func (b BreakRelease) decide(c *Case) *Problem {
	k, p := c.kit(b.Kit)
	if p != nil {
		return p
	}
	if !contains([]string{"opened", "wet", "dropped"}, b.Why) {
		return invalid("why", "Choose opened, wet or dropped.", "%q is not one of the reasons.", b.Why)
	}
	if k.Release == nil || KitState(k, c.W.Pieces) != Released {
		return conflict("not_released", "Nothing to do.", "Kit %s is not released.", k.Number)
	}
	c.emit(ReleaseBroken{Kit: k.ID, Why: b.Why})
	return nil
}

// Recheck renews a lapsed release after a look at the unopened pack; no cycle is needed.
type Recheck struct {
	Kit string `json:"kit"`
}

// Act is "recheck".
func (Recheck) Act() Act { return ActRecheck }

// Needs the kit with its release.
func (r Recheck) Needs() Needs { return Needs{Kit: r.Kit} }

func (r Recheck) decide(c *Case) *Problem {
	k, p := c.kit(r.Kit)
	if p != nil {
		return p
	}
	a := CanHandOut(c.W, k, c.Now)
	switch {
	case a.Released:
		return conflict("already_done", "Nothing to do.", "Kit %s is released.", k.Number)
	case a.Rule != "lapsed":
		return refuse("not_lapsed", a.Ask, "A re-check does not help here: %s", a.Reason)
	case k.Release.TakenOver:
		return refuse("taken_over", "Reprocess it.",
			"Kit %s was released on paper only; it needs a cycle of this log.", k.Number)
	}
	days := 0
	for _, line := range k.Release.Cycles {
		if cy := c.W.Cycles[line.Cycle]; cy != nil {
			if proc := c.W.Procedures[cy.Procedure]; proc != nil && proc.ReleaseDays > 0 {
				days = shorter(days, proc.ReleaseDays)
			}
		}
	}
	if days == 0 {
		return refuse("unknown_days", "Reprocess it.", "How long a re-check holds is not recorded.")
	}
	c.emit(Rechecked{Kit: k.ID, Until: c.Now.UTC.Add(time.Duration(days) * 24 * time.Hour)})
	return nil
}

func shorter(a, b int) int {
	if a == 0 {
		return b
	}
	return min(a, b)
}

// Aside sets one piece aside: missing, out for repair (with a declaration), retired; or
// brings it back as returned, never as released.
type Aside struct {
	Kit         string `json:"kit"`
	Piece       string `json:"piece"`
	To          State  `json:"to"`
	Reason      string `json:"reason"`
	Declaration string `json:"declaration,omitempty"` // for repair: one of the three
}

// The declarations of contamination status: exactly three, exclusive.
const (
	NotExposed        = "not_exposed"
	Decontaminated    = "decontaminated"
	StillContaminated = "still_contaminated"
)

// Act is "aside".
func (Aside) Act() Act { return ActAside }

// Needs the kit and the piece.
func (a Aside) Needs() Needs { return Needs{Kit: a.Kit, Pieces: []string{a.Piece}} }

func (a Aside) decide(c *Case) *Problem {
	piece, p := c.pieceOf(a.Kit, a.Piece)
	if p != nil {
		return p
	}
	reason, p := need("Reason", a.Reason, 200)
	if p != nil {
		return p
	}
	if p := a.allowed(c, piece); p != nil {
		return p
	}
	if a.Declaration != "" {
		reason = a.Declaration + ": " + reason
	}
	c.emit(PieceMoved{Piece: piece.ID, State: a.To, Reason: reason})
	return nil
}

func (a Aside) allowed(c *Case, piece *Piece) *Problem {
	switch a.To {
	case Missing:
		return nil
	case Retired:
		if !c.Actor.Person.Has(RoleSupervisor, RoleTechnician) {
			return &Problem{Code: Forbidden, Rule: "role", Fix: "Ask a supervisor or a technician.",
				Text: c.Actor.Person.Name + " may not retire a piece."}
		}
		return nil
	case Returned:
		if k := c.W.Kits[a.Kit]; piece.State == Missing && k != nil && k.Loss.Open() {
			return refuse("found", "Take the kit back: it has to be asked what is on it.",
				"Kit %s was declared missing.", k.Number)
		}
		if piece.State == Missing || piece.State == OutForRepair {
			return nil
		}
		return refuse("not_aside", "Take the kit back instead.",
			"This %s is neither missing nor out for repair.", piece.Kind)
	case OutForRepair:
		return a.declared(c, piece)
	}
	return invalid("state", "Choose missing, repair, retired or returned.",
		"A piece is not set to %s by hand.", a.To)
}

func (a Aside) declared(c *Case, piece *Piece) *Problem {
	switch a.Declaration {
	case Decontaminated:
		return repairDeclared(c, piece, OutForRepair)
	case StillContaminated:
		return nil
	case NotExposed:
		if piece.State == Registered {
			return nil
		}
		return refuse("declaration", "Declare what was done, or what is still contaminated.",
			"This %s has been in use; it cannot be declared as not exposed.", piece.Kind)
	}
	return invalid("declaration", "Choose one of the three declarations.",
		"A piece goes to repair only with a declaration of its contamination status.")
}
