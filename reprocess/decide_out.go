package reprocess

// HandOut begins a loan of a released kit. Wearer is a random token made for this loan; the
// reference it stands for is kept elsewhere.
type HandOut struct {
	Kit    string   `json:"kit"`
	Wearer string   `json:"wearer"`
	Days   int      `json:"days"`
	Due    Date     `json:"due,omitempty"` // empty: today plus the planned days
	Flags  []string `json:"flags,omitempty"`

	Checks []OutCheck `json:"checks,omitempty"` // the short list before it leaves
	Cell   string     `json:"cell,omitempty"`   // lot of a new cell fitted here
	Pads   string     `json:"pads,omitempty"`   // lot of the electrodes that go along; empty: not told
	Ward   string     `json:"ward,omitempty"`   // who keeps it for wearers; then no wearer

	Kept   string `json:"kept,omitempty"`   // token of the keep that this appointment had
	Anyway string `json:"anyway,omitempty"` // why it is given although kept for another

	swap string // the loan that it goes on for
}

// longestLoan bounds planned days; more is a slip of the finger.
const longestLoan = 400

// Act is "issue".
func (HandOut) Act() Act { return ActIssue }

// Needs the kit with its release and the lots behind it.
func (h HandOut) Needs() Needs { return Needs{Kit: h.Kit, Lots: []string{h.Cell, h.Pads}} }

func (h HandOut) decide(c *Case) *Problem {
	k, p := c.kit(h.Kit)
	if p != nil {
		return p
	}
	if a := CanHandOut(c.W, k, c.Now); !a.Released {
		return refuse("not_released", a.Ask, "Kit %s is not released: %s", k.Number, a.Reason)
	}
	l, p := h.loan(c, k)
	if p != nil {
		return p
	}
	c.emit(HandedOut{l})
	return nil
}

// loan checks everything that was typed and gives the loan that begins.
func (h HandOut) loan(c *Case, k *Kit) (Loan, *Problem) {
	l := Loan{ID: c.id("L", 0), Kit: k.ID, Pieces: k.Pieces, Wearer: h.Wearer, Days: h.Days,
		Flags: h.Flags, Release: k.Release.Seq, Cell: h.Cell, Pads: h.Pads, Swap: h.swap}
	var p *Problem
	if l.Ward, p = h.keeper(c); p != nil {
		return l, p
	}
	if p = checkFlags(h.Flags); p != nil {
		return l, p
	}
	if l.Anyway, p = h.keptCheck(c, k); p != nil {
		return l, p
	}
	if l.Due, p = dueDay(c, h.Days, h.Due); p != nil {
		return l, p
	}
	if p = c.electrodesAtOut(k, h.Pads, h.Days, c.Now.Today()); p != nil {
		return l, p
	}
	until, p := c.cellAtOut(k, h.Cell)
	if p != nil {
		return l, p
	}
	if air, p := c.airAtOut(k, l); p != nil {
		return l, p
	} else if !air && until != "" && l.Due > until {
		return l, refuse("cell_expiry", "Fit a fresher cell, or plan fewer days.",
			"The fitted cell is good until %s; this loan ends %s.", Day(until), Day(l.Due))
	}
	l.Checks, p = c.checkedOut(k, h.Checks, l.Ward != "")
	return l, p
}

// keeper is the ward that keeps the kit, if one does; else there has to be a wearer.
func (h HandOut) keeper(c *Case) (string, *Problem) {
	switch {
	case h.Ward == "" && h.Wearer == "":
		return "", invalid("wearer", "Type the wearer's reference, never a name.",
			"No wearer reference was given.")
	case h.Ward == "":
		return "", nil
	case h.Wearer != "":
		return "", invalid("wearer", "Hand it to the ward first; then record who wears it there.",
			"A kit is handed to a ward or to a wearer, not to both at once.")
	}
	ward, ok := c.W.Settings.Ward(h.Ward)
	if !ok {
		return "", invalid("ward", "Choose from the list; a supervisor adds wards to it.",
			"%q is not a ward of the list.", h.Ward)
	}
	return ward.Name, nil
}

// cellAtOut says until when the cell in the recorder is good: the one fitted at the bench, or
// a new one fitted here, where the recorder's procedure allows that.
func (c *Case) cellAtOut(k *Kit, lot string) (Date, *Problem) {
	if lot == "" {
		return k.Release.CellUntil, nil
	}
	for _, id := range k.Pieces {
		piece := c.W.Pieces[id]
		if piece == nil || piece.Kind != Recorder {
			continue
		}
		if proc := c.W.Procedures[c.W.InForce[piece.Model]]; proc == nil || !proc.CellAtOut {
			return "", refuse("cell_at_out", "Let the bench fit it.",
				"The procedure of this recorder has its cells fitted at the bench.")
		}
		if p := c.cells(piece, lot); p != nil {
			return "", p
		}
	}
	if c.W.airRecorder(k) != nil { // its tab is pulled here and now
		return min(c.W.Lots[lot].Expiry, lastAirDay(c.Now.Today())), nil
	}
	return c.W.Lots[lot].Expiry, nil
}

// CellsAtOut tells whether a new cell may be fitted at the counter.
func CellsAtOut(w *World, k *Kit) bool {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.Kind == Recorder {
			proc := w.Procedures[w.InForce[p.Model]]
			return proc != nil && proc.CellAtOut
		}
	}
	return false
}
