package reprocess

import (
	"fmt"
	"strings"
	"time"
)

// stateRank orders states for a kit: the piece that stands furthest from released decides.
var stateRank = map[State]int{Retired: 0, Missing: 1, OutForRepair: 2, Recalled: 3,
	Embargoed: 4, Quarantined: 5, Issued: 6, Returned: 7, Registered: 8, InReprocessing: 9,
	AwaitingRelease: 10, Released: 11}

// KitState derives the state of a kit from its pieces. A kit without a recorder, or with a
// piece that is not known, is missing: unknown is never released.
func KitState(k *Kit, pieces map[string]*Piece) State {
	worst := Released
	for _, id := range k.Pieces {
		p := pieces[id]
		if p == nil {
			return Missing
		}
		if stateRank[p.State] < stateRank[worst] {
			worst = p.State
		}
	}
	switch {
	case k.Retired:
		return Retired
	case !k.hasRecorder(pieces):
		return Missing
	case worst == Released && k.Release == nil:
		return Returned
	}
	return worst
}

func (k *Kit) hasRecorder(pieces map[string]*Piece) bool {
	for _, id := range k.Pieces {
		if p := pieces[id]; p != nil && p.Kind == Recorder {
			return true
		}
	}
	return false
}

// DeskAnswer is the answer to the front desk's one question.
type DeskAnswer struct {
	Released bool
	Since    Instant
	Until    Instant // zero: it does not lapse
	Rule     string  // the rule of the one reason that matters
	Reason   string
	Ask      string
	State    State
}

// CanHandOut tells whether a kit may be handed out now. It is computed when asked, so a lapse or
// a stopped lot shows at once, and never from a cache.
func CanHandOut(w *World, k *Kit, now Now) DeskAnswer {
	a := DeskAnswer{State: KitState(k, w.Pieces), Since: k.Since, Ask: w.Settings.benchCall()}
	if p := w.notReleased(k, a.State, now); p != nil {
		a.Rule, a.Reason = p.Rule, p.Text
		if p.Fix != "" {
			a.Ask = p.Fix
		}
		return a
	}
	a.Released, a.Since, a.Until = true, k.Release.At, k.Release.Until
	return a
}

func (s Settings) benchCall() string {
	if s.BenchCall == "" {
		return "Ask the bench."
	}
	return "Ask: " + s.BenchCall
}

// notReleased finds the one reason that matters, the gravest first.
func (w *World) notReleased(k *Kit, s State, now Now) *Problem {
	if p := w.holdReason(k); p != nil {
		return p
	}
	if p := stateReason(w, k, s); p != nil {
		return p
	}
	if lot := w.stoppedLot(k.Release.Lots); lot != nil {
		return refuse("lot_stopped", "", "Lot %s was stopped: %s", lot.Number, lot.Stopped.Reason)
	}
	for _, id := range k.Pieces {
		if p := w.checkReason(w.Pieces[id], now.Today()); p != nil {
			return p
		}
	}
	r := k.Release
	if r.Until != 0 && now.UTC >= r.Until {
		return refuse("lapsed", "Re-check it at the bench.", "The release lapsed on %s.",
			Day(DateIn(r.Until, now.Zone)))
	}
	if r.CellUntil != "" && now.Today() > r.CellUntil && !CellsAtOut(w, k) {
		if w.airRecorder(k) != nil {
			return refuse("cell_expired", "Fit a fresh cell at the bench.", "The fitted zinc-air cell "+
				"was planned until %s, by the day its tab was pulled.", Day(r.CellUntil))
		}
		return refuse("cell_expired", "Fit a fresh cell at the bench.",
			"The fitted cell was good until %s.", Day(r.CellUntil))
	}
	return nil
}

func (w *World) holdReason(k *Kit) *Problem {
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil {
			continue
		}
		if h := p.Held(GradeHold, GradeInfection, GradeTechnician); h != nil {
			return refuse("on_hold", holdAsk[h.Grade], "%s is on hold: %s.",
				title(string(p.Kind)), HoldWords(h.Reason))
		}
	}
	return nil
}

var holdAsk = map[Grade]string{GradeTechnician: "Ask a technician.",
	GradeHold: "Ask infection control or a supervisor.", GradeInfection: "Ask infection control."}

func stateReason(w *World, k *Kit, s State) *Problem {
	switch s {
	case Released:
		return nil
	case Issued:
		l := w.Loans[k.Loan]
		if l != nil && l.Due != "" {
			return refuse("issued", "", "It is out, due back %s.", Day(l.Due))
		}
		return refuse("issued", "", "It is out with a wearer.")
	case Recalled:
		return refuse("recalled", "Ask infection control.", "It is being called back.")
	case Embargoed:
		return refuse("embargoed", "Ask infection control.", "It is stopped.")
	case Returned, Registered:
		return refuse(s.Code(), "", "It has not been reprocessed since it came back.")
	case InReprocessing:
		return refuse(s.Code(), "", "It is still being reprocessed: %s.", w.openSteps(k))
	case AwaitingRelease:
		return refuse(s.Code(), "", "Every step is done, but nobody has released it yet.")
	case Missing:
		return refuse(s.Code(), "", "A piece of it is missing.")
	}
	return refuse(s.Code(), "", "It is %s.", s)
}

// Code is the state as a rule's name.
func (s State) Code() string { return strings.ReplaceAll(s.String(), " ", "_") }

// openSteps names each track's next step.
func (w *World) openSteps(k *Kit) string {
	var parts []string
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil {
			continue
		}
		if next := w.NextStep(p); next != "" && next != StepRelease {
			step, _ := FindStep(next)
			parts = append(parts, fmt.Sprintf("%s next: %s", p.Kind, strings.ToLower(step.Words)))
		}
	}
	return strings.Join(parts, ", ")
}

// NextStep is the step a piece stands at: receipt when no cycle is open.
func (w *World) NextStep(p *Piece) StepID {
	c := w.Cycles[p.Cycle]
	if c == nil || c.Ended != 0 {
		return StepReceipt
	}
	if proc := w.Procedures[c.Procedure]; proc != nil {
		return c.Progress().Next(proc)
	}
	return StepReceipt
}

func (w *World) stoppedLot(ids []string) *Lot {
	for _, id := range ids {
		if l := w.Lots[id]; l != nil && l.Stopped != nil {
			return l
		}
	}
	return nil
}

// Day prints a day as screens and prints do: 24 Nov 2026.
func Day(d Date) string {
	t, err := time.Parse(DateLayout, string(d))
	if err != nil {
		return "no date"
	}
	return t.Format("2 Jan 2006")
}

// Clock prints a moment in the zone of the clinic: 24 Nov 2026 14:05.
func Clock(i Instant, zone *time.Location) string {
	if i == 0 {
		return "not recorded"
	}
	if zone == nil {
		zone = time.UTC
	}
	return i.Time().In(zone).Format("2 Jan 2006 15:04")
}

func title(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
