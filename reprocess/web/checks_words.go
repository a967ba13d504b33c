package web

import "handback/reprocess"

// checkedWords is an entered technical check as a history tells it.
func checkedWords(ev reprocess.CheckRecorded) string {
	words := "technical check: " + ev.Words + ", passed on "
	if ev.Done.Failed {
		words = "technical check: " + ev.Words + ", failed on "
	}
	return words + reprocess.Day(ev.Done.On) + ", by " + ev.Done.Tester + inBrackets(ev.Done.Note)
}

// versionWords is a version as a history tells it.
func versionWords(w *reprocess.World, ev reprocess.VersionSet) string {
	what := ev.What
	if p := w.Pieces[ev.Piece]; p != nil {
		what = runsWords(p.Kind, what)
	}
	if ev.Changed {
		return what + " version put on: " + ev.Version
	}
	return what + " version read off: " + ev.Version
}

// campaignWords is a campaign that was begun or ended.
func campaignWords(ev reprocess.CampaignSet) string {
	if ev.Ended != 0 {
		return "campaign ended: " + ev.Name
	}
	return "campaign begun: " + ev.Name
}
