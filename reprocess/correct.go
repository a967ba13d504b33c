package reprocess

import "slices"

// Correct puts right what was recorded in a cycle of a piece. Nothing is edited: a new entry
// supersedes the old record at its place, with a reason; both stay readable, and the gate is
// asked again, as of the day of the release. Times and persons cannot be corrected, and of a
// contact time only what speaks against it: that the surface was dry when it was said to be wet.
type Correct struct {
	Kit       string   `json:"kit"`
	Piece     string   `json:"piece"`
	Of        int64    `json:"of"`              // the entry whose record is wrong
	Cycle     string   `json:"cycle,omitempty"` // the cycle it stands in; empty: the newest
	Answers   []Answer `json:"answers,omitempty"`
	Container string   `json:"container,omitempty"` // of a wetting: it was another one
	Dry       bool     `json:"dry,omitempty"`       // of a look: it had not stayed wet
	Reason    string   `json:"reason"`
}

// RecordCorrected supersedes the record that entry Of made in a cycle.
type RecordCorrected struct {
	Of     int64  `json:"of"`
	Cycle  string `json:"cycle"`
	Piece  string `json:"piece"`
	Kit    string `json:"kit"`
	Record Record `json:"record"` // the facts as they are right; who and when stay those of the old
	Reason string `json:"reason"`
	// Failed is what the gate says of the cycle's release now; empty: it still passes, or there
	// was none. Who wore the piece on such a release is a question for a look-back.
	Failed string `json:"failed,omitempty"`
}

// EventName is "record_corrected".
func (RecordCorrected) EventName() string { return "record_corrected" }

// Act is "correct".
func (Correct) Act() Act { return ActCorrect }

// Needs the kit, the cycle, and what the corrected facts name.
func (x Correct) Needs() Needs {
	n := RecordStep{Kit: x.Kit, Pieces: []string{x.Piece}, Answers: x.Answers}.Needs()
	if x.Cycle != "" {
		n.Cycles = []string{x.Cycle}
	}
	if x.Container != "" {
		n.Containers = []string{x.Container}
	}
	return n
}

func (x Correct) decide(c *Case) *Problem {
	piece, p := c.pieceOf(x.Kit, x.Piece)
	if p != nil {
		return p
	}
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	reason, p := need("The reason", x.Reason, 200)
	if p != nil {
		return p
	}
	cycle, old, p := x.record(c, piece)
	if p != nil {
		return p
	}
	next, p := x.corrected(c, k, piece, cycle, *old)
	if p != nil {
		return p
	}
	e := RecordCorrected{Of: x.Of, Cycle: cycle.ID, Piece: piece.ID, Kit: k.ID, Record: next,
		Reason: reason}
	if cycle.End == EndReleased {
		if p := c.stillPasses(k, piece, cycle.corrected(&Entry{Seq: c.Seq}, e)); p != nil {
			e.Failed = p.Text
		}
	}
	c.emit(e)
	x.consequences(c, k, piece, cycle, e)
	return nil
}

// record finds what is to be corrected: in that cycle, not taken back, not superseded.
func (x Correct) record(c *Case, piece *Piece) (*Cycle, *Record, *Problem) {
	cycle := c.W.Cycles[piece.Cycle]
	if x.Cycle != "" {
		if cycle = c.W.Cycles[x.Cycle]; cycle == nil || cycle.Piece != piece.ID {
			return nil, nil, missing("cycle")
		}
	}
	if cycle == nil {
		return nil, nil, refuse("nothing_recorded", "Open the kit again.",
			"Nothing is recorded on this %s.", piece.Kind)
	}
	for i := range cycle.Records {
		if r := &cycle.Records[i]; r.Seq == x.Of && !r.Undone {
			return cycle, r, nil
		}
	}
	return nil, nil, refuse("not_correctable", "Open the history of the kit and choose the entry "+
		"that stands there now.", "Entry %d holds nothing of this %s's cycle that still counts.",
		x.Of, piece.Kind)
}

// corrected is the record as it is right.
func (x Correct) corrected(c *Case, k *Kit, piece *Piece, cycle *Cycle, old Record) (Record, *Problem) {
	proc := c.W.Procedures[cycle.Procedure]
	if proc == nil {
		return Record{}, missing("procedure")
	}
	learning, p := c.competent(proc)
	if p != nil {
		return Record{}, p
	}
	if learning {
		return Record{}, refuse("learning", "Ask somebody competent.", "Learning staff do not correct.")
	}
	next := Record{Kind: old.Kind, Step: old.Step, Answers: old.Answers, Container: old.Container,
		Instrument: old.Instrument,
		Lot:        old.Lot, Product: old.Product, NeededS: old.NeededS, NotLookS: old.NotLookS,
		Test: old.Test}
	switch {
	case old.Kind == RecAnswer && len(x.Answers) > 0 && x.Container == "" && !x.Dry:
		next.Answers, p = x.answers(c, k, piece, proc, old)
	case old.Kind == RecWetNow && x.Container != "" && len(x.Answers) == 0 && !x.Dry:
		p = x.container(c, &next)
	case old.Kind == RecLooksWet && x.Dry && x.Container == "" && len(x.Answers) == 0:
		next.Kind, next.NotLookS = RecSeenDry, 0
	default:
		p = refuse("not_correctable", "Record what is right as a new act, or put the kit on hold.",
			"Times, persons and signatures are not corrected, and a contact time only against itself.")
	}
	if p == nil && next.same(old) {
		p = conflict("already_done", "Nothing to do.", "This is what is recorded already.")
	}
	return next, p
}

// answers judges the step's answers anew. A box of cells that nobody may take any more, stopped,
// expired or used up, may be named all the same when it is the truth; the gate then speaks.
func (x Correct) answers(c *Case, k *Kit, piece *Piece, proc *Procedure, old Record) ([]Answer, *Problem) {
	then := *c
	then.Now.UTC, then.events, then.past = old.when().At, nil, true
	r := RecordStep{Kit: k.ID, Step: old.Step, Answers: x.Answers}
	answers, p := r.judge(&then, k.asAsked(old), piece, proc)
	if p == nil && old.Test != nil && slices.ContainsFunc(answers, old.hides) {
		return nil, refuse("test_stands", "Test it again.",
			"What the recording showed is not corrected by hand.")
	}
	return answers, p
}

// hides tells whether a corrected answer says better than the test of a record: what failed
// passes, or a file that was judged as worn by a person is one from the bench.
func (r Record) hides(now Answer) bool {
	if now.Ask == "worn_by" && now.Value == "bench" && r.Test.Source == "person" {
		return true
	}
	return now.Effect != EffectAgain && slices.ContainsFunc(r.Answers, func(was Answer) bool {
		return was.Ask == now.Ask && was.Effect == EffectAgain
	})
}

// asAsked is the kit with what the wearer of that day had told as far as it made a question: a
// later return must neither add one nor take one away.
func (k *Kit) asAsked(old Record) *Kit {
	then := *k
	then.Return = nil
	for _, a := range old.Answers {
		if ask, ok := FindAsk(a.Ask); ok && ask.When == "skin" {
			then.Return = &Return{Skin: "yes"}
		}
	}
	return &then
}

// CorrectAsks lists what the step of a record asked of a piece on its day.
func CorrectAsks(w *World, k *Kit, piece *Piece, proc *Procedure, old Record) []Ask {
	return WantedAsks(w, k.asAsked(old), piece, proc, old.Step)
}

// container names the one that was used in truth; whether it was good enough, the gate asks.
func (x Correct) container(c *Case, next *Record) *Problem {
	con := c.W.Containers[x.Container]
	if con == nil {
		return missing("container")
	}
	next.Container = con.ID
	if s, p := c.W.chain(con); p == nil {
		next.Lot, next.Product = s.Lot.ID, s.Product.ID
		return nil
	}
	next.Lot, next.Product = con.Lot, ""
	return nil
}

// same tells whether a correction changes nothing.
func (r Record) same(old Record) bool {
	if r.Kind != old.Kind || r.Container != old.Container || len(r.Answers) != len(old.Answers) {
		return false
	}
	for i := range r.Answers {
		if r.Answers[i] != old.Answers[i] {
			return false
		}
	}
	return true
}

// consequences are what a correction does today, in the same entry and to be ended by one
// decision. A kit whose standing release no longer passes is stopped or called back. A piece that
// is here without a release is held by a grave answer. After an older cycle nothing is to be
// done to the piece: what stands now was recorded since, or is still to be.
func (x Correct) consequences(c *Case, k *Kit, piece *Piece, cycle *Cycle, e RecordCorrected) {
	grave := e.Record.gravest()
	switch {
	case piece.Cycle != cycle.ID:
	case e.Failed != "" && (piece.State == Released || piece.State == Issued):
		why := e.Failed
		if grave != "" {
			why = HoldWords(grave)
		}
		c.stop(k, "after a correction: "+why, 0)
	case grave != "" && piece.State != Embargoed && piece.State != Recalled:
		c.emit(Held{Piece: piece.ID, Grade: holdGrade(grave), Reason: grave})
	}
}

// gravest is the reason that an answer holds the piece for, "" for none; the one for infection
// control first.
func (r Record) gravest() (reason string) {
	for _, a := range r.Answers {
		if a.Effect == EffectHold && (reason == "" || holdGrade(a.Value) == GradeInfection) {
			reason = a.Value
		}
	}
	return reason
}

// recordConditions are the rows of the gate that a correction can change.
var recordConditions = []func(*gateFacts) *Problem{gateSteps, gateWet, gateContainer, gateLearning}

// stillPasses asks those rows about a released cycle, on the day of its release.
func (c *Case) stillPasses(k *Kit, piece *Piece, cycle *Cycle) *Problem {
	then := *c
	then.Now.UTC = cycle.Ended
	f := &gateFacts{c: &then, kit: k, piece: piece, model: c.W.Models[piece.Model], cycle: cycle,
		proc: c.W.Procedures[cycle.Procedure], progress: cycle.Progress()}
	if f.proc == nil {
		return missing("procedure")
	}
	for _, check := range recordConditions {
		if p := check(f); p != nil {
			return p
		}
	}
	if r, ok := f.progress.Done[StepBattery]; ok && r.Answered("cell") != "" {
		return c.W.cellsGood(piece, r.Answered("cell"), then.Now.Today())
	}
	return nil
}

// corrected is the cycle with the record replaced at its place: the old one stays readable and
// no longer counts.
func (c *Cycle) corrected(e *Entry, v RecordCorrected) *Cycle {
	out := *c
	out.Records = nil
	for _, r := range c.Records {
		if r.Seq != v.Of || r.Undone {
			out.Records = append(out.Records, r)
			continue
		}
		next := v.Record
		next.Seq, next.Mark, next.By, next.Name, next.Second = e.Seq, r.Mark, r.By, r.Name, r.Second
		next.Late, next.Paper, next.Together = r.Late, r.Paper, r.Together
		next.Supersedes, next.CorrectedBy = v.Of, e.By
		r.Undone = true
		out.Records = append(out.Records, r, next)
	}
	return &out
}

// correct folds a correction.
func (w *World) correct(e *Entry, v RecordCorrected) {
	if c := w.Cycles[v.Cycle]; c != nil {
		put(w, w.Cycles, TableCycle, c.ID, *c.corrected(e, v))
	}
	w.settle(v.Piece)
}
