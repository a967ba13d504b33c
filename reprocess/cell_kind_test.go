package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// Designations of IEC 60086 (garfnet.org.uk battery codes): L alkaline, C lithium, R round, then
// the size; LR03 is AAA and LR6 is AA.
func TestTheBoxHoldsTheCellThatTheModelTakes(t *testing.T) {
	for _, x := range []struct{ model, box, says string }{
		{"LR03", "LR03", ""}, {"LR03", " lr03 ", ""}, {"LR03", "LR 03", ""},
		{"", "LR6", ""}, {"CR2032", "CR2032", ""}, {"Li-ion", "li-ion", ""},
		{"LR03", "LR6", "takes LR03 (alkaline AAA); this box holds LR6 (alkaline AA)"},
		{"LR6", "LR03", "this box holds LR03 (alkaline AAA)"},
		{"LR03", "FR03", "this box holds FR03 (lithium AAA)"},
		{"CR2032", "BR2032", "takes CR2032; this box holds BR2032"},
		{"CR2032", "CR2025", "takes CR2032; this box holds CR2025"},
		{"PR44", "LR44", "this box holds LR44 (alkaline button)"},
		{"LR03", "AAA", `recorded as "AAA", which is no designation`},
	} {
		c := newClinic(t)
		c.w.Models["M10"].Cell, c.w.Lots["T17"].Name = x.model, x.box
		p := CellsFit(c.w, c.w.Pieces["P18-1"], "T17", c.now.Today())
		if x.says == "" {
			require.Nil(t, p, "%s in %s", x.box, x.model)
			continue
		}
		require.NotNil(t, p, "%s in %s", x.box, x.model)
		require.Equal(t, "cell_kind", p.Rule)
		require.Contains(t, p.Text, x.says)
		require.Contains(t, p.Fix, "Take a box of "+x.model)
	}
}

// The step itself refuses it, whatever the page offered.
func TestAWrongCellIsRefusedAtTheBatteryStep(t *testing.T) {
	c := newClinic(t)
	c.w.Models["M10"].Cell = "LR6"
	ada, both := c.actor("ada"), []string{"P18-1", "P18-2"}
	step := func(s StepID, pairs ...string) {
		c.wait(30 * time.Second)
		c.do(ada, RecordStep{Kit: "K18", Pieces: both, Step: s, Answers: answers(pairs...)})
	}
	step(StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	step(StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: both, Saw: RecLooksWet})
	step(StepDrying, "dry", "yes")
	step(StepInspection, "sound", "yes")
	battery := RecordStep{Kit: "K18", Pieces: both[:1], Step: StepBattery,
		Answers: answers("cell", "T17", "latched", "yes")}
	p := c.refused("cell_kind", ada, battery)
	require.Equal(t, "This recorder takes LR6 (alkaline AA); this box holds LR03 (alkaline AAA).", p.Text)
	c.w.Models["M10"].Cell = "LR03"
	c.do(ada, battery)
}

// Flat round cells carry the caution; round cells of a torch do not (National Capital Poison
// Center: button and coin cells).
func TestWhichModelsCarryTheCautionOfCoinCells(t *testing.T) {
	for cell, want := range map[string]bool{"CR2032": true, "BR2032": true, "PR44": true,
		"SR44": true, "LR44": true, "LR03": false, "LR6": false, "": false} {
		require.Equal(t, want, (&Model{Cell: cell}).SwallowCaution(), cell)
	}
	require.False(t, (*Model)(nil).SwallowCaution())
}

// The result is computed: whoever accepts a failed test other than as written needs a reason,
// and somebody else releases it (the function-test page, evidence kept per test).
func TestAFailedTestIsAcceptedByOneAndReleasedByAnother(t *testing.T) {
	c := newClinic(t)
	c.toTest(true)
	boss := c.actor("boss")
	boss.Person.Roles = append(boss.Person.Roles, RoleRelease)
	failed := func(letter string) RecordStep {
		return testStep(fileTest(letter, recording.Fail, "NOISE"), "memory", "yes")
	}
	override := Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "lamp nearby"}
	c.do(boss, failed("a"))
	c.do(boss, failed("b"))
	require.Nil(t, c.w.Pieces["P18-1"].Held(GradeTechnician), "one repeat")
	c.do(boss, failed("c"))
	require.Equal(t, "failed_twice", c.w.Pieces["P18-1"].Held(GradeTechnician).Reason, "two repeats")
	c.refused("on_hold", boss, override)
	c.refused("on_hold", boss, failed("d"))
	c.do(boss, TechnicianDone{Kit: "K18", Piece: "P18-1",
		Hold: c.w.Pieces["P18-1"].Holds[0].Seq, Reason: "found nothing"})
	unsigned, noReason := boss, override
	unsigned.Signed, noReason.Reason = false, " "
	c.refused("signature", unsigned, override)
	c.refused("empty", boss, noReason)
	c.do(boss, override)
	// the phone's own track, then packing
	phone := []string{"P18-2"}
	for _, s := range []RecordStep{
		{Kit: "K18", Pieces: phone, Step: StepBattery, Answers: answers("charge", "93")},
		{Kit: "K18", Pieces: phone, Step: StepAssignment, Answers: answers("ended", "yes", "wiped", "yes",
			"app_there", "yes", "lock", "yes", "updates", "yes")},
	} {
		c.do(c.actor("ada"), s)
	}
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepPacking,
		Answers: answers("complete", "yes", "sealed", "yes", "label", "CODE17R")})
	c.refused("second_person", boss, ReleaseKit{Kit: "K18"})
	other := *c.w.People["ada"]
	other.ID, other.Name = "eva", "Eva Else"
	c.w.People["eva"] = &other
	c.do(c.actor("eva"), ReleaseKit{Kit: "K18"})
}
