package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
)

// usualWords are the usual answers as somebody says them of a piece.
var usualWords = map[string]string{
	"condition=whole": "whole, nothing unusual", "old_cell=yes": "old cell out, door closed",
	"old_cell=stays":             "the old cell stays in",
	"recording=arrived":          "the recording has arrived",
	"recording=nothing_recorded": "nothing was recorded",
	"clean=yes":                  "visibly clean, no water standing",
	"parts_clean=yes":            "cable, charger, case clean too",
	"dry=yes":                    "fully dry",
	"sound=yes":                  "seals, snaps, housing, label edges sound",
	"latched=yes":                "door latched",
	"ended=yes":                  "last assignment ended",
	"wiped=yes":                  "no pictures or accounts left",
	"app_there=yes":              "app there",
	"lock=yes":                   "screen lock as set",
	"updates=yes":                "no updates waiting",
	"worn_by=bench":              "bench source",
	"signal=usable":              "test recording arrived, usable",
	"memory=yes":                 "test record removed, memory seen empty",
	"complete=yes":               "kit complete",
	"sealed=yes":                 "bag sealed",
}

// questions are what each step asks as a whole.
var questions = map[reprocess.StepID]string{
	reprocess.StepReceipt: "How did it come back?", reprocess.StepCleaning: "Visibly clean?",
	reprocess.StepDrying: "Fully dry?", reprocess.StepInspection: "All sound?",
	reprocess.StepBattery: "Battery in?", reprocess.StepAssignment: "Last loan ended on it?",
	reprocess.StepFunction: "Did the test pass?", reprocess.StepPacking: "Kit complete?",
}

// sayAnswer is one usual answer in words.
func sayAnswer(ask reprocess.Ask, value string) string {
	if words, ok := usualWords[ask.ID+"="+value]; ok {
		return words
	}
	c, _ := ask.Choice(value)
	return strings.ToLower(strings.TrimSuffix(ask.Words, "?")) + ": " + strings.ToLower(c.Words)
}

// sentence begins with a capital and ends with a full stop.
func sentence(text string) string {
	text = capital(strings.TrimSpace(text))
	if text == "" || strings.HasSuffix(text, ".") || strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}

// saidOf is what an entry of the bench did, for the next page.
func saidOf(e *reprocess.Entry) string {
	words := ""
	for _, b := range e.Events {
		switch ev := b.Event.(type) {
		case reprocess.Held:
			return "On hold now: " + reprocess.HoldWords(ev.Reason) + "."
		case reprocess.StepRecorded:
			words = "Recorded: " + recordWords(ev.Record) + "."
		}
	}
	return words
}

// tabWords adds to a zinc-air cell the day its tab was pulled, where somebody told it.
func tabWords(battery reprocess.Record) string {
	if d := battery.Answered("tab_pulled"); d != "" {
		return ", tab pulled " + reprocess.Day(reprocess.Date(d))
	}
	return ""
}

// recordWords is one record of a cycle as a short sentence without its stop.
func recordWords(r reprocess.Record) string {
	step, _ := reprocess.FindStep(r.Step)
	switch r.Kind {
	case reprocess.RecWetNow:
		return fmt.Sprintf("whole surface wet, %d s needed", r.NeededS)
	case reprocess.RecLooksWet:
		return "still looks wet"
	case reprocess.RecPaperWet:
		return paperWetWords(r)
	case reprocess.RecSeenDry:
		return "seen dry"
	case reprocess.RecNotWatched:
		return "not watched"
	case reprocess.RecOverride:
		return strings.ToLower(step.Words) + " not as written, allowed: " + r.Reason
	case reprocess.RecCountersign:
		return strings.ToLower(step.Words) + " countersigned"
	case reprocess.RecSoftware:
		return "version " + r.Reason + " put on: the function test is asked for again"
	case reprocess.RecRepair:
		return "small repair: " + r.Reason
	}
	words := answersWords(step, r)
	if r.Instrument != "" {
		words += ", measured with " + r.Instrument
	}
	return words
}

// answersWords is the sentence of the step when all was fine, otherwise what was answered.
func answersWords(step reprocess.Step, r reprocess.Record) string {
	var odd []string
	failed := false
	for _, a := range r.Answers {
		if a.Effect == reprocess.EffectOK {
			continue
		}
		failed = failed || a.Effect != reprocess.EffectNote
		ask, _ := reprocess.FindAsk(a.Ask)
		if a.Ask == "signal" && a.Effect == reprocess.EffectNote {
			odd = append(odd, "with remarks")
		} else if c, ok := ask.Choice(a.Value); ok {
			odd = append(odd, strings.ToLower(c.Words))
		} else {
			odd = append(odd, strings.ToLower(ask.Words)+": "+a.Value)
		}
	}
	if r.Test.Failed() {
		odd = append(odd, strings.TrimSuffix(r.Test.Why(), "."))
	}
	switch {
	case failed:
		return step.Words + ": " + strings.Join(odd, ", ")
	case len(odd) > 0:
		return step.Done + " (" + strings.Join(odd, ", ") + ")"
	}
	return step.Done
}

// number reads a whole number from a form; what is none is 0 and never a valid id.
func number(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

func minutesWords(n int) string {
	if n >= 120 {
		return fmt.Sprintf("%d h %02d min", n/60, n%60)
	}
	return fmt.Sprintf("%d min", n)
}
