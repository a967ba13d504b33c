package reprocess

// Swap exchanges a kit that is out for another one: the one comes back with what was found,
// the other goes out under the same wearer's token for what is left of the loan. It is two
// commands, one for the chain of each kit, that are decided together: the kit that goes out
// first, then the one that came back. The first checks everything of both, and the second is
// done only when the first was, so that both stand or neither.
type Swap struct {
	From string `json:"from"` // the kit that came back
	To   string `json:"to"`   // the kit that goes out

	Return    Return          `json:"return"`
	Came      []string        `json:"came,omitempty"`
	Opened    bool            `json:"opened,omitempty"`
	Recording RecordingStatus `json:"recording"` // of the kit that came back

	Wearer string     `json:"wearer,omitempty"` // a token, only when the old loan has none
	Days   int        `json:"days,omitempty"`   // 0: what is left of the loan
	Flags  []string   `json:"flags,omitempty"`  // beside those of the old loan
	Checks []OutCheck `json:"checks,omitempty"`
	Cell   string     `json:"cell,omitempty"`
	Pads   string     `json:"pads,omitempty"`   // lot of the electrodes that go along; empty: not told
	Anyway string     `json:"anyway,omitempty"` // why To goes out although kept for another
}

// SwapOut is the half of a swap that stands with the kit that goes out.
type SwapOut struct{ Swap }

// SwapIn is the half that stands with the kit that came back.
type SwapIn struct{ Swap }

// Halves gives the two commands, in the order they are decided.
func (s Swap) Halves() (SwapOut, SwapIn) { return SwapOut{s}, SwapIn{s} }

// Act is "swap", for both halves.
func (Swap) Act() Act { return ActSwap }

// Needs both kits; the entry is of the one that goes out.
func (s SwapOut) Needs() Needs {
	return Needs{Kit: s.To, Kits: []string{s.From}, Pieces: s.Came, Lots: []string{s.Cell, s.Pads}}
}

// Needs both kits; the entry is of the one that came back.
func (s SwapIn) Needs() Needs { return Needs{Kit: s.From, Kits: []string{s.To}, Pieces: s.Came} }

// DaysLeft is how many days of a loan are left today; 0 when it is over or has no day.
func DaysLeft(l *Loan, now Now) int {
	if l == nil || l.Due == "" {
		return 0
	}
	return max(0, now.Today().DaysUntil(l.Due))
}

func (s SwapOut) decide(c *Case) *Problem {
	k, p := c.kit(s.From)
	if p != nil {
		return p
	}
	l := c.W.Loans[k.Loan]
	switch {
	case s.From == s.To:
		return invalid("same_kit", "Scan the other kit.", "Kit %s cannot be swapped for itself.",
			k.Number)
	case !l.Open():
		return refuse("not_out", "Hand the other kit out as usual.", "Kit %s is not out.", k.Number)
	case l.Under != "":
		return refuse("on_ward", "Record that the wearer gave it back on the ward, then swap it.",
			"Kit %s is worn on %s.", k.Number, l.Ward)
	case s.Return.finding() == "":
		return invalid("finding", "Answer yes to one of the three, or write what it is.",
			"Nothing is said about what is the matter with kit %s.", k.Number)
	}
	whole := &Case{W: c.W, Actor: c.Actor, Now: c.Now, Seq: c.Seq}
	if p := s.takeBack(whole); p != nil {
		return p
	}
	out, p := s.handOut(c, l)
	if p != nil {
		return p
	}
	return out.decide(c)
}

// handOut is the hand-out of the other kit for what is left.
func (s Swap) handOut(c *Case, l *Loan) (HandOut, *Problem) {
	h := HandOut{Kit: s.To, Wearer: l.Wearer, Ward: l.Ward, Days: s.Days, Checks: s.Checks,
		Cell: s.Cell, Pads: s.Pads, Flags: carried(l.Flags, s.Flags), Anyway: s.Anyway, swap: l.ID}
	if h.Wearer == "" && h.Ward == "" {
		h.Wearer = s.Wearer
	}
	if h.Days == 0 {
		if h.Days = DaysLeft(l, c.Now); h.Days == 0 {
			return h, invalid("days", "Type the planned days.", "No day of the old loan is left.")
		}
	}
	if h.Days == DaysLeft(l, c.Now) {
		h.Due = l.Due
	}
	return h, nil
}

// takeBack is the return of the kit that came, with where its recording is.
func (s Swap) takeBack(c *Case) *Problem {
	if s.Recording == "" {
		return invalid("recording", "Choose where it is; “nobody knows yet” is an answer too.",
			"It is not said where the recording of the kit that came back is.")
	}
	back := TakeBack{Kit: s.From, Came: s.Came, Return: s.Return, Opened: s.Opened, swap: s.To}
	if p := back.decide(c); p != nil {
		return p
	}
	return SetRecording{Kit: s.From, Status: s.Recording}.decide(c)
}

func (s SwapIn) decide(c *Case) *Problem {
	k, p := c.kit(s.From)
	if p != nil {
		return p
	}
	other, p := c.kit(s.To)
	if p != nil {
		return p
	}
	l, out := c.W.Loans[k.Loan], c.W.Loans[other.Loan]
	if !l.Open() || !out.Open() || out.Swap != l.ID {
		return invalid("other_half", "Look at both kits and swap them again.",
			"The other half of the swap did not come to be; kit %s stays as it was.", k.Number)
	}
	return s.takeBack(c)
}

// finding is the first thing said to be the matter; empty when nothing is.
func (r Return) finding() string {
	for id, v := range map[string]string{"skin": r.Skin, "fault": r.Fault, "missing": r.Missing} {
		if v == "yes" {
			return id
		}
	}
	return r.Note
}
