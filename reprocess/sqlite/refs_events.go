package sqlite

import (
	"slices"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// refEvent marks a line of act_ref that names the kind of an event and not a row: rare events
// that no read table keeps once they are over are found by it.
const refEvent reprocess.Table = "event"

// endsWaiting marks what ends all waiting of a kit.
const endsWaiting = "ends_waiting"

// mark is the name under which act_ref holds an event, empty for most.
func mark(event reprocess.Event) string {
	switch event.(type) {
	case reprocess.KitReleased, reprocess.HandedOut:
		return endsWaiting
	case reprocess.KitRegistered:
		return event.EventName()
	case reprocess.TakenBack: // a return in which a piece may have stayed away is rare
		if !figures.Marks(event) {
			return endsWaiting
		}
	}
	if figures.Marks(event) {
		return event.EventName()
	}
	return ""
}

// markedEvents are the kinds of events that act_ref names.
var markedEvents = figures.Marked()

// actRefs are the lines of act_ref: the rows the entry names and its marked events, each once.
func actRefs(e *reprocess.Entry) []reprocess.Ref {
	refs := entryRefs(e)
	for _, b := range e.Events {
		r := reprocess.Ref{Table: refEvent, ID: mark(b.Event)}
		if r.ID != "" && !slices.Contains(refs, r) {
			refs = append(refs, r)
		}
	}
	return refs
}
