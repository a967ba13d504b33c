package reprocess

// applyWeek folds what the day, the desk's plan and the findings say.
func (w *World) applyWeek(e *Entry, event Event) bool {
	switch v := event.(type) {
	case DayTicked:
		w.changeDay(v.Day, func(d *Daybook) { d.tick(e, v) })
	case DayNoted:
		w.changeDay(v.Day, func(d *Daybook) {
			d.Notes = append(d.Notes, DayNote{v.Note, e.Seq, e.At, e.By, e.Name})
		})
	case HandedOver:
		w.changeDay(v.Day, func(d *Daybook) {
			d.Given = append(d.Given, DayOver{v.From, v.To, e.Seq, e.At})
		})
	case LoanCalled:
		change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) {
			l.Calls = append(l.Calls, Call{e.At, e.By, e.Name, v.Result, v.On, v.Note})
		})
	case KitKept:
		w.changeKit(v.Kit, func(k *Kit) { k.Keep = &Keep{v.Token, v.Day, v.Until, e.At, e.By} })
	case KeepEnded:
		w.changeKit(v.Kit, func(k *Kit) { k.Keep = nil })
	case WantSet:
		id := WantID(v.Day, v.Model)
		put(w, w.Wants, TableWant, id, Want{v.Day, v.Model, v.Count, e.At, e.By})
	default:
		return w.applyFinding(e, event)
	}
	return true
}

func (w *World) applyFinding(e *Entry, event Event) bool {
	switch v := event.(type) {
	case FindingOpened:
		put(w, w.Findings, TableFinding, v.ID, v.Finding)
	case FindingMoved:
		change(w, w.Findings, TableFinding, v.Finding, func(f *Finding) {
			f.Owner, f.Due = v.Owner, v.Due
		})
	case FindingClosed:
		change(w, w.Findings, TableFinding, v.Finding, func(f *Finding) {
			f.Closed, f.ClosedBy, f.Done, f.Evidence = e.At, e.By, v.Done, v.Evidence
		})
	default:
		return w.applySample(e, event)
	}
	return true
}

// changeDay edits a day's book and begins it with its first line.
func (w *World) changeDay(day Date, edit func(*Daybook)) {
	if w.Daybooks[string(day)] == nil {
		put(w, w.Daybooks, TableDaybook, string(day), Daybook{Day: day})
	}
	change(w, w.Daybooks, TableDaybook, string(day), edit)
}

// tick adds a tick, or takes it away; a fresh slice, since an older copy may still be read.
func (d *Daybook) tick(e *Entry, v DayTicked) {
	var rest []DayTick
	for _, t := range d.Ticks {
		if t.Tick != v.Tick {
			rest = append(rest, t)
		}
	}
	if !v.Not {
		rest = append(rest, DayTick{v.Tick, e.Seq, e.At, e.By, e.Name})
	}
	d.Ticks = rest
}
