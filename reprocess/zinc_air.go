package reprocess

import (
	"math"

	"handback/reprocess/wear"
)

// whenZincAir marks the question that is asked of models that run on zinc-air cells, whatever
// their procedure asks. Such a cell runs down from the pull of its tab on, worn or not, and its
// voltage does not tell (function-test reference, 5.1): it is planned by the day of its opening.
const whenZincAir = "zinc_air"

// askOpened is the day on which the tab was pulled; left out, it is the day of the step.
const askOpened = "tab_pulled"

// zincAir tells whether a model runs on zinc-air cells.
func (m *Model) zincAir() bool {
	if m == nil || m.Cell == "" {
		return false
	}
	cell, err := wear.CellOf(m.Cell)
	return err == nil && cell.Chemistry == wear.ZincAir
}

// airRecorder is the model of a kit's recorder if it runs on zinc-air cells, else nil.
func (w *World) airRecorder(k *Kit) *Model {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.Kind == Recorder && w.Models[p.Model].zincAir() {
			return w.Models[p.Model]
		}
	}
	return nil
}

// opened reads the day of the tab: not to come, and not so long ago that the cell is past its
// days already.
func (c *Case) opened(value string) *Problem {
	today := c.Now.Today()
	d, err := ParseDate(value)
	switch {
	case err != nil || d == "":
		return invalid("date", "Type it like 2026-11-24, or leave it empty for today.",
			"The day of the tab cannot be read.")
	case d > today:
		return invalid("date", "Type the day on which the tab was pulled.", "%s is still to come.", Day(d))
	case d.DaysUntil(today) >= wear.ZincAirDays():
		return refuse("cell_opened", "Take a cell whose tab is still on.",
			"This cell was opened on %s; a zinc-air cell is planned for %d days from then on, "+
				"whatever it reads.", Day(d), wear.ZincAirDays())
	}
	return nil
}

// lastAirDay is the last of the days that a cell is planned for, the day of its tab the first.
func lastAirDay(opened Date) Date { return opened.AddDays(wear.ZincAirDays() - 1) }

// airUntil is the last day that a zinc-air cell of a battery record is planned for; other cells
// are good until the day on their box.
func (m *Model) airUntil(battery Record, c *Case, expiry Date) Date {
	if !m.zincAir() {
		return expiry
	}
	opened := Date(battery.Answered(askOpened))
	if opened == "" {
		opened = DateIn(battery.Paper.or(battery.Mark.At), c.Now.Zone)
	}
	return min(lastAirDay(opened), expiry)
}

// airAtOut checks a loan of a model on zinc-air: the fitted cell is changed by the plan, so only
// the box has to be good beyond the loan. done is false for other models.
func (c *Case) airAtOut(k *Kit, l Loan) (done bool, p *Problem) {
	if c.W.airRecorder(k) == nil {
		return false, nil
	}
	if u := k.Release.CellUntil; l.Cell == "" && u != "" && u < c.Now.Today() {
		return true, refuse("cell_expired", "Fit a fresh cell and choose its box.", "The fitted "+
			"zinc-air cell was planned until %s, by the day its tab was pulled.", Day(u))
	}
	lot := c.W.Lots[l.Cell]
	for _, id := range k.Release.Lots {
		if x := c.W.Lots[id]; lot == nil && x != nil && x.Kind == LotCells {
			lot = x
		}
	}
	if lot != nil && lot.Expiry != "" && l.Due > lot.Expiry {
		return true, refuse("cell_expiry", "Fit a fresher cell, or plan fewer days.",
			"The cells are good until %s; this loan ends %s.", Day(lot.Expiry), Day(l.Due))
	}
	return true, nil
}

// PlanLoan is PlanPack for a kit that is lent from a day on, or will be: a zinc-air cell that was
// opened before is changed earlier than a fresh one, and one set more may be needed.
func PlanLoan(w *World, k *Kit, days int, begin Date) (PackPlan, *Problem) {
	plan, p := PlanPack(w, k, days)
	m := w.airRecorder(k)
	if p != nil || m == nil || plan.Battery == nil || k.Release == nil {
		return plan, p
	}
	until := k.Release.CellUntil
	if l := w.Loans[k.Loan]; l.Open() && l.Cell != "" {
		until = lastAirDay(begin)
	}
	if until != "" {
		plan.openedBefore(begin.DaysUntil(until) + 1)
	}
	return plan, nil
}

// openedBefore plans with a first set that has only so many days left.
func (p *PackPlan) openedBefore(left int) {
	b := *p.Battery
	each := min(int(math.Floor(b.Hours/wear.Reserve/24+1e-9)), wear.ZincAirDays())
	if left = max(left, 0); left >= each || left >= p.Days || each < 1 {
		return
	}
	inDevice := b.Cells / b.Sets
	b.Sets = 1 + (p.Days-left+each-1)/each
	b.Cells, b.ChangeDay, p.First = b.Sets*inDevice, each, left
	p.Battery = &b
}
