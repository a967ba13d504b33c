package reprocess

import "handback/reprocess/spectrum"

// TakeBack says that a kit came back. It is accepted from every state: what happened is
// recorded, only what is not allowed next is refused.
type TakeBack struct {
	Kit    string   `json:"kit"`
	Came   []string `json:"came,omitempty"` // pieces that came; empty: all of the kit
	Return Return   `json:"return"`
	Opened bool     `json:"opened,omitempty"`

	swap string // the kit that went out for it
}

// Act is "return".
func (TakeBack) Act() Act { return ActReturn }

// Needs the kit.
func (t TakeBack) Needs() Needs { return Needs{Kit: t.Kit, Pieces: t.Came} }

// NotAsked is the answer of its own for what nobody asked.
const NotAsked = "not_asked"

func (t TakeBack) decide(c *Case) *Problem {
	pieces, p := c.piecesOf(t.Kit, t.Came)
	if p != nil {
		return p
	}
	k := c.W.Kits[t.Kit]
	r, p := t.Return.checked()
	if p != nil {
		return p
	}
	e := TakenBack{Kit: k.ID, Return: r, Opened: t.Opened, Swap: t.swap}
	if e.Return.Worn, p = wornAnswer(c.keeping(k), r.Worn); p != nil {
		return p
	}
	for _, piece := range pieces {
		e.Came = append(e.Came, piece.ID)
	}
	t.custody(c, k, &e)
	unsafe := c.found(k, &e)
	c.emit(e)
	if unsafe {
		c.emit(RecordingSet{Kit: k.ID, Status: RecordingUnknown})
	}
	t.after(c, k, e)
	return nil
}

// custody ends the loan and carries its precautions on; a kit that was not recorded as out
// was in unknown hands.
func (t TakeBack) custody(c *Case, k *Kit, e *TakenBack) {
	flags, skin := c.pending(k)
	e.Return.Flags = carried(flags, e.Return.Flags)
	if skin {
		e.Return.Skin = "yes"
	}
	l := c.W.Loans[k.Loan]
	if !l.Open() {
		e.Return.Custody = "unknown"
		return
	}
	e.Return.Flags = carried(l.Flags, e.Return.Flags)
	if up := c.keeping(k); up != nil && up != l {
		c.backOnWard(k, l, e.Return.Flags)
		e.Return.Flags = carried(up.Flags, e.Return.Flags)
		l = up
	}
	e.Loan = l.ID
}

// keeping is the loan that a return ends: of a wearer on a ward it is the ward's.
func (c *Case) keeping(k *Kit) *Loan {
	l := c.W.Loans[k.Loan]
	if l.OnWard() && l.Open() && c.W.Loans[l.Under] != nil {
		return c.W.Loans[l.Under]
	}
	return l
}

// pending are the precautions, and a wearer's skin trouble, that an earlier return told and
// that no release has answered yet: another take-back or hand-out must not lose them.
func (c *Case) pending(k *Kit) (flags []string, skin bool) {
	for _, id := range k.Pieces {
		p := c.W.Pieces[id]
		if p == nil || p.State == Released || p.State == Registered {
			continue
		}
		flags = carried(p.precautions(k), flags)
		skin = skin || skinTold(k)
	}
	return flags, skin
}

// carried joins what was told at hand-out with what is told at the return: nothing is lost,
// and "nothing known" gives way to whatever is known.
func carried(out, back []string) []string {
	none := string(spectrum.None)
	var all []string
	for _, f := range append(append([]string(nil), out...), back...) {
		if f != none {
			all = withOne(all, f)
		}
	}
	if all == nil && (contains(out, none) || contains(back, none)) {
		return []string{none}
	}
	return all
}

// after sets the holds and waits that the return itself calls for.
func (t TakeBack) after(c *Case, k *Kit, e TakenBack) {
	need, err := spectrum.Needed(flagsOf(e.Return.Flags), nil)
	if err == nil && need.Stop {
		for _, id := range e.Came {
			c.emit(Held{Piece: id, Grade: GradeInfection, Reason: "stop_flag"})
		}
	}
	c.backFromRecall(e.Came)
	if e.Return.Fault == "yes" {
		c.emit(WaitingSet{Kit: k.ID, Reason: "technician"})
	}
	if e.Return.Missing == "yes" {
		c.emit(WaitingSet{Kit: k.ID, Reason: "part"})
	}
	if l := c.W.Loans[e.Loan]; l != nil {
		back := *l // as it will stand
		back.Back, back.Return = c.Now.UTC, &e.Return
		if back.SharedUnreleased() {
			c.emit(WaitingSet{Kit: k.ID, Reason: "infection_control"})
		}
	}
}

// checked reads a return as asked: an empty answer is "not asked".
func (r Return) checked() (Return, *Problem) {
	for _, a := range []*string{&r.Skin, &r.Fault, &r.Missing} {
		switch *a {
		case "":
			*a = NotAsked
		case "yes", "no", NotAsked:
		default:
			return r, invalid("answer", "Answer yes, no or not asked.", "%q is no answer.", *a)
		}
	}
	if p := checkFlags(r.Flags); p != nil {
		return r, p
	}
	if p := r.checkLeft(); p != nil {
		return r, p
	}
	if p := r.checkParts(); p != nil {
		return r, p
	}
	r.Custody, r.Paper = "", nil // both are found out here
	var p *Problem
	if r.Place, p = clean("Place", r.Place, 40); p != nil {
		return r, p
	}
	r.Note, p = clean("Note", r.Note, 200)
	return r, p
}

func checkFlags(flags []string) *Problem {
	if _, err := spectrum.Needed(flagsOf(flags), nil); err != nil {
		return &Problem{Code: Invalid, Rule: "flags", Text: title(err.Error()) + ".",
			Fix: "Choose from the list.", Err: err}
	}
	return nil
}

// NotOurs records something that is not from this pool: bagged, cleaned outside, sent on.
type NotOurs struct {
	Note  string `json:"note"`
	Place string `json:"place,omitempty"`
}

// Act is "not_ours".
func (NotOurs) Act() Act { return ActNotOurs }

// Needs nothing.
func (NotOurs) Needs() Needs { return Needs{} }

func (n NotOurs) decide(c *Case) *Problem {
	note, p := need("What it is", n.Note, 200)
	if p != nil {
		return p
	}
	place, p := clean("Place", n.Place, 40)
	if p != nil {
		return p
	}
	c.emit(ForeignItem{Note: note, Place: place})
	return nil
}

// OpenParcel starts the second waiting clock.
type OpenParcel struct {
	Kit string `json:"kit"`
}

// Act is "parcel_open".
func (OpenParcel) Act() Act { return ActOpenParcel }

// Needs the kit.
func (o OpenParcel) Needs() Needs { return Needs{Kit: o.Kit} }

func (o OpenParcel) decide(c *Case) *Problem {
	k, p := c.kit(o.Kit)
	switch {
	case p != nil:
		return p
	case k.Back == 0:
		return refuse("not_back", "Take it back first.", "Kit %s is not recorded as back.", k.Number)
	case k.Opened != 0:
		return conflict("already_done", "Go on with the first look.",
			"The parcel of kit %s was opened at %s.", k.Number, c.clock(k.Opened))
	}
	c.emit(ParcelOpened{Kit: k.ID})
	return nil
}

// SetRecording says where the last wearer's recording is.
type SetRecording struct {
	Kit    string          `json:"kit"`
	Status RecordingStatus `json:"status"`
}

// GiveUpRecording signs a recording as given up, with a reason.
type GiveUpRecording struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason"`
}

// Act is "recording".
func (SetRecording) Act() Act { return ActRecording }

// Act is "recording_give_up".
func (GiveUpRecording) Act() Act { return ActRecordingGiveUp }

// Needs the kit.
func (s SetRecording) Needs() Needs { return Needs{Kit: s.Kit} }

// Needs the kit.
func (g GiveUpRecording) Needs() Needs { return Needs{Kit: g.Kit} }

func (s SetRecording) decide(c *Case) *Problem {
	k, p := c.kit(s.Kit)
	if p != nil {
		return p
	}
	switch s.Status {
	case RecordingArrived, RecordingNone, RecordingOnIt, RecordingUnknown:
		c.emit(RecordingSet{Kit: k.ID, Status: s.Status})
		return nil
	}
	return invalid("answer", "Choose one of the answers.",
		"%q does not say where a recording is.", s.Status)
}

func (g GiveUpRecording) decide(c *Case) *Problem {
	k, p := c.kit(g.Kit)
	if p != nil {
		return p
	}
	reason, p := need("Reason", g.Reason, 200)
	if p != nil {
		return p
	}
	if k.Recording.Safe() {
		return conflict("already_done", "Go on.", "The recording of kit %s is %s already.",
			k.Number, recordingWords(k.Recording.Status))
	}
	c.emit(RecordingSet{Kit: k.ID, Status: RecordingGivenUp, Reason: reason})
	return nil
}

// Wait adds a waiting reason; EndWait ends one.
type Wait struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason"`
	Who    string `json:"who,omitempty"`
	Next   Date   `json:"next,omitempty"`
	Part   string `json:"part,omitempty"`
}

// EndWait ends a waiting reason.
type EndWait struct {
	Kit    string `json:"kit"`
	Reason string `json:"reason"`
}

// Act is "wait".
func (Wait) Act() Act { return ActWait }

// Act is "wait_end".
func (EndWait) Act() Act { return ActWaitEnd }

// Needs the kit.
func (x Wait) Needs() Needs { return Needs{Kit: x.Kit} }

// Needs the kit.
func (x EndWait) Needs() Needs { return Needs{Kit: x.Kit} }

func (x Wait) decide(c *Case) *Problem {
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	known := false
	for _, r := range waitReasons {
		known = known || r.ID == x.Reason
	}
	if !known {
		return invalid("reason", "Choose from the list.", "%q is no waiting reason.", x.Reason)
	}
	who, p := clean("Who", x.Who, 40)
	if p != nil {
		return p
	}
	part, p := clean("Part", x.Part, 40)
	if p != nil {
		return p
	}
	next, err := ParseDate(string(x.Next))
	if err != nil {
		return invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	c.emit(WaitingSet{Kit: k.ID, Reason: x.Reason, Who: who, Next: next, Part: part})
	return nil
}

func (x EndWait) decide(c *Case) *Problem {
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	for _, wait := range k.Waiting {
		if wait.Reason == x.Reason {
			c.emit(WaitingEnded{Kit: k.ID, Reason: x.Reason})
			return nil
		}
	}
	return conflict("already_done", "Go on.", "Kit %s does not wait for %s any more.", k.Number,
		WaitWords(x.Reason))
}
