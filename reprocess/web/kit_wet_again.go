package web

import (
	"fmt"

	"handback/reprocess"
	"handback/reprocess/strength"
)

// wipeAgain says while a surface is watched when to wipe it again, where one wipe of what is on
// it may not hold the contact time. It is an estimate that nobody validated: it passes and
// fails nothing, and what is seen on the surface counts. Empty where one wipe is likely to hold,
// where there is nothing to estimate, and once it was wet long enough.
func (x *view) wipeAgain(g group, now reprocess.Now) string {
	var soonest reprocess.OneWipe
	for _, t := range g.tracks {
		wet := t.Progress.Wet
		p := x.w.Products[wet.Product]
		if !wet.Open || p == nil || WetFrom("", wet, now, "").Done {
			continue
		}
		a, ok := p.OneWipe(wet.NeededS)
		if !ok || a.Outlook == strength.Likely || a.Seconds == 0 {
			continue
		}
		if soonest.Seconds == 0 || a.Seconds < soonest.Seconds {
			soonest = a
		}
	}
	if soonest.Seconds == 0 {
		return ""
	}
	return fmt.Sprintf("Wipe it again while it is still wet, about every %d s: one wipe of this may "+
		"keep its strength no longer, could be %d or %d s. An estimate, not validated; no tap is "+
		"needed, and what you see counts.", soonest.Seconds, soonest.Low, soonest.High)
}
