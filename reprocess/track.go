package reprocess

import "handback/reprocess/strength"

// Track is where one piece stands at the bench: the page of a kit is drawn from it.
type Track struct {
	Piece    *Piece
	Hold     *Hold      // the gravest open hold, nil for none
	Proc     *Procedure // of the open cycle, or the one in force; nil: none
	Cycle    *Cycle     // the open cycle, nil before its first record
	Progress Progress
	Next     StepID // what is to be done now; "" when nothing is to be done here
	LateMin  int    // minutes since the last record, when the longest gap has passed
	LeftMin  int    // minutes until it passes, when it counts and has not
	Why      string // why there is nothing to do: a state in words, or a missing procedure
}

// Track tells where a piece stands. It follows the same rules as RecordStep and WetNow, so
// that what a page offers is what will be taken.
func (w *World) Track(p *Piece, now Now) Track {
	t := Track{Piece: p, Hold: p.Held(GradeInfection, GradeHold, GradeTechnician),
		Progress: newProgress()}
	c := &Case{W: w, Now: now}
	if t.Cycle = c.openCycle(p); t.Cycle != nil {
		t.Progress = t.Cycle.Progress()
	}
	proc, problem := c.procedure(p)
	switch {
	case t.Hold != nil:
		t.Why = "on hold: " + HoldWords(t.Hold.Reason)
	case p.State != Registered && p.State != Returned && p.State != InReprocessing &&
		p.State != AwaitingRelease:
		t.Why = StateWords(p.State)
	case problem != nil:
		t.Why = problem.Text
	default:
		t.Next = t.Progress.Next(proc)
	}
	t.Proc = proc
	t.gaps(now)
	return t
}

// gaps sets the minutes of the longest gap; once it has passed, disinfection is next.
func (t *Track) gaps(now Now) {
	if t.Proc == nil || t.Next == "" {
		return
	}
	mark := Mark{At: now.UTC, Boot: now.Boot, Mono: now.Mono}
	t.LateMin = GapPassed(t.Progress, t.Proc, mark)
	_, wiped := t.Progress.Done[StepDisinfection]
	_, packed := t.Progress.Done[StepPacking]
	switch {
	case t.LateMin > 0:
		t.Next = StepDisinfection
	case t.Proc.MaxGapMin > 0 && wiped && !packed:
		ms, _ := Elapsed(t.Progress.Last, mark)
		t.LeftMin = t.Proc.MaxGapMin - int(ms/60000)
	}
}

// Running tells whether a wet time of the disinfection is being watched now.
func (t Track) Running() bool {
	return t.Next == StepDisinfection && t.LateMin == 0 && t.Progress.Wet.Open
}

// StateWords is a state as staff read it; records and exports keep the standard term.
func StateWords(s State) string {
	plain := map[State]string{Issued: "handed out", Returned: "taken back",
		Quarantined: "on hold", Embargoed: "stopped", Recalled: "being called back"}
	if words, ok := plain[s]; ok {
		return words
	}
	return s.String()
}

// CellsFit tells whether a cell may be taken from a box today: known, not stopped, not called
// used up, and good until after the longest wear that this model is lent for.
func CellsFit(w *World, piece *Piece, lot string, today Date) *Problem {
	if l := w.Lots[lot]; l != nil && l.Kind == LotCells && l.Ended != 0 {
		return l.notEnded()
	}
	if l := w.Lots[lot]; l != nil && l.Kind == LotCells {
		if p := w.Models[piece.Model].cellKind(l); p != nil {
			return p
		}
	}
	return w.cellsGood(piece, lot, today)
}

// cellsGood is CellsFit for a cell that was taken already: its box may be used up since.
func (w *World) cellsGood(piece *Piece, lot string, today Date) *Problem {
	l := w.Lots[lot]
	if l == nil || l.Kind != LotCells {
		return missing("box of cells")
	}
	if l.Stopped != nil {
		return refuse("lot_stopped", "Take another box.", "These cells were stopped: %s",
			l.Stopped.Reason)
	}
	days := 0
	if m := w.Models[piece.Model]; m != nil {
		days = m.WearDays
	}
	need := today.AddDays(days)
	if l.Expiry == "" || l.Expiry < need {
		return refuse("cell_expiry", "Take a fresher box.",
			"These cells are good until %s; a wear of %d days from today ends %s.",
			Day(l.Expiry), days, Day(need))
	}
	return nil
}

// WipedFilm is what one wipe may leave on a surface, g/m²: near-saturated wipers lay down
// about 9; a guess, so that the answer is taken within a factor of three either way.
const WipedFilm strength.GramsPerSquareMetre = 10

// OneWipe is advice, never a verdict: how long one wipe of an alcohol is likely to keep its
// strength in a quiet room of 20 °C. ok is false for products without alcohol or without
// figures to reckon with.
type OneWipe struct {
	Seconds, Low, High int // s; Low and High are a factor of three either way
	Outlook            strength.Outlook
}

// OneWipe estimates for a needed contact time in s; see strength.NotValidated.
func (p *Product) OneWipe(neededS int) (advice OneWipe, ok bool) {
	parts, problem := p.alcohols()
	density, err := densityOf(p.DensityKg)
	if problem != nil || err != nil || len(parts) == 0 {
		return OneWipe{}, false
	}
	t, err := strength.EstimateWetness(strength.Film{Parts: parts, Density: density,
		Mass: WipedFilm, Temperature: 20, Air: strength.StillRoomAir,
		Humidity: strength.MiddleHumidity})
	if err != nil {
		return OneWipe{}, false
	}
	low, high := t.UnknownFilm()
	return OneWipe{Seconds: int(t.Seconds), Low: int(low), High: int(high),
		Outlook: t.OutlookUnknownFilm(strength.Seconds(neededS))}, true
}

// HasAlcohol tells whether any of the agents is an alcohol: it dries fast, so fewer pieces
// are wiped at a time.
func (p *Product) HasAlcohol() bool {
	for _, a := range p.Actives {
		if _, err := strength.ParseAlcohol(a.Agent); err == nil {
			return true
		}
	}
	return false
}
