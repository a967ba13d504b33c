package wear

import (
	"fmt"
	"math"
)

// ElectrodeNeed is what the plan is made from.
type ElectrodeNeed struct {
	Days     Days // planned wear
	Interval Days // one set stays on; of a range, the shorter end
	PerSet   int  // electrodes in one set
	Pack     int  // electrodes in one pack; 0: packs are not counted
	TestSets int  // sets used up by the function test
}

// ElectrodePlan is what goes into the kit.
type ElectrodePlan struct {
	Sets       int // without spare and test sets
	Electrodes int // sets × per set
	Spare      int // electrodes of the spare sets
	Total      int // electrodes altogether, spare and test sets included
	Packs      int // whole packs; 0 when no pack size was given
	ChangeDays []Days
}

// The bounds of a plan; outside them a figure was mistyped.
const (
	maxDays   = 3660
	maxSets   = 10_000
	maxPerSet = 100
	maxPack   = 100_000
)

// roundingSlack is taken off before rounding up, so that 14 days at 3.5 days a set stay 4.
const roundingSlack = 1e-9

// PlanElectrodes plans sets = max(1, ceil(days / interval)) and one spare set for every five
// begun. The first set is put on at fitting, so the changes fall on day k × interval, k < sets.
func PlanElectrodes(n ElectrodeNeed) (ElectrodePlan, error) {
	if err := n.check(); err != nil {
		return ElectrodePlan{}, err
	}
	q := math.Ceil(float64(n.Days/n.Interval) - roundingSlack)
	if q > maxSets {
		return ElectrodePlan{}, fmt.Errorf("this would take more than %d sets; check the days"+
			" and the interval", maxSets)
	}
	sets := max(1, int(q))
	spare := (sets + 4) / 5 // ceil(0.2 × sets), at least 1
	p := ElectrodePlan{Sets: sets, Electrodes: sets * n.PerSet, Spare: spare * n.PerSet,
		Total: (sets + spare + n.TestSets) * n.PerSet, ChangeDays: []Days{}}
	if n.Pack > 0 {
		p.Packs = (p.Total + n.Pack - 1) / n.Pack
	}
	for k := 1; k < sets; k++ {
		p.ChangeDays = append(p.ChangeDays, Days(k)*n.Interval)
	}
	return p, nil
}

func (n ElectrodeNeed) check() error {
	switch {
	case !(n.Days > 0 && n.Days <= maxDays):
		return fmt.Errorf("the planned wear must be above 0 and at most %d days", maxDays)
	case !(n.Interval > 0 && n.Interval <= maxDays):
		return fmt.Errorf("the days per set must be above 0 and at most %d", maxDays)
	case n.PerSet < 1 || n.PerSet > maxPerSet:
		return fmt.Errorf("a set has from 1 to %d electrodes, not %d", maxPerSet, n.PerSet)
	case n.Pack < 0 || n.Pack > maxPack:
		return fmt.Errorf("a pack has from 1 to %d electrodes, not %d", maxPack, n.Pack)
	case n.TestSets < 0 || n.TestSets > maxSets:
		return fmt.Errorf("the test sets must be from 0 to %d, not %d", maxSets, n.TestSets)
	}
	return nil
}
