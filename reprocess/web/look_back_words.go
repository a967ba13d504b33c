package web

import (
	"fmt"

	"handback/reprocess"
)

// lookBackWords tells the events of frozen look-backs, without their full stop; empty for any
// other.
func lookBackWords(event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.LookBackFrozen:
		return fmt.Sprintf("look-back %s frozen over %s: %s", ev.ID, entriesOf(ev.Size), ev.Note)
	case reprocess.LookBackActed:
		return fmt.Sprintf("everything acted on that look-back %s names, %s: %s", ev.LookBack,
			many(ev.Kits, "kit"), ev.Reason)
	case reprocess.CycleRestarted:
		return "running cycle ended, to start again: " + ev.Reason
	}
	return ""
}
