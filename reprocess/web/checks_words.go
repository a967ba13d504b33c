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
func versionWords(ev reprocess.VersionSet) string {
	words := ev.What + " version read off: " + ev.Version
	if ev.Changed {
		words = ev.What + " version put on: " + ev.Version
	}
	return words
}

// campaignWords is a campaign that was begun or ended.
func campaignWords(ev reprocess.CampaignSet) string {
	if ev.Ended != 0 {
		return "campaign ended: " + ev.Name
	}
	return "campaign begun: " + ev.Name
}
