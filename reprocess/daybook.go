package reprocess

// Daybook is one day at the bench: what was ticked, what was noted, to whom it was handed over.
// Its id is the day. The newest line of each list is the last.
type Daybook struct {
	Day   Date      `json:"day"`
	Ticks []DayTick `json:"ticks,omitempty"` // ticks that stand
	Notes []DayNote `json:"notes,omitempty"`
	Given []DayOver `json:"given,omitempty"`
}

// DayTick is one line of the daily list that was done.
type DayTick struct {
	Tick string  `json:"tick"` // the words of the list
	Seq  int64   `json:"seq"`
	At   Instant `json:"at"`
	By   string  `json:"by"`
	Name string  `json:"name"`
}

// DayNote is one free line, without wearers' names.
type DayNote struct {
	Note string  `json:"note"`
	Seq  int64   `json:"seq"`
	At   Instant `json:"at"`
	By   string  `json:"by"`
	Name string  `json:"name"`
}

// DayOver is one hand-over of the bench from one person to another.
type DayOver struct {
	From string  `json:"from"`
	To   string  `json:"to"`
	Seq  int64   `json:"seq"`
	At   Instant `json:"at"`
}

// Ticked finds the standing tick of a line, or nil; a nil daybook has none.
func (d *Daybook) Ticked(tick string) *DayTick {
	if d == nil {
		return nil
	}
	for i := range d.Ticks {
		if d.Ticks[i].Tick == tick {
			return &d.Ticks[i]
		}
	}
	return nil
}

type (
	// DayTicked says that a line of the daily list was done, or with Not that it was not.
	DayTicked struct {
		Day  Date   `json:"day"`
		Tick string `json:"tick"`
		Not  bool   `json:"not,omitempty"`
	}
	// DayNoted adds a line to the day.
	DayNoted struct {
		Day  Date   `json:"day"`
		Note string `json:"note"`
	}
	// HandedOver says who has the bench from now on.
	HandedOver struct {
		Day  Date   `json:"day"`
		From string `json:"from"`
		To   string `json:"to"`
	}
)

// EventName is "day_ticked".
func (DayTicked) EventName() string { return "day_ticked" }

// EventName is "day_noted".
func (DayNoted) EventName() string { return "day_noted" }

// EventName is "handed_over".
func (HandedOver) EventName() string { return "handed_over" }

// The acts of the day, open to whoever works here.
const (
	ActTick     Act = "day_tick"
	ActNote     Act = "day_note"
	ActHandOver Act = "hand_over"
)

// TickDay ticks one line of the daily list, or takes a tick back. Day is the day of the page
// it was tapped on: a page of yesterday does not tick today.
type TickDay struct {
	Day  Date   `json:"day"`
	Tick string `json:"tick"`
	Not  bool   `json:"not,omitempty"`
}

// NoteDay writes one line into the day.
type NoteDay struct {
	Day  Date   `json:"day"`
	Note string `json:"note"`
}

// HandOver hands the bench over to somebody on the staff.
type HandOver struct {
	Day Date   `json:"day"`
	To  string `json:"to"` // person id
}

// Act is "day_tick".
func (TickDay) Act() Act { return ActTick }

// Act is "day_note".
func (NoteDay) Act() Act { return ActNote }

// Act is "hand_over".
func (HandOver) Act() Act { return ActHandOver }

// Needs the day's row.
func (t TickDay) Needs() Needs { return Needs{Rows: []Ref{{TableDaybook, string(t.Day)}}} }

// Needs the day's row.
func (n NoteDay) Needs() Needs { return Needs{Rows: []Ref{{TableDaybook, string(n.Day)}}} }

// Needs the day's row.
func (h HandOver) Needs() Needs { return Needs{Rows: []Ref{{TableDaybook, string(h.Day)}}} }

// thisDay refuses what was tapped on a page of another day.
func (c *Case) thisDay(day Date) *Problem {
	if today := c.Now.Today(); day != today {
		return conflict("other_day", "Open the page of today and do it there.",
			"This page was of %s; today is %s.", Day(day), Day(today))
	}
	return nil
}

func (t TickDay) decide(c *Case) *Problem {
	if p := c.thisDay(t.Day); p != nil {
		return p
	}
	stands := c.W.Daybooks[string(t.Day)].Ticked(t.Tick)
	switch {
	case t.Not && stands == nil:
		return conflict("not_ticked", "Nothing to take back.", "%q is not ticked today.", t.Tick)
	case !t.Not && stands != nil:
		return conflict("already_done", "Nothing to do.", "%q was ticked by %s on %s.", t.Tick,
			stands.Name, Clock(stands.At, c.Now.Zone))
	case !t.Not && !contains(c.W.Settings.Ticks(), t.Tick):
		return invalid("tick", "Open the page again.", "%q is not on the daily list.", t.Tick)
	}
	c.emit(DayTicked(t))
	return nil
}

func (n NoteDay) decide(c *Case) *Problem {
	if p := c.thisDay(n.Day); p != nil {
		return p
	}
	note, p := need("The note", n.Note, 300)
	if p != nil {
		return p
	}
	c.emit(DayNoted{Day: n.Day, Note: note})
	return nil
}

func (h HandOver) decide(c *Case) *Problem {
	if p := c.thisDay(h.Day); p != nil {
		return p
	}
	to, p := c.onStaff(h.To)
	if p != nil {
		return p
	}
	if to.ID == c.Actor.Person.ID {
		return invalid("to_oneself", "Choose who works next.",
			"%s cannot hand over to themselves.", to.Name)
	}
	c.emit(HandedOver{Day: h.Day, From: c.Actor.Person.ID, To: to.ID})
	return nil
}

// onStaff finds somebody who works here today.
func (c *Case) onStaff(id string) (*Person, *Problem) {
	p := c.W.People[id]
	if p == nil {
		return nil, invalid("person", "Choose somebody from the list.",
			"Nobody on the staff was chosen.")
	}
	if p.Left != "" && c.Now.Today() > p.Left {
		return nil, refuse("person_left", "Choose somebody who works here.", "%s left on %s.",
			p.Name, Day(p.Left))
	}
	return p, nil
}
