package reprocess

// Apply folds one entry into the world. Refused entries change nothing. It must be total:
// whatever Decide let through once has to fold for ever, so a missing entity is skipped, not
// guessed; verify would then show the difference.
func Apply(w *World, e *Entry) {
	if e.Result != ResultDone {
		return
	}
	for _, b := range e.Events {
		w.apply(e, b.Event)
	}
}

func (w *World) apply(e *Entry, event Event) {
	if w.applyVersions(e, event) || w.applySetUp(e, event) || w.applyKit(e, event) || w.applyCycle(e, event) {
		return
	}
	if !w.applyWeek(e, event) {
		if w.applyLegal(e, event) || w.applyDocument(e, event) {
			return
		}
		w.applyLoan(e, event)
	}
}

func (w *World) applySetUp(e *Entry, event Event) bool {
	switch v := event.(type) {
	case SettingsSet:
		w.Settings = v.Settings
		w.touch(TableSettings, v.Site)
	case PersonSet:
		if old := w.People[v.ID]; old != nil {
			v.Person.Supervised = old.Supervised
		}
		put(w, w.People, TablePerson, v.ID, v.Person)
	case ModelSet:
		put(w, w.Models, TableModel, v.ID, v.Model)
	case HeightLearnt:
		change(w, w.Models, TableModel, v.Model, func(m *Model) { m.ExpectedHeightUV = v.UV })
	case ProcedureApproved:
		put(w, w.Procedures, TableProcedure, v.Ref(), v.Procedure)
		w.InForce[v.Model] = v.Ref()
		w.touch(TableInForce, v.Model)
	case ProductSet:
		put(w, w.Products, TableProduct, v.ID, v.Product)
	case SecretSet:
		w.Secrets[v.Person] = v.MAC
		w.touch(TableSecretMAC, v.Person)
	case PhoneEnrolled:
		put(w, w.Phones, TablePhone, v.Phone, EnrolledPhone{ID: v.Phone, Name: v.Name, At: e.At})
	case PhoneRevoked:
		change(w, w.Phones, TablePhone, v.Phone, func(p *EnrolledPhone) { p.Revoked = e.At })
	default:
		return w.applySupply(e, event)
	}
	return true
}

func (w *World) applySupply(e *Entry, event Event) bool {
	switch v := event.(type) {
	case LotSet:
		if old := w.Lots[v.ID]; old != nil {
			v.Stopped, v.Ended = old.Stopped, old.Ended
		}
		put(w, w.Lots, TableLot, v.ID, v.Lot)
	case LotStopped:
		change(w, w.Lots, TableLot, v.Lot, func(l *Lot) {
			stop := Stop{Seq: e.Seq, At: e.At, By: e.By}
			if l.Stopped != nil {
				stop = *l.Stopped // the reason is said afterwards; it was stopped before
			}
			stop.Reason = v.Reason
			l.Stopped = &stop
		})
	case LotLifted:
		change(w, w.Lots, TableLot, v.Lot, func(l *Lot) { l.Stopped = nil })
	case ContainerOpened:
		put(w, w.Containers, TableContainer, v.ID, v.Container)
	case ContainerClosed:
		change(w, w.Containers, TableContainer, v.Container, func(c *Container) {
			c.Closed, c.Why = e.At, v.Why
		})
	case LabelIssued:
		v.At = e.At
		put(w, w.Labels, TableLabel, v.Code, v.Label)
	case LabelBound:
		change(w, w.Labels, TableLabel, v.Code, func(l *Label) {
			l.Kind, l.Target = v.Kind, v.Target
		})
	case LabelWithdrawn:
		change(w, w.Labels, TableLabel, v.Code, func(l *Label) { l.Withdrawn = e.At })
	default:
		return w.applyEnd(e, event)
	}
	return true
}

func (w *World) applyKit(e *Entry, event Event) bool {
	switch v := event.(type) {
	case KitRegistered:
		w.registerKit(e, v)
	case PieceRegistered:
		put(w, w.Pieces, TablePiece, v.Piece.ID, v.Piece)
	case KitMoved:
		w.changeKit(v.Kit, func(k *Kit) { k.moveTo(v.Place, e) })
	case KitComposed:
		w.composeKit(e, v)
	case TakenBack:
		w.takeBack(e, v)
	case PairChecked:
		w.pairKit(e, v)
	case ParcelOpened:
		w.changeKit(v.Kit, func(k *Kit) { k.Opened = e.At })
	case RecordingSet:
		w.changeKit(v.Kit, func(k *Kit) {
			k.Recording = Recording{v.Status, e.At, e.By, v.Reason}
		})
	case WaitingSet:
		w.changeKit(v.Kit, func(k *Kit) {
			k.endWaiting(v.Reason)
			k.Waiting = append(k.Waiting, Waiting{v.Reason, v.Who, v.Next, v.Part, e.At, e.By})
		})
	case WaitingEnded:
		w.changeKit(v.Kit, func(k *Kit) { k.endWaiting(v.Reason) })
	case KitReleased:
		w.release(e, v)
	case ReleaseBroken:
		w.breakRelease(e, v.Kit)
	case Rechecked:
		w.recheck(e, v)
	case Held:
		w.hold(e, v)
	case HoldEnded:
		w.endHold(e, v)
	case PieceMoved:
		w.movePiece(e, v)
	case RepairSent:
		w.repairSent(e, v)
	case RepairExpected:
		w.repairExpected(v)
	case RepairEnded:
		w.repairEnded(e, v)
	case LossDeclared:
		w.loseKit(e, v)
	case LossTold:
		w.tellLoss(e, v)
	case CheckRecorded:
		w.keepCheck(e, v)
	default:
		return false
	}
	return true
}

func (w *World) applyCycle(e *Entry, event Event) bool {
	switch v := event.(type) {
	case CycleOpened:
		w.openCycle(e, v)
	case StepRecorded:
		w.record(e, v)
	case Undone:
		w.undo(e, v)
	case RecordCorrected:
		w.correct(e, v)
	default:
		return false
	}
	return true
}

func (w *World) applyLoan(e *Entry, event Event) {
	switch v := event.(type) {
	case HandedOut:
		w.handOut(e, v)
	case PictureAdded: // the timeline shows it; nothing is judged by it
	case LoanExtended:
		change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) { l.Days, l.Due = v.Days, v.Due })
	case HandOutUndone:
		w.undoHandOut(e, v)
	case WardReturned:
		w.wardReturned(e, v)
	case WornTold:
		w.wornTold(v)
	}
}

// put stores a copy of an entity and marks its row.
func put[T any](w *World, m map[string]*T, t Table, id string, v T) {
	m[id] = &v
	w.touch(t, id)
}

// change edits an entity in place, if it is there, and marks its row.
func change[T any](w *World, m map[string]*T, t Table, id string, edit func(*T)) {
	if v := m[id]; v != nil {
		edit(v)
		w.touch(t, id)
	}
}

func (w *World) changeKit(id string, edit func(*Kit)) { change(w, w.Kits, TableKit, id, edit) }

func (w *World) changePiece(id string, edit func(*Piece)) {
	change(w, w.Pieces, TablePiece, id, edit)
}
