package reprocess

import (
	"cmp"
	"slices"
)

// Want is how many kits of a model are wanted on a day, as the desk last said. Its id is
// WantID; 0 wanted is nothing wanted.
type Want struct {
	Day   Date    `json:"day"`
	Model string  `json:"model"` // of the recorder
	Count int     `json:"count"`
	At    Instant `json:"at"`
	By    string  `json:"by"`
}

// WantID names the row of a day and model.
func WantID(day Date, model string) string { return string(day) + "|" + model }

// WantSet says how many are wanted; it replaces what was said before.
type WantSet struct {
	Day   Date   `json:"day"`
	Model string `json:"model"`
	Count int    `json:"count"`
}

// EventName is "want_set".
func (WantSet) EventName() string { return "want_set" }

// ActWant is of whoever hands out.
const ActWant Act = "want"

// Bounds of what is wanted: more is a slip of the finger.
const (
	mostWanted  = 500
	farthestDay = 60 // days from today
)

// SetWant says how many kits of a model are wanted on a day.
type SetWant struct {
	Day   Date   `json:"day"`
	Model string `json:"model"`
	Count int    `json:"count"`
}

// Act is "want".
func (SetWant) Act() Act { return ActWant }

// Needs the row of the day and model.
func (s SetWant) Needs() Needs { return Needs{Rows: []Ref{{TableWant, WantID(s.Day, s.Model)}}} }

func (s SetWant) decide(c *Case) *Problem {
	m := c.W.Models[s.Model]
	if m == nil || m.Kind != Recorder {
		return invalid("model", "Choose a model of recorder from the list.", "No model was chosen.")
	}
	day, err := ParseDate(string(s.Day))
	if err != nil {
		return invalid("date", "Type it like 2026-11-24.", "%s.", err)
	}
	today := c.Now.Today()
	if day < today || day > today.AddDays(farthestDay) {
		return invalid("date", "Choose a day from today on and within 60 days.",
			"%s is no day to plan for.", Day(day))
	}
	if s.Count < 0 || s.Count > mostWanted {
		return invalid("count", "Type a whole number from 0 to 500.", "%d kits cannot be right.",
			s.Count)
	}
	old := 0
	if w := c.W.Wants[WantID(day, m.ID)]; w != nil {
		old = w.Count
	}
	if old == s.Count {
		return conflict("already_done", "Nothing to do.", "%s: %d wanted on %s already.", m.Name,
			old, Day(day))
	}
	c.emit(WantSet{Day: day, Model: m.ID, Count: s.Count})
	return nil
}

// Outlook is what a day asks of a model against what there is. Nothing is promised: a kit at
// the bench may fail, a wearer may come late.
type Outlook struct {
	Day     Date
	Model   string
	Want    int // wanted on the day
	Before  int // wanted on earlier days from today on, less what went out today
	Given   int // handed out today, when the day is today
	Ready   int // released, good on the day, not kept for another day
	Bench   int // being reprocessed or awaiting release, not on hold
	DueBack int // out, due back before the day and not overdue
}

// Short is how many are missing if nothing else becomes ready.
func (o Outlook) Short() int { return max(0, o.Want-o.Given-max(0, o.Ready-o.Before)) }

// ShortAtBest is how many are missing even if the bench finishes all and all come back in time.
func (o Outlook) ShortAtBest() int {
	return max(0, o.Want-o.Given-max(0, o.Ready+o.Bench+o.DueBack-o.Before))
}

// OutlookOn computes the outlook for every want of a day, in the order of the models' names.
// The world has to hold the wants from today on and every kit that is not retired.
func OutlookOn(w *World, day Date, now Now) []Outlook {
	var all []Outlook
	for _, m := range RecorderModels(w) {
		want := w.Wants[WantID(day, m.ID)]
		if want == nil || want.Count == 0 {
			continue
		}
		o := Outlook{Day: day, Model: m.ID, Want: want.Count}
		for _, k := range w.Kits {
			o.count(w, k, now)
		}
		o.before(w, now.Today())
		all = append(all, o)
	}
	return all
}

// before adds what earlier days want. What went out today is no longer wanted of today.
func (o *Outlook) before(w *World, today Date) {
	if o.Day == today {
		return
	}
	for _, x := range w.Wants {
		switch {
		case x.Model != o.Model || x.Day < today || x.Day >= o.Day:
		case x.Day == today:
			o.Before += max(0, x.Count-o.Given)
		default:
			o.Before += x.Count
		}
	}
	o.Given = 0
}

// count adds one kit where it belongs. A kit kept for an appointment of another day is not to
// be had; one kept for an earlier day is one of those wanted before, and counts.
func (o *Outlook) count(w *World, k *Kit, now Now) {
	if k.recorderModel(w) != o.Model {
		return
	}
	l := w.Loans[k.Loan]
	kept := k.KeptNow(now)
	if l.Open() && l.Out != 0 && DateIn(l.Out, now.Zone) == now.Today() {
		o.Given++
	}
	switch s := KitState(k, w.Pieces); {
	case s == Released && CanHandOut(w, k, now).Released:
		end := goodUntil(k.Release, now)
		if (kept == nil || kept.Day <= o.Day) && (end == "" || end >= o.Day) {
			o.Ready++
		}
	case (s == InReprocessing || s == AwaitingRelease) && w.holdReason(k) == nil:
		o.Bench++
	case s == Issued && l.Open() && l.Due != "" && l.Due >= now.Today() && l.Due < o.Day:
		o.DueBack++
	}
}

func (k *Kit) recorderModel(w *World) string {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.Kind == Recorder {
			return p.Model
		}
	}
	return ""
}

// RecorderModels lists the models of recorders by name.
func RecorderModels(w *World) []*Model {
	var all []*Model
	for _, m := range w.Models {
		if m.Kind == Recorder {
			all = append(all, m)
		}
	}
	slices.SortFunc(all, func(a, b *Model) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
	})
	return all
}
