package reprocess

import "strings"

// What is done about a piece that a look-back names.
const (
	DoCallBack = "call_back"
	DoStop     = "stop"
	DoRestart  = "restart"
)

// NamedPiece is one piece that a frozen look-back names, what is to be done about it, and where
// it stood then. What has begun another cycle or loan since is not acted on unseen.
type NamedPiece struct {
	Kit   string `json:"kit,omitempty"`
	Piece string `json:"piece"`
	Do    string `json:"do"`
	Cycle string `json:"cycle,omitempty"`
	Loan  string `json:"loan,omitempty"`
}

// ActOnLookBack is the signed act on everything that a frozen look-back names. The acts on the
// kits follow it in the same transaction, each in the chain of its kit (ActOnKit).
type ActOnLookBack struct {
	LookBack string `json:"look_back"`
	Reason   string `json:"reason"`
	CallBack int    `json:"call_back"`
	Stop     int    `json:"stop"`
	Restart  int    `json:"restart"`
	Kits     int    `json:"kits"`
}

// ActOnKit acts on the named pieces of one kit, or on one loose piece.
type ActOnKit struct {
	LookBack string       `json:"look_back"`
	Kit      string       `json:"kit,omitempty"`
	Reason   string       `json:"reason"`
	Pieces   []NamedPiece `json:"pieces"`
}

// CycleRestarted breaks off the running cycle of a piece; it begins again with the first step.
type CycleRestarted struct {
	Kit      string `json:"kit"`
	Piece    string `json:"piece"`
	Cycle    string `json:"cycle"`
	Reason   string `json:"reason"`
	LookBack int64  `json:"look_back"` // entry of the look-back that named it
}

// EventName is "cycle_restarted".
func (CycleRestarted) EventName() string { return "cycle_restarted" }

// Act is "look_back_act".
func (ActOnLookBack) Act() Act { return ActOnNamed }

// Act is "look_back_act".
func (ActOnKit) Act() Act { return ActOnNamed }

// Needs the look-back.
func (a ActOnLookBack) Needs() Needs { return Needs{Rows: []Ref{{TableLookBack, a.LookBack}}} }

// Needs the look-back, the kit and the pieces.
func (a ActOnKit) Needs() Needs {
	n := Needs{Kit: a.Kit, Rows: []Ref{{TableLookBack, a.LookBack}}}
	for _, p := range a.Pieces {
		n.Pieces = append(n.Pieces, p.Piece)
	}
	return n
}

// mayActOn holds both acts to the same: a frozen look-back, a reason, two people where the
// clinic asks for two.
func (c *Case) mayActOn(id, reason string) (*FrozenLookBack, string, *Problem) {
	l := c.W.LookBacks[id]
	if l == nil {
		return nil, "", missing("frozen look-back")
	}
	reason, p := need("The reason", reason, 200)
	if p == nil && c.W.Settings.TwoToStop {
		p = c.secondToStop()
	}
	return l, reason, p
}

// secondToStop wants another person beside, who may decide the same.
func (c *Case) secondToStop() *Problem {
	const another = "Ask another of infection control or the supervisors to sign beside you."
	right, _ := FindRight(ActOnNamed)
	second := c.Actor.Second
	switch {
	case second == nil:
		return refuse("second_person", another, "This clinic wants two people to sign this.")
	case second.ID == c.Actor.Person.ID:
		return refuse("second_same", another, "The same person cannot sign twice.")
	case second.Left != "" && c.Now.Today() > second.Left:
		return refuse("second_left", another, "%s left on %s.", second.Name, Day(second.Left))
	case !second.Has(right.Roles...):
		return refuse("second_role", another, "%s may not %s.", second.Name, right.Words)
	}
	return nil
}

func (a ActOnLookBack) decide(c *Case) *Problem {
	l, reason, p := c.mayActOn(a.LookBack, a.Reason)
	switch {
	case p != nil:
		return p
	case a.CallBack < 0 || a.Stop < 0 || a.Restart < 0 || a.Kits < 1 ||
		a.CallBack+a.Stop+a.Restart < a.Kits:
		return refuse("nothing_named", "Nothing to do.",
			"This look-back names nothing to call back, stop or start again.")
	}
	c.emit(LookBackActed{LookBack: l.ID, Reason: reason, CallBack: a.CallBack, Stop: a.Stop,
		Restart: a.Restart, Kits: a.Kits})
	return nil
}

func (a ActOnKit) decide(c *Case) *Problem {
	l, reason, p := c.mayActOn(a.LookBack, a.Reason)
	if p != nil {
		return p
	}
	if a.Kit == "" {
		return a.loose(c)
	}
	k, p := c.kit(a.Kit)
	if p != nil {
		return p
	}
	var left []string
	stops := false
	for _, n := range a.Pieces {
		piece, p := c.piece(n.Piece)
		if p != nil {
			return p
		}
		why, kind := n.standsOtherwise(c, k, piece), string(piece.Kind)
		switch {
		case why != "":
			left = append(left, "the "+kind+" "+why)
		case n.Do == DoRestart:
			c.emit(CycleRestarted{k.ID, piece.ID, n.Cycle, reason, l.Seq})
		default:
			stops = true
		}
	}
	if stops { // whatever of the kit is in use: a kit goes out whole
		c.events = nil
		c.stop(k, reason, l.Seq)
		if len(c.events) == 0 {
			left = append(left, "none of it is in use")
		}
	}
	if len(c.events) == 0 {
		return conflict("not_as_named", "Look back again: it may have to be named anew.",
			"Kit %s was left as it is: %s.", k.Number, strings.Join(left, "; "))
	}
	return nil
}

// loose says why a piece in no kit is left: nothing in no kit can be handed out.
func (a ActOnKit) loose(c *Case) *Problem {
	if len(a.Pieces) != 1 {
		return invalid("pieces", "Look back again.", "One piece in no kit is named at a time.")
	}
	piece, p := c.piece(a.Pieces[0].Piece)
	if p != nil {
		return p
	}
	return conflict("not_as_named", "Reprocess it before it goes into a kit.",
		"The %s %s was left as it is: it is in no kit, and %s.", piece.Kind, piece.Serial,
		StateWords(piece.State))
}

// standsOtherwise says why a named piece is not acted on; "" when it stands as it was named.
func (n NamedPiece) standsOtherwise(c *Case, k *Kit, piece *Piece) string {
	cycle := c.W.Cycles[piece.Cycle]
	switch {
	case piece.Kit != k.ID:
		return "is in this kit no more"
	case piece.State == Embargoed:
		return "is stopped already"
	case piece.State == Recalled:
		return "is called back already"
	case piece.State == OutForRepair:
		return "is out for repair: tell whoever has it"
	case piece.State == Missing || piece.State == Retired:
		return "is " + piece.State.String()
	case piece.Cycle != n.Cycle:
		return "began another cycle since"
	case n.Do == DoRestart && (cycle == nil || cycle.Ended == 0):
		return ""
	case n.Do == DoRestart && cycle.End == EndReleased:
		return "was released since"
	case n.Do == DoRestart:
		return "is started again already"
	case n.Do == DoCallBack && piece.State != Issued:
		return "came back since and has to be reprocessed before it is released"
	case n.Do == DoStop && piece.State == Issued:
		return "" // it went out since: it is called back
	}
	return ""
}

// restart folds it: the cycle ends, the piece waits for its next one, and the time it came back
// stays what it was.
func (w *World) restart(e *Entry, v CycleRestarted) {
	if p := w.Pieces[v.Piece]; p == nil || p.Cycle != v.Cycle {
		return
	}
	w.breakOff(e, v.Piece)
	w.setState(v.Piece, Returned)
	w.changeKit(v.Kit, func(k *Kit) { k.Release, k.Since = nil, e.At })
}

// SetStopRule says whether two people sign what a look-back stops. One instead of two has to be
// signed.
type SetStopRule struct {
	Two bool `json:"two"`
}

// Act is "policy".
func (SetStopRule) Act() Act { return ActPolicy }

// Needs nothing.
func (SetStopRule) Needs() Needs { return Needs{} }

func (s SetStopRule) decide(c *Case) *Problem {
	v := c.W.Settings
	switch {
	case v.TwoToStop == s.Two:
		return conflict("already_done", "Nothing to do.", "This is the rule already.")
	case !s.Two && !c.Actor.Signed:
		return &Problem{Code: Forbidden, Rule: "loosened",
			Text: "One person instead of two has to be signed.",
			Fix:  "Enter your own secret and try again."}
	}
	v.TwoToStop = s.Two
	c.emit(SettingsSet{v})
	return nil
}
