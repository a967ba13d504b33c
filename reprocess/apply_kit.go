package reprocess

// moveTo sets the place, with since when and who.
func (k *Kit) moveTo(place string, e *Entry) {
	if place != "" {
		k.Place, k.PlaceAt, k.PlaceBy = place, e.At, e.By
	}
}

func (k *Kit) endWaiting(reason string) {
	var rest []Waiting
	for _, x := range k.Waiting {
		if x.Reason != reason {
			rest = append(rest, x)
		}
	}
	k.Waiting = rest
}

func (w *World) registerKit(e *Entry, v KitRegistered) {
	v.Kit.Since = e.At
	if v.Kit.Release != nil {
		v.Kit.Release.Seq, v.Kit.Release.At, v.Kit.Release.By = e.Seq, e.At, e.By
	}
	put(w, w.Kits, TableKit, v.Kit.ID, v.Kit)
	for _, p := range v.Pieces {
		put(w, w.Pieces, TablePiece, p.ID, p)
	}
	if v.Loan != nil {
		put(w, w.Loans, TableLoan, v.Loan.ID, *v.Loan)
	}
}

// composeKit makes a kit of the pieces named. Every kit that gains or loses a piece loses its
// release; a piece is in one kit at a time, so one from another kit leaves that kit's list.
// Precautions go with a piece that was not reprocessed under them, or they would be forgotten.
func (w *World) composeKit(e *Entry, v KitComposed) {
	k := w.Kits[v.Kit]
	if k == nil {
		return
	}
	for _, id := range k.Pieces {
		if !contains(v.Pieces, id) {
			w.changePiece(id, func(p *Piece) { p.Kit, p.Flags = "", p.precautions(k) })
		}
	}
	w.endRelease(e, k)
	for _, id := range v.Pieces {
		w.joinKit(e, id, k)
	}
	w.changeKit(v.Kit, func(k *Kit) { k.Pieces = v.Pieces })
}

// joinKit puts a piece into a kit and takes it out of the one it was in, if that is another.
func (w *World) joinKit(e *Entry, piece string, to *Kit) {
	p := w.Pieces[piece]
	if p == nil || p.Kit == to.ID {
		return
	}
	from := w.Kits[p.Kit]
	if more := p.precautions(from); len(more) > 0 {
		to.Flags = carried(more, to.Flags)
	}
	w.changePiece(piece, func(p *Piece) { p.Kit, p.Flags = to.ID, nil })
	if p.State == Released { // a release is of a whole kit
		w.setState(piece, Returned)
	}
	if from == nil {
		return
	}
	w.endRelease(e, from)
	w.changeKit(from.ID, func(k *Kit) {
		var rest []string // a fresh slice: a loan or an entry may share the old one
		for _, id := range k.Pieces {
			if id != piece {
				rest = append(rest, id)
			}
		}
		k.Pieces = rest
	})
}

// precautions are those that still hold for a piece: its own when it is in no kit, else its
// kit's. Once it was released, or before it was ever lent, there are none.
func (p *Piece) precautions(k *Kit) []string {
	switch {
	case p.State == Released || p.State == Registered:
		return nil
	case k == nil:
		return p.Flags
	}
	return k.Flags
}

// endRelease breaks a release that stands.
func (w *World) endRelease(e *Entry, k *Kit) {
	if k.Release != nil {
		w.breakRelease(e, k.ID)
	}
}

// takeBack sets every piece that came to returned, ends the loan and breaks off open cycles:
// whatever was done before does not count for the next wearer. A piece that was out and did
// not come is missing; one that was in the house stays where it stands.
func (w *World) takeBack(e *Entry, v TakenBack) {
	for _, id := range v.Came {
		w.breakOff(e, id)
		// A retired piece that turns up again is here, but stays retired.
		if p := w.Pieces[id]; p == nil || p.State != Retired {
			w.setState(id, Returned)
			w.changePiece(id, func(p *Piece) { p.OnReturn, p.Called = "", nil })
		}
	}
	k := w.Kits[v.Kit]
	if k == nil {
		return
	}
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && !contains(v.Came, id) &&
			(p.State == Issued || p.State == Recalled) {
			w.setState(id, Missing)
		}
	}
	w.changeKit(v.Kit, func(k *Kit) {
		back := v.Return.Paper.or(e.At)
		k.Back, k.Since, k.Release, k.Flags = back, back, nil, v.Return.Flags
		k.Missing, k.Waiting, k.Opened = v.Return.Parts, nil, 0
		k.Return = &v.Return
		if v.Opened {
			k.Opened = back
		}
		k.moveTo(v.Return.Place, e)
	})
	change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) {
		l.Back, l.BackBy, l.Return = v.Return.Paper.or(e.At), e.By, &v.Return
	})
	w.findKit(e, v.Kit)
}

// breakOff ends an open cycle without a release.
func (w *World) breakOff(e *Entry, piece string) {
	p := w.Pieces[piece]
	if p == nil || p.Cycle == "" {
		return
	}
	if c := w.Cycles[p.Cycle]; c != nil && c.Ended == 0 {
		c.Ended, c.End = e.At, EndBrokenOff
		w.touch(TableCycle, c.ID)
	}
}

// setState moves a piece; an open hold keeps it quarantined until it is decided, where it is in
// the house: with a wearer it is issued or recalled whatever is held against it.
func (w *World) setState(piece string, s State) {
	w.changePiece(piece, func(p *Piece) {
		p.TakenOver = false
		if p.Held(GradeHold, GradeInfection) != nil && !heldElsewhere[s] {
			s = Quarantined
		}
		p.State = s
	})
}

// heldElsewhere are the states of a piece that no shelf holds.
var heldElsewhere = map[State]bool{Issued: true, Recalled: true, Missing: true, Retired: true,
	OutForRepair: true}

func (w *World) release(e *Entry, v KitReleased) {
	w.changeKit(v.Kit, func(k *Kit) {
		k.Release = &Release{Seq: e.Seq, At: e.At, By: e.By, Name: v.Name, Meaning: v.Meaning,
			Until: v.Until, Cycles: v.Cycles, Lots: v.Lots, CellDays: v.CellDays,
			CellUntil: v.CellUntil}
		k.Since, k.Waiting = e.At, nil
	})
	for _, l := range v.Cycles {
		w.changePiece(l.Piece, func(p *Piece) { p.State, p.Cycles = Released, p.Cycles+1 })
		change(w, w.Cycles, TableCycle, l.Cycle, func(c *Cycle) {
			c.Ended, c.End, c.Releaser = e.At, EndReleased, e.By
		})
		w.countSupervised(w.Cycles[l.Cycle])
	}
}

// breakRelease takes the standing release away; the pieces fall back to returned, where only
// a re-check (by policy) or a new cycle leads on.
func (w *World) breakRelease(e *Entry, kit string) {
	k := w.Kits[kit]
	if k == nil {
		return
	}
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.State == Released {
			w.setState(id, Returned)
		}
	}
	w.changeKit(kit, func(k *Kit) { k.Release, k.Since = nil, e.At })
}

func (w *World) recheck(e *Entry, v Rechecked) {
	w.changeKit(v.Kit, func(k *Kit) {
		if k.Release != nil {
			k.Release.Until = v.Until
		}
	})
}

func (w *World) hold(e *Entry, v Held) {
	w.changePiece(v.Piece, func(p *Piece) {
		p.Holds = append(p.Holds, Hold{Seq: e.Seq, At: e.At, By: e.By, Grade: v.Grade,
			Reason: v.Reason, Note: v.Note})
		if v.Grade != GradeTechnician && !heldElsewhere[p.State] {
			p.State = Quarantined
		}
	})
	if p := w.Pieces[v.Piece]; p != nil && p.State != Issued {
		w.changeKit(p.Kit, func(k *Kit) {
			k.Release = nil
			if v.Claimed == 0 { // see openCycle
				k.Since = e.At
			}
		})
	}
}

// endHold removes one hold; when none blocks any more the piece goes on where its open cycle
// stands, or is returned when it has none.
func (w *World) endHold(e *Entry, v HoldEnded) {
	w.changePiece(v.Piece, func(p *Piece) {
		var rest []Hold
		for _, h := range p.Holds {
			if h.Seq != v.Hold {
				rest = append(rest, h)
			}
		}
		p.Holds = rest
		if p.State == Quarantined && p.Held(GradeHold, GradeInfection) == nil {
			p.State = w.standing(p)
		}
	})
}

// standing is the state that a piece's open cycle gives it.
func (w *World) standing(p *Piece) State {
	c := w.Cycles[p.Cycle]
	if c == nil || c.Ended != 0 {
		return Returned
	}
	proc := w.Procedures[c.Procedure]
	if proc != nil && c.Progress().Next(proc) == StepRelease {
		return AwaitingRelease
	}
	return InReprocessing
}

func (w *World) movePiece(e *Entry, v PieceMoved) {
	w.breakOff(e, v.Piece)
	w.setState(v.Piece, v.State)
	w.changePiece(v.Piece, func(p *Piece) {
		p.OnReturn, p.Called = v.OnReturn, nil
		if v.State == Recalled {
			p.Called = &CalledBack{e.Seq, e.At, e.By, e.Name, v.Reason, v.LookBack}
		}
	})
	if p := w.Pieces[v.Piece]; p != nil {
		w.changeKit(p.Kit, func(k *Kit) {
			k.Release, k.Since = nil, e.At
			if v.State == Returned {
				k.Back = e.At
			}
		})
		w.findKit(e, p.Kit)
	}
	w.findKit(e, v.Loss)
}
