package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// sam releases and has done nothing yet.
func (c *clinic) sam() Actor {
	sam := *c.w.People["ada"]
	sam.ID, sam.Name, sam.SignIn = "sam", "Sam Second", "sam"
	c.w.People["sam"] = &sam
	return c.actor("sam")
}

// A second person is demanded for what was flagged, overridden or entered from paper, and for
// nothing else (P16; release gate of the infection-control reference, 1.3 row 15). Another
// releaser is one; so is somebody who signs beside the one who wiped.
func TestWhenASecondPersonIsDemanded(t *testing.T) {
	for name, x := range map[string]struct {
		flags  []string
		spoil  func(*clinic)
		demand bool
	}{
		"routine":            {nil, func(*clinic) {}, false},
		"asked, none told":   {[]string{"none"}, func(*clinic) {}, false},
		"precautions":        {[]string{"mrsa-vre-cre"}, func(*clinic) {}, true},
		"not as written":     {nil, func(c *clinic) { c.override() }, true},
		"taken back at once": {nil, func(c *clinic) { c.fromPaperUndone() }, false},
	} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t)
			sam := c.sam()
			c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: x.flags}})
			x.spoil(c)
			c.finish()
			ada := c.actor("ada")
			if !x.demand {
				c.do(ada, ReleaseKit{Kit: "K18"})
				return
			}
			c.refused("second_person", ada, ReleaseKit{Kit: "K18"})
			two := ada
			two.Second = sam.Person
			require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], two, c.now))
			require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], sam, c.now))
			c.do(two, ReleaseKit{Kit: "K18"})
		})
	}
}

// override accepts the phone's battery not as written, by Ina, who wipes nothing.
func (c *clinic) override() {
	c.goodSteps(c.actor("ada"))
	c.do(c.actor("ada"), SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepInspection,
		Answers: answers("sound", "yes")})
	c.do(c.actor("ina"), Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "no network"})
	c.do(c.actor("ada"), pack())
}

// fromPaperUndone enters a first look from paper and takes it back again.
func (c *clinic) fromPaperUndone() {
	e := c.do(c.actor("ada"), onPaper(c.now.UTC, StepReceipt, bothPieces, "condition", "whole",
		"recording", "arrived", "old_cell", "yes"))
	c.do(c.actor("ada"), Undo{Kit: "K18", Of: e.Seq})
}

// finish does what is left.
func (c *clinic) finish() {
	if c.w.NextStep(c.w.Pieces["P18-1"]) == StepReceipt {
		c.goodSteps(c.actor("ada"))
	}
}

// Whoever signs beside has to be somebody else, here, at the bench, competent, and not among
// those who wiped, accepted or entered.
func TestWhoTheSecondPersonCannotBe(t *testing.T) {
	c := newClinic(t)
	sam := c.sam()
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Flags: []string{"mrsa-vre-cre"}}})
	c.goodSteps(c.actor("ada"))
	refused := func(rule string, second *Person) {
		t.Helper()
		two := c.actor("ada")
		two.Second = second
		c.refused(rule, two, ReleaseKit{Kit: "K18"})
	}
	refused("second_same", c.w.People["ada"])
	refused("second_role", c.w.People["dan"])
	c.setCompetence("sam", Competence{From: "2026-01-01", Until: "2026-11-23"})
	refused("second_not_competent", sam.Person)
	c.setCompetence("sam", Competence{From: "2026-01-01", Learning: true})
	refused("second_not_competent", sam.Person)
	c.setCompetence("sam", Competence{From: "2026-01-01", Until: "2026-11-24"})
	sam.Person.Left = "2026-11-23"
	refused("second_left", sam.Person)
	sam.Person.Left = "2026-11-24"
	c.procedureOf("P18-1").TwoPeople = true
	refused("second_person", sam.Person) // such a procedure wants another releaser
	c.procedureOf("P18-1").TwoPeople = false
	cy := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
	cy.Records[0].Late, cy.Records[0].Paper = true, &Paper{By: "sam"}
	refused("second_first", sam.Person)
}
