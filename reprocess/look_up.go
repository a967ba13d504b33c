package reprocess

// LookUpWearer is wanting to read the wearer reference behind a loan, to call somebody. The
// reference is shown only once this entry stands; the entry never holds it.
type LookUpWearer struct {
	Kit  string `json:"kit"`
	Loan string `json:"loan"`
}

// Act is "view".
func (LookUpWearer) Act() Act { return ActView }

// Needs the kit and the loan, which may be an earlier one.
func (l LookUpWearer) Needs() Needs { return Needs{Kit: l.Kit, Loans: []string{l.Loan}} }

func (l LookUpWearer) decide(c *Case) *Problem {
	k, p := c.kit(l.Kit)
	if p != nil {
		return p
	}
	loan := c.W.Loans[l.Loan]
	switch {
	case loan == nil || loan.Kit != k.ID:
		return missing("loan")
	case loan.Wearer == "":
		return refuse("no_wearer", "Look on the hand-out slip.",
			"No wearer reference was given for this loan of kit %s.", k.Number)
	}
	c.emit(WearerViewed{Kit: k.ID, Loan: loan.ID})
	return nil
}

// ListSignable tells what keeps a kit from being released in a list by this person, nil for
// nothing: the gate, or something that has to be looked at alone.
func ListSignable(w *World, k *Kit, actor Actor, now Now) *Problem {
	c := &Case{W: w, Actor: actor, Now: now}
	for _, id := range k.Pieces {
		f, p := c.gate(k, id)
		if p == nil && f.remarkable() {
			p = signAlone(k)
		}
		if p != nil {
			return p
		}
	}
	return nil
}

func signAlone(k *Kit) *Problem {
	return refuse("sign_alone", "Open this kit and sign it alone.",
		"Kit %s has something to look at; it is not signed in a list.", k.Number)
}
