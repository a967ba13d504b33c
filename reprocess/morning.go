package reprocess

import (
	"cmp"
	"slices"
	"strconv"
)

// ChargeAgeDays is how old the last look at a phone's charge may be before it counts as one to
// charge: a phone that is off still loses some. Our own choice.
const ChargeAgeDays = 14

// usualMinCharge is asked of a phone at hand-out when the settings name none, %.
const usualMinCharge = 50

// LeastCharge is the charge asked of a phone at hand-out, %.
func (s Settings) LeastCharge() int {
	if s.MinCharge == 0 {
		return usualMinCharge
	}
	return s.MinCharge
}

// Charge is the charge of a kit's phone when somebody last looked.
type Charge struct {
	Kit     string
	Percent int     // -1: nobody recorded one
	At      Instant // of that look
}

// PhonesToCharge lists the kits that may go out but whose phone is below the least charge, was
// not looked at for ChargeAgeDays, or never; the lowest first.
func PhonesToCharge(w *World, now Now) []Charge {
	var all []Charge
	for _, k := range w.Kits {
		if KitState(k, w.Pieces) != Released || !CanHandOut(w, k, now).Released {
			continue
		}
		for _, id := range k.Pieces {
			p := w.Pieces[id]
			if p == nil || p.Kind != Phone {
				continue
			}
			c := w.chargeOf(k, p)
			old := now.UTC.Sub(c.At).Hours() >= 24*ChargeAgeDays
			if c.Percent < w.Settings.LeastCharge() || old {
				all = append(all, c)
			}
		}
	}
	slices.SortFunc(all, func(a, b Charge) int {
		return cmp.Or(cmp.Compare(a.Percent, b.Percent), cmp.Compare(a.At, b.At),
			ByNumber(w.Kits[a.Kit], w.Kits[b.Kit]))
	})
	return all
}

func (w *World) chargeOf(k *Kit, p *Piece) Charge {
	c := Charge{Kit: k.ID, Percent: -1}
	cy := w.Cycles[p.Cycle]
	if cy == nil {
		return c
	}
	r, ok := cy.Progress().Done[StepBattery]
	n, err := strconv.Atoi(r.Answered("charge"))
	if ok && err == nil {
		c.Percent, c.At = n, r.Mark.At
	}
	return c
}

// Ending is something that ends on a day by itself.
type Ending struct {
	Kit    string // whose release or cell ends; else empty
	Person string // whose competence ends; else empty
	What   string // EndsRelease, EndsCell, EndsKeep, or the procedure of a competence
}

// What of a kit ends by itself.
const (
	EndsRelease = "release"
	EndsCell    = "cell"
	EndsKeep    = "keep"
)

// EndingToday lists what ends in the course of today: releases, fitted cells and keeps of kits
// that stand ready (also those that ended earlier today), and competences of people who work
// here. Kits come first, by number.
func EndingToday(w *World, now Now) []Ending {
	today := now.Today()
	var kits, people []Ending
	for _, k := range w.Kits {
		if k.Release == nil || KitState(k, w.Pieces) != Released {
			continue
		}
		if k.Release.Until != 0 && DateIn(k.Release.Until, now.Zone) == today {
			kits = append(kits, Ending{Kit: k.ID, What: EndsRelease})
		}
		if k.Release.CellUntil == today {
			kits = append(kits, Ending{Kit: k.ID, What: EndsCell})
		}
		if kept := k.KeptNow(now); kept != nil && kept.Day == today {
			kits = append(kits, Ending{Kit: k.ID, What: EndsKeep})
		}
	}
	slices.SortStableFunc(kits, func(a, b Ending) int {
		return cmp.Or(ByNumber(w.Kits[a.Kit], w.Kits[b.Kit]), cmp.Compare(a.What, b.What))
	})
	for _, p := range w.People {
		if p.Left != "" && p.Left < today {
			continue
		}
		for _, c := range p.Competences {
			if c.Until == today && p.Competence(c.Procedure, today.AddDays(1)) == Lapsed {
				people = append(people, Ending{Person: p.ID, What: c.Procedure})
			}
		}
	}
	slices.SortFunc(people, func(a, b Ending) int {
		return cmp.Or(cmp.Compare(a.Person, b.Person), cmp.Compare(a.What, b.What))
	})
	return append(kits, people...)
}

// ByNumber orders kits as people count them, whatever came first into the log: 9 before 17.
func ByNumber(a, b *Kit) int {
	return cmp.Or(cmp.Compare(len(a.Number), len(b.Number)), cmp.Compare(a.Number, b.Number),
		cmp.Compare(a.ID, b.ID))
}

// Unsigned is a kit with steps of a learner that nobody has countersigned yet.
type Unsigned struct {
	Kit   string
	Steps int
	Names []string // of the learners
}

// ToCountersign lists the kits whose open cycles wait for a countersignature, by number.
func ToCountersign(w *World) []Unsigned {
	var all []Unsigned
	for _, k := range w.Kits {
		u := Unsigned{Kit: k.ID}
		for _, id := range k.Pieces {
			p := w.Pieces[id]
			if p == nil || w.Cycles[p.Cycle] == nil || w.Cycles[p.Cycle].Ended != 0 {
				continue
			}
			for _, r := range w.Cycles[p.Cycle].Progress().Unsigned {
				u.Steps++
				if !contains(u.Names, r.Name) {
					u.Names = append(u.Names, r.Name)
				}
			}
		}
		if u.Steps > 0 {
			all = append(all, u)
		}
	}
	slices.SortFunc(all, func(a, b Unsigned) int { return ByNumber(w.Kits[a.Kit], w.Kits[b.Kit]) })
	return all
}

// ToCall lists the kits whose open loan was due before today, the longest over first. A loan
// whose wearer promised a later day is not called again before it.
func ToCall(w *World, now Now) []*Kit {
	today := now.Today()
	var all []*Kit
	for _, k := range w.Kits {
		l := w.Loans[k.Loan]
		if l.Open() && l.Due != "" && l.Due < today && l.promised() < today {
			all = append(all, k)
		}
	}
	slices.SortFunc(all, func(a, b *Kit) int {
		return cmp.Or(cmp.Compare(w.Loans[a.Loan].Due, w.Loans[b.Loan].Due), ByNumber(a, b))
	})
	return all
}

// promised is the day that the newest call promised, empty when it promised none.
func (l *Loan) promised() Date {
	if n := len(l.Calls); n > 0 {
		return l.Calls[n-1].On
	}
	return ""
}
