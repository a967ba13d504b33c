package web

import (
	"time"

	"handback/reprocess"
)

// paperWords is the bracket behind whatever was entered from paper; empty for all else.
func paperWords(p *reprocess.Paper, zone *time.Location) string {
	if p == nil {
		return ""
	}
	words := reprocess.Clock(p.At, zone)
	if p.Until != 0 {
		words += " to " + clockOf(p.Until, zone)
	}
	return " (from paper: " + words + ", by " + p.Name + ")"
}

// paperOf is what an event says to be from paper, nil for most.
func paperOf(event reprocess.Event) *reprocess.Paper {
	switch ev := event.(type) {
	case reprocess.StepRecorded:
		return ev.Record.Paper
	case reprocess.TakenBack:
		return ev.Return.Paper
	case reprocess.HandedOut:
		return ev.Loan.Paper
	}
	return nil
}

// didWords is who did what a record says and when; for paper as the sheet has it.
func didWords(r reprocess.Record, now reprocess.Now) string {
	if r.Paper != nil {
		return r.Paper.Name + ", " + clockWords(r.Paper.At, now) + ", from paper"
	}
	return r.Name + ", " + clockWords(r.Mark.At, now)
}

// zoneOf is the zone of the clinic, UTC when the settings name none that is known.
func zoneOf(w *reprocess.World) *time.Location {
	zone, err := time.LoadLocation(w.Settings.Zone)
	if err != nil {
		return time.UTC
	}
	return zone
}

// clockOf is a moment without its day.
func clockOf(i reprocess.Instant, zone *time.Location) string {
	return i.Time().In(zone).Format("15:04")
}

// paperWetWords says what a sheet has about a contact time.
func paperWetWords(r reprocess.Record) string {
	if r.Answered("stayed") != "yes" {
		return "a contact time that did not stay wet, or the sheet does not say"
	}
	if r.Paper != nil && r.Paper.Counts {
		return "contact time as a sheet says, not measured"
	}
	return "contact time as a sheet says; it does not count here"
}
