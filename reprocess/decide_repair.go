package reprocess

// Repair is one stay of a piece at a repairer, with the declaration that went with it. Money
// is in hundredths of the currency's unit, the currency a text.
type Repair struct {
	Seq         int64   `json:"seq"` // entry of the declaration
	At          Instant `json:"at"`
	By          string  `json:"by"`
	Name        string  `json:"name"` // who signed the declaration
	Cycle       string  `json:"cycle,omitempty"`
	Declaration string  `json:"declaration"`    // one of the three
	Left        string  `json:"left,omitempty"` // what is still contaminated, and how it is packed
	Reason      string  `json:"reason"`
	To          string  `json:"to"`
	Sent        Date    `json:"sent"`
	Expected    Date    `json:"expected,omitempty"`

	Back     Date   `json:"back,omitempty"` // empty: still there
	BackBy   string `json:"back_by,omitempty"`
	Outcome  string `json:"outcome,omitempty"`
	Cost     int64  `json:"cost,omitempty"`     // hundredths
	Currency string `json:"currency,omitempty"` // such as EUR
	Note     string `json:"note,omitempty"`
}

// Open tells whether the piece is recorded as still at the repairer.
func (r *Repair) Open() bool { return r != nil && r.Back == "" }

// repairOutcomes are how a repair can end; ids are stable.
var repairOutcomes = []Reason{
	{ID: "repaired", Words: "repaired"},
	{ID: "no_fault", Words: "no fault was found"},
	{ID: "not_worth", Words: "not repaired: it would cost too much"},
	{ID: "not_possible", Words: "cannot be repaired"},
}

// RepairOutcomes lists how a repair can end.
func RepairOutcomes() []Reason { return repairOutcomes }

// OutcomeWords is an outcome in words.
func OutcomeWords(id string) string {
	for _, r := range repairOutcomes {
		if r.ID == id {
			return r.Words
		}
	}
	return id
}

func knownOutcome(id string) bool {
	for _, r := range repairOutcomes {
		if r.ID == id {
			return true
		}
	}
	return false
}

// mostCost bounds a cost in hundredths; more is a slip of the finger.
const mostCost = 100_000_000

// SendToRepair signs the declaration of contamination status of a piece and sends it off. Of
// a piece that a decision sent off already it adds what is not recorded.
type SendToRepair struct {
	Kit         string `json:"kit"`
	Piece       string `json:"piece"`
	Declaration string `json:"declaration"`
	Left        string `json:"left,omitempty"`
	Reason      string `json:"reason"`
	To          string `json:"to"`
	Sent        Date   `json:"sent,omitempty"` // empty: today
	Expected    Date   `json:"expected,omitempty"`
}

// ExpectRepair says that it comes back on another day.
type ExpectRepair struct {
	Kit      string `json:"kit"`
	Piece    string `json:"piece"`
	Expected Date   `json:"expected"`
	Note     string `json:"note,omitempty"`
}

// RepairBack says that a piece is back, with what came of it. It is returned, never released.
type RepairBack struct {
	Kit      string `json:"kit"`
	Piece    string `json:"piece"`
	On       Date   `json:"on,omitempty"` // empty: today
	Outcome  string `json:"outcome"`
	Cost     int64  `json:"cost,omitempty"`
	Currency string `json:"currency,omitempty"`
	Note     string `json:"note,omitempty"`
}

// Repairs, as entries.
type (
	// RepairSent carries the declaration; who signed and when are the entry's.
	RepairSent struct {
		Piece  string `json:"piece"`
		Repair Repair `json:"repair"`
	}
	// RepairExpected moves the day on which it is expected.
	RepairExpected struct {
		Piece    string `json:"piece"`
		Expected Date   `json:"expected"`
		Note     string `json:"note,omitempty"`
	}
	// RepairEnded is what came of it.
	RepairEnded struct {
		Piece    string `json:"piece"`
		Back     Date   `json:"back"`
		Outcome  string `json:"outcome"`
		Cost     int64  `json:"cost,omitempty"`
		Currency string `json:"currency,omitempty"`
		Note     string `json:"note,omitempty"`
	}
)

// EventName is "repair_sent".
func (RepairSent) EventName() string { return "repair_sent" }

// EventName is "repair_expected".
func (RepairExpected) EventName() string { return "repair_expected" }

// EventName is "repair_ended".
func (RepairEnded) EventName() string { return "repair_ended" }

// Act is "repair_send".
func (SendToRepair) Act() Act { return ActRepairSend }

// Act is "repair_news".
func (ExpectRepair) Act() Act { return ActRepairNews }

// Act is "repair_news".
func (RepairBack) Act() Act { return ActRepairNews }

// Needs the kit and the piece.
func (s SendToRepair) Needs() Needs { return Needs{Kit: s.Kit, Pieces: []string{s.Piece}} }

// Needs the kit and the piece.
func (x ExpectRepair) Needs() Needs { return Needs{Kit: x.Kit, Pieces: []string{x.Piece}} }

// Needs the kit and the piece.
func (x RepairBack) Needs() Needs { return Needs{Kit: x.Kit, Pieces: []string{x.Piece}} }

func (s SendToRepair) decide(c *Case) *Problem {
	piece, p := c.pieceOf(s.Kit, s.Piece)
	if p != nil {
		return p
	}
	there := piece.State == OutForRepair
	if there && piece.Repair.Open() {
		return conflict("already_sent", "Record that it is back, or another day.",
			"This %s is at %s since %s.", piece.Kind, piece.Repair.To, Day(piece.Repair.Sent))
	}
	r, p := s.typed(c)
	if p != nil {
		return p
	}
	if p := (Aside{To: OutForRepair, Declaration: s.Declaration}).declaredAt(c, piece, there); p != nil {
		return p
	}
	r.Cycle = piece.Cycle
	c.emit(RepairSent{Piece: piece.ID, Repair: r})
	if !there {
		c.emit(PieceMoved{Piece: piece.ID, State: OutForRepair,
			Reason: s.Declaration + ": " + r.Reason})
	}
	return nil
}

// typed checks what was typed about sending it off.
func (s SendToRepair) typed(c *Case) (Repair, *Problem) {
	r := Repair{Declaration: s.Declaration, Sent: s.Sent, Expected: s.Expected}
	var p *Problem
	if r.Reason, p = need("Why it is sent", s.Reason, 200); p != nil {
		return r, p
	}
	if r.To, p = need("To whom it is sent", s.To, 80); p != nil {
		return r, p
	}
	if r.Left, p = clean("What is still contaminated", s.Left, 200); p != nil {
		return r, p
	}
	if s.Declaration == StillContaminated && r.Left == "" {
		return r, invalid("left", "Write what is left on it, and how it is packed.",
			"It is declared as still contaminated, and nothing says with what.")
	}
	if r.Sent == "" {
		r.Sent = c.Now.Today()
	}
	for _, d := range []Date{r.Sent, r.Expected} {
		if _, err := ParseDate(string(d)); err != nil {
			return r, invalid("date", "Type it like 2026-11-24.", "%s.", err)
		}
	}
	switch {
	case r.Sent > c.Now.Today():
		return r, invalid("date", "Type the day it left.", "%s is still to come.", Day(r.Sent))
	case r.Expected != "" && r.Expected < r.Sent:
		return r, invalid("date", "Change one of the days.",
			"It is expected on %s, before it is sent on %s.", Day(r.Expected), Day(r.Sent))
	}
	return r, nil
}

// declaredAt checks a declaration. Of a piece that is gone already, what was done before it
// went counts: its cycle was broken off when it left.
func (a Aside) declaredAt(c *Case, piece *Piece, gone bool) *Problem {
	if !gone || a.Declaration != Decontaminated {
		return a.declared(c, piece)
	}
	if cy := c.W.Cycles[piece.Cycle]; cy != nil && cy.End == EndBrokenOff {
		if cy.Progress().decontaminated() {
			return nil
		}
	}
	return refuse("declaration", "Declare what is still contaminated, and tell the repairer.",
		"This %s went without a finished disinfection.", piece.Kind)
}

func (x ExpectRepair) decide(c *Case) *Problem {
	piece, p := c.pieceOf(x.Kit, x.Piece)
	if p != nil {
		return p
	}
	r := piece.Repair
	if !r.Open() {
		return notAtRepair(piece)
	}
	if _, err := ParseDate(string(x.Expected)); err != nil || x.Expected == "" {
		return invalid("date", "Type it like 2026-11-24.", "The day it is expected cannot be read.")
	}
	if x.Expected < r.Sent {
		return invalid("date", "Type a later day.", "%s is before it was sent, %s.", Day(x.Expected),
			Day(r.Sent))
	}
	note, p := clean("Note", x.Note, 200)
	if p != nil {
		return p
	}
	c.emit(RepairExpected{Piece: piece.ID, Expected: x.Expected, Note: note})
	return nil
}

func notAtRepair(piece *Piece) *Problem {
	return refuse("not_at_repair", "Look at where it is.",
		"This %s is not recorded as being at a repairer.", piece.Kind)
}

func (x RepairBack) decide(c *Case) *Problem {
	piece, p := c.pieceOf(x.Kit, x.Piece)
	if p != nil {
		return p
	}
	if !piece.Repair.Open() && piece.State != OutForRepair {
		return notAtRepair(piece)
	}
	e, p := x.typed(c, piece)
	if p != nil {
		return p
	}
	c.emit(e)
	if piece.State == OutForRepair {
		c.emit(PieceMoved{Piece: piece.ID, State: Returned,
			Reason: "back from repair: " + OutcomeWords(e.Outcome)})
	}
	return nil
}

func (x RepairBack) typed(c *Case, piece *Piece) (RepairEnded, *Problem) {
	e := RepairEnded{Piece: piece.ID, Back: x.On, Outcome: x.Outcome, Cost: x.Cost}
	if e.Back == "" {
		e.Back = c.Now.Today()
	}
	_, err := ParseDate(string(e.Back))
	r := piece.Repair
	switch {
	case !knownOutcome(x.Outcome):
		return e, invalid("outcome", "Choose from the list.", "%q is no outcome of a repair.", x.Outcome)
	case err != nil:
		return e, invalid("date", "Type it like 2026-11-24.", "%s.", err)
	case e.Back > c.Now.Today():
		return e, invalid("date", "Type the day it came.", "%s is still to come.", Day(e.Back))
	case r.Open() && e.Back < r.Sent:
		return e, invalid("date", "Type the day it came.", "%s is before it was sent, %s.",
			Day(e.Back), Day(r.Sent))
	case x.Cost < 0 || x.Cost > mostCost:
		return e, invalid("cost", "Type what stands on the bill.", "That cost cannot be right.")
	}
	var p *Problem
	if e.Currency, p = clean("The currency", x.Currency, 8); p != nil {
		return e, p
	}
	if e.Cost > 0 && e.Currency == "" {
		return e, invalid("currency", "Type it, such as EUR.", "The cost has no currency.")
	}
	if e.Cost == 0 {
		e.Currency = ""
	}
	e.Note, p = clean("Note", x.Note, 200)
	return e, p
}

func (w *World) repairSent(e *Entry, v RepairSent) {
	w.changePiece(v.Piece, func(p *Piece) {
		r := v.Repair
		r.Seq, r.At, r.By, r.Name = e.Seq, e.At, e.By, e.Name
		p.Repair = &r
	})
}

func (w *World) repairExpected(v RepairExpected) {
	w.changeRepair(v.Piece, func(r *Repair) { r.Expected, r.Note = v.Expected, v.Note })
}

func (w *World) repairEnded(e *Entry, v RepairEnded) {
	w.changeRepair(v.Piece, func(r *Repair) {
		r.Back, r.BackBy, r.Outcome, r.Note = v.Back, e.By, v.Outcome, v.Note
		r.Cost, r.Currency = v.Cost, v.Currency
	})
}

// changeRepair edits a copy: an entry may share the old one. Of a piece that went without a
// record of it one begins.
func (w *World) changeRepair(piece string, edit func(*Repair)) {
	w.changePiece(piece, func(p *Piece) {
		next := Repair{}
		if p.Repair.Open() {
			next = *p.Repair
		}
		edit(&next)
		p.Repair = &next
	})
}
