package wear

import (
	"fmt"
	"math"
)

// deratings are our own planning values by chemistry, in millionths. Silver and NiMH have
// none: whoever uses them states one.
var deratings = map[Chemistry]Derating{Alkaline: 800_000, ZincAir: 800_000,
	LithiumCoin: 700_000, LiIon: 700_000, Lithium15: 900_000}

// Further factors, in millionths: worn at 0 to 10 °C, and per year begun past half of the
// shelf life.
const (
	coldFactor = 850_000
	yearFactor = 900_000
)

// DeratingOf gives the share of the printed capacity to count on. Worn cold means the cell
// itself is at 0 to 10 °C; past is the number of years begun past half of its shelf life.
// The product is rounded down, the safe side.
func DeratingOf(c Chemistry, cold bool, past int) (Derating, error) {
	d, found := deratings[c]
	if !found {
		return 0, fmt.Errorf("there is no derating for %s cells here; state one, such as 0.8", c)
	}
	if past < 0 || past > 50 {
		return 0, fmt.Errorf("%d is not a number of years past half of the shelf life", past)
	}
	if cold {
		d = d * coldFactor / million
	}
	for range past {
		d = d * yearFactor / million
	}
	return d, nil
}

// MeanCurrent is the mean of a base current and bursts: base + burst × seconds per hour /
// 3600, rounded up to a whole µA.
func MeanCurrent(base, burst Microamps, secondsPerHour int) (Microamps, error) {
	if base < 0 || burst < 0 || secondsPerHour < 0 || secondsPerHour > 3600 {
		return 0, fmt.Errorf("bursts need currents of at least 0 and 0 to 3600 s per hour")
	}
	if base > maxCurrent || burst > maxCurrent {
		return 0, fmt.Errorf("a current above %d mA is a typing slip; check the unit",
			maxCurrent/1000)
	}
	return base + (burst*Microamps(secondsPerHour)+3599)/3600, nil
}

// The bounds of a battery plan, µA and µAh; outside them a unit was mistaken.
const (
	maxCurrent  Microamps     = 10_000_000
	maxCapacity MicroampHours = 100_000_000
	maxCells                  = 24
	maxSupply                 = 10_000
)

// Reserve is what the wear is multiplied by before cells are counted: 1.2.
const Reserve = 1.2

// zincAirDays is how long an opened zinc-air cell of size 675 lasts, used or not: 12 to 14
// days in public care pages; the shorter end is planned, and for smaller sizes as well.
const zincAirDays = 12

// BatteryNeed is what the plan is made from.
type BatteryNeed struct {
	Chemistry Chemistry
	Capacity  MicroampHours // printed, or the maker's for this load
	Current   Microamps     // mean
	Derating  Derating
	Days      Days // planned wear
	InDevice  int  // cells in the device at once, each carrying the whole current
}

// BatteryPlan says how many cells go into the kit and when to change.
type BatteryPlan struct {
	Hours     float64 // run time of one set, derated, before the reserve
	Sets      int     // sets of cells worn one after the other
	Cells     int     // sets × cells in the device
	ChangeDay int     // every so many days; meaningful only if Sets > 1, 0: within a day
}

// PlanBattery plans run time = capacity × derating / mean current, sets = ceil(wear × 1.2 /
// run time) and the change day floor(run time / 1.2 / 24). Zinc-air also runs down unused, so
// its sets and change day follow the days since opening where those are shorter.
func PlanBattery(n BatteryNeed) (BatteryPlan, error) {
	if err := n.check(); err != nil {
		return BatteryPlan{}, err
	}
	hours := float64(int64(n.Capacity)*int64(n.Derating)) / float64(int64(n.Current)*million)
	sets := math.Ceil(float64(n.Days)*24*Reserve/hours - roundingSlack)
	change := math.Floor(hours/Reserve/24 + roundingSlack)
	if n.Chemistry == ZincAir {
		sets = max(sets, math.Ceil(float64(n.Days)/zincAirDays-roundingSlack))
		change = min(change, zincAirDays)
	}
	sets = max(1, sets)
	if sets*float64(n.InDevice) > maxSupply {
		return BatteryPlan{}, fmt.Errorf("this would take more than %d cells; check capacity,"+
			" current and days", maxSupply)
	}
	p := BatteryPlan{Hours: hours, Sets: int(sets), Cells: int(sets) * n.InDevice}
	if p.Sets > 1 {
		p.ChangeDay = int(change)
	}
	return p, nil
}

func (n BatteryNeed) check() error {
	switch {
	case n.Capacity < 1 || n.Capacity > maxCapacity:
		return fmt.Errorf("the capacity must be above 0 and at most %d mAh", maxCapacity/1000)
	case n.Current < 1 || n.Current > maxCurrent:
		return fmt.Errorf("the current must be above 0 and at most %d mA", maxCurrent/1000)
	case n.Derating < 1 || n.Derating > million:
		return fmt.Errorf("the derating must be above 0 and at most 1")
	case !(n.Days > 0 && n.Days <= maxDays):
		return fmt.Errorf("the planned wear must be above 0 and at most %d days", maxDays)
	case n.InDevice < 1 || n.InDevice > maxCells:
		return fmt.Errorf("a device takes from 1 to %d cells, not %d", maxCells, n.InDevice)
	}
	return nil
}

// ZincAirDays is how many days after its opening a zinc-air cell is planned for, whatever it
// then reads: its voltage is flat and drops without warning.
func ZincAirDays() int { return zincAirDays }
