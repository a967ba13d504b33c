package reprocess

import (
	"cmp"
	"strconv"
)

// A ward keeps a kit until a day: that is a loan of its own, without a wearer. Each wearer
// there has a loan under it. A kit goes to one wearer on a release: it is worn once and comes
// back to the bench. What is told of a second wearer is recorded after the fact, as every
// hand-out without a release.

// WornUnknown is the answer of its own when nobody knows how many wore it on the ward.
const WornUnknown = "unknown"

// mostWorn bounds the answer; more is a slip of the finger.
const mostWorn = 99

// ByWard tells whether a loan is a ward's own: it keeps the kit and does not wear it.
func (l *Loan) ByWard() bool { return l != nil && l.Ward != "" && l.Under == "" }

// OnWard tells whether a loan is of a wearer on a ward.
func (l *Loan) OnWard() bool { return l != nil && l.Under != "" }

// told gives the number of wearers that was told at the return of a ward's loan; false when
// nobody knew or nobody asked.
func (l *Loan) told() (int, bool) {
	if l.Return == nil {
		return 0, false
	}
	n, err := strconv.Atoi(l.Return.Worn)
	return n, err == nil
}

// Unaccounted tells whether a returned ward's loan stands for wearers that nobody recorded.
func (l *Loan) Unaccounted() bool {
	n, known := l.told()
	return l.ByWard() && l.Back != 0 && (!known || n > l.Worn)
}

// SharedUnreleased tells whether a returned ward's loan may hide a second wearer without
// reprocessing in between: nobody knows how many there were, or there were more than recorded.
func (l *Loan) SharedUnreleased() bool {
	n, known := l.told()
	return l.Unaccounted() && (!known || n > 1)
}

// WearAtWard says who wears a kit that a ward keeps, since when.
type WearAtWard struct {
	Kit    string   `json:"kit"`
	Wearer string   `json:"wearer"`        // random token, as of every loan
	Out    Instant  `json:"out,omitempty"` // zero: now
	Flags  []string `json:"flags,omitempty"`
	Pads   string   `json:"pads,omitempty"` // lot of the electrodes; empty: what the ward got
}

// BackOnWard says that the wearer gave it back to the ward.
type BackOnWard struct {
	Kit   string   `json:"kit"`
	Flags []string `json:"flags,omitempty"` // precautions told by now
}

// WardReturned ends the loan of a wearer on a ward; the ward keeps the kit.
type WardReturned struct {
	Loan  string   `json:"loan"`
	Under string   `json:"under"`
	Kit   string   `json:"kit"`
	Flags []string `json:"flags,omitempty"` // of the ward's loan from now on
}

// EventName is "ward_returned".
func (WardReturned) EventName() string { return "ward_returned" }

// Act is "ward_wear".
func (WearAtWard) Act() Act { return ActWardWear }

// Act is "ward_return".
func (BackOnWard) Act() Act { return ActWardReturn }

// Needs the kit with its loans.
func (x WearAtWard) Needs() Needs { return Needs{Kit: x.Kit, Lots: []string{x.Pads}} }

// Needs the kit with its loans.
func (x BackOnWard) Needs() Needs { return Needs{Kit: x.Kit} }

func (x WearAtWard) decide(c *Case) *Problem {
	k, l, p := c.wardLoan(x.Kit)
	if p != nil {
		return p
	}
	switch {
	case l.OnWard():
		return conflict("worn_now", "Record first that this wearer gave it back.",
			"Kit %s is worn on %s already.", k.Number, l.Ward)
	case l.Worn > 0:
		return refuse("worn_before", "Take it back and have it reprocessed. If somebody wears it "+
			"already, record that it went out without a release.",
			"Kit %s was worn on %s and not reprocessed since.", k.Number, l.Ward)
	case x.Wearer == "":
		return invalid("wearer", "Type the wearer's reference, never a name.",
			"No wearer reference was given.")
	case x.Out > c.Now.UTC:
		return invalid("time", "Type when it was put on.", "%s is still to come.", c.clock(x.Out))
	case x.Out != 0 && x.Out < l.Out:
		return invalid("time", "Type when it was put on.", "%s is before the ward got it, %s.",
			c.clock(x.Out), c.clock(l.Out))
	}
	if p := checkFlags(x.Flags); p != nil {
		return p
	}
	begin := c.Now.Today()
	if x.Out != 0 {
		begin = DateIn(x.Out, c.Now.Zone)
	}
	if p := c.electrodesAtOut(k, x.Pads, l.Days, begin); p != nil {
		return p
	}
	c.emit(HandedOut{Loan{ID: c.id("L", 0), Kit: k.ID, Pieces: k.Pieces, Wearer: x.Wearer,
		Out: x.Out, Days: l.Days, Due: l.Due, Flags: carried(l.Flags, x.Flags),
		Release: l.Release, Ward: l.Ward, Under: l.ID, Pads: cmp.Or(x.Pads, l.Pads)}})
	return nil
}

func (x BackOnWard) decide(c *Case) *Problem {
	k, l, p := c.wardLoan(x.Kit)
	if p != nil {
		return p
	}
	if !l.OnWard() {
		return refuse("not_worn", "Take it back when it leaves the ward.",
			"Nobody is recorded as wearing kit %s on %s.", k.Number, l.Ward)
	}
	if p := checkFlags(x.Flags); p != nil {
		return p
	}
	c.backOnWard(k, l, x.Flags)
	return nil
}

// wardLoan is the open loan of a kit that a ward keeps: the ward's, or its wearer's.
func (c *Case) wardLoan(kit string) (*Kit, *Loan, *Problem) {
	k, p := c.kit(kit)
	if p != nil {
		return nil, nil, p
	}
	l := c.W.Loans[k.Loan]
	if !l.Open() || l.Ward == "" {
		return nil, nil, refuse("not_on_ward", "Look at where it is.",
			"Kit %s is not kept by a ward.", k.Number)
	}
	return k, l, nil
}

// backOnWard ends a wearer's loan and keeps what was told of them with the ward's.
func (c *Case) backOnWard(k *Kit, l *Loan, flags []string) {
	if up := c.W.Loans[l.Under]; up != nil {
		flags = carried(up.Flags, flags)
	}
	c.emit(WardReturned{Loan: l.ID, Under: l.Under, Kit: k.ID, Flags: carried(l.Flags, flags)})
}

// wornAnswer reads "worn by how many since?" at the return of a ward's loan; it has no place
// at any other return.
func wornAnswer(l *Loan, text string) (string, *Problem) {
	switch {
	case !l.ByWard() || !l.Open():
		return "", nil
	case text == "" || text == NotAsked:
		return NotAsked, nil
	case text == WornUnknown:
		return WornUnknown, nil
	}
	n, err := strconv.ParseUint(text, 10, 8)
	switch {
	case err != nil || n > mostWorn || strconv.Itoa(int(n)) != text:
		return "", invalid("worn", "Type how many wore it on the ward, or choose “not known”.",
			"%q is no number of wearers.", text)
	case int(n) < l.Worn:
		return "", invalid("worn", "Count those too, or choose “not known”.",
			"%d wearers of it are recorded on %s, so it was not worn by %d.", l.Worn, l.Ward, n)
	}
	return text, nil
}

// wardAfter allows what went on from wearer to wearer on a ward to be recorded after the fact.
func wardAfter(k *Kit, l *Loan) *Problem {
	switch {
	case l.OnWard():
		return conflict("already_out", "Record first that the wearer before gave it back.",
			"Kit %s is recorded as worn on %s.", k.Number, l.Ward)
	case l.ByWard() && l.Worn == 0:
		return refuse("first_wearer", "Record who wears it on the ward.",
			"Kit %s went to %s on a release, and nobody wore it since.", k.Number, l.Ward)
	case l.ByWard():
		return nil
	}
	return conflict("already_out", "Take it back first.", "Kit %s is recorded as out already.",
		k.Number)
}

// wornOnWard counts a wearer on a ward.
func (w *World) wornOnWard(l Loan) {
	change(w, w.Loans, TableLoan, l.Under, func(up *Loan) { up.Worn++ })
}

func (w *World) wardReturned(e *Entry, v WardReturned) {
	change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) { l.Back, l.BackBy = e.At, e.By })
	change(w, w.Loans, TableLoan, v.Under, func(up *Loan) { up.Flags = v.Flags })
	w.changeKit(v.Kit, func(k *Kit) {
		k.Loan, k.Since = v.Under, e.At
		if up := w.Loans[v.Under]; up != nil {
			k.moveTo(up.Ward, e)
		}
	})
}

// TellWorn answers "worn by how many since?" after the return, where nobody knew or nobody
// asked; a number that was told stays.
type TellWorn struct {
	Kit  string `json:"kit"`
	Worn string `json:"worn"`
}

// WornTold adds the answer to the return of a ward's loan.
type WornTold struct {
	Loan string `json:"loan"`
	Kit  string `json:"kit"`
	Worn string `json:"worn"`
}

// EventName is "worn_told".
func (WornTold) EventName() string { return "worn_told" }

// Act is "ward_return".
func (TellWorn) Act() Act { return ActWardReturn }

// Needs the kit with its loan.
func (x TellWorn) Needs() Needs { return Needs{Kit: x.Kit} }

// WornOpen is the returned ward's loan of a kit of which nobody said yet by how many it was
// worn, or nil.
func WornOpen(w *World, k *Kit) *Loan {
	l := w.Loans[k.Loan]
	if !l.ByWard() || l.Back == 0 || l.Undone {
		return nil
	}
	if _, known := l.told(); known {
		return nil
	}
	return l
}

func (x TellWorn) decide(c *Case) *Problem {
	k, p := c.kit(x.Kit)
	if p != nil {
		return p
	}
	l := WornOpen(c.W, k)
	if l == nil {
		return conflict("already_done", "Look at the kit’s history.",
			"Nothing is open about wearers of kit %s on a ward.", k.Number)
	}
	open := *l
	open.Back = 0
	worn, p := wornAnswer(&open, x.Worn)
	if p != nil {
		return p
	}
	if worn == NotAsked {
		return invalid("worn", "Type a number, or choose “not known”.",
			"It is not said by how many kit %s was worn.", k.Number)
	}
	c.emit(WornTold{Loan: l.ID, Kit: k.ID, Worn: worn})
	return nil
}

func (w *World) wornTold(v WornTold) {
	change(w, w.Loans, TableLoan, v.Loan, func(l *Loan) {
		if l.Return != nil {
			told := *l.Return // the kit and the entry hold the old one
			told.Worn = v.Worn
			l.Return = &told
		}
	})
}
