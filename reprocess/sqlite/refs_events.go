package sqlite

import (
	"slices"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// refEvent marks a line of act_ref that names the kind of an event and not a row: rare events
// that no read table keeps once they are over are found by it.
const refEvent reprocess.Table = "event"

// markedEvents are the kinds of events that act_ref names.
var markedEvents = figures.Marked()

// actRefs are the lines of act_ref: the rows the entry names and its marked events, each once.
func actRefs(e *reprocess.Entry) []reprocess.Ref {
	refs := entryRefs(e)
	for _, b := range e.Events {
		r := reprocess.Ref{Table: refEvent, ID: b.Event.EventName()}
		if figures.Marks(b.Event) && !slices.Contains(refs, r) {
			refs = append(refs, r)
		}
	}
	return refs
}
