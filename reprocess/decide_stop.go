package reprocess

// StopKit takes a kit out of use because its last release is in doubt: what is on the shelf or
// at the bench is embargoed, what is with a wearer is recalled. Infection control signs it.
type StopKit struct {
	Kit      string `json:"kit"`
	Reason   string `json:"reason"`
	LookBack int64  `json:"look_back,omitempty"` // entry of the look-back that named it
}

// LiftStop is the signed end of it: what lay here has to be reprocessed again, what is with a
// wearer stays there as an ordinary loan.
type LiftStop struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason"`
}

// Act is "embargo".
func (StopKit) Act() Act { return ActEmbargo }

// Act is "embargo_lift".
func (LiftStop) Act() Act { return ActEmbargoLift }

// Needs the kit.
func (s StopKit) Needs() Needs { return Needs{Kit: s.Kit} }

// Needs the kit.
func (l LiftStop) Needs() Needs { return Needs{Kit: l.Kit} }

func (s StopKit) decide(c *Case) *Problem {
	k, p := c.kit(s.Kit)
	if p != nil {
		return p
	}
	reason, p := need("The reason", s.Reason, 200)
	if p != nil {
		return p
	}
	if s.LookBack < 0 || s.LookBack >= c.Seq {
		return invalid("look_back", "Open the look-back again.", "Entry %d is no look-back.",
			s.LookBack)
	}
	before := len(c.events)
	c.stop(k, reason, s.LookBack)
	if len(c.events) == before {
		return conflict("already_done", "Nothing to do.",
			"Kit %s is stopped or called back already, or none of it is in use.", k.Number)
	}
	return nil
}

// stopped is where a piece goes when its kit is stopped; false: it stays as it is.
func stopped(s State) (State, bool) {
	switch s {
	case Issued:
		return Recalled, true
	case Released, Returned, InReprocessing, AwaitingRelease, Quarantined:
		return Embargoed, true
	}
	return s, false
}

// stop moves every piece that is in use; a recalled one goes on hold when it comes back.
func (c *Case) stop(k *Kit, reason string, lookBack int64) {
	for _, id := range k.Pieces {
		piece := c.W.Pieces[id]
		if piece == nil {
			continue
		}
		to, moves := stopped(piece.State)
		if !moves {
			continue
		}
		e := PieceMoved{Piece: id, State: to, Reason: reason, LookBack: lookBack}
		if to == Recalled {
			e.OnReturn = reason
		}
		c.emit(e)
	}
}

func (l LiftStop) decide(c *Case) *Problem {
	k, p := c.kit(l.Kit)
	if p != nil {
		return p
	}
	reason, p := need("The reason", l.Reason, 200)
	if p != nil {
		return p
	}
	before := len(c.events)
	for _, id := range k.Pieces {
		piece := c.W.Pieces[id]
		switch {
		case piece == nil:
		case piece.State == Embargoed:
			c.emit(PieceMoved{Piece: id, State: Returned, Reason: reason})
		case piece.State == Recalled:
			c.emit(PieceMoved{Piece: id, State: Issued, Reason: reason})
		}
	}
	if len(c.events) == before {
		return refuse("not_stopped", "Open the kit and look where it stands.",
			"Kit %s is neither stopped nor called back.", k.Number)
	}
	return nil
}

// backFromRecall puts what was called back on hold: infection control decides how it goes on.
func (c *Case) backFromRecall(came []string) {
	for _, id := range came {
		if p := c.W.Pieces[id]; p != nil && p.OnReturn != "" {
			c.emit(Held{Piece: id, Grade: GradeInfection, Reason: "called_back", Note: p.OnReturn})
		}
	}
}
