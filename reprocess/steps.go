package reprocess

import "strconv"

// StepID names a step of a reprocessing cycle.
type StepID string

// The steps, in the one order a cycle takes them.
const (
	StepReceipt      StepID = "receipt"
	StepCleaning     StepID = "cleaning"
	StepDisinfection StepID = "disinfection"
	StepDrying       StepID = "drying"
	StepInspection   StepID = "inspection"
	StepBattery      StepID = "battery"
	StepAssignment   StepID = "assignment"
	StepFunction     StepID = "function_test"
	StepPacking      StepID = "packing"
	StepRelease      StepID = "release"
)

// Effect is what an answer does.
type Effect string

// The effects: fine, fine with a remark, try again, hold at once.
const (
	EffectOK    Effect = ""
	EffectNote  Effect = "note"
	EffectAgain Effect = "again"
	EffectHold  Effect = "hold"
)

// AskKind is how an answer is given.
type AskKind string

// The kinds of answers.
const (
	AskChoice AskKind = "choice"
	AskText   AskKind = "text"  // short free text, no names
	AskCells  AskKind = "cells" // a lot of cells that is open at the bench
	AskCode   AskKind = "code"  // the piece's own label, scanned back
	AskNumber AskKind = "number"
	AskVolts  AskKind = "volts" // open voltage of a cell with its unit
	AskDay    AskKind = "day"   // a day like 2026-11-24, not to come
)

// Step is one row of the table of steps. The form, the gate, the export and the
// documentation are drawn from these rows.
type Step struct {
	ID       StepID
	Words    string // on screens
	Heading  string // of ISO 17664-2, for exports
	Done     string // a finished step as a sentence
	For      []Kind // tracks that can have it
	KitWide  bool   // one answer for the whole kit
	Safe     bool   // only once the last recording is safe
	Override bool   // may a procedure allow it "not as written" at all?
	Caution  string
}

// Ask is one question of a step.
type Ask struct {
	ID       string
	Step     StepID
	Words    string
	Kind     AskKind
	Choices  []Choice
	Optional bool
	For      []Kind // empty: both tracks
	// When it is asked, whatever the procedure says: "skin": the wearer told of skin trouble;
	// "campaign": one wants a version; "zinc_air": the model runs on such cells.
	When string
}

// Choice is one answer that can be tapped.
type Choice struct {
	Value, Words string
	Effect       Effect
}

var both = []Kind{Recorder, Phone}

// steps is the table. Order is the order of a cycle and must never change; rows are only
// ever added.
var steps = []Step{
	{ID: StepReceipt, Words: "First look", Heading: "preparation", For: both,
		Done: "Looked at on receipt", Caution: "gloves"},
	{ID: StepCleaning, Words: "Clean", Heading: "cleaning", For: both,
		Done: "Cleaned, visibly clean, no water standing", Caution: "soil"},
	{ID: StepDisinfection, Words: "Disinfect", Heading: "disinfection", For: both,
		Done: "Stayed wet long enough", Caution: "wet"},
	{ID: StepDrying, Words: "Let it dry", Heading: "drying", For: both,
		Done: "Dry", Caution: "dry"},
	{ID: StepInspection, Words: "Inspect", Heading: "inspection and maintenance", For: both,
		Done: "Inspected clean and dry", Caution: "crazing"},
	{ID: StepBattery, Words: "Battery", Heading: "inspection and maintenance", For: both,
		Done: "Battery in, door latched", Safe: true, Override: true, Caution: "cells"},
	{ID: StepAssignment, Words: "End the last loan on the device",
		Heading: "inspection and maintenance", For: both, Done: "Last assignment ended",
		Safe: true, Caution: "names"},
	{ID: StepFunction, Words: "Function test", Heading: "inspection and maintenance",
		For: []Kind{Recorder}, Done: "Test recording usable, memory seen empty",
		Safe: true, Override: true, Caution: "bench"},
	{ID: StepPacking, Words: "Kit complete", Heading: "packaging", For: both, KitWide: true,
		Done: "Packed and scanned back", Caution: "single_use"},
	{ID: StepRelease, Words: "Release", Heading: "packaging", For: both, KitWide: true,
		Done: "Released", Caution: "released"},
}

// asks is the table of questions, in the order they are shown.
var asks = []Ask{
	{ID: "condition", Step: StepReceipt, Words: "How did it come back?", Kind: AskChoice,
		Choices: []Choice{
			{"whole", "Whole, nothing unusual", EffectOK},
			{"soiled", "Visibly soiled", EffectNote},
			{"blood_outside", "Blood or body fluid outside", EffectNote},
			{"swollen", "Cell swollen or leaking", EffectHold},
			{"cracked", "Housing cracked", EffectHold},
			{"fluid_inside", "Fluid or blood inside", EffectHold},
		}},
	{ID: "recording", Step: StepReceipt, Words: "Where is the last wearer's recording?",
		Kind: AskChoice, For: []Kind{Recorder}, Choices: []Choice{
			{string(RecordingArrived), "It has arrived", EffectOK},
			{string(RecordingOnIt), "Still on the device", EffectNote},
			{string(RecordingNone), "Nothing was recorded", EffectOK},
			{string(RecordingUnknown), "Nobody knows yet", EffectNote},
		}},
	{ID: "old_cell", Step: StepReceipt, Words: "Old cell out and door closed?",
		Kind: AskChoice, For: []Kind{Recorder}, Choices: []Choice{
			{"yes", "Out, door closed", EffectOK}, {"stays", "Stays in for now", EffectOK}}},
	{ID: "skin", Step: StepReceipt, Words: "Skin trouble was told. What was it?", Kind: AskChoice,
		For: []Kind{Recorder}, When: "skin", Choices: []Choice{
			{"redness", "Redness under an electrode", EffectNote},
			{"skin_broken", "Blistered, broken, weeping, or where the housing touched", EffectHold},
		}},
	{ID: "clean", Step: StepCleaning, Words: "Visibly clean, no water standing?",
		Kind: AskChoice, Choices: []Choice{
			{"yes", "Yes, clean", EffectOK}, {"again", "Not yet, again", EffectAgain}}},
	{ID: "parts_clean", Step: StepCleaning, Words: "Cable, charger, case cleaned too?",
		Kind: AskChoice, For: []Kind{Recorder}, Choices: []Choice{
			{"yes", "Yes", EffectOK}, {"again", "Not yet, again", EffectAgain}}},
	{ID: "dry", Step: StepDrying, Words: "Fully dry?", Kind: AskChoice, Choices: []Choice{
		{"yes", "Yes, dry", EffectOK}, {"again", "Not yet", EffectAgain}}},
	{ID: "sound", Step: StepInspection,
		Words: "Seals, snaps, housing, label edges: all sound?", Kind: AskChoice,
		Choices: []Choice{
			{"yes", "All sound", EffectOK},
			{"worn", "Worn, still sound", EffectNote},
			{"label", "Label edge lifting", EffectNote},
			{"part", "A small part needs changing", EffectAgain},
			{"crazed", "Crazed or clouded", EffectHold},
			{"seal", "Seal lifted or swollen", EffectHold},
			{"crack", "Crack", EffectHold},
		}},
	{ID: "cell", Step: StepBattery, Words: "Which box is the new cell from?",
		Kind: AskCells, For: []Kind{Recorder}},
	{ID: "cell_mv", Step: StepBattery, Words: "Voltage of the new cell, if it was measured",
		Kind: AskVolts, Optional: true, For: []Kind{Recorder}},
	{ID: askOpened, Step: StepBattery, Words: "When was the tab of the new cell pulled?", Kind: AskDay,
		Optional: true, For: []Kind{Recorder}, When: whenZincAir},
	{ID: "latched", Step: StepBattery, Words: "Door latched?", Kind: AskChoice,
		For: []Kind{Recorder}, Choices: []Choice{
			{"yes", "Latched", EffectOK}, {"again", "Does not latch", EffectAgain}}},
	{ID: "charge", Step: StepBattery, Words: "Charge of the phone, %", Kind: AskNumber,
		For: []Kind{Phone}},
	{ID: "ended", Step: StepAssignment, Words: "Last assignment ended on it?",
		Kind: AskChoice, Choices: []Choice{
			{"yes", "Ended", EffectOK}, {"again", "Could not be ended", EffectAgain}}},
	{ID: "wiped", Step: StepAssignment, Words: "Pictures and accounts: none left?",
		Kind: AskChoice, For: []Kind{Phone}, Choices: []Choice{
			{"yes", "None left", EffectOK}, {"again", "Still some", EffectAgain}}},
	{ID: "app_there", Step: StepAssignment, Words: "App of the recorder there?",
		Kind: AskChoice, For: []Kind{Phone}, Choices: []Choice{
			{"yes", "There", EffectOK}, {"again", "Not there", EffectAgain}}},
	{ID: "lock", Step: StepAssignment, Words: "Screen lock as this clinic sets it?",
		Kind: AskChoice, For: []Kind{Phone}, Choices: []Choice{
			{"yes", "As set", EffectOK}, {"again", "Otherwise", EffectAgain}}},
	{ID: "updates", Step: StepAssignment, Words: "Updates installed?",
		Kind: AskChoice, For: []Kind{Phone}, Choices: []Choice{
			{"yes", "None waiting", EffectOK}, {"later", "Some wait for later", EffectNote},
			{"again", "To be installed first", EffectAgain}}},
	{ID: "software", Step: StepAssignment, Words: "Version of the recorder's software, as shown",
		Kind: AskText, For: []Kind{Recorder}, When: whenCampaign},
	{ID: "phone_software", Step: StepAssignment, Words: "Version of the phone's operating software, as shown",
		Kind: AskText, For: []Kind{Phone}, When: whenCampaign},
	{ID: "app", Step: StepAssignment, Words: "Version of the app, as the phone shows it",
		Kind: AskText, For: []Kind{Phone}, When: whenCampaign},
	{ID: "worn_by", Step: StepFunction, Words: "What was the test signal from?",
		Kind: AskChoice, Choices: []Choice{
			{"bench", "Bench source", EffectOK},
			{"person", "A person wore it", EffectOK}}},
	{ID: "signal", Step: StepFunction, Words: "Test recording arrived and usable?",
		Kind: AskChoice, Choices: []Choice{
			{"usable", "Arrived, usable", EffectOK},
			{"not_arrived", "Did not arrive", EffectAgain},
			{"no_signal", "No usable signal", EffectAgain}}},
	{ID: "reference", Step: StepFunction, Words: "Its reference at the reading place",
		Kind: AskText, Optional: true},
	{ID: "memory", Step: StepFunction, Words: "Test record removed, memory seen empty?",
		Kind: AskChoice, Choices: []Choice{
			{"yes", "Removed, empty", EffectOK}, {"again", "Not empty", EffectAgain}}},
	{ID: "complete", Step: StepPacking, Words: "Kit complete?", Kind: AskChoice,
		Choices: []Choice{
			{"yes", "Complete", EffectOK}, {"missing", "Something is missing", EffectAgain}}},
	{ID: "sealed", Step: StepPacking, Words: "Bag sealed or tagged?", Kind: AskChoice,
		Choices: []Choice{{"yes", "Sealed", EffectOK}, {"again", "Not yet", EffectAgain}}},
	{ID: "label", Step: StepPacking, Words: "Scan the recorder's label back", Kind: AskCode},
}

// Steps lists the table of steps in order.
func Steps() []Step { return steps }

// Asks lists the questions of a step for a track, in order.
func Asks(s StepID, k Kind) []Ask {
	var out []Ask
	for _, a := range asks {
		if a.Step == s && (len(a.For) == 0 || contains(a.For, k)) {
			out = append(out, a)
		}
	}
	return out
}

// FindStep looks a step up; ok is false for a text that is no step.
func FindStep(id StepID) (step Step, ok bool) {
	if i := stepIndex(id); i >= 0 {
		return steps[i], true
	}
	return Step{}, false
}

// FindAsk looks a question up by its id.
func FindAsk(id string) (ask Ask, ok bool) {
	for _, a := range asks {
		if a.ID == id {
			return a, true
		}
	}
	return Ask{}, false
}

// Choice looks an answer up by its value.
func (a Ask) Choice(value string) (choice Choice, ok bool) {
	for _, c := range a.Choices {
		if c.Value == value {
			return c, true
		}
	}
	return Choice{}, false
}

// stepIndex is the place of a step in the order, or -1.
func stepIndex(id StepID) int {
	for i, s := range steps {
		if s.ID == id {
			return i
		}
	}
	return -1
}

func contains[T comparable](list []T, v T) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

func procedureRef(id string, version int) string { return id + "@" + strconv.Itoa(version) }
