package reprocess

// PutOnHold puts one piece on hold, for a reason of the list.
type PutOnHold struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	Reason string `json:"reason"`
	Note   string `json:"note,omitempty"`
}

// Act is "hold".
func (PutOnHold) Act() Act { return ActHold }

// Needs the kit and the piece.
func (h PutOnHold) Needs() Needs { return Needs{Kit: h.Kit, Pieces: []string{h.Piece}} }

func (h PutOnHold) decide(c *Case) *Problem {
	piece, p := c.pieceOf(h.Kit, h.Piece)
	if p != nil {
		return p
	}
	r, ok := holdReason(h.Reason)
	if !ok {
		return invalid("reason", "Choose from the list.", "%q is no reason for a hold.", h.Reason)
	}
	note, p := clean("Note", h.Note, 200)
	if p != nil {
		return p
	}
	if piece.State == Recalled {
		return refuse("recalled", "Take it back; it goes on hold then by itself.",
			"This %s is being called back from a wearer.", piece.Kind)
	}
	c.emit(Held{Piece: piece.ID, Grade: r.Grade, Reason: r.ID, Note: note})
	return nil
}

// The ways a decision on a hold can go.
const (
	DecideGoOn   = "go_on"
	DecideRepair = "repair"
	DecideRetire = "retire"
)

// DecideHold is the signed decision on one hold. It leads on into reprocessing, to repair or
// to retirement, never to released.
type DecideHold struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	Hold   int64  `json:"hold"`
	To     string `json:"to"`
	Reason string `json:"reason"`
}

// TechnicianDone ends a technician's wait; the test has to be passed again.
type TechnicianDone struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	Hold   int64  `json:"hold"`
	Reason string `json:"reason"`
}

// Act is "decision".
func (DecideHold) Act() Act { return ActDecision }

// Act is "technician_done".
func (TechnicianDone) Act() Act { return ActTechnicianDone }

// Needs the kit and the piece.
func (d DecideHold) Needs() Needs { return Needs{Kit: d.Kit, Pieces: []string{d.Piece}} }

// Needs the kit and the piece.
func (t TechnicianDone) Needs() Needs { return Needs{Kit: t.Kit, Pieces: []string{t.Piece}} }

func (d DecideHold) decide(c *Case) *Problem {
	piece, h, p := c.holdOf(d.Kit, d.Piece, d.Hold)
	if p != nil {
		return p
	}
	if h.Grade == GradeInfection && !c.Actor.Person.Has(RoleInfection) {
		return &Problem{Code: Forbidden, Rule: "role", Fix: "Ask infection control.",
			Text: "This hold is for infection control to decide."}
	}
	reason, p := need("Reason", d.Reason, 200)
	if p != nil {
		return p
	}
	to, ok := map[string]State{DecideGoOn: 0, DecideRepair: OutForRepair,
		DecideRetire: Retired}[d.To]
	if !ok {
		return invalid("decision", "Choose go on, repair or retire.", "%q is no decision.", d.To)
	}
	if p := repairDeclared(c, piece, to); p != nil {
		return p
	}
	c.emit(HoldEnded{Piece: piece.ID, Hold: h.Seq, Reason: reason})
	if to != 0 {
		c.emit(PieceMoved{Piece: piece.ID, State: to, Reason: reason})
	}
	return nil
}

// repairDeclared lets a piece go to repair as "exposed and decontaminated" only after a
// conforming disinfection in this cycle; otherwise the sender has to declare what is left.
func repairDeclared(c *Case, piece *Piece, to State) *Problem {
	if to != OutForRepair {
		return nil
	}
	if cy := c.openCycle(piece); cy != nil {
		if cy.Progress().decontaminated() {
			return nil
		}
	}
	return refuse("declaration", "Disinfect it first, or set it aside with a declaration of "+
		"what is still contaminated.", "This %s has no finished disinfection in this cycle.",
		piece.Kind)
}

func (c *Case) holdOf(kit, id string, seq int64) (*Piece, *Hold, *Problem) {
	piece, p := c.pieceOf(kit, id)
	if p != nil {
		return nil, nil, p
	}
	// One entry may have set several holds on a piece; one decision ends them all, so the
	// gravest of them says who decides.
	for _, g := range []Grade{GradeInfection, GradeHold, GradeTechnician} {
		for i := range piece.Holds {
			if h := &piece.Holds[i]; h.Seq == seq && h.Grade == g {
				return piece, h, nil
			}
		}
	}
	return nil, nil, conflict("already_done", "Open the kit again.",
		"That hold has been decided already.")
}

func (t TechnicianDone) decide(c *Case) *Problem {
	piece, h, p := c.holdOf(t.Kit, t.Piece, t.Hold)
	if p != nil {
		return p
	}
	if h.Grade != GradeTechnician {
		return refuse("grade", holdAsk[h.Grade], "This hold is not a technician's to end.")
	}
	reason, p := need("What was found", t.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(HoldEnded{Piece: piece.ID, Hold: h.Seq, Reason: reason})
	return nil
}

// Undo takes back the newest tap on a kit: the same person, within two minutes, nothing
// later on the pieces it touched. Releases and decisions are not taken back.
type Undo struct {
	Kit string `json:"kit"`
	Of  int64  `json:"of"`
}

// UndoWithin is how long a tap can be taken back.
const UndoWithinMS = 2 * 60 * 1000

// Act is "undo".
func (Undo) Act() Act { return ActUndo }

// Needs the kit.
func (u Undo) Needs() Needs { return Needs{Kit: u.Kit} }

func (u Undo) decide(c *Case) *Problem {
	k, p := c.kit(u.Kit)
	if p != nil {
		return p
	}
	e := Undone{Of: u.Of, Kit: k.ID}
	for _, id := range k.Pieces {
		hit, p := u.undoable(c, c.W.Pieces[id])
		if p != nil {
			return p
		}
		if hit != nil {
			e.Cycles = append(e.Cycles, hit.ID)
		}
	}
	if len(e.Cycles) == 0 {
		return refuse("undo", "Record the right answer as a new act.",
			"There is no tap of this kind to take back.")
	}
	if k.Recording.At != 0 && u.setRecording(c, e.Cycles, k) {
		// What was known before is not kept on the kit; unknown is never safe.
		e.Recording = &Recording{Status: RecordingUnknown, At: c.Now.UTC, By: c.Actor.Person.ID}
	}
	c.emit(e)
	return nil
}

// undoable gives the piece's open cycle when its newest record is of the entry to take back.
func (u Undo) undoable(c *Case, piece *Piece) (*Cycle, *Problem) {
	if piece == nil {
		return nil, nil
	}
	cy := c.openCycle(piece)
	if cy == nil {
		return nil, nil
	}
	last := lastRecord(cy)
	found := false
	for _, r := range cy.Records {
		found = found || (r.Seq == u.Of && !r.Undone)
	}
	if !found {
		return nil, nil
	}
	ms, _ := Elapsed(last.Mark, c.mark())
	switch {
	case last.Seq != u.Of:
		return nil, refuse("undo_later", "Record the right answer as a new act.",
			"Something was recorded on this %s after it.", piece.Kind)
	case last.By != c.Actor.Person.ID:
		return nil, refuse("undo_other", "Ask "+last.Name+".", "%s tapped it.", last.Name)
	case ms > UndoWithinMS:
		return nil, refuse("undo_late", "Record the right answer as a new act.",
			"It was recorded %d s ago; a tap can be taken back for 120 s.", ms/1000)
	case last.Kind == RecOverride || last.Kind == RecCountersign:
		return nil, refuse("undo_signed", "Ask a supervisor.", "A signed act is not taken back.")
	}
	return cy, nil
}

func lastRecord(cy *Cycle) Record {
	for i := len(cy.Records) - 1; i >= 0; i-- {
		if !cy.Records[i].Undone {
			return cy.Records[i]
		}
	}
	return Record{}
}

func (u Undo) setRecording(c *Case, cycles []string, k *Kit) bool {
	for _, id := range cycles {
		for _, r := range c.W.Cycles[id].Records {
			if r.Seq == u.Of && r.Answered("recording") != "" {
				return true
			}
		}
	}
	return false
}

// SmallRepair records a small in-house repair; inspection and test follow again.
type SmallRepair struct {
	Kit   string `json:"kit"`
	Piece string `json:"piece"`
	Part  string `json:"part"`
}

// Act is "small_repair".
func (SmallRepair) Act() Act { return ActSmallRepair }

// Needs the kit and the piece.
func (s SmallRepair) Needs() Needs { return Needs{Kit: s.Kit, Pieces: []string{s.Piece}} }

func (s SmallRepair) decide(c *Case) *Problem {
	pieces, p := c.piecesOf(s.Kit, []string{s.Piece})
	if p != nil {
		return p
	}
	w, p := c.work(c.W.Kits[s.Kit], pieces[0])
	if p != nil {
		return p
	}
	if _, dry := w.progress.Done[StepDrying]; !dry {
		return refuse("order", "Clean, disinfect and dry it first.",
			"A part is changed on a clean, dry piece.")
	}
	if inspection, ok := FindStep(StepInspection); ok {
		if p := w.gap(c, inspection); p != nil {
			return p // it would hide that the gap has passed
		}
	}
	part, p := need("The part", s.Part, 60)
	if p != nil {
		return p
	}
	c.emit(StepRecorded{Cycle: w.cycle, Piece: pieces[0].ID, Record: Record{Kind: RecRepair,
		Step: StepInspection, Reason: part, Learning: w.learning}})
	return nil
}

// Countersign stands for every open record of a learner on a kit.
type Countersign struct {
	Kit string `json:"kit"`
}

// Act is "countersign".
func (Countersign) Act() Act { return ActCountersign }

// Needs the kit.
func (s Countersign) Needs() Needs { return Needs{Kit: s.Kit} }

func (s Countersign) decide(c *Case) *Problem {
	pieces, p := c.piecesOf(s.Kit, nil)
	if p != nil {
		return p
	}
	count := 0
	for _, piece := range pieces {
		n, p := s.one(c, piece)
		if p != nil {
			return p
		}
		count += n
	}
	if count == 0 {
		return conflict("already_done", "Go on.", "Nothing of a learner waits for a signature here.")
	}
	return nil
}

func (s Countersign) one(c *Case, piece *Piece) (int, *Problem) {
	cy := c.openCycle(piece)
	if cy == nil {
		return 0, nil
	}
	open := cy.Progress().Unsigned
	if len(open) == 0 {
		return 0, nil
	}
	proc, p := c.procedure(piece)
	if p != nil {
		return 0, p
	}
	learning, p := c.competent(proc)
	if p != nil {
		return 0, p
	}
	for _, r := range open {
		if learning || contains(r.firstPersons(), c.Actor.Person.ID) {
			return 0, refuse("countersign", "Ask somebody competent.",
				"A learner's step is signed by another person who is competent.")
		}
		c.emit(StepRecorded{Cycle: cy.ID, Piece: piece.ID,
			Record: Record{Kind: RecCountersign, Step: r.Step, For: r.Seq}})
	}
	return len(open), nil
}

// Override accepts one step "not as written", where the procedure allows it at all: signed,
// with a reason, by someone entitled and competent; it shows for ever.
type Override struct {
	Kit    string `json:"kit"`
	Piece  string `json:"piece"`
	Step   StepID `json:"step"`
	Reason string `json:"reason"`
}

// Act is "override".
func (Override) Act() Act { return ActOverride }

// Needs the kit and the piece.
func (o Override) Needs() Needs { return Needs{Kit: o.Kit, Pieces: []string{o.Piece}} }

func (o Override) decide(c *Case) *Problem {
	step, ok := FindStep(o.Step)
	if !ok {
		return invalid("step", "Open the kit again.", "%q is not a step.", o.Step)
	}
	pieces, p := c.piecesOf(o.Kit, []string{o.Piece})
	if p != nil {
		return p
	}
	k := c.W.Kits[o.Kit]
	w, p := c.work(k, pieces[0])
	if p != nil {
		return p
	}
	if w.learning {
		return refuse("learning", "Ask somebody competent.",
			"Learning staff do not accept a step other than as written.")
	}
	if p := w.inOrder(c, step); p != nil {
		return p
	}
	if !step.Override || !w.proc.Row(o.Step).Override {
		return refuse("no_override", "Do the step as written.",
			"This procedure does not allow %q other than as written.", step.Words)
	}
	if step.Safe && !k.Recording.Safe() {
		return (RecordStep{Step: o.Step}).recordingFirst(k, step, pieces[0])
	}
	reason, p := need("Reason", o.Reason, 200)
	if p != nil {
		return p
	}
	c.emit(StepRecorded{Cycle: w.cycle, Piece: pieces[0].ID, Record: Record{Kind: RecOverride,
		Step: o.Step, Reason: reason}})
	return nil
}
