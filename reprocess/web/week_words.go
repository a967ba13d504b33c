package web

import (
	"fmt"

	"handback/reprocess"
)

// weekWords is an event of the day, of the desk's plan or about a finding in words, without its
// full stop; empty for any other.
func weekWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.DayTicked:
		if ev.Not {
			return "daily list: not done after all: " + ev.Tick
		}
		return "daily list: " + ev.Tick
	case reprocess.DayNoted:
		return "note of the day: " + ev.Note
	case reprocess.HandedOver:
		return "bench handed over from " + nameOf(w, ev.From) + " to " + nameOf(w, ev.To)
	case reprocess.LoanCalled:
		return "called about the overdue return: " + callWords(ev.Result, ev.On) + inBrackets(ev.Note)
	case reprocess.KitKept:
		return "kept for an appointment on " + reprocess.Day(ev.Day)
	case reprocess.KeepEnded:
		return "not kept for an appointment any more" + inBrackets(ev.Reason)
	case reprocess.WantSet:
		return fmt.Sprintf("wanted on %s: %d of %s", reprocess.Day(ev.Day), ev.Count,
			modelName(w, ev.Model))
	}
	return findingEventWords(w, event)
}

func findingEventWords(w *reprocess.World, event reprocess.Event) string {
	switch ev := event.(type) {
	case reprocess.FindingOpened:
		return "finding written down: " + ev.Text + "; " + nameOf(w, ev.Owner) + " puts it right by " +
			reprocess.Day(ev.Due)
	case reprocess.FindingMoved:
		return "finding given to " + nameOf(w, ev.Owner) + ", by " + reprocess.Day(ev.Due) +
			inBrackets(ev.Reason)
	case reprocess.FindingClosed:
		return "finding closed: " + ev.Done + "; shown by " + shownBy(ev.Evidence)
	}
	return ""
}

// nameOf is somebody's name, or their id when nobody has it.
func nameOf(w *reprocess.World, id string) string {
	if p := w.People[id]; p != nil {
		return p.Name
	}
	return "person " + id
}

func modelName(w *reprocess.World, id string) string {
	if m := w.Models[id]; m != nil {
		return m.Name
	}
	return "model " + id
}

// callWords is what came of a call.
func callWords(result string, on reprocess.Date) string {
	switch result {
	case reprocess.CallReached:
		return "reached"
	case reprocess.CallWillBring:
		return "will bring it on " + reprocess.Day(on)
	}
	return "not reached"
}

// shownBy names what shows that a finding was put right.
func shownBy(evidence string) string {
	if len(evidence) == 64 {
		return "a picture"
	}
	return evidence
}

// anywayWords tells that a kit was kept for another appointment and why it went out.
func anywayWords(l reprocess.Loan) string {
	if l.Anyway == "" {
		return ""
	}
	return ", although kept for another appointment: " + l.Anyway
}
