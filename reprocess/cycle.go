package reprocess

// Cycle is one pass from receipt to release of one piece. Its records are the truth; where
// it stands is folded from them by Progress, so that an undo or a correction only marks a
// record and folds again. A cycle holds some tens of records, whatever the history.
type Cycle struct {
	ID        string   `json:"id"`
	Piece     string   `json:"piece"`
	Kit       string   `json:"kit"`
	Number    int      `json:"number"`    // of this piece, 1-based, earlier ones included
	Procedure string   `json:"procedure"` // "id@version" in force when it began
	Opened    Instant  `json:"opened"`
	Loan      string   `json:"loan,omitempty"`  // the loan it follows, if any
	Flags     []string `json:"flags,omitempty"` // precautions it answers
	Records   []Record `json:"records"`
	Ended     Instant  `json:"ended,omitempty"`
	End       CycleEnd `json:"end,omitempty"`
	Releaser  string   `json:"releaser,omitempty"`

	Instructions []InstructionsUsed `json:"instructions,omitempty"` // on file when it began
}

// CycleEnd is how a cycle ended.
type CycleEnd string

// The ends of a cycle.
const (
	EndReleased  CycleEnd = "released"
	EndBrokenOff CycleEnd = "broken_off" // taken back, sent to repair or retired in between
)

// RecordKind is what one record of a cycle says.
type RecordKind string

// The kinds of records.
const (
	RecAnswer      RecordKind = "answer"       // a step's answers
	RecWetNow      RecordKind = "wet_now"      // the whole surface is wet, by this container
	RecLooksWet    RecordKind = "looks_wet"    // looked at: still wet
	RecSeenDry     RecordKind = "seen_dry"     // looked at: dry, or did not stay wet
	RecNotWatched  RecordKind = "not_watched"  // nobody looked
	RecOverride    RecordKind = "override"     // a step accepted "not as written", signed
	RecCountersign RecordKind = "countersign"  // a competent person stands for a learner
	RecPaperWet    RecordKind = "paper_wet"    // a contact time as a sheet says it
	RecSoftware    RecordKind = "software"     // other software or app: to be tested again
	RecRepair      RecordKind = "small_repair" // in-house: cover, clip, seal
)

// Record is one fact of a cycle, with who, when and by which entry.
type Record struct {
	Seq       int64      `json:"seq"`
	Mark      Mark       `json:"mark"`
	By        string     `json:"by"`
	Name      string     `json:"name"`
	Kind      RecordKind `json:"kind"`
	Step      StepID     `json:"step"`
	Answers   []Answer   `json:"answers,omitempty"`
	Container string     `json:"container,omitempty"`
	Lot       string     `json:"lot,omitempty"`
	Product   string     `json:"product,omitempty"`
	NeededS   int        `json:"needed_s,omitempty"`   // contact time in force, s
	NotLookS  int        `json:"not_look_s,omitempty"` // "not looked at for N s", confirmed
	Reason    string     `json:"reason,omitempty"`
	Second    string     `json:"second,omitempty"` // second person of an override
	Learning  bool       `json:"learning,omitempty"`
	For       int64      `json:"for,omitempty"`      // the record a countersignature stands for
	Together  bool       `json:"together,omitempty"` // faster than plausible: recorded together
	Late      bool       `json:"late,omitempty"`     // entered from paper
	Paper     *Paper     `json:"paper,omitempty"`    // what the sheet says; with Late only
	Undone    bool       `json:"undone,omitempty"`
	Test      *Test      `json:"test,omitempty"` // evidence of a function test

	Instrument string `json:"instrument,omitempty"` // number of what was measured with

	// Of a corrected record: the entry whose record it supersedes, and who corrected.
	Supersedes  int64  `json:"supersedes,omitempty"`
	CorrectedBy string `json:"corrected_by,omitempty"`
}

// Answer is one question answered; Effect is kept so that the verdict of that day stands.
type Answer struct {
	Ask    string `json:"ask"`
	Value  string `json:"value"`
	Effect Effect `json:"effect,omitempty"`
}

// Answered finds the value of a question in a record, or "".
func (r Record) Answered(ask string) string {
	for _, a := range r.Answers {
		if a.Ask == ask {
			return a.Value
		}
	}
	return ""
}

// worst is the hardest effect among the answers.
func (r Record) worst() Effect {
	rank := map[Effect]int{EffectOK: 0, EffectNote: 1, EffectAgain: 2, EffectHold: 3}
	w := EffectOK
	for _, a := range r.Answers {
		if rank[a.Effect] > rank[w] {
			w = a.Effect
		}
	}
	return w
}

// Progress is where a cycle stands, folded from its records.
type Progress struct {
	Done     map[StepID]Record // the record that finished each step, where it still counts
	Last     Mark              // newest record that counts
	Wet      Wet
	Tries    map[StepID]int // failures in a row by the same reason
	failed   map[StepID]map[string]int
	Override bool     // something was accepted "not as written"
	Late     bool     // something was entered from paper
	Unsigned []Record // a learner's records that nobody countersigned
	Wipers   []string // who carried out the disinfection
	Touched  bool     // a test on a person since the last conforming disinfection
}

// Progress folds the records of the cycle. p is the procedure version the cycle runs under.
func (c *Cycle) Progress() Progress {
	p := newProgress()
	signed := map[int64]bool{}
	for _, r := range c.Records {
		if r.Undone {
			continue
		}
		if r.Kind == RecCountersign {
			signed[r.For] = true
		}
		p.take(r)
	}
	for _, r := range c.Records {
		if r.Learning && !r.Undone && !signed[r.Seq] {
			p.Unsigned = append(p.Unsigned, r)
		}
	}
	return p
}

func newProgress() Progress {
	return Progress{Done: map[StepID]Record{}, Tries: map[StepID]int{},
		failed: map[StepID]map[string]int{}}
}

// take folds one record. A new wetting after the disinfection was done starts it anew: the
// piece is wet again, so drying no longer counts either. A test on a person calls for a
// disinfection after it, the one allowed loop.
func (p *Progress) take(r Record) {
	if r.Kind != RecCountersign && r.Kind != RecSoftware { // on paper, or of a phone: no work on it
		p.Last = r.when()
	}
	p.Late = p.Late || r.Late
	if r.opensPack() {
		delete(p.Done, StepPacking)
	}
	switch r.Kind {
	case RecAnswer, RecRepair:
		p.answer(r)
	case RecSoftware:
		delete(p.Done, StepFunction)
	case RecOverride:
		p.Override = true
		p.Done[r.Step] = r
		p.reopen(r.Step)
		p.afterSkin(r.Step)
	case RecWetNow, RecLooksWet, RecSeenDry, RecNotWatched, RecPaperWet:
		p.wet(r)
	}
}

// opensPack tells whether a record is of work on the piece itself, for which it was taken out of
// its pack: it is packed anew after that.
func (r Record) opensPack() bool {
	switch r.Kind {
	case RecAnswer, RecWetNow, RecPaperWet, RecSoftware, RecRepair:
		return true
	}
	return false
}

func (p *Progress) answer(r Record) {
	if r.Kind == RecRepair {
		delete(p.Done, StepInspection)
		delete(p.Done, StepFunction)
		return
	}
	if r.Step == StepFunction && r.Answered("worn_by") == "person" {
		p.Touched, p.Wet = true, Wet{} // whatever the test showed
	}
	if w := r.worst(); w == EffectAgain || w == EffectHold {
		p.fail(r)
		return
	}
	p.Done[r.Step], p.Tries[r.Step] = r, 0
	delete(p.failed, r.Step)
	p.reopen(r.Step)
	if r.Step == StepDrying {
		p.Wet.Open = false // seen dry: a later look cannot find it still wet
	}
	p.afterSkin(r.Step)
}

// decontaminated tells whether a disinfection was finished, and no skin touched since.
func (p Progress) decontaminated() bool {
	_, wiped := p.Done[StepDisinfection]
	return wiped && !p.Touched
}

// afterSkin asks for a disinfection once the function test is over, by its last try or by an
// override, when any try since the last disinfection was on a person. Between the tries nothing
// is asked: it is worn again at once.
func (p *Progress) afterSkin(step StepID) {
	if step == StepFunction && p.Touched {
		delete(p.Done, StepDisinfection)
		delete(p.Done, StepDrying)
		p.Wet = Wet{}
	}
}

// reopen lets what was done before a first look or a cleaning that had to be done again count no
// more: what is cleaned anew has to be disinfected anew. Without a correction nothing of it
// stands when their turn comes.
func (p *Progress) reopen(step StepID) {
	if step != StepReceipt && step != StepCleaning {
		return
	}
	for later := range p.Done {
		if stepIndex(later) > stepIndex(step) {
			delete(p.Done, later)
		}
	}
	p.Wet = Wet{}
}

// fail counts failures in a row by the same reason: the same failing answers, or the same
// code of a test recording whatever else it shows. Another fault counts anew.
func (p *Progress) fail(r Record) {
	counts, most := map[string]int{}, 0
	for _, why := range r.reasons() {
		counts[why] = p.failed[r.Step][why] + 1
		most = max(most, counts[why])
	}
	p.failed[r.Step], p.Tries[r.Step] = counts, most
	delete(p.Done, r.Step)
}

func (p *Progress) wet(r Record) {
	if r.Kind == RecWetNow || r.Kind == RecPaperWet {
		if _, done := p.Done[StepDisinfection]; done {
			p.Wet = Wet{}
			delete(p.Done, StepDisinfection)
		}
		delete(p.Done, StepDrying)
	}
	p.Wet = p.Wet.take(r)
	for _, id := range r.firstPersons() {
		p.Wipers = withOne(p.Wipers, id)
	}
	if p.Wet.Conforms() {
		p.Done[StepDisinfection] = r
		p.Touched = false
	}
}

// Next is the first step of the procedure that still has to be done; release when all are.
// The order is the table's, so a reopened disinfection comes before everything after it.
func (p Progress) Next(proc *Procedure) StepID {
	for _, row := range proc.Steps {
		if _, done := p.Done[row.Step]; !done && row.Step != StepRelease {
			return row.Step
		}
	}
	return StepRelease
}
