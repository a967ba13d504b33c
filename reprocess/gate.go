package reprocess

import (
	"strings"
	"time"
)

// Condition is one row of the release gate. Check answers nil when it holds.
type Condition struct {
	ID    string
	Words string
	Check func(*gateFacts) *Problem
}

// gateFacts is what the conditions look at, for one piece.
type gateFacts struct {
	c        *Case
	kit      *Kit
	piece    *Piece
	model    *Model
	cycle    *Cycle
	proc     *Procedure
	progress Progress
}

// conditions is the release gate: all must hold for every piece of the kit. Rows are only
// ever added. Source: the list of the infection-control reference, its order kept.
var conditions = []Condition{
	{"hold", "no open hold, damage or pending decision", gateHold},
	{"cycle", "an open cycle under a procedure", gateCycle},
	{"steps", "every step done, in order", gateSteps},
	{"recording_first", "the last wearer's recording is safe", gateRecording},
	{"loan_ended", "the last loan has ended", gateLoan},
	{"contact_time", "wet long enough without a break", gateWet},
	{"container", "disinfectant in date, not stopped, compatible, strong enough, with the claims needed", gateContainer},
	{"cells", "cells not stopped and in date", gateCells},
	{"cycle_limit", "within the maker's number of cycles", gateLimit},
	{"learning", "a learner's steps countersigned", gateLearning},
	{"complete", "nothing missing", gateComplete},
	{"label", "a label in force", gateLabel},
	{"pair", "recorder and phone scanned as a pair, where the procedure wants it", gatePair},
	{"checks", "technical checks passed, and in date where the clinic holds for them", gateChecks},
	{"second_person", "a second person where one is demanded", gateSecond},
	{"competent", "the releaser competent for the procedure", gateCompetent},
}

// Conditions lists the release gate, for screens and documentation.
func Conditions() []Condition { return conditions }

// ReleaseKit is the signed release of one kit. Signing a list is a loop of these; List says
// that it was signed as one of a list, which only unremarkable kits may be.
type ReleaseKit struct {
	Kit   string `json:"kit"`
	List  bool   `json:"list,omitempty"`
	Place string `json:"place,omitempty"` // where it goes now; empty: where it lies
}

// Meaning is what a release signature means; it is printed beside name and time.
const Meaning = "released after reprocessing: every step recorded as passed"

// Act is "release".
func (ReleaseKit) Act() Act { return ActRelease }

// Needs the kit with everything behind its cycles.
func (r ReleaseKit) Needs() Needs { return Needs{Kit: r.Kit} }

func (r ReleaseKit) decide(c *Case) *Problem {
	k, p := c.kit(r.Kit)
	if p != nil {
		return p
	}
	if s := KitState(k, c.W.Pieces); s == Released {
		return conflict("already_done", "Nothing to do.", "Kit %s was released by %s at %s.",
			k.Number, k.Release.Name, c.clock(k.Release.At))
	}
	if !k.hasRecorder(c.W.Pieces) {
		return refuse("no_pieces", "Put a recorder into it.", "Kit %s has no recorder.", k.Number)
	}
	e := KitReleased{Kit: k.ID, Name: c.Actor.Person.Name, Meaning: Meaning}
	for _, id := range k.Pieces {
		f, p := c.gate(k, id)
		if p != nil {
			return p
		}
		if r.List && f.remarkable() {
			return signAlone(k)
		}
		e.add(f, c)
	}
	place, p := clean("Place", r.Place, 40)
	if p != nil {
		return p
	}
	c.emit(e)
	if place != "" {
		c.emit(KitMoved{Kit: k.ID, Place: place})
	}
	return nil
}

// gate collects the facts of one piece and walks the conditions; the first that fails speaks.
func (c *Case) gate(k *Kit, id string) (*gateFacts, *Problem) {
	f := &gateFacts{c: c, kit: k, piece: c.W.Pieces[id]}
	if f.piece == nil {
		return nil, missing("piece")
	}
	f.model = c.W.Models[f.piece.Model]
	f.cycle = c.openCycle(f.piece)
	if f.cycle != nil {
		f.proc = c.W.Procedures[f.cycle.Procedure]
		f.progress = f.cycle.Progress()
	}
	for _, cond := range conditions {
		if p := cond.Check(f); p != nil {
			return nil, p
		}
	}
	return f, nil
}

// GateOpen tells what still keeps a kit from being released by this person, nil for nothing.
func GateOpen(w *World, k *Kit, actor Actor, now Now) *Problem {
	c := &Case{W: w, Actor: actor, Now: now}
	for _, id := range k.Pieces {
		if _, p := c.gate(k, id); p != nil {
			return p
		}
	}
	return nil
}

func (f *gateFacts) refuse(rule, fix, format string, args ...any) *Problem {
	p := refuse(rule, fix, format, args...)
	p.Text = title(string(f.piece.Kind)) + ": " + p.Text
	return p
}

func gateHold(f *gateFacts) *Problem {
	if h := f.piece.Held(GradeHold, GradeInfection, GradeTechnician); h != nil {
		return f.refuse("on_hold", holdAsk[h.Grade], "it is on hold: %s.", HoldWords(h.Reason))
	}
	return nil
}

func gateCycle(f *gateFacts) *Problem {
	if f.cycle == nil || f.proc == nil || f.model == nil {
		return f.refuse("no_cycle", "Begin with the first look.",
			"it has not been reprocessed since it came back (it is %s).", f.piece.State)
	}
	return nil
}

func gateSteps(f *gateFacts) *Problem {
	next := f.progress.Next(f.proc)
	if next == StepRelease {
		return nil
	}
	if next == StepDisinfection && f.progress.Wet.PaperOnly() {
		return f.refuse("paper", "Disinfect it again.", "its contact time is from paper alone, "+
			"and this procedure does not let that count.")
	}
	if next == StepDisinfection && f.progress.Wet.Looks > 0 {
		return gateWet(f)
	}
	step, _ := FindStep(next)
	return f.refuse("steps", "Do that step, then release.", "the step %q is not done.", step.Words)
}

func gateRecording(f *gateFacts) *Problem {
	if f.kit.Recording.Safe() {
		return nil
	}
	return f.refuse("recording_first", "Fetch it, or have it signed as given up with a reason.",
		"the last wearer's recording is %s.", recordingWords(f.kit.Recording.Status))
}

func gateLoan(f *gateFacts) *Problem {
	if l := f.c.W.Loans[f.kit.Loan]; l.Open() {
		return f.refuse("loan_open", "Take it back first.", "its loan is still open.")
	}
	return nil
}

func gateWet(f *gateFacts) *Problem {
	if f.proc.Row(StepDisinfection) == nil {
		return nil
	}
	best, ok := f.progress.Wet.Best()
	if !ok {
		return f.refuse("contact_time", "Wet it and keep it wet.", "it was never recorded wet.")
	}
	if f.progress.Wet.Conforms() {
		return nil
	}
	return f.refuse("contact_time", "Wet it again and keep it wet for the whole time.",
		"Contact time %d s of %d s.", best.MS/1000, best.NeededS)
}

// gateContainer asks again, with today's stops and corrections, whether what was used on the
// day of the wipe was good enough on that day.
func gateContainer(f *gateFacts) *Problem {
	if f.proc.Row(StepDisinfection) == nil {
		return nil
	}
	for _, i := range f.progress.Wet.Intervals {
		if !i.Conforms() {
			continue
		}
		day := DateIn(i.From.At, f.c.Now.Zone)
		if p := f.containers(i, day); p != nil {
			return p
		}
	}
	return nil
}

func (f *gateFacts) containers(i Interval, day Date) *Problem {
	for _, id := range i.Containers {
		con := f.c.W.Containers[id]
		if con == nil {
			return missing("container")
		}
		asThen := *con
		asThen.Closed = 0 // it may have run empty since
		s, p := suitsOn(f.c.W, &asThen, f.piece, f.proc, f.cycle.Flags, day)
		if p != nil {
			return p
		}
		if int64(s.NeededS)*1000 > i.MS {
			return f.refuse("contact_time", "Wet it again and keep it wet for the whole time.",
				"Contact time %d s of %d s.", i.MS/1000, s.NeededS)
		}
	}
	return nil
}

func gateCells(f *gateFacts) *Problem {
	r, ok := f.progress.Done[StepBattery]
	if !ok || r.Answered("cell") == "" {
		return nil
	}
	return f.c.W.cellsGood(f.piece, r.Answered("cell"), f.c.Now.Today())
}

func gateLimit(f *gateFacts) *Problem {
	if f.model.CycleLimit > 0 && f.piece.Cycles+1 > f.model.CycleLimit {
		return f.refuse("cycle_limit", "Ask a supervisor to retire it.",
			"this would be cycle %d; its maker allows %d.", f.piece.Cycles+1, f.model.CycleLimit)
	}
	return nil
}

func gateLearning(f *gateFacts) *Problem {
	if len(f.progress.Unsigned) == 0 {
		return nil
	}
	return f.refuse("learning", "Ask somebody competent to countersign.",
		"%d steps of a learner are not countersigned.", len(f.progress.Unsigned))
}

func gateComplete(f *gateFacts) *Problem {
	for _, w := range f.kit.Waiting {
		if w.Reason == "part" {
			return f.refuse("part_missing", "Complete the kit, then end that wait.",
				"the kit waits for a part to come.")
		}
	}
	return nil
}

func gateLabel(f *gateFacts) *Problem {
	r, ok := f.progress.Done[StepPacking]
	code := r.Answered("label")
	if !ok || code == "" {
		return nil
	}
	return f.c.scanBack(f.kit, code)
}

// remarkable tells whether a kit has to be signed alone.
func (f *gateFacts) remarkable() bool {
	if f.demandsSecond() {
		return true
	}
	for _, r := range f.cycle.Records {
		if r.NotLookS > 0 || (!r.Undone && r.worst() == EffectHold) {
			return true
		}
	}
	return false
}

func gateCompetent(f *gateFacts) *Problem {
	learning, p := f.c.competent(f.proc)
	if p == nil && learning {
		p = f.refuse("learning", "Ask somebody competent.", "learning staff do not release.")
	}
	return p
}

// add takes one piece into the release: its cycle, lots, cell and how long it holds.
func (e *KitReleased) add(f *gateFacts, c *Case) {
	e.Cycles = append(e.Cycles, PieceLine{Piece: f.piece.ID, Cycle: f.cycle.ID})
	for _, i := range f.progress.Wet.Intervals {
		for _, lot := range i.Lots {
			e.Lots = withOne(e.Lots, lot)
			if l := c.W.Lots[lot]; l != nil && l.From != "" {
				e.Lots = withOne(e.Lots, l.From) // a stop of the stock reaches what was wiped with it
			}
		}
	}
	if lot := c.W.Lots[f.progress.Done[StepBattery].Answered("cell")]; lot != nil {
		e.Lots = withOne(e.Lots, lot.ID)
		e.CellDays = f.model.WearDays
		e.CellUntil = f.model.airUntil(f.progress.Done[StepBattery], c, lot.Expiry)
	}
	if f.proc.ReleaseDays > 0 {
		until := c.Now.UTC.Add(time.Duration(f.proc.ReleaseDays) * 24 * time.Hour)
		if e.Until == 0 || until < e.Until {
			e.Until = until
		}
	}
}

// GateWords joins the sentences of a refusal for a list.
func GateWords(p *Problem) string {
	if p == nil {
		return ""
	}
	return strings.TrimSpace(p.Text + " " + p.Fix)
}
