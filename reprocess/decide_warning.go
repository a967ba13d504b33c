package reprocess

import "fmt"

// NoteWarning keeps what a maker or an authority wrote: which serials and lots are affected.
// The pieces are put on hold and the lots stopped by acts of their own, each in the chain of
// its kit; the list is compared anew whenever somebody opens it.
type NoteWarning struct {
	Ref     string `json:"ref"` // who wrote, when, about what
	Serials string `json:"serials,omitempty"`
	Lots    string `json:"lots,omitempty"`
}

// HoldAffected puts pieces of one kit (or one loose piece, with no kit) on hold for a warning. A
// piece that is with a wearer is on hold as soon as it is taken back.
type HoldAffected struct {
	Kit     string   `json:"kit,omitempty"`
	Pieces  []string `json:"pieces"`
	Warning int64    `json:"warning"` // the entry that keeps the list
	Ref     string   `json:"ref"`
}

// WarningNoted keeps the list. It changes nothing.
type WarningNoted struct {
	Ref     string   `json:"ref"`
	Serials []string `json:"serials,omitempty"` // line by line
	Lots    []string `json:"lots,omitempty"`
}

// EventName is the stable text "warning_noted".
func (WarningNoted) EventName() string { return "warning_noted" }

// The acts on warnings.
const (
	ActWarning     Act = "maker_warning"
	ActWarningHold Act = "maker_warning_hold"
)

// ReasonWarned is the reason of a hold that a maker's warning set.
const ReasonWarned = "maker_warned"

// Act is "maker_warning".
func (NoteWarning) Act() Act { return ActWarning }

// Act is "maker_warning_hold".
func (HoldAffected) Act() Act { return ActWarningHold }

// Needs nothing: the list is compared with what is ours when it is read.
func (NoteWarning) Needs() Needs { return Needs{} }

// Needs the kit and the pieces.
func (h HoldAffected) Needs() Needs { return Needs{Kit: h.Kit, Pieces: h.Pieces} }

func (n NoteWarning) decide(c *Case) *Problem {
	ref, p := need("What the warning is", n.Ref, 120)
	if p != nil {
		return p
	}
	a, p := FindAffected(NewWorld(), n.Serials, n.Lots)
	if p != nil {
		return p
	}
	if !a.understood() {
		return invalid("empty", "Type at least one serial or lot number.",
			"Nothing in the lists can be read as a number.")
	}
	c.emit(WarningNoted{Ref: ref, Serials: ListLines(n.Serials), Lots: ListLines(n.Lots)})
	return nil
}

func (h HoldAffected) decide(c *Case) *Problem {
	ref, p := need("What the warning is", h.Ref, 120)
	if p != nil {
		return p
	}
	note, held := fmt.Sprintf("Entry %d: %s", h.Warning, ref), 0
	for _, id := range h.Pieces {
		piece, p := c.pieceOf(h.Kit, id)
		if p != nil {
			return p
		}
		if HeldFor(piece, h.Warning) {
			continue
		}
		held++
		c.emit(Held{Piece: piece.ID, Grade: GradeHold, Reason: ReasonWarned, Note: note})
	}
	if held == 0 {
		return conflict("already_done", "Nothing to do.", "These are on hold for this warning already.")
	}
	return nil
}

// HeldFor tells whether a piece is on hold for a warning.
func HeldFor(p *Piece, warning int64) bool {
	for _, h := range p.Holds {
		var n int64
		if h.Reason != ReasonWarned {
			continue
		}
		if _, err := fmt.Sscanf(h.Note, "Entry %d:", &n); err == nil && n == warning {
			return true
		}
	}
	return false
}
