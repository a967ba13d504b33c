package reprocess

import "strings"

// Pair checks that recorder and phone of a kit belong together, by the labels of both, each
// read with its cycle finished up to packing. It is the check that keeps a wearer's recording
// from going to another wearer's phone.
type Pair struct {
	Kit      string `json:"kit"`
	Recorder string `json:"recorder"` // code read from the recorder's label
	Phone    string `json:"phone"`    // code read from the phone's label
}

// PairChecked says that both labels of a kit were read together, and in which cycles.
type PairChecked struct {
	Kit           string `json:"kit"`
	Recorder      string `json:"recorder"` // ids of the pieces
	Phone         string `json:"phone"`
	RecorderCycle string `json:"recorder_cycle"`
	PhoneCycle    string `json:"phone_cycle"`
}

// PairSeen is the newest check of a kit; ask Paired whether it still counts.
type PairSeen struct {
	Seq    int64     `json:"seq"`
	At     Instant   `json:"at"`
	By     string    `json:"by"`
	Cycles [2]string `json:"cycles"` // of recorder and phone, in this order
}

// EventName is "pair_checked".
func (PairChecked) EventName() string { return "pair_checked" }

// ActPair is anybody's at the bench.
const ActPair Act = "pair"

// Act is "pair".
func (Pair) Act() Act { return ActPair }

// Needs the kit and both labels.
func (x Pair) Needs() Needs { return Needs{Kit: x.Kit, Labels: []string{x.Recorder, x.Phone}} }

func (x Pair) decide(c *Case) *Problem {
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	if !k.HasPhone(c.W.Pieces) {
		return refuse("no_phone", "Go on with packing.", "Kit %s has no phone to pair.", k.Number)
	}
	recorder, p := c.readLabel(k, Recorder, x.Recorder)
	if p != nil {
		return p
	}
	phone, p := c.readLabel(k, Phone, x.Phone)
	if p != nil {
		return p
	}
	c.emit(PairChecked{Kit: k.ID, Recorder: recorder.ID, Phone: phone.ID,
		RecorderCycle: recorder.Cycle, PhoneCycle: phone.Cycle})
	return nil
}

// CheckFirst tells what is wrong with the recorder's label before the phone is asked for; nil
// when it is the recorder of the kit and its cycle is finished up to packing.
func (x Pair) CheckFirst(w *World, now Now) *Problem {
	c := &Case{W: w, Now: now}
	k, p := c.kit(x.Kit)
	if p == nil {
		_, p = c.readLabel(k, Recorder, x.Recorder)
	}
	return p
}

// readLabel gives the piece of a kind behind a label of the kit, with its own cycle finished.
func (c *Case) readLabel(k *Kit, kind Kind, code string) (*Piece, *Problem) {
	if code == "" {
		return nil, invalid("label", "Scan it, or type its letters.", "The label of the %s was not read.", kind)
	}
	if p := c.scanBack(k, code); p != nil {
		return nil, p
	}
	piece := c.W.Pieces[c.W.Labels[code].Target]
	switch {
	case piece == nil:
		return nil, missing(string(kind))
	case piece.Kind != kind:
		return nil, refuse("other_piece", "Scan the label of the "+string(kind)+".",
			"This is the label of the %s.", piece.Kind)
	}
	return piece, c.finished(piece)
}

// finished refuses a piece whose own cycle still has steps before packing.
func (c *Case) finished(piece *Piece) *Problem {
	cycle := c.openCycle(piece)
	if cycle == nil {
		return refuse("no_cycle", "Reprocess it first.",
			"The %s has not been reprocessed since it came back (it is %s).", piece.Kind, piece.State)
	}
	proc := c.W.Procedures[cycle.Procedure]
	if proc == nil {
		return missing("procedure")
	}
	if h := piece.Held(GradeHold, GradeInfection, GradeTechnician); h != nil {
		return refuse("on_hold", holdAsk[h.Grade], "The %s is on hold: %s.", piece.Kind,
			HoldWords(h.Reason))
	}
	next := cycle.Progress().Next(proc)
	if next == StepPacking || next == StepRelease {
		return nil
	}
	step, _ := FindStep(next)
	return refuse("pair_cycle", "Do that first, then scan both.",
		"The %s has not finished its own cycle: %s is next.", piece.Kind, strings.ToLower(step.Words))
}

// Paired tells whether recorder and phone were scanned as a pair in the cycles they are in now.
func (w *World) Paired(k *Kit) bool {
	if k.Pair == nil {
		return false
	}
	var now [2]string
	for _, id := range k.Pieces {
		switch p := w.Pieces[id]; {
		case p == nil:
		case p.Kind == Recorder:
			now[0] = p.Cycle
		case p.Kind == Phone:
			now[1] = p.Cycle
		}
	}
	return now == k.Pair.Cycles
}

// WantsPair tells whether a kit has to be scanned as a pair before it is packed: it has a phone
// and the procedure of its recorder says so.
func (w *World) WantsPair(k *Kit) bool {
	c := &Case{W: w}
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || p.Kind != Recorder {
			continue
		}
		proc, problem := c.procedure(p)
		return problem == nil && proc.PairScan && k.HasPhone(w.Pieces)
	}
	return false
}

// pairFirst refuses to pack what was not scanned as a pair. What is entered from paper was not
// scanned; the release asks for it then.
func (r RecordStep) pairFirst(c *Case, k *Kit) *Problem {
	if r.Step != StepPacking || c.past || !c.W.WantsPair(k) || c.W.Paired(k) {
		return nil
	}
	return pairMissing(k)
}

func pairMissing(k *Kit) *Problem {
	return refuse("pair", "Scan the recorder's label, then the phone's.",
		"Recorder and phone of kit %s were not scanned as a pair.", k.Number)
}

// gatePair asks again at the release: a phone that was exchanged since was not scanned.
func gatePair(f *gateFacts) *Problem {
	if f.piece.Kind != Recorder || !f.c.W.WantsPair(f.kit) || f.c.W.Paired(f.kit) {
		return nil
	}
	return pairMissing(f.kit)
}

func (w *World) pairKit(e *Entry, v PairChecked) {
	w.changeKit(v.Kit, func(k *Kit) {
		k.Pair = &PairSeen{Seq: e.Seq, At: e.At, By: e.By,
			Cycles: [2]string{v.RecorderCycle, v.PhoneCycle}}
	})
}
