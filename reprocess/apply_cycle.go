package reprocess

func (w *World) openCycle(e *Entry, v CycleOpened) {
	at := e.At
	if v.Claimed != 0 {
		at = v.Claimed
	}
	put(w, w.Cycles, TableCycle, v.Cycle, Cycle{ID: v.Cycle, Piece: v.Piece, Kit: v.Kit,
		Number: v.Number, Procedure: v.Procedure, Opened: at, Loan: v.Loan, Flags: v.Flags,
		Instructions: v.Instructions})
	w.changePiece(v.Piece, func(p *Piece) { p.Cycle, p.State = v.Cycle, InReprocessing })
	w.changeKit(v.Kit, func(k *Kit) {
		if k.Opened == 0 {
			k.Opened = at
		}
		if v.Claimed == 0 { // a sheet's time may be taken back and typed again
			k.Since = e.At
		}
	})
}

// record adds one record, stamped by the entry, and lets the piece stand where it leads.
func (w *World) record(e *Entry, v StepRecorded) {
	r := v.Record
	r.Seq, r.Mark, r.By, r.Name, r.Second = e.Seq, e.Mark(), e.By, e.Name, e.Second
	change(w, w.Cycles, TableCycle, v.Cycle, func(c *Cycle) {
		// A fresh slice: an older copy of the cycle may still be read elsewhere.
		c.Records = append(append([]Record(nil), c.Records...), r)
	})
	w.settle(v.Piece)
}

// settle moves a piece in reprocessing to where its cycle leads; others stay.
func (w *World) settle(piece string) {
	p := w.Pieces[piece]
	if p == nil || (p.State != InReprocessing && p.State != AwaitingRelease) {
		return
	}
	if s := w.standing(p); s != p.State {
		w.changePiece(piece, func(p *Piece) { p.State = s })
	}
}

// undo marks the records of one entry as taken back, with the holds it set.
func (w *World) undo(e *Entry, v Undone) {
	for _, id := range v.Cycles {
		change(w, w.Cycles, TableCycle, id, func(c *Cycle) {
			c.Records = append([]Record(nil), c.Records...)
			for i := range c.Records {
				if c.Records[i].Seq == v.Of {
					c.Records[i].Undone = true
				}
			}
		})
		if c := w.Cycles[id]; c != nil {
			w.endHold(e, HoldEnded{Piece: c.Piece, Hold: v.Of})
			w.settle(c.Piece)
		}
	}
	if v.Recording != nil {
		w.changeKit(v.Kit, func(k *Kit) { k.Recording = *v.Recording })
	}
}

func (w *World) handOut(e *Entry, v HandedOut) {
	l := v.Loan
	if l.Out == 0 && !l.After {
		l.Out = e.At
	}
	l.OutBy = e.By
	if k := w.Kits[l.Kit]; k != nil {
		l.Place = k.Place
	}
	put(w, w.Loans, TableLoan, l.ID, l)
	place := "with a wearer"
	if l.Ward != "" {
		place = l.Ward
	}
	if l.Under != "" {
		w.wornOnWard(l)
	}
	for _, id := range l.Pieces {
		w.changePiece(id, func(p *Piece) { p.State, p.TakenOver = Issued, false })
	}
	w.changeKit(l.Kit, func(k *Kit) {
		k.Loan, k.Since, k.Back, k.Opened = l.ID, l.Paper.or(e.At), 0, 0
		k.Recording = Recording{Status: RecordingUnknown, At: e.At, By: e.By}
		k.Flags, k.Missing, k.Waiting, k.Return, k.Keep = nil, nil, nil, nil, nil
		k.moveTo(place, e)
	})
}

// undoHandOut puts the kit back as it stood: the pack was never opened.
func (w *World) undoHandOut(e *Entry, v HandOutUndone) {
	change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) { l.Undone, l.Back = true, e.At })
	k := w.Kits[v.Kit]
	if k == nil || k.Release == nil {
		return
	}
	for _, line := range k.Pieces {
		w.setState(line, Released)
	}
	lay := ""
	if l := w.Loans[v.Loan]; l != nil {
		lay = l.Place
	}
	w.changeKit(v.Kit, func(k *Kit) {
		k.Since, k.Place, k.PlaceAt, k.PlaceBy = e.At, lay, e.At, e.By // it went nowhere
		k.Recording = Recording{Status: RecordingNone, At: e.At, By: e.By}
	})
}
