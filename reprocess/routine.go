package reprocess

import "time"

// Routine is how the clinic's day goes. A nil one, and whatever is empty, is the default.
type Routine struct {
	Ticks     []string `json:"ticks,omitempty"`      // lines of the daily list
	ShortFrom string   `json:"short_from,omitempty"` // hour from which tomorrow's shortage shows
	KeepUntil string   `json:"keep_until,omitempty"` // hour at which a kept kit is free again
}

// The defaults, our own choice.
const (
	usualShortFrom = "14:00"
	usualKeepUntil = "18:00"
)

var usualTicks = []string{"Bench wiped", "Dirty boxes emptied and wiped", "Station phone wiped"}

// mostTicks is how many lines the daily list may have.
const mostTicks = 12

// Ticks is the daily list in force.
func (s Settings) Ticks() []string {
	if s.Routine == nil || len(s.Routine.Ticks) == 0 {
		return usualTicks
	}
	return s.Routine.Ticks
}

// ShortFrom is the clock time from which the shortage of tomorrow is shown.
func (s Settings) ShortFrom() string {
	if s.Routine == nil || s.Routine.ShortFrom == "" {
		return usualShortFrom
	}
	return s.Routine.ShortFrom
}

// KeepUntil is the clock time at which a kit kept for an appointment is free again.
func (s Settings) KeepUntil() string {
	if s.Routine == nil || s.Routine.KeepUntil == "" {
		return usualKeepUntil
	}
	return s.Routine.KeepUntil
}

// SetRoutine replaces the routine of the day. What was kept before keeps its hour.
type SetRoutine struct{ Routine }

// ActRoutine is a supervisor's.
const ActRoutine Act = "routine"

// Act is "routine".
func (SetRoutine) Act() Act { return ActRoutine }

// Needs nothing beyond what is always loaded.
func (SetRoutine) Needs() Needs { return Needs{} }

func (s SetRoutine) decide(c *Case) *Problem {
	r := Routine{ShortFrom: s.ShortFrom, KeepUntil: s.KeepUntil}
	for _, text := range s.Ticks {
		tick, p := clean("A line of the daily list", text, 60)
		if p != nil {
			return p
		}
		if tick == "" {
			continue
		}
		if contains(r.Ticks, tick) {
			return invalid("tick_twice", "Write each line once.", "%q stands twice.", tick)
		}
		r.Ticks = append(r.Ticks, tick)
	}
	if len(r.Ticks) > mostTicks {
		return invalid("ticks", "Keep what is done every day.", "%d lines are too many; %d fit.",
			len(r.Ticks), mostTicks)
	}
	for _, hour := range []string{r.ShortFrom, r.KeepUntil} {
		if _, err := time.Parse("15:04", hour); hour != "" && (err != nil || len(hour) != 5) {
			return invalid("hour", "Type it like 14:00.", "%q is no time of the day.", hour)
		}
	}
	v := c.W.Settings
	v.Routine = &r
	c.emit(SettingsSet{v})
	return nil
}
