package web

import (
	"time"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// wetPatience is how long after its needed time a running wet time still counts as work.
const wetPatience = 10 * time.Minute

// lapsed tells whether a session is over by idle time. While a wet time of the person runs,
// waiting is work, so the session stays. The kits are only looked through when it matters.
func (v *Visit) lapsed(s *sqlite.Session) (bool, error) {
	idle := s.Ends.Sub(v.Now.UTC)
	if v.Now.UTC.Sub(s.Seen) < idle {
		return false, nil
	}
	w, err := v.Store().OpenKits(v.Context())
	if err != nil {
		return false, err
	}
	return !waitsForWet(w, s.Person.ID, v.Now), nil
}

// waitsForWet finds a wet time that somebody began and that is not long past its need.
func waitsForWet(w *reprocess.World, person string, now reprocess.Now) bool {
	for _, c := range w.Cycles {
		if c.Ended == 0 && runsFor(c, person, now) {
			return true
		}
	}
	return false
}

func runsFor(c *reprocess.Cycle, person string, now reprocess.Now) bool {
	wet := c.Progress().Wet
	if !wet.Open {
		return false
	}
	ms, _ := reprocess.Elapsed(wet.Start,
		reprocess.Mark{At: now.UTC, Boot: now.Boot, Mono: now.Mono})
	if ms > int64(wet.NeededS)*1000+wetPatience.Milliseconds() {
		return false
	}
	for i := len(c.Records) - 1; i >= 0; i-- {
		if r := c.Records[i]; r.Kind == reprocess.RecWetNow && !r.Undone {
			return r.By == person
		}
	}
	return false
}
