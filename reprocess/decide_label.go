package reprocess

import (
	"fmt"
	"time"
)

// IssueBlanks adds blank numbered codes for a roll or sheet.
type IssueBlanks struct {
	Codes []string `json:"codes"`
	First int      `json:"first"` // printed number of the first
}

// Reissue gives a piece or container a new code and withdraws the old ones at once.
type Reissue struct {
	Kit    string   `json:"kit,omitempty"`
	Kind   CodeKind `json:"kind"`
	Target string   `json:"target"`
	Code   string   `json:"code"`          // new, or a blank one from the roll
	Old    []string `json:"old,omitempty"` // every code in force for it
	Reason string   `json:"reason"`
}

// Act is "label".
func (IssueBlanks) Act() Act { return ActLabel }

// Act is "label_bind".
func (Reissue) Act() Act { return ActLabelBind }

// Needs the labels, so that none is issued twice.
func (i IssueBlanks) Needs() Needs { return Needs{Labels: i.Codes} }

// Needs the target and the labels.
func (r Reissue) Needs() Needs {
	n := Needs{Kit: r.Kit, Labels: append([]string{r.Code}, r.Old...)}
	switch r.Kind {
	case CodePiece:
		n.Pieces = []string{r.Target}
	case CodeContainer:
		n.Containers = []string{r.Target}
	}
	return n
}

// mostBlanks bounds one act, so that its entry stays small.
const mostBlanks = 200

func (i IssueBlanks) decide(c *Case) *Problem {
	if len(i.Codes) == 0 || len(i.Codes) > mostBlanks || i.First < 1 || i.First > 9_999_999 {
		return invalid("number", "Ask for 1 to 200 labels.", "%d labels were asked for.", len(i.Codes))
	}
	for n, code := range i.Codes {
		if c.W.Labels[code] != nil {
			return conflict("label_taken", "Try again.", "A code was drawn twice.")
		}
		c.emit(LabelIssued{Label{Code: code, Kind: CodeBlank, Number: fmt.Sprint(i.First + n)}})
	}
	return nil
}

func (r Reissue) decide(c *Case) *Problem {
	reason, p := need("Reason", r.Reason, 120)
	if p != nil {
		return p
	}
	switch {
	case r.Kind == CodePiece && c.W.Pieces[r.Target] == nil:
		return missing("piece")
	case r.Kind == CodeContainer && c.W.Containers[r.Target] == nil:
		return missing("container")
	case r.Kind == CodeSlip && c.W.Kits[r.Target] == nil:
		return missing("kit")
	case r.Kind != CodePiece && r.Kind != CodeContainer && r.Kind != CodeSlip:
		return invalid("kind", "Choose a piece or a container.", "%q gets no label.", r.Kind)
	}
	if p := r.ofKit(c); p != nil {
		return p
	}
	for _, l := range c.W.Labels {
		if l.Target == r.Target && l.Kind == r.Kind && l.Withdrawn == 0 {
			c.emit(LabelWithdrawn{Code: l.Code, Reason: reason})
		}
	}
	if l := c.W.Labels[r.Code]; l != nil {
		if p := bindable(l); p != nil {
			return p
		}
		c.emit(LabelBound{Code: l.Code, Kind: r.Kind, Target: r.Target})
		return nil
	}
	c.emit(LabelIssued{Label{Code: r.Code, Kind: r.Kind, Target: r.Target}})
	return nil
}

// ofKit refuses a kit that the piece or slip does not belong to; none may be named.
func (r Reissue) ofKit(c *Case) *Problem {
	switch {
	case r.Kit == "":
		return nil
	case r.Kind == CodePiece:
		_, p := c.pieceOf(r.Kit, r.Target)
		return p
	case r.Kind == CodeSlip && r.Kit != r.Target:
		return conflict("other_kit", "Open the kit again.", "This slip belongs to another kit.")
	}
	return nil
}

func dayStart(d Date, now Now) Instant {
	zone := now.Zone
	if zone == nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation(DateLayout, string(d), zone)
	if err != nil {
		return 0
	}
	return InstantOf(t)
}
