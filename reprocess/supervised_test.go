package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// learner adds Lea, who learns both procedures from the first of the month.
func (c *clinic) learner() Actor {
	lea := *c.w.People["ada"]
	lea.ID, lea.Name, lea.SignIn = "lea", "Lea Learner", "lea"
	c.w.People["lea"] = &lea
	c.setCompetence("lea", Competence{From: "2026-11-01", Learning: true})
	return c.actor("lea")
}

// supervisedCycle lets a learner bring the kit to its release, countersigned and released by Ada.
func (c *clinic) supervisedCycle(lea Actor) {
	c.t.Helper()
	c.goodSteps(lea)
	c.refused("learning", lea, ReleaseKit{Kit: "K18"})
	c.refused("learning", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("ada"), Countersign{Kit: "K18"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
}

// A released, countersigned cycle counts once for each procedure; one that is broken off does
// not (P19). Three are asked for unless the clinic set another number (common practice).
func TestSupervisedCyclesCountTowardsCompetence(t *testing.T) {
	c := newClinic(t)
	lea, boss := c.learner(), c.actor("boss")
	sign := SignOff{Person: "lea", Procedure: "R12", Until: "2027-11-24"}
	for n := range UsualSupervised {
		require.Equal(t, n, c.w.People["lea"].SupervisedCycles("R12"))
		c.refused("supervised", boss, sign)
		c.supervisedCycle(lea)
	}
	c.goodSteps(lea)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	require.Equal(t, []Supervised{{"R12", 3}, {"R13", 3}}, c.w.People["lea"].Supervised)
	require.Zero(t, c.w.People["ada"].SupervisedCycles("R12"), "who countersigns learns nothing")
	e := c.do(boss, sign)
	require.Equal(t, Competent, c.w.People["lea"].Competence("R12", c.now.Today()))
	require.Equal(t, LearningIt, c.w.People["lea"].Competence("R13", c.now.Today()))
	rows := e.Events[0].Event.(PersonSet).Competences
	require.Equal(t, Competence{Procedure: "R12", From: "2026-11-24", Until: "2027-11-24", By: "boss",
		Name: "Bea Boss"}, rows[len(rows)-1])
	require.Equal(t, 3, c.w.People["lea"].SupervisedCycles("R12"), "the count stays")
	c.refused("already_done", boss, sign)
}

func TestWhatASignOffCannotBe(t *testing.T) {
	c := newClinic(t)
	c.learner()
	boss := c.actor("boss")
	sign := func(who, proc string) SignOff { return SignOff{Person: who, Procedure: proc} }
	c.refused("unknown", boss, sign("nobody", "R12"))
	c.refused("own_sign_off", boss, sign("boss", "R12"))
	c.refused("not_learning", boss, sign("dan", "R12"))
	c.refused("role", c.actor("ada"), sign("lea", "R12"))
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, sign("lea", "R12"))
	c.w.Settings.Supervised = 1
	c.w.People["lea"].Supervised = []Supervised{{"R12", 1}}
	c.refused("date", boss, SignOff{Person: "lea", Procedure: "R12", Until: "2026-11-23"})
	c.do(boss, sign("lea", "R12"))
	s := c.w.Settings
	for _, n := range []int{-1, 100} {
		s.Supervised = n
		c.refused("number", boss, SetSettings{s})
	}
}

// A change of staff neither turns a learner into somebody competent nor tells a count.
func TestLearningEndsByASignOffAlone(t *testing.T) {
	c := newClinic(t)
	c.learner()
	boss, lea := c.actor("boss"), *c.w.People["lea"]
	lea.Competences = append([]Competence{{Procedure: "R12", From: "2026-11-24"}}, lea.Competences...)
	c.refused("sign_off", boss, SetPerson{lea})
	lea = *c.w.People["lea"]
	lea.Supervised = []Supervised{{"R12", 99}}
	c.do(boss, SetPerson{lea})
	require.Zero(t, c.w.People["lea"].SupervisedCycles("R12"))
	dan := *c.w.People["dan"]
	dan.Competences = []Competence{{Procedure: "R12", From: "2026-11-24"}}
	c.do(boss, SetPerson{dan})
}

// The warning begins 30 days before the last day, that day included; the day after it the
// signature is blocked. (21 CFR 11.10(i): expired training blocks the signature.)
func TestCompetenceWarnsThenBlocks(t *testing.T) {
	today := Date("2026-11-24")
	for _, x := range []struct {
		rows []Competence
		ends Date
	}{
		{[]Competence{{Procedure: "R", From: "2026-01-01"}}, ""},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-12-25"}}, ""},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-12-24"}}, "2026-12-24"},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-11-24"}}, "2026-11-24"},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-11-23"}}, ""},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-11-30"},
			{Procedure: "R", From: "2026-12-01"}}, ""},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-11-30"},
			{Procedure: "R", From: "2026-12-02"}}, "2026-11-30"},
		{[]Competence{{Procedure: "R", From: "2026-01-01", Until: "2026-11-30"},
			{Procedure: "R", From: "2026-11-24", Learning: true}}, "2026-11-30"},
		{nil, ""},
	} {
		p := Person{Competences: x.rows}
		require.Equal(t, x.ends, p.Ends("R", today), "%v", x.rows)
	}
	c := readyToRelease(t)
	c.setCompetence("ada", Competence{From: "2026-01-01", Until: "2026-11-24"})
	require.Nil(t, GateOpen(c.w, c.w.Kits["K18"], c.actor("ada"), c.now), "on its last day")
	c.wait(24 * 3600 * 1e9)
	c.refused("competence_lapsed", c.actor("ada"), ReleaseKit{Kit: "K18"})
}
