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

func (w *World) composeKit(v KitComposed) {
	k := w.Kits[v.Kit]
	if k == nil {
		return
	}
	for _, id := range k.Pieces {
		if !contains(v.Pieces, id) {
			w.changePiece(id, func(p *Piece) { p.Kit = "" })
		}
	}
	for _, id := range v.Pieces {
		w.changePiece(id, func(p *Piece) { p.Kit = v.Kit })
	}
	w.changeKit(v.Kit, func(k *Kit) { k.Pieces, k.Release = v.Pieces, nil })
}

// takeBack sets every piece that came to returned, ends the loan and breaks off open cycles:
// whatever was done before does not count for the next wearer. A piece that was out and did
// not come is missing; one that was in the house stays where it stands.
func (w *World) takeBack(e *Entry, v TakenBack) {
	for _, id := range v.Came {
		w.breakOff(e, id)
		w.setState(id, Returned)
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
		k.Back, k.Since, k.Release, k.Flags = e.At, e.At, nil, v.Return.Flags
		k.Missing, k.Waiting, k.Opened = v.Return.Parts, nil, 0
		k.Return = &v.Return
		if v.Opened {
			k.Opened = e.At
		}
		k.moveTo(v.Return.Place, e)
	})
	change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) {
		l.Back, l.BackBy, l.Return = e.At, e.By, &v.Return
	})
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

// setState moves a piece; an open hold keeps it quarantined until it is decided.
func (w *World) setState(piece string, s State) {
	w.changePiece(piece, func(p *Piece) {
		p.TakenOver = false
		if p.Held(GradeHold, GradeInfection) != nil && s != Missing && s != Retired &&
			s != OutForRepair {
			s = Quarantined
		}
		p.State = s
	})
}

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
		if v.Grade != GradeTechnician && p.State != Issued && p.State != Missing &&
			p.State != Retired && p.State != OutForRepair {
			p.State = Quarantined
		}
	})
	if p := w.Pieces[v.Piece]; p != nil && p.State != Issued {
		w.changeKit(p.Kit, func(k *Kit) { k.Release, k.Since = nil, e.At })
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
	if p := w.Pieces[v.Piece]; p != nil {
		w.changeKit(p.Kit, func(k *Kit) {
			k.Release, k.Since = nil, e.At
			if v.State == Returned {
				k.Back = e.At
			}
		})
	}
}
