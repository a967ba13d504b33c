package reprocess

// Paper is what a sheet says about an act that was entered later: when it was done, until when
// it lasted, by whom. The entry's own time and person stand beside it; order is the entry's
// number. What was entered from paper is always late (Record.Late, Loan.Paper, Return.Paper).
type Paper struct {
	At     Instant `json:"at"`              // claimed
	Until  Instant `json:"until,omitempty"` // claimed end of a contact time
	By     string  `json:"by"`              // person who did it
	Name   string  `json:"name"`
	Sheet  string  `json:"sheet,omitempty"` // SHA-256 of the picture of the sheet
	Counts bool    `json:"counts,omitempty"`
	// Counts: the procedure lets a contact time from paper count towards a release.
}

// PaperWet is a contact time as a sheet has it. Nobody timed it here: it never counts as
// measured, and only where the procedure lets paper release at all.
type PaperWet struct {
	Kit       string   `json:"kit"`
	Pieces    []string `json:"pieces"`
	Container string   `json:"container"`
	Until     Instant  `json:"until"`  // claimed end; the start is the claim's own time
	Stayed    string   `json:"stayed"` // "yes" or "no", as the sheet says
}

// FromPaper enters one act that was done while nobody could reach this log. Exactly one of
// the acts is set; what it may be is judged as of the claimed time and for who did it.
type FromPaper struct {
	Kit   string      `json:"kit"`
	At    Instant     `json:"at"`              // claimed
	By    string      `json:"by"`              // person id of who did it
	Sheet string      `json:"sheet,omitempty"` // SHA-256 of the kept picture of the sheet
	Step  *RecordStep `json:"step,omitempty"`
	Wet   *PaperWet   `json:"wet,omitempty"`
	Back  *TakeBack   `json:"back,omitempty"`
	Out   *HandOut    `json:"out,omitempty"`
}

// ActPaper is "paper": an act entered from paper. The act itself needs its own right as well.
const ActPaper Act = "paper"

// Act is "paper".
func (FromPaper) Act() Act { return ActPaper }

// Act is "wet".
func (PaperWet) Act() Act { return ActWet }

// Needs the kit and the container.
func (x PaperWet) Needs() Needs {
	return Needs{Kit: x.Kit, Pieces: x.Pieces, Containers: []string{x.Container}}
}

// Needs what the act needs.
func (f FromPaper) Needs() Needs {
	n := Needs{Kit: f.Kit}
	if inner, _ := f.inner(); inner != nil {
		n = inner.Needs()
		n.Kit = f.Kit
	}
	return n
}

// inner is the one act; nil when there is none or there are several.
func (f FromPaper) inner() (act Command, kit string) {
	n := 0
	if f.Step != nil {
		act, kit, n = *f.Step, f.Step.Kit, n+1
	}
	if f.Wet != nil {
		act, kit, n = *f.Wet, f.Wet.Kit, n+1
	}
	if f.Back != nil {
		act, kit, n = *f.Back, f.Back.Kit, n+1
	}
	if f.Out != nil {
		act, kit, n = *f.Out, f.Out.Kit, n+1
	}
	if n != 1 {
		return nil, ""
	}
	return act, kit
}

func (f FromPaper) decide(c *Case) *Problem {
	k, p := c.kit(f.Kit)
	if p != nil {
		return p
	}
	inner, kit := f.inner()
	if inner == nil || kit != f.Kit {
		return invalid("paper", "Open the form again.", "One act of one kit is entered at a time.")
	}
	if p := may(c, inner.Act()); p != nil {
		return p
	}
	if out, ok := inner.(HandOut); ok && len(out.Checks) == 0 {
		out.Checks = notOnTheSheet(c.W, k)
		inner = out
	}
	done, p := f.who(c)
	if p != nil {
		return p
	}
	if p := f.inTime(c, k); p != nil {
		return p
	}
	// The act is judged for who did it and as of when it was done. No run of the server and
	// no monotonic clock: what the sheet says is measured by its own figures alone.
	then := &Case{W: c.W, Seq: c.Seq, Actor: Actor{Person: done, Phone: c.Actor.Phone},
		Now: Now{UTC: f.At, Zone: c.Now.Zone}}
	if p := may(then, inner.Act()); p != nil {
		return p
	}
	if p := inner.decide(then); p != nil {
		return p
	}
	for _, e := range then.events {
		c.emit(f.late(e, done))
	}
	return nil
}

// notOnTheSheet answers what the clinic wants answered before a kit leaves, and no sheet holds.
func notOnTheSheet(w *World, k *Kit) []OutCheck {
	var all []OutCheck
	_, must := WantedOut(w, k)
	for _, id := range must {
		all = append(all, OutCheck{Ask: id, Answer: OutNo, Why: noteReason, Note: "not on the sheet"})
	}
	return all
}

// who is the person on the sheet.
func (f FromPaper) who(c *Case) (*Person, *Problem) {
	if f.By == "" {
		return nil, invalid("paper_by", "Choose who did it; the sheet has their name.",
			"Nobody is named who did it.")
	}
	done := c.W.People[f.By]
	if done == nil {
		return nil, missing("person")
	}
	if f.Sheet != "" && !isHash(f.Sheet) {
		return nil, invalid("paper_sheet", "Take the picture again.", "The picture was not kept.")
	}
	if f.Sheet == "" && (f.Step != nil || f.Wet != nil) {
		return nil, invalid("paper_sheet", "Take a picture of it first.",
			"Without a picture of the sheet a step is not entered from paper.")
	}
	return done, nil
}

// inTime keeps the claimed time between the kit's last entry and now: the order of the entries
// must stay the order of what happened.
func (f FromPaper) inTime(c *Case, k *Kit) *Problem {
	end := f.At
	if f.Wet != nil {
		end = max(end, f.Wet.Until)
	}
	switch last := c.W.lastFact(k); {
	case f.At == 0:
		return invalid("paper_time", "Type the time that stands on the sheet.",
			"The time is missing.")
	case end > c.Now.UTC:
		return invalid("paper_time", "Type the time that stands on the sheet.",
			"%s is still to come.", Clock(end, c.Now.Zone))
	case f.At < last:
		return refuse("paper_order", "Enter a sheet before anybody goes on with the kit. "+
			"Otherwise keep its picture with the kit and do the steps again.",
			"The newest entry of kit %s is of %s; %s stands before it.", k.Number,
			Clock(last, c.Now.Zone), Clock(f.At, c.Now.Zone))
	}
	return nil
}

// lastFact is when the newest thing happened to a kit, by the claimed time where it is from
// paper. Where it lies, what it waits for and taps that were taken back do not count.
func (w *World) lastFact(k *Kit) Instant {
	last := max(k.Since, k.Back)
	if k.Release != nil {
		last = max(last, k.Release.At)
	}
	if l := w.Loans[k.Loan]; l != nil {
		last = max(last, l.Out, l.Back)
	}
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || w.Cycles[p.Cycle] == nil {
			continue
		}
		for _, r := range w.Cycles[p.Cycle].Records {
			if !r.Undone {
				last = max(last, r.when().At)
			}
		}
	}
	return last
}

// late marks an event as entered from paper.
func (f FromPaper) late(event Event, done *Person) Event {
	paper := &Paper{At: f.At, By: done.ID, Name: done.Name, Sheet: f.Sheet}
	switch v := event.(type) {
	case StepRecorded:
		if v.Record.Paper != nil { // a contact time: it has its end
			paper.Until, paper.Counts = v.Record.Paper.Until, v.Record.Paper.Counts
		}
		v.Record.Late, v.Record.Together, v.Record.Paper = true, false, paper
		return v
	case CycleOpened:
		v.Claimed = f.At
		return v
	case Held:
		v.Claimed = f.At
		return v
	case TakenBack:
		v.Return.Paper = paper
		return v
	case HandedOut:
		v.Loan.Paper, v.Loan.Out = paper, f.At
		return v
	}
	return event
}

func (x PaperWet) decide(c *Case) *Problem {
	switch {
	case x.Stayed != "yes" && x.Stayed != "no":
		return invalid("stayed", "Choose what the sheet says.",
			"Whether it stayed wet is not answered.")
	case x.Until < c.Now.UTC:
		return invalid("paper_time", "Type the times that stand on the sheet.",
			"The contact time ends before it begins.")
	}
	return c.each(x.Kit, x.Pieces, x.one)
}

func (x PaperWet) one(c *Case, piece *Piece) *Problem {
	k := c.W.Kits[x.Kit]
	w, p := c.wetWork(k, piece)
	if p != nil {
		return p
	}
	con := c.W.Containers[x.Container]
	if con == nil {
		return missing("container")
	}
	asThen := *con
	if asThen.Closed > c.Now.UTC {
		asThen.Closed = 0 // it has run empty since
	}
	suit, p := suitsOn(c.W, &asThen, piece, w.proc, k.Flags, c.Now.Today())
	if p != nil {
		return p
	}
	r := Record{Kind: RecPaperWet, Step: StepDisinfection, Container: suit.Container.ID,
		Lot: suit.Lot.ID, Product: suit.Product.ID, NeededS: suit.NeededS, Learning: w.learning,
		Answers: []Answer{{Ask: "stayed", Value: x.Stayed}},
		Paper:   &Paper{Until: x.Until, Counts: w.proc.PaperRelease}}
	c.emit(StepRecorded{Cycle: w.cycle, Piece: piece.ID, Record: r})
	return nil
}

// or is the claimed time, or the entry's own where nothing was entered from paper.
func (p *Paper) or(at Instant) Instant {
	if p == nil {
		return at
	}
	return p.At
}

// Did is who did what a record says: the person on the sheet, or who recorded it.
func (r Record) Did() (id, name string) {
	if r.Paper != nil {
		return r.Paper.By, r.Paper.Name
	}
	return r.By, r.Name
}

// firstPersons are all who stand behind a record: who did it and who entered it.
func (r Record) firstPersons() []string {
	if r.Paper != nil {
		return []string{r.By, r.Paper.By}
	}
	return []string{r.By}
}

// when is the moment of a record to measure gaps from: the claimed one where it is from paper.
func (r Record) when() Mark {
	switch {
	case r.Paper == nil:
		return r.Mark
	case r.Paper.Until != 0:
		return Mark{At: r.Paper.Until}
	}
	return Mark{At: r.Paper.At}
}

// wholeMinute is the grain of a time without seconds, ms.
const wholeMinute = 60 * 1000

// paperMS is the contact time that a sheet surely says, ms. A start written in whole minutes
// may have been up to a minute later, so a minute is taken off.
func (p *Paper) paperMS() int64 {
	ms := int64(p.Until - p.At)
	if int64(p.At)%wholeMinute == 0 {
		ms -= wholeMinute
	}
	return max(ms, 0)
}

// paper adds an interval as a sheet says it; whatever was being watched has ended.
func (w Wet) paper(r Record) Wet {
	w.Open = false
	i := Interval{NeededS: r.NeededS, Product: r.Product, Containers: withOne(nil, r.Container),
		Lots: withOne(nil, r.Lot), Paper: true}
	if p := r.Paper; p != nil {
		i.From, i.To, i.Counts = Mark{At: p.At}, Mark{At: p.Until}, p.Counts
		if r.Answered("stayed") == "yes" {
			i.MS = p.paperMS()
		}
	}
	w.Intervals = append(w.Intervals, i)
	return w
}

// PaperOnly tells whether all there is of a contact time is from paper and does not count.
func (w Wet) PaperOnly() bool {
	for _, i := range w.Intervals {
		if !i.Paper || i.Counts {
			return false
		}
	}
	return len(w.Intervals) > 0
}
