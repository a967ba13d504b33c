package reprocess

import (
	"fmt"
	"math"

	"handback/reprocess/wear"
)

// PackPlan is what a kit needs for the planned days of wear. A part is nil when the model
// does not state what it is planned from; nothing is guessed.
type PackPlan struct {
	Days       int
	Electrodes *wear.ElectrodePlan
	PerSet     int
	Battery    *wear.BatteryPlan
	Cell       string // designation
	First      int    // day of the first change, where the fitted cell was opened before; else 0
	Swallow    bool   // flat round cells: the caution goes along
	Parts      []string
}

// PlanPack plans electrodes and cells of a kit for days of wear by what the recorder's model
// states. A test on the bench uses no set; one set in five is spare.
func PlanPack(w *World, k *Kit, days int) (PackPlan, *Problem) {
	if days < 1 || days > longestLoan {
		return PackPlan{}, invalid("days", "Type a whole number from 1 to 400.",
			"%d planned days cannot be right.", days)
	}
	plan := PackPlan{Days: days}
	for _, id := range k.Pieces {
		piece := w.Pieces[id]
		if piece == nil || w.Models[piece.Model] == nil {
			continue
		}
		m := w.Models[piece.Model]
		plan.Parts = append(plan.Parts, m.Parts...)
		if piece.Kind != Recorder {
			continue
		}
		if p := plan.electrodes(m); p != nil {
			return plan, p
		}
		if p := plan.battery(m); p != nil {
			return plan, p
		}
	}
	return plan, nil
}

// UsualDays is how long this kit is usually worn, 0 when nobody said.
func UsualDays(w *World, k *Kit) int {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && p.Kind == Recorder && w.Models[p.Model] != nil {
			return w.Models[p.Model].UsualDays
		}
	}
	return 0
}

func (p *PackPlan) electrodes(m *Model) *Problem {
	if m.ElectrodeInterval == "" || m.PerSet == 0 {
		return nil
	}
	every, err := wear.ParseDays(m.ElectrodeInterval)
	if err != nil {
		return invalid("days", "Ask a supervisor to correct the model.", "%s.", err)
	}
	plan, err := wear.PlanElectrodes(wear.ElectrodeNeed{Days: wear.Days(p.Days), Interval: every,
		PerSet: m.PerSet})
	if err != nil {
		return invalid("plan", "Ask a supervisor to correct the model.", "%s.", err)
	}
	p.Electrodes, p.PerSet = &plan, m.PerSet
	return nil
}

// battery plans by the maker's run time where it is stated, else by capacity and current.
func (p *PackPlan) battery(m *Model) *Problem {
	if m.Cell == "" || m.CellCount == 0 || (m.RunHours == 0 && (m.CapacityMAh == 0 || m.CurrentUA == 0)) {
		return nil
	}
	cell, err := wear.CellOf(m.Cell)
	if err != nil {
		return invalid("cell_kind", "Ask a supervisor to correct the model.", "%s.", err)
	}
	need := wear.BatteryNeed{Chemistry: cell.Chemistry, Days: wear.Days(p.Days),
		InDevice: m.CellCount, Capacity: wear.MicroampHours(m.CapacityMAh) * 1000,
		Current: wear.Microamps(m.CurrentUA)}
	if need.Derating, err = wear.DeratingOf(cell.Chemistry, false, 0); m.RunHours > 0 {
		// The maker's figure is for the device as worn: nothing is taken off it but the reserve.
		need.Capacity, need.Current = wear.MicroampHours(m.RunHours)*1000, 1000
		need.Derating, err = wear.ParseDerating("1")
	}
	if err != nil {
		return invalid("plan", "Ask a supervisor to correct the model.", "%s.", err)
	}
	plan, err := wear.PlanBattery(need)
	if err != nil {
		return invalid("plan", "Ask a supervisor to correct the model.", "%s.", err)
	}
	p.Battery, p.Cell, p.Swallow = &plan, m.Cell, cell.SwallowCaution()
	return nil
}

// ElectrodeDays are the days from the hand-out on which the electrodes are changed, 1-based.
// Half days go to the earlier day.
func (p PackPlan) ElectrodeDays() []int {
	var days []int
	if p.Electrodes != nil {
		for _, d := range p.Electrodes.ChangeDays {
			if n := int(math.Floor(float64(d) + 1e-9)); n > 0 && n < p.Days &&
				(len(days) == 0 || n > days[len(days)-1]) {
				days = append(days, n)
			}
		}
	}
	return days
}

// BatteryDays are the days from the hand-out on which the cells are changed; none when one
// set lasts, and none when a set does not last a day.
func (p PackPlan) BatteryDays() []int {
	var days []int
	if p.Battery == nil || p.Battery.Sets < 2 || p.Battery.ChangeDay < 1 {
		return nil
	}
	n := p.Battery.ChangeDay
	if p.First > 0 {
		n = p.First
	}
	for ; n < p.Days && len(days) < p.Battery.Sets-1; n += p.Battery.ChangeDay {
		days = append(days, n)
	}
	return days
}

// CarriedCells are the cells that go into the bag: those of the first set are in the device.
func (p PackPlan) CarriedCells() int {
	if p.Battery == nil || p.Battery.Sets < 2 {
		return 0
	}
	return p.Battery.Cells / p.Battery.Sets * (p.Battery.Sets - 1)
}

// PutIn lists what goes into the bag beside the pieces and their parts, as short lines.
func (p PackPlan) PutIn() []string {
	var lines []string
	if e := p.Electrodes; e != nil {
		lines = append(lines, fmt.Sprintf("%d electrodes: %d sets of %d, %d of them spare", e.Total,
			e.Total/p.PerSet, p.PerSet, e.Spare/p.PerSet))
	}
	if n := p.CarriedCells(); n > 0 {
		lines = append(lines, p.spareCells(n))
	} else if p.Battery != nil {
		lines = append(lines, "no spare cells: the new "+p.Cell+" lasts")
	}
	return lines
}

// spareCells words the cells that are carried; several have to be from one lot.
func (p PackPlan) spareCells(n int) string {
	if n == 1 {
		return "1 spare cell " + p.Cell
	}
	return fmt.Sprintf("%d spare cells %s, all from one lot", n, p.Cell)
}
