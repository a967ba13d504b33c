package reprocess

import "strings"

// SetLot records (empty id) or corrects a delivered lot of disinfectant, cells or electrodes.
type SetLot struct{ Lot }

// StopLot stops a lot at once; LiftLot is the signed end of a stop.
type StopLot struct {
	Lot    string `json:"lot"`
	Reason string `json:"reason"`
}

// StopReasonFollows is the reason of a lot that was stopped at once. Whoever stops it again says
// the reason, and nothing is handed out on it in between.
const StopReasonFollows = "stopped at once, the reason follows"

// LiftLot ends the stop of a lot.
type LiftLot struct {
	Lot    string `json:"lot"`
	Reason string `json:"reason"`
}

// OpenContainer opens a bottle, tub or box at the bench. Code is its label, bound by this act
// when it is a blank. Opened is today unless a supervisor enters a proven day with a reason.
type OpenContainer struct {
	Lot    string `json:"lot"`
	Code   string `json:"code,omitempty"`
	Opened Date   `json:"opened,omitempty"`
	Proof  string `json:"proof,omitempty"`
}

// CloseContainer ends a container: "empty" or "thrown away".
type CloseContainer struct {
	Container string `json:"container"`
	Why       string `json:"why"`
}

// Act is "lot".
func (SetLot) Act() Act { return ActLot }

// Act is "lot_stop".
func (StopLot) Act() Act { return ActLotStop }

// Act is "lot_lift".
func (LiftLot) Act() Act { return ActLotLift }

// Act is "container_open".
func (OpenContainer) Act() Act { return ActOpenContainer }

// Act is "container_close".
func (CloseContainer) Act() Act { return ActCloseContainer }

// Needs the lot when it is changed.
func (s SetLot) Needs() Needs {
	n := Needs{LotNumbers: []string{strings.Join(strings.Fields(s.Number), " ")}}
	if s.ID != "" {
		n.Lots = []string{s.ID}
	}
	return n
}

// Needs the lot.
func (s StopLot) Needs() Needs { return Needs{Lots: []string{s.Lot}} }

// Needs the lot.
func (l LiftLot) Needs() Needs { return Needs{Lots: []string{l.Lot}} }

// Needs the lot and the label.
func (o OpenContainer) Needs() Needs {
	n := Needs{Lots: []string{o.Lot}}
	if o.Code != "" {
		n.Labels = []string{o.Code}
	}
	return n
}

// Needs the container.
func (x CloseContainer) Needs() Needs { return Needs{Containers: []string{x.Container}} }

func (s SetLot) decide(c *Case) *Problem {
	l := s.Lot
	l.Stopped, l.Ended, l.From = nil, 0, ""
	var p *Problem
	if l.Number, p = clean("The lot number", l.Number, 40); p != nil {
		return p
	}
	if l.Name, p = clean("The designation", l.Name, 40); p != nil {
		return p
	}
	day, err := ParseDate(string(l.Expiry))
	if err != nil {
		return invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	l.Expiry = day
	switch {
	case l.Count < 0 || l.Count > 10000:
		return invalid("number", "Type how many containers came, 1 to 10000.",
			"%d containers in one lot cannot be right.", l.Count)
	case l.Kind == LotDisinfectant && c.W.Products[l.Product] == nil:
		return missing("disinfectant")
	case l.Kind == LotDisinfectant && l.Number == "":
		return invalid("empty", "Read it from the label.", "The lot number is empty.")
	case l.Kind == LotDisinfectant && l.Expiry == "", l.Kind == LotCells && l.Expiry == "":
		return invalid("empty", "Read it from the label.", "The expiry is empty.")
	case l.Kind == LotCells && l.Name == "":
		return invalid("empty", "Such as LR03.", "The designation of the cells is empty.")
	case l.Kind != LotDisinfectant && l.Kind != LotCells && l.Kind != LotElectrodes:
		return invalid("kind", "Choose from the list.", "%q is no kind of lot.", l.Kind)
	}
	if p := c.sameLot(l); p != nil {
		return p
	}
	if l.ID == "" {
		l.ID = c.id("T", 0)
	}
	c.emit(LotSet{l})
	return nil
}

// sameLot refuses a correction that makes something else of a lot, and a stopped lot that
// comes back under another line: it is the printed number that was stopped.
func (c *Case) sameLot(l Lot) *Problem {
	if old := c.W.Lots[l.ID]; l.ID != "" && old == nil {
		return missing("lot")
	} else if old != nil && old.From != "" || c.madeHere(l) {
		return refuse("made_here", "Prepare a batch; a reading or a stop says what is wrong with one.",
			"What is prepared here is not typed as a lot.")
	} else if old != nil && old.Kind != l.Kind {
		return invalid("kind", "Record it as a lot of its own.",
			"A correction cannot make another kind of thing of a lot.")
	}
	for id, other := range c.W.Lots {
		if id != l.ID && other.Stopped != nil && other.Kind == l.Kind && l.Number != "" &&
			other.Product == l.Product && strings.EqualFold(other.Number, l.Number) {
			return refuse("lot_stopped", "Take another lot, or ask infection control to lift the stop.",
				"Lot %s was stopped: %s", other.Number, other.Stopped.Reason)
		}
	}
	return nil
}

// madeHere tells whether a lot is of something that is prepared here.
func (c *Case) madeHere(l Lot) bool {
	p := c.W.Products[l.Product]
	return p != nil && p.Use == MadeHere
}

func (s StopLot) decide(c *Case) *Problem {
	l := c.W.Lots[s.Lot]
	if l == nil {
		return missing("lot")
	}
	reason, p := need("Reason", s.Reason, 200)
	if p != nil {
		return p
	}
	if l.Stopped != nil && (l.Stopped.Reason != StopReasonFollows || reason == StopReasonFollows) {
		return conflict("already_done", "Nothing to do.", "Lot %s is stopped already: %s", l.Number,
			l.Stopped.Reason)
	}
	c.emit(LotStopped{Lot: l.ID, Reason: reason})
	return nil
}

func (x LiftLot) decide(c *Case) *Problem {
	l := c.W.Lots[x.Lot]
	if l == nil {
		return missing("lot")
	}
	reason, p := need("Reason", x.Reason, 200)
	if p != nil {
		return p
	}
	if l.Stopped == nil {
		return conflict("already_done", "Nothing to do.", "Lot %s is not stopped.", l.Number)
	}
	c.emit(LotLifted{Lot: l.ID, Reason: reason})
	return nil
}

func (o OpenContainer) decide(c *Case) *Problem {
	l := c.W.Lots[o.Lot]
	if l == nil {
		return missing("lot")
	}
	if p := Openable(l, c.Now.Today()); p != nil {
		return p
	}
	opened, p := o.day(c)
	if p != nil {
		return p
	}
	con := Container{ID: c.id("B", 0), Lot: l.ID, Opened: opened, Proof: o.Proof}
	if p := o.label(c, &con); p != nil {
		return p
	}
	return nil
}

// Openable tells whether a container of a lot may be opened on a day.
func Openable(l *Lot, today Date) *Problem {
	switch {
	case l.Kind != LotDisinfectant:
		return refuse("not_disinfectant", "Choose a lot of disinfectant.",
			"This lot is no disinfectant.")
	case l.From != "":
		return refuse("made_here", "Prepare another batch.",
			"This was prepared here; its one container is open already.")
	case l.Stopped != nil:
		return refuse("lot_stopped", "Take another lot.", "Lot %s was stopped: %s", l.Number,
			l.Stopped.Reason)
	case l.Expiry < today:
		return refuse("expired", "Take another lot.", "Lot %s expired on %s.", l.Number,
			Day(l.Expiry))
	}
	return l.notEnded()
}

// day is today; another day only by a supervisor with a reason.
func (o OpenContainer) day(c *Case) (Date, *Problem) {
	d, err := ParseDate(string(o.Opened))
	if err != nil {
		return "", invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	today := c.Now.Today()
	if d == "" || d == today {
		return today, nil
	}
	if _, p := need("How the day is proven", o.Proof, 200); p != nil {
		return "", p
	}
	switch {
	case !c.Actor.Person.Has(RoleSupervisor):
		return "", &Problem{Code: Forbidden, Rule: "role", Fix: "Throw it away, or ask a supervisor.",
			Text: "Only a supervisor enters an opening day other than today."}
	case d > today:
		return "", invalid("date", "Choose a day up to today.", "%s is still to come.", Day(d))
	}
	return d, nil
}

// label binds the sticker, or issues the printed label, in the same act.
func (o OpenContainer) label(c *Case, con *Container) *Problem {
	if o.Code == "" {
		c.emit(ContainerOpened{*con})
		return nil
	}
	l := c.W.Labels[o.Code]
	if l == nil {
		c.emit(ContainerOpened{*con})
		c.emit(LabelIssued{Label{Code: o.Code, Kind: CodeContainer, Target: con.ID}})
		return nil
	}
	if p := bindable(l); p != nil {
		return p
	}
	con.Number = l.Number
	c.emit(ContainerOpened{*con})
	c.emit(LabelBound{Code: l.Code, Kind: CodeContainer, Target: con.ID})
	return nil
}

func (x CloseContainer) decide(c *Case) *Problem {
	con := c.W.Containers[x.Container]
	switch {
	case con == nil:
		return missing("container")
	case con.Closed != 0:
		return conflict("already_done", "Nothing to do.", "This container was closed before.")
	case x.Why != "empty" && x.Why != "thrown away":
		return invalid("why", "Choose empty or thrown away.", "%q is not one of the reasons.", x.Why)
	}
	c.emit(ContainerClosed{Container: con.ID, Why: x.Why})
	return nil
}
