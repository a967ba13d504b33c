package reprocess

import "fmt"

// BenchRules is what the clinic chose for test recordings: how far a recorder's clock may be
// off without a remark, and how long recordings and pictures are kept. Nil: the defaults.
type BenchRules struct {
	ClockMin   int    `json:"clock_min,omitempty"`   // min; 0: ClockTolerance
	KeepMonths int    `json:"keep_months,omitempty"` // 0: DefaultKeepMonths
	Reason     string `json:"reason,omitempty"`      // of the last change that shortened
}

// DefaultKeepMonths is how long test recordings, strips and pictures are kept where the clinic
// says nothing: ten years, as records of medical devices and of treatment usually are (common
// practice). What the entries say of them is kept in any case.
const DefaultKeepMonths = 120

// Limits of the choice: shorter than a year would take the evidence away before an audit asks
// for it (common practice: audits are yearly).
const (
	leastKeepMonths = 12
	mostKeepMonths  = 600
)

// SetBenchRules replaces these choices. Keeping for less time has to be signed with a reason,
// since what is removed does not come back.
type SetBenchRules struct{ BenchRules }

// Act is "settings".
func (SetBenchRules) Act() Act { return ActSettings }

// Needs nothing beyond what is always loaded.
func (SetBenchRules) Needs() Needs { return Needs{} }

// Rules are the choices in force, each with its default filled in.
func (s Settings) Rules() BenchRules {
	r := BenchRules{}
	if s.Bench != nil {
		r = *s.Bench
	}
	if r.ClockMin == 0 {
		r.ClockMin = ClockTolerance
	}
	if r.KeepMonths == 0 {
		r.KeepMonths = DefaultKeepMonths
	}
	return r
}

func (s SetBenchRules) decide(c *Case) *Problem {
	next := s.BenchRules
	var p *Problem
	if next.Reason, p = clean("The reason", s.Reason, 200); p != nil {
		return p
	}
	if next.ClockMin < 0 || next.ClockMin > mostClockTolerance {
		return invalid("number", "Type whole minutes up to 1440, or leave it empty for 5.",
			"%d minutes cannot be a tolerance of a clock.", next.ClockMin)
	}
	if next.KeepMonths != 0 && (next.KeepMonths < leastKeepMonths || next.KeepMonths > mostKeepMonths) {
		return invalid("number", "Type 12 to 600 months, or leave it empty for 120.",
			"Recordings cannot be kept for %d months.", next.KeepMonths)
	}
	v, now := c.W.Settings, c.W.Settings.Rules()
	v.Bench = &next
	if will := v.Rules().KeepMonths; will < now.KeepMonths {
		if !c.Actor.Signed || next.Reason == "" {
			return &Problem{Code: Forbidden, Rule: "keep_shorter",
				Text: fmt.Sprintf("Recordings and pictures are kept for %d months now; this would "+
					"remove them after %d months.", now.KeepMonths, will),
				Fix: "Give the reason and enter your own secret, or leave the time as it is."}
		}
	} else {
		next.Reason = now.Reason
	}
	c.emit(SettingsSet{v})
	return nil
}
