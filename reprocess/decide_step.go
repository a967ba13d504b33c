package reprocess

import (
	"strings"
	"time"
)

// RecordStep records the answers of one step, for one piece or for several at once.
type RecordStep struct {
	Kit     string   `json:"kit"`
	Pieces  []string `json:"pieces,omitempty"` // empty: all of the kit
	Step    StepID   `json:"step"`
	Answers []Answer `json:"answers"`
	Test    *Test    `json:"test,omitempty"` // made by the server, never from a form

	Instrument string `json:"instrument,omitempty"` // number of what was measured with
}

// Act is "step".
func (RecordStep) Act() Act { return ActStep }

// Needs the kit, the lots of cells and the labels that were named.
func (r RecordStep) Needs() Needs {
	n := Needs{Kit: r.Kit, Pieces: r.Pieces}
	for _, a := range r.Answers {
		switch a.Ask {
		case "cell":
			n.Lots = append(n.Lots, a.Value)
		case "label":
			n.Labels = append(n.Labels, a.Value)
		}
	}
	return n
}

func (r RecordStep) decide(c *Case) *Problem {
	step, ok := FindStep(r.Step)
	if !ok || r.Step == StepDisinfection || r.Step == StepRelease {
		return invalid("step", "Open the kit again.", "%q is not a step with answers.", r.Step)
	}
	pieces, p := c.piecesOf(r.Kit, r.Pieces)
	if p != nil {
		return p
	}
	k := c.W.Kits[r.Kit]
	if step.KitWide && len(pieces) != len(k.Pieces) {
		return invalid("kit_wide", "Open the kit again.", "%s is one act for the whole kit.", step.Words)
	}
	for _, piece := range pieces {
		if p := r.one(c, k, piece, step); p != nil {
			return p
		}
	}
	if p := r.pairFirst(c, k); p != nil {
		return p
	}
	return r.kitFacts(c, k)
}

// one decides the step for one piece.
func (r RecordStep) one(c *Case, k *Kit, piece *Piece, step Step) *Problem {
	w, p := c.work(k, piece)
	if p != nil {
		return p
	}
	if p := w.inOrder(c, step); p != nil && !(step.KitWide && c.packedAnew(k, w)) {
		return p
	}
	if r, p = r.withEvidence(c, piece); p != nil {
		return p
	}
	answers, p := r.judge(c, k, piece, w.proc)
	if p != nil {
		return p
	}
	r.Test.remarked(answers)
	if p := r.recordingFirst(k, step, piece); p != nil {
		return p
	}
	with, p := r.named()
	if p != nil {
		return p
	}
	rec := Record{Kind: RecAnswer, Step: r.Step, Answers: answers, Learning: w.learning,
		Test: r.Test, Instrument: with}
	rec.Together = w.tooFast(c, step)
	c.begin(w, k, piece)
	c.emit(StepRecorded{Cycle: w.cycle, Piece: piece.ID, Record: rec})
	c.readVersions(piece, answers)
	c.judgeHolds(piece, rec, w)
	return nil
}

// work is what every act on a piece in reprocessing needs.
type work struct {
	proc     *Procedure
	progress Progress
	cycle    string // id of the open cycle, or the one about to be opened
	fresh    bool   // the cycle is about to be opened
	learning bool
}

// work checks that this piece can be worked on at all: its state, its holds, the procedure
// and the person's competence.
func (c *Case) work(k *Kit, piece *Piece) (work, *Problem) {
	if h := piece.Held(GradeHold, GradeInfection, GradeTechnician); h != nil {
		return work{}, refuse("on_hold", holdAsk[h.Grade], "This %s is on hold: %s.",
			piece.Kind, HoldWords(h.Reason))
	}
	switch piece.State {
	case Registered, Returned, InReprocessing, AwaitingRelease:
	case Released:
		if k.Release == nil {
			break // its other piece was in other hands: both need a cycle
		}
		return work{}, conflict("released", "If it was opened, wet or dropped, say so first.",
			"Kit %s is released already.", k.Number)
	default:
		return work{}, refuse("not_here", "Take it back first.", "This %s is recorded as %s.",
			piece.Kind, piece.State)
	}
	proc, p := c.procedure(piece)
	if p != nil {
		return work{}, p
	}
	learning, p := c.competent(proc)
	if p != nil {
		return work{}, p
	}
	w := work{proc: proc, learning: learning, progress: newProgress()}
	if cy := c.openCycle(piece); cy != nil {
		w.cycle, w.progress = cy.ID, cy.Progress()
		return w, nil
	}
	w.cycle, w.fresh = c.id("C", pieceIndex(k, piece.ID)+1), true
	if p := c.cycleLimit(piece); p != nil {
		return w, p
	}
	return w, c.instructed(piece)
}

func pieceIndex(k *Kit, id string) int {
	for i, x := range k.Pieces {
		if x == id {
			return i
		}
	}
	return 0
}

// cycleLimit refuses the cycle after the maker's last one.
func (c *Case) cycleLimit(piece *Piece) *Problem {
	m := c.W.Models[piece.Model]
	if m == nil || m.CycleLimit == 0 || piece.Cycles < m.CycleLimit {
		return nil
	}
	return refuse("cycle_limit", "Ask a supervisor to retire it.",
		"This %s has had %d cycles; its maker allows %d.", piece.Kind, piece.Cycles, m.CycleLimit)
}

// begin opens the cycle when this is its first record.
func (c *Case) begin(w work, k *Kit, piece *Piece) {
	if w.fresh {
		c.emit(CycleOpened{Cycle: w.cycle, Piece: piece.ID, Kit: k.ID, Number: piece.Cycles + 1,
			Procedure: w.proc.Ref(), Loan: k.Loan, Flags: k.Flags,
			Instructions: c.W.InstructionsAt(piece.Model, c.Now.UTC)})
	}
}

// inOrder refuses a step whose turn it is not. The order cannot be changed by any request.
func (w work) inOrder(c *Case, step Step) *Problem {
	if w.proc.Row(step.ID) == nil {
		return refuse("not_wanted", "Open the kit again.",
			"Procedure %q does not want the step %q.", w.proc.Name, step.Words)
	}
	next := w.progress.Next(w.proc)
	if next == step.ID {
		return w.gap(c, step)
	}
	if done, ok := w.progress.Done[step.ID]; ok {
		return conflict("already_done", "Nothing to do: go on with the next step.",
			"%s: already done by %s at %s.", step.Words, done.Name, c.clock(done.Mark.At))
	}
	want, _ := FindStep(next)
	return refuse("order", "Do that first.", "%s comes before %s.", want.Words,
		strings.ToLower(step.Words))
}

// packedAnew tells whether a piece that is packed already is packed once more with its kit: the
// other piece was taken out of the pack since.
func (c *Case) packedAnew(k *Kit, w work) bool {
	if w.progress.Next(w.proc) != StepRelease {
		return false
	}
	for _, id := range k.Pieces {
		if piece := c.W.Pieces[id]; piece != nil && c.W.NextStep(piece) == StepPacking {
			return true
		}
	}
	return false
}

func (c *Case) clock(i Instant) string {
	zone := c.Now.Zone
	if zone == nil {
		zone = time.UTC
	}
	return i.Time().In(zone).Format("15:04")
}

// gap refuses to go on when the procedure's longest gap since the disinfection has passed;
// the disinfection has to be repeated. Packed kits wait for release without limit.
func (w work) gap(c *Case, step Step) *Problem {
	late := GapPassed(w.progress, w.proc, c.mark())
	if late == 0 || stepIndex(step.ID) <= stepIndex(StepDisinfection) {
		return nil
	}
	return refuse("gap", "Disinfect it again, then go on.",
		"The last step was %d min ago; this procedure allows %d min.", late, w.proc.MaxGapMin)
}

// GapPassed gives the minutes since the last record when they exceed the procedure's longest
// gap after a disinfection, otherwise 0.
func GapPassed(p Progress, proc *Procedure, now Mark) int {
	_, wiped := p.Done[StepDisinfection]
	_, packed := p.Done[StepPacking]
	if proc.MaxGapMin == 0 || !wiped || packed {
		return 0
	}
	ms, _ := Elapsed(p.Last, now)
	if minutes := int(ms / 60000); minutes > proc.MaxGapMin {
		return minutes
	}
	return 0
}

// tooFast flags a record that came faster than anybody can do it; it is kept, and counted.
func (w work) tooFast(c *Case, step Step) bool {
	row := w.proc.Row(step.ID)
	if w.fresh || row.MinS == 0 {
		return false
	}
	ms, _ := Elapsed(w.progress.Last, c.mark())
	return ms < int64(row.MinS)*1000
}

// recordingFirst keeps everything that erases behind a safe recording.
func (r RecordStep) recordingFirst(k *Kit, step Step, piece *Piece) *Problem {
	rec := k.Recording
	if v := (Record{Answers: r.Answers}).Answered("recording"); v != "" {
		rec.Status = k.Recording.told(RecordingStatus(v))
	}
	pulls := r.Step == StepReceipt &&
		(Record{Answers: r.Answers}).Answered("old_cell") == "yes" && piece.Kind == Recorder
	if (!step.Safe && !pulls) || rec.Safe() {
		return nil
	}
	return refuse("recording_first",
		"Fetch the recording, or have it signed as given up with a reason.",
		"The last wearer's recording is %s; nothing may be erased and no cell pulled before.",
		recordingWords(rec.Status))
}

// told is the status after somebody answered at the first look: not knowing, or seeing it
// still there, does not undo a signed giving-up.
func (r Recording) told(v RecordingStatus) RecordingStatus {
	if r.Status == RecordingGivenUp && (v == RecordingUnknown || v == RecordingOnIt) {
		return RecordingGivenUp
	}
	return v
}

func recordingWords(s RecordingStatus) string {
	switch s {
	case RecordingArrived:
		return "safe"
	case RecordingOnIt:
		return "still on the device"
	case RecordingNone:
		return "nothing"
	case RecordingGivenUp:
		return "given up"
	}
	return "not known to be safe"
}

// kitFacts adds what the answers say about the whole kit.
func (r RecordStep) kitFacts(c *Case, k *Kit) *Problem {
	rec := Record{Answers: r.Answers}
	if v := RecordingStatus(rec.Answered("recording")); v != "" && r.Step == StepReceipt &&
		k.Recording.told(v) == v {
		c.emit(RecordingSet{Kit: k.ID, Status: v})
	}
	if rec.Answered("complete") == "missing" {
		c.emit(WaitingSet{Kit: k.ID, Reason: "part"})
	}
	return nil
}

// judgeHolds turns grave answers into holds, and the same failure again into a wait for the
// technician: the first try and two repeats.
func (c *Case) judgeHolds(piece *Piece, rec Record, w work) {
	for _, a := range rec.Answers {
		if a.Effect == EffectHold {
			c.emit(Held{Piece: piece.ID, Grade: holdGrade(a.Value), Reason: a.Value})
		}
	}
	after := w.progress
	after.fail(rec)
	if rec.Step == StepFunction && rec.worst() == EffectAgain &&
		after.Tries[StepFunction] > maxRepeats {
		h := Held{Piece: piece.ID, Grade: GradeTechnician, Reason: "failed_twice"}
		if rec.Test != nil {
			h.Note = rec.Test.codesWords()
		}
		c.emit(h)
	}
}

// maxRepeats is how often a failed test is repeated before a technician looks (P14).
const maxRepeats = 2

func holdGrade(reason string) Grade {
	if r, ok := holdReason(reason); ok && r.Grade != "" {
		return r.Grade
	}
	return GradeHold
}
