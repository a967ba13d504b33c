package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Rules without a published source, as in rules_correct_test.go: what a correction in a cycle
// that is over means for the device today is this project's own choice. ISO 13485, 4.2.5 wants
// the change traceable; that a conforming cycle since then ends the need to act on the device,
// and leaves the wearers of the time in between exposed, follows the published steps of a
// look-back (Rutala and Weber 2007, step 2 and step 6).

// olderCycle takes kit 17 through a release, a loan and a return, and gives the recorder's cycle.
func olderCycle(t *testing.T) (*clinic, *Cycle) {
	c := readyToRelease(t)
	c.oldTub()
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	cycle := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.wait(48 * time.Hour)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	return c, cycle
}

// in is a correction of a record of that cycle.
func (c *clinic) in(cycle *Cycle, step StepID, kind RecordKind, change Correct) Correct {
	c.t.Helper()
	change.Kit, change.Piece, change.Cycle, change.Reason = "K18", "P18-1", cycle.ID, "looked again"
	for _, r := range c.w.Cycles[cycle.ID].Records {
		if r.Step == step && r.Kind == kind && !r.Undone {
			change.Of = r.Seq
		}
	}
	require.Positive(c.t, change.Of)
	return change
}

func corrected(e *Entry) RecordCorrected { return e.Events[0].Event.(RecordCorrected) }

// TestAnOlderCycleIsCorrected wherever the kit stands by then: the release of that time fails by
// name, the old record stays, and the device is left alone.
func TestAnOlderCycleIsCorrected(t *testing.T) {
	goOn := func(c *clinic) { c.wait(time.Hour); c.goodSteps(c.actor("ada")) }
	release := func(c *clinic) { goOn(c); c.do(c.actor("ada"), ReleaseKit{Kit: "K18"}) }
	for name, x := range map[string]struct {
		since func(*clinic)
		state State
	}{
		"came back":      {func(*clinic) {}, Returned},
		"all steps done": {goOn, AwaitingRelease},
		"released again": {release, Released},
		"handed out again": {func(c *clinic) {
			release(c)
			c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w2", Days: 7})
		}, Issued},
	} {
		t.Run(name, func(t *testing.T) {
			c, cycle := olderCycle(t)
			x.since(c)
			ada := c.actor("ada")
			e := c.do(ada, c.in(cycle, StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))
			require.Empty(t, corrected(e).Failed, "it still passes")
			for _, fix := range []Correct{
				c.in(cycle, StepDisinfection, RecWetNow, Correct{Container: "B90"}),
				c.in(cycle, StepDisinfection, RecLooksWet, Correct{Dry: true}),
			} {
				e = c.do(ada, fix)
				require.Len(t, e.Events, 1, "nothing is stopped and nothing held")
				require.NotEmpty(t, corrected(e).Failed)
				require.Equal(t, cycle.ID, corrected(e).Cycle)
			}
			require.Equal(t, x.state, KitState(c.w.Kits["K18"], c.w.Pieces))
			require.Empty(t, c.w.Pieces["P18-1"].Holds)
			was := c.w.Cycles[cycle.ID]
			require.Equal(t, EndReleased, was.End, "the release of that day stays in the record")
			require.Equal(t, cycle.Ended, was.Ended)
		})
	}
}

// TestAGraveAnswerOfAnOlderCycle holds the piece only while nothing newer was recorded.
func TestAGraveAnswerOfAnOlderCycle(t *testing.T) {
	for _, again := range []bool{false, true} {
		c, cycle := olderCycle(t)
		if again {
			c.goodSteps(c.actor("ada"))
			c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
		}
		e := c.do(c.actor("ada"), c.in(cycle, StepInspection, RecAnswer, Correct{Answers: answers("sound", "crack")}))
		require.NotEmpty(t, corrected(e).Failed)
		if again {
			require.Len(t, e.Events, 1, "the newer inspection saw it sound")
			require.Equal(t, Released, KitState(c.w.Kits["K18"], c.w.Pieces))
			continue
		}
		require.Len(t, c.w.Pieces["P18-1"].Holds, 1, "nobody has looked since")
		require.Equal(t, Quarantined, c.w.Pieces["P18-1"].State)
	}
}

// TestTheGateIsAskedAsOfTheRelease: a lot that has expired since was good on its day; its last
// day counts, the day after does not.
func TestTheGateIsAskedAsOfTheRelease(t *testing.T) {
	for days, fails := range map[int]bool{0: false, -1: true} {
		c, cycle := olderCycle(t)
		wiped := DateIn(cycle.Ended, nil)
		c.w.Lots["T92"] = &Lot{ID: "T92", Kind: LotDisinfectant, Product: "D14", Number: "Z2",
			Expiry: wiped.AddDays(days)}
		c.w.Containers["B92"] = &Container{ID: "B92", Lot: "T92", Opened: wiped.AddDays(-2),
			Closed: cycle.Ended + 1}
		require.Greater(t, c.now.Today(), c.w.Lots["T92"].Expiry, "today it is past either way")
		e := c.do(c.actor("ada"), c.in(cycle, StepDisinfection, RecWetNow, Correct{Container: "B92"}))
		require.Equal(t, fails, corrected(e).Failed != "", "%d: %s", days, corrected(e).Failed)
	}
}

// TestAnOlderCycleNeverReleased is put right, and there is no release to fail.
func TestAnOlderCycleNeverReleased(t *testing.T) {
	c := readyToRelease(t)
	cycle := c.w.Cycles[c.w.Pieces["P18-1"].Cycle]
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Custody: "unknown"}})
	require.Equal(t, EndBrokenOff, c.w.Cycles[cycle.ID].End)
	c.goodSteps(c.actor("ada"))
	e := c.do(c.actor("ada"), c.in(cycle, StepDisinfection, RecLooksWet, Correct{Dry: true}))
	require.Len(t, e.Events, 1)
	require.Empty(t, corrected(e).Failed)
}

func TestWhatCannotBeCorrectedInAnOlderCycle(t *testing.T) {
	c, cycle := olderCycle(t)
	c.goodSteps(c.actor("ada"))
	ada := c.actor("ada")
	fix := c.in(cycle, StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")})
	newest := fix
	newest.Cycle = ""
	c.refused("not_correctable", ada, newest) // the entry stands in another cycle
	other := fix
	other.Cycle = c.w.Pieces["P18-2"].Cycle
	c.refused("unknown", ada, other) // of the other piece
	other.Cycle = "C999"
	c.refused("unknown", ada, other)
	c.do(ada, fix)
	c.refused("not_correctable", ada, fix)
}

// TestALabelWithdrawnSince was in force when it was read back.
func TestALabelWithdrawnSince(t *testing.T) {
	for after, rule := range map[Instant]string{1: "", 0: "label_withdrawn"} {
		c, cycle := olderCycle(t)
		fix := c.in(cycle, StepPacking, RecAnswer, Correct{})
		var read Instant
		for _, r := range c.w.Cycles[cycle.ID].Records {
			if r.Seq == fix.Of {
				read, fix.Answers = r.Mark.At, append([]Answer(nil), r.Answers...)
			}
		}
		label := *c.w.Labels["CODE17R"]
		label.Withdrawn = read + after
		c.w.Labels["CODE17R"] = &label
		if rule != "" {
			c.refused(rule, c.actor("ada"), fix)
			continue
		}
		c.refused("already_done", c.actor("ada"), fix) // it is what stands there: nothing refuses it
	}
}

// TestOneDecisionAfterAGraveCorrection: a crack found later in a released kit stops it, or calls
// it back; no hold of its own comes on top, and one signed act ends it.
func TestOneDecisionAfterAGraveCorrection(t *testing.T) {
	for _, out := range []bool{false, true} {
		c := readyToRelease(t)
		ada, dan, ina := c.actor("ada"), c.actor("dan"), c.actor("ina")
		c.do(ada, ReleaseKit{Kit: "K18"})
		if out {
			c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
		}
		e := c.do(ada, c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "crack")}))
		require.Len(t, e.Events, 3)
		require.Contains(t, e.Events[1].Event.(PieceMoved).Reason, "crack found at inspection")
		require.Empty(t, c.w.Pieces["P18-1"].Holds)
		if !out {
			require.Equal(t, Embargoed, KitState(c.w.Kits["K18"], c.w.Pieces))
			c.do(ina, LiftStop{Kit: "K18", Reason: "inspect it again"})
			require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces))
			require.Empty(t, c.w.Pieces["P18-1"].Holds)
			continue
		}
		require.Equal(t, Recalled, c.w.Pieces["P18-1"].State)
		c.refused("recalled", ada, PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"})
		// A second grave finding while it is called back adds nothing to decide.
		e = c.do(ada, c.fix(StepCleaning, RecAnswer, Correct{Answers: answers("clean", "again", "parts_clean", "yes")}))
		require.Len(t, e.Events, 1)
		c.do(dan, TakeBack{Kit: "K18"})
		require.Len(t, c.w.Pieces["P18-1"].Holds, 1)
		h := c.w.Pieces["P18-1"].Holds[0]
		require.Contains(t, h.Note, "crack found at inspection")
		c.do(ina, DecideHold{Kit: "K18", Piece: "P18-1", Hold: h.Seq, To: DecideGoOn, Reason: "only dirt"})
		require.Equal(t, Returned, c.w.Pieces["P18-1"].State)
	}
}

// TestWhatIsWithAWearerIsCalledBackAllTheSame: a hold set while it is out must not hide the call.
func TestWhatIsWithAWearerIsCalledBackAllTheSame(t *testing.T) {
	c := readyToRelease(t)
	ada, dan, ina := c.actor("ada"), c.actor("dan"), c.actor("ina")
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.do(ada, PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"})
	require.Equal(t, Issued, c.w.Pieces["P18-1"].State)
	c.do(ina, StopKit{Kit: "K18", Reason: "weak tub"})
	require.Equal(t, Recalled, c.w.Pieces["P18-1"].State)
	c.do(ina, LiftStop{Kit: "K18", Reason: "another tub"})
	require.Equal(t, Issued, c.w.Pieces["P18-1"].State, "it is with the wearer, not on the shelf")
	c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, Quarantined, c.w.Pieces["P18-1"].State, "the hold waited for it")
}
