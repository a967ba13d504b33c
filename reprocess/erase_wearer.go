package reprocess

import (
	"strconv"
	"time"
)

// The acts of keeping and erasing wearer links.
const (
	ActRetention   Act = "retention"
	ActEraseWearer Act = "erase_wearer"
)

// SetRetention sets how many days after the return a link from a loan to its wearer reference
// is kept; 0: until it is erased by hand. Local policy decides; nothing is erased by a figure
// that nobody signed.
type SetRetention struct {
	Days   int    `json:"days"`
	Reason string `json:"reason"`
}

// Bounds of the figure, days: a look-back has to reach the wearers of the last month, and a
// hundred years are for ever.
const (
	LeastLinkDays = 30
	MostLinkDays  = 36500
)

// Act is "retention".
func (SetRetention) Act() Act { return ActRetention }

// Needs nothing beyond the settings.
func (SetRetention) Needs() Needs { return Needs{} }

func (s SetRetention) decide(c *Case) *Problem {
	reason, p := need("The reason", s.Reason, 200)
	switch {
	case p != nil:
		return p
	case s.Days != 0 && (s.Days < LeastLinkDays || s.Days > MostLinkDays):
		return invalid("link_days", "Change the number of days.",
			"Wearer links are kept %d to %d days after the return, or until erased by hand.",
			LeastLinkDays, MostLinkDays)
	case s.Days == c.W.Settings.LinkDays:
		return conflict("already_done", "Nothing to do.", "This is how it is already.")
	}
	v := c.W.Settings
	v.LinkDays, v.LinkReason = s.Days, reason
	c.emit(SettingsSet{v})
	return nil
}

// EraseWearer says that the link of a loan's token to a wearer reference is erased. The loan
// and the token stay, so that a look-back still counts it. The entry comes first: the link is
// erased once it stands.
type EraseWearer struct {
	Kit    string `json:"kit"`
	Loan   string `json:"loan"`
	Reason string `json:"reason,omitempty"`
	Policy bool   `json:"policy,omitempty"` // because the days are over; by the server only

	// With are the other loans of the same token, as after a swap: the store names them.
	With []string `json:"with,omitempty"`
}

// WearerErased names the token and never the reference.
type WearerErased struct {
	Kit    string `json:"kit"`
	Loan   string `json:"loan"`
	Token  string `json:"token"`
	Reason string `json:"reason"`
}

// EventName is "wearer_erased".
func (WearerErased) EventName() string { return "wearer_erased" }

// Act is "erase_wearer".
func (EraseWearer) Act() Act { return ActEraseWearer }

// Needs the kit and the loan.
func (x EraseWearer) Needs() Needs {
	return Needs{Kit: x.Kit, Loans: append([]string{x.Loan}, x.With...)}
}

func (x EraseWearer) decide(c *Case) *Problem {
	loan := c.W.Loans[x.Loan]
	if loan == nil || loan.Kit != x.Kit {
		return missing("loan")
	}
	if p := erasable(c.W, loan); p != nil {
		return p
	}
	if p := x.others(c, loan); p != nil {
		return p
	}
	reason, p := x.why(c, loan)
	if p != nil {
		return p
	}
	c.emit(WearerErased{Kit: loan.Kit, Loan: loan.ID, Token: loan.Wearer, Reason: reason})
	return nil
}

// erasable says why a loan's link may not be erased now, nil when it may.
func erasable(w *World, loan *Loan) *Problem {
	switch {
	case loan.Wearer == "":
		return refuse("no_wearer", "Nothing to do.", "No wearer reference was given for this loan.")
	case loan.Erased != 0:
		return conflict("already_done", "Nothing to do.",
			"The wearer reference of this loan was erased already.")
	case loan.Open():
		return refuse("loan_open", "Take the kit back first.",
			"This kit is still out, and its wearer has to be reached.")
	}
	if h := LegalHolds(w).KeepsLoan(loan); h != nil {
		return refuse("legal_hold", "Have the legal hold lifted first.",
			"A legal hold keeps this: %s.", h.Reason)
	}
	return nil
}

// others refuses while another loan of the same token still needs the reference.
func (x EraseWearer) others(c *Case, loan *Loan) *Problem {
	for id, l := range c.W.Loans {
		if id == loan.ID || l.Wearer != loan.Wearer || l.Erased != 0 {
			continue
		}
		if p := erasable(c.W, l); p != nil {
			return p
		}
		if x.Policy && !LinkDue(l, c.W.Settings.LinkDays, c.Now.UTC) {
			return notDue()
		}
	}
	return nil
}

func notDue() *Problem {
	return refuse("not_due", "Wait, or erase it by hand with a reason.",
		"The days that this link is kept are not over.")
}

// why gives the reason: typed by hand, or the policy's figure once its days are over.
func (x EraseWearer) why(c *Case, loan *Loan) (string, *Problem) {
	if !x.Policy {
		return need("The reason", x.Reason, 200)
	}
	days := c.W.Settings.LinkDays
	if !c.Actor.isConsole() || !LinkDue(loan, days, c.Now.UTC) {
		return "", notDue()
	}
	return "kept " + strconv.Itoa(days) + " days after the return", nil
}

// LinkDue tells whether a loan's link has been kept as long as the clinic says: exactly so
// many times 24 hours after the return, or later.
func LinkDue(loan *Loan, days int, now Instant) bool {
	return days > 0 && loan.Back != 0 && loan.Wearer != "" && loan.Erased == 0 &&
		now.Sub(loan.Back) >= time.Duration(days)*24*time.Hour
}

// Erasable says why a loan's link may not be erased now, nil when it may.
// The world holds the other loans of its token too.
func Erasable(w *World, loan *Loan) *Problem {
	if p := erasable(w, loan); p != nil {
		return p
	}
	for _, l := range w.Loans {
		if l.Wearer == loan.Wearer && l.Erased == 0 {
			if p := erasable(w, l); p != nil {
				return p
			}
		}
	}
	return nil
}
