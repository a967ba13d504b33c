package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/strength"
)

// What a track offers is what the rules take: step by step through a whole cycle.
func TestTrackFollowsTheRules(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	track := func(id string) Track { return c.w.Track(c.w.Pieces[id], c.now) }
	require.Equal(t, StepReceipt, track("P18-1").Next)
	require.Nil(t, track("P18-1").Cycle)
	c.goodSteps(ada)
	require.Equal(t, StepRelease, track("P18-1").Next)
	require.Zero(t, track("P18-1").LeftMin, "a packed kit waits without limit")
	c.do(ada, ReleaseKit{Kit: "K18"})
	require.Equal(t, StepID(""), track("P18-1").Next)
	require.Equal(t, "released", track("P18-1").Why)
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 3})
	require.Equal(t, "handed out", track("P18-2").Why)
}

// The gap of 120 min of the test procedure: at 120 min the next step is still taken, at 121
// disinfection is next, and that is what the rules say as well.
func TestTrackAtTheLongestGap(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	both := []string{"P18-1", "P18-2"}
	c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning, Answers: answers("clean", "yes", "parts_clean", "yes")})
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	require.True(t, c.w.Track(c.w.Pieces["P18-1"], c.now).Running())
	c.wait(60 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: both, Saw: RecLooksWet})
	now := c.w.Track(c.w.Pieces["P18-1"], c.now)
	require.Equal(t, 120, now.LeftMin)
	require.False(t, now.Running())
	c.wait(120 * time.Minute)
	at := c.w.Track(c.w.Pieces["P18-1"], c.now)
	require.Equal(t, StepDrying, at.Next)
	require.Zero(t, at.LateMin)
	c.wait(time.Minute)
	late := c.w.Track(c.w.Pieces["P18-1"], c.now)
	require.Equal(t, StepDisinfection, late.Next)
	require.Equal(t, 121, late.LateMin)
	require.False(t, late.Running(), "the old wet time does not go on")
	c.refused("gap", ada, RecordStep{Kit: "K18", Step: StepDrying, Answers: answers("dry", "yes")})
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	require.True(t, c.w.Track(c.w.Pieces["P18-1"], c.now).Running())
}

func TestTrackOnHoldAndWithoutProcedure(t *testing.T) {
	c := newClinic(t)
	c.do(c.actor("dan"), PutOnHold{Kit: "K18", Piece: "P18-2", Reason: "cracked"})
	held := c.w.Track(c.w.Pieces["P18-2"], c.now)
	require.Equal(t, StepID(""), held.Next)
	require.Equal(t, "on hold: housing cracked", held.Why)
	require.Equal(t, StepReceipt, c.w.Track(c.w.Pieces["P18-1"], c.now).Next,
		"the other track goes on")
	delete(c.w.InForce, "M10")
	none := c.w.Track(c.w.Pieces["P18-1"], c.now)
	require.Equal(t, StepID(""), none.Next)
	require.Contains(t, none.Why, "No procedure is in force")
}

// A wear of 14 days: cells good until the last day of it fit, a day less does not.
func TestCellsFitAtTheBoundary(t *testing.T) {
	c := newClinic(t)
	p, today := c.w.Pieces["P18-1"], c.now.Today()
	c.w.Lots["T17"].Expiry = today.AddDays(14)
	require.Nil(t, CellsFit(c.w, p, "T17", today))
	c.w.Lots["T17"].Expiry = today.AddDays(13)
	require.Equal(t, "cell_expiry", CellsFit(c.w, p, "T17", today).Rule)
	c.w.Lots["T17"].Expiry = ""
	require.Equal(t, "cell_expiry", CellsFit(c.w, p, "T17", today).Rule)
	require.Equal(t, "unknown", CellsFit(c.w, p, "T15", today).Rule, "no box of cells")
}

// The advisory model's table: 10 g/m² of ethanol 70 % v/v at 20 °C, 50 %, 0.2 m/s keeps 50 %
// v/v for 35 s; a factor of three either way (12 and 105 s). It is doubtful for 60 s.
func TestOneWipeIsAdvice(t *testing.T) {
	p := &Product{Actives: []Active{{Agent: "ethanol", Strength: "70%v/v"}}}
	a, ok := p.OneWipe(60)
	require.True(t, ok)
	require.InDelta(t, 35, a.Seconds, 2)
	require.InDelta(t, 12, a.Low, 1)
	require.InDelta(t, 105, a.High, 4)
	require.Equal(t, strength.Doubtful, a.Outlook)
	a, _ = p.OneWipe(300)
	require.Equal(t, strength.Unlikely, a.Outlook)
	a, _ = p.OneWipe(10)
	require.Equal(t, strength.Likely, a.Outlook)
	require.True(t, p.HasAlcohol())
	for _, other := range []Product{{Actives: []Active{{Agent: "quat", Strength: "0.4 %"}}},
		{Actives: []Active{{Agent: "ethanol", Strength: "strong"}}}, {}} {
		_, ok := other.OneWipe(60)
		require.False(t, ok)
	}
}
