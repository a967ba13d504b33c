package wear

import "fmt"

// Verdict is the answer on one cell.
type Verdict string

// The verdicts on a cell.
const (
	Use    Verdict = "use"
	Remark Verdict = "remark"
	Refuse Verdict = "refuse"
)

// band is acceptance by open voltage, mV: use from use on, refuse below refuse, remark in
// between. Above high it is another kind of cell, or an overcharged one.
type band struct{ use, refuse, high Millivolts }

// bands are our own limits close to public data sheets (LR03: open at least 1.57 V new; coin
// cells: 3.2 V off load); the upper ones lie above every fresh voltage of the table.
var bands = map[Chemistry]band{
	Alkaline:    {1550, 1500, 1700},
	LithiumCoin: {3000, 2950, 3600},
	Lithium15:   {1700, 1600, 1900},
	ZincAir:     {1350, 1300, 1550},
	LiIon:       {4100, 4000, 4250},
	NiMH:        {1300, 1250, 1550},
}

// deepMV is where a Li-ion cell has been emptied so far that it must not be charged again.
const deepMV = 2500

// Accept judges one cell by its open voltage. Open voltage catches a wrong, old or reversed
// cell; it does not tell what is left. Zinc-air is read 5 min after opening, Li-ion and NiMH
// after charging. A chemistry without limits is an error, never a pass.
func Accept(c Chemistry, v Millivolts) (Verdict, string, error) {
	b, found := bands[c]
	if !found {
		return "", "", fmt.Errorf("there are no voltage limits for %s cells here; follow the"+
			" maker's instructions and note what was read", c)
	}
	verdict, why := b.judge(v)
	if c == LiIon && v >= 0 && v < deepMV {
		why = "It was emptied too far: do not charge it again, take another one."
	}
	return verdict, why, nil
}

func (b band) judge(v Millivolts) (Verdict, string) {
	switch {
	case v < 0:
		return Refuse, "The reading is negative: the cell is reversed, or the probes are."
	case v < b.refuse:
		return Refuse, fmt.Sprintf("%s is below %s: take another cell.", v, b.refuse)
	case v < b.use:
		return Remark, fmt.Sprintf("%s is below %s: usable, but not like new.", v, b.use)
	case v > b.high:
		return Refuse, fmt.Sprintf("%s is above %s: this is another kind of cell.", v, b.high)
	}
	return Use, fmt.Sprintf("%s is at least %s.", v, b.use)
}

// String prints volts with three places.
func (v Millivolts) String() string {
	sign, n := "", int(v)
	if n < 0 {
		sign, n = "-", -n
	}
	return fmt.Sprintf("%s%d.%03d V", sign, n/1000, n%1000)
}

// loadMinMV is what an LR03 holds under 3.9 ohm for 0.3 s (public LR03 specification sheet).
const loadMinMV Millivolts = 1400

// AcceptLoaded judges an LR03 by its voltage under 3.9 ohm for 0.3 s; for other designations
// no limit is known and the answer is an error.
func AcceptLoaded(designation string, v Millivolts) (Verdict, string, error) {
	if designation != "LR03" {
		return "", "", fmt.Errorf("a limit under load is only known for LR03, not for %q;"+
			" read the open voltage instead", designation)
	}
	if v < loadMinMV {
		return Refuse, fmt.Sprintf("%s under load is below %s: take another cell.",
			v, loadMinMV), nil
	}
	return Use, fmt.Sprintf("%s under load is at least %s.", v, loadMinMV), nil
}
