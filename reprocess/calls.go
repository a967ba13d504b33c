package reprocess

// Call is one try to reach whoever has a kit that should come back. It names the loan and
// nobody: the reference is looked up by an act of its own.
type Call struct {
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Name   string  `json:"name"`
	Result string  `json:"result"`         // CallReached, CallNotReached or CallWillBring
	On     Date    `json:"on,omitempty"`   // the day they said they would bring it
	Note   string  `json:"note,omitempty"` // without names
}

// What can come of a call.
const (
	CallReached    = "reached"
	CallNotReached = "not_reached"
	CallWillBring  = "will_bring"
)

// farthestPromise bounds the day somebody promises, in days from today.
const farthestPromise = 60

// LoanCalled says what came of a call.
type LoanCalled struct {
	Kit    string `json:"kit"`
	Loan   string `json:"loan"`
	Result string `json:"result"`
	On     Date   `json:"on,omitempty"`
	Note   string `json:"note,omitempty"`
}

// EventName is "loan_called".
func (LoanCalled) EventName() string { return "loan_called" }

// ActCall is open to whoever works here.
const ActCall Act = "call"

// CallOverdue records a call about a loan that is due today or over, or whose kit is called
// back. It changes no due day:
// that is Extend, and the desk decides it.
type CallOverdue struct {
	Kit    string `json:"kit"`
	Loan   string `json:"loan"` // as the page showed it
	Result string `json:"result"`
	On     Date   `json:"on,omitempty"`
	Note   string `json:"note,omitempty"`
}

// Act is "call".
func (CallOverdue) Act() Act { return ActCall }

// Needs the kit with its loan.
func (o CallOverdue) Needs() Needs { return Needs{Kit: o.Kit} }

func (o CallOverdue) decide(c *Case) *Problem {
	k, p := c.kit(o.Kit)
	if p != nil {
		return p
	}
	l := c.W.Loans[k.Loan]
	if !l.Open() || l.ID != o.Loan {
		return conflict("not_out", "Open the page again.", "Kit %s is not out on this loan any more.",
			k.Number)
	}
	if (l.Due == "" || l.Due > c.Now.Today()) && c.W.calledBack(k) == nil {
		return refuse("not_due", "Call when it is due.", "Kit %s is not due yet.", k.Number)
	}
	note, p := clean("The note", o.Note, 200)
	if p != nil {
		return p
	}
	on, p := o.promised(c)
	if p != nil {
		return p
	}
	c.emit(LoanCalled{Kit: k.ID, Loan: l.ID, Result: o.Result, On: on, Note: note})
	return nil
}

// promised checks the result and the day that goes with it, and with nothing else.
func (o CallOverdue) promised(c *Case) (Date, *Problem) {
	on, err := ParseDate(string(o.On))
	if err != nil {
		return "", invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	today := c.Now.Today()
	switch o.Result {
	case CallReached, CallNotReached:
		if on != "" {
			return "", invalid("date", "Choose “will bring it”, or empty the day.",
				"A day was given, but nobody promised one.")
		}
	case CallWillBring:
		if on < today || on > today.AddDays(farthestPromise) {
			return "", invalid("date", "Type the day they said, from today on and within 60 days.",
				"%s cannot be the day they bring it.", Day(on))
		}
	default:
		return "", invalid("result", "Choose reached, not reached or will bring it.",
			"What came of the call was not said.")
	}
	return on, nil
}
