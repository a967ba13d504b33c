package reprocess

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Rules without a published source: ISO 13485, 4.2.5 wants records changed only traceably; how a
// correction takes effect here is this project's own choice.

// recordOf finds the newest record of a step that still counts on the recorder.
func (c *clinic) recordOf(piece string, step StepID, kind RecordKind) Record {
	c.t.Helper()
	records := c.w.Cycles[c.w.Pieces[piece].Cycle].Records
	for i := len(records) - 1; i >= 0; i-- {
		if r := records[i]; r.Step == step && r.Kind == kind && !r.Undone {
			return r
		}
	}
	require.FailNow(c.t, "no such record", "%s %s", step, kind)
	return Record{}
}

func (c *clinic) fix(step StepID, kind RecordKind, change Correct) Correct {
	change.Kit, change.Piece, change.Reason = "K18", "P18-1", "looked again"
	change.Of = c.recordOf("P18-1", step, kind).Seq
	return change
}

func TestACorrectionStandsInThePlaceOfTheOld(t *testing.T) {
	c := readyToRelease(t)
	ada := c.actor("ada")
	old := c.recordOf("P18-1", StepInspection, RecAnswer)
	fix := c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")})
	e := c.do(ada, fix)
	records := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Records
	now := c.recordOf("P18-1", StepInspection, RecAnswer)
	require.Equal(t, "worn", now.Answered("sound"))
	require.Equal(t, old.Mark, now.Mark, "the time of the act is not corrected")
	require.Equal(t, old.By, now.By)
	require.Equal(t, []any{e.Seq, old.Seq, "ada"}, []any{now.Seq, now.Supersedes, now.CorrectedBy})
	var kept int
	for i, r := range records {
		if r.Seq == old.Seq && r.Undone {
			kept++
			require.Equal(t, now.Seq, records[i+1].Seq, "it stands right behind the old one")
		}
	}
	require.Equal(t, 1, kept, "the old record stays readable")
	require.Equal(t, AwaitingRelease, c.w.Pieces["P18-1"].State)
	c.refused("not_correctable", ada, fix) // the old one counts no more
	c.refused("already_done", ada, c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))
	c.do(ada, ReleaseKit{Kit: "K18"})
}

func TestACorrectionOpensTheGateAgain(t *testing.T) {
	for name, x := range map[string]struct {
		step StepID
		kind RecordKind
		fix  Correct
		rule string
	}{
		"not clean":   {StepCleaning, RecAnswer, Correct{Answers: answers("clean", "again", "parts_clean", "yes")}, "steps"},
		"it was dry":  {StepDisinfection, RecLooksWet, Correct{Dry: true}, "steps"},
		"wrong tub":   {StepDisinfection, RecWetNow, Correct{Container: "B90"}, "expired"},
		"a crack too": {StepInspection, RecAnswer, Correct{Answers: answers("sound", "crack")}, "on_hold"},
	} {
		t.Run(name, func(t *testing.T) {
			c := readyToRelease(t)
			c.oldTub()
			c.do(c.actor("ada"), c.fix(x.step, x.kind, x.fix))
			require.NotEqual(t, Released, KitState(c.w.Kits["K18"], c.w.Pieces))
			c.refused(x.rule, c.actor("ada"), ReleaseKit{Kit: "K18"})
		})
	}
}

// oldTub is B90, a tub whose lot expired before the day of the wipe.
func (c *clinic) oldTub() {
	day := DateIn(dayOne, nil)
	c.w.Lots["T90"] = &Lot{ID: "T90", Kind: LotDisinfectant, Product: "D14", Number: "OLD",
		Expiry: day.AddDays(-1)}
	c.w.Containers["B90"] = &Container{ID: "B90", Lot: "T90", Opened: day.AddDays(-2)}
}

// TestACorrectionReachesWhatWentOut: the kit that no longer passes is stopped on the shelf and
// called back from a wearer; one that still passes stays where it is.
func TestACorrectionReachesWhatWentOut(t *testing.T) {
	for _, out := range []bool{false, true} {
		c := readyToRelease(t)
		c.oldTub()
		ada, dan := c.actor("ada"), c.actor("dan")
		c.do(ada, ReleaseKit{Kit: "K18"})
		if out {
			c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
			c.wait(48 * time.Hour)
		}
		before := KitState(c.w.Kits["K18"], c.w.Pieces)
		c.do(ada, c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))
		require.Equal(t, before, KitState(c.w.Kits["K18"], c.w.Pieces), "it still passes")
		e := c.do(ada, c.fix(StepDisinfection, RecWetNow, Correct{Container: "B90"}))
		require.Len(t, e.Events, 3, "one entry: the correction, and both pieces moved")
		want := map[bool]State{false: Embargoed, true: Recalled}[out]
		require.Equal(t, want, KitState(c.w.Kits["K18"], c.w.Pieces))
		require.Equal(t, EndReleased, c.w.Cycles[c.w.Pieces["P18-1"].Cycle].End,
			"the release of that day stays in the record")
		a := CanHandOut(c.w, c.w.Kits["K18"], c.now)
		require.False(t, a.Released)
		if out {
			c.do(dan, TakeBack{Kit: "K18"})
			require.Equal(t, Quarantined, KitState(c.w.Kits["K18"], c.w.Pieces))
			require.Equal(t, "called_back", c.w.Pieces["P18-1"].Holds[0].Reason)
			require.Empty(t, c.w.Pieces["P18-1"].OnReturn)
		}
	}
}

// TestTheBoxThatWasTakenInTruth: a box that is stopped, expired or used up may be named, and the
// gate refuses it then; a kit that went out with it is called back.
func TestTheBoxThatWasTakenInTruth(t *testing.T) {
	for rule, spoil := range map[string]func(*Lot){
		"lot_stopped": func(l *Lot) { l.Stopped = &Stop{Seq: 1, Reason: "leaking"} },
		"cell_expiry": func(l *Lot) { l.Expiry = DateIn(dayOne, nil) },
		"":            func(l *Lot) { l.Ended = dayOne }, // good cells, only none are left
	} {
		for _, out := range []bool{false, true} {
			c := readyToRelease(t)
			ada := c.actor("ada")
			l := Lot{ID: "T91", Kind: LotCells, Name: "LR03", Expiry: DateIn(dayOne, nil).AddDays(900)}
			spoil(&l)
			c.w.Lots["T91"] = &l
			if out {
				c.do(ada, ReleaseKit{Kit: "K18"})
				c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w1", Days: 7})
			}
			c.do(ada, c.fix(StepBattery, RecAnswer, Correct{Answers: answers("cell", "T91", "latched", "yes")}))
			switch {
			case out && rule != "":
				require.Equal(t, Recalled, KitState(c.w.Kits["K18"], c.w.Pieces), rule)
			case out:
				require.Equal(t, Issued, KitState(c.w.Kits["K18"], c.w.Pieces))
			case rule != "":
				c.refused(rule, ada, ReleaseKit{Kit: "K18"})
			default:
				c.do(ada, ReleaseKit{Kit: "K18"})
			}
		}
	}
	c := readyToRelease(t)
	c.refused("unknown", c.actor("ada"), c.fix(StepBattery, RecAnswer,
		Correct{Answers: answers("cell", "T15", "latched", "yes")})) // a lot of wipes
}

func TestWhatCannotBeCorrected(t *testing.T) {
	c := readyToRelease(t)
	ada := c.actor("ada")
	require.Equal(t, "signature", must(c.try(Actor{Person: ada.Person},
		c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))).Rule)
	c.refused("role", c.actor("dan"), c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))
	for _, x := range []struct {
		rule string
		step StepID
		kind RecordKind
		fix  Correct
	}{
		{"not_correctable", StepDisinfection, RecLooksWet, Correct{Container: "B16"}},
		{"not_correctable", StepDisinfection, RecWetNow, Correct{Dry: true}},
		{"not_correctable", StepDisinfection, RecWetNow, Correct{}},
		{"not_correctable", StepInspection, RecAnswer, Correct{Dry: true}},
		{"unknown", StepDisinfection, RecWetNow, Correct{Container: "B99"}},
		{"already_done", StepDisinfection, RecWetNow, Correct{Container: "B16"}},
		{"answer", StepInspection, RecAnswer, Correct{Answers: answers("sound", "perhaps")}},
		{"ask", StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn", "clean", "yes")}},
		{"unanswered", StepCleaning, RecAnswer, Correct{Answers: answers("clean", "yes")}},
	} {
		c.refused(x.rule, ada, c.fix(x.step, x.kind, x.fix))
	}
	fix := c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")})
	fix.Reason = " "
	c.refused("empty", ada, fix)
	fix.Reason, fix.Of = "looked again", 3
	c.refused("not_correctable", ada, fix)
	c.setCompetence("ada", Competence{From: "2026-01-01", Learning: true})
	c.refused("learning", c.actor("ada"), c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "worn")}))
}

func must(_ *Entry, p *Problem) *Problem { return p }

// TestAStoppedKit: on the shelf, at the bench, with a wearer, and how each ends.
func TestAStoppedKit(t *testing.T) {
	c := readyToRelease(t)
	ada, dan, ina := c.actor("ada"), c.actor("dan"), c.actor("ina")
	stop := StopKit{Kit: "K18", Reason: "the tub was too weak"}
	c.refused("role", ada, stop)
	require.Equal(t, "signature", must(c.try(Actor{Person: ina.Person}, stop)).Rule)
	c.refused("empty", ina, StopKit{Kit: "K18"})
	c.refused("look_back", ina, StopKit{Kit: "K18", Reason: "x", LookBack: c.seq + 2})
	c.refused("not_stopped", ina, LiftStop{Kit: "K18", Reason: "was right"})
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.do(ina, stop)
	require.Equal(t, Embargoed, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.refused("already_done", ina, stop)
	c.refused("not_released", dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.refused("no_cycle", ada, ReleaseKit{Kit: "K18"})
	c.do(ina, LiftStop{Kit: "K18", Reason: "another tub"})
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces), "it is reprocessed again")
	c.goodSteps(ada)
	c.do(ada, ReleaseKit{Kit: "K18"})
	c.do(dan, HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	c.do(ina, stop)
	require.Equal(t, Recalled, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.do(ina, LiftStop{Kit: "K18", Reason: "another tub"})
	require.Equal(t, Issued, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.do(dan, TakeBack{Kit: "K18"})
	require.Equal(t, Returned, KitState(c.w.Kits["K18"], c.w.Pieces), "no hold after a lifted call-back")
}

// TestWhatACorrectionTakesAwayIsDoneAgainInOrder: a step that stood on the corrected one does not
// count when that one is done again, or it would have been cleaned after the disinfection and
// dried before it. Order: ISO 17664-1, 6.4 to 6.8, cleaning before disinfection before drying.
func TestWhatACorrectionTakesAwayIsDoneAgainInOrder(t *testing.T) {
	c := readyToRelease(t)
	ada := c.actor("ada")
	c.do(ada, c.fix(StepDisinfection, RecLooksWet, Correct{Dry: true}))
	require.Equal(t, StepDisinfection, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.do(ada, WetNow{Kit: "K18", Pieces: []string{"P18-1"}, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: []string{"P18-1"}, Saw: RecLooksWet})
	require.Equal(t, StepDrying, c.w.NextStep(c.w.Pieces["P18-1"]), "it was wetted after it was dry")

	c = readyToRelease(t)
	c.do(ada, c.fix(StepCleaning, RecAnswer, Correct{Answers: answers("clean", "again", "parts_clean", "yes")}))
	require.Equal(t, StepCleaning, c.w.NextStep(c.w.Pieces["P18-1"]))
	c.do(ada, RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepCleaning,
		Answers: answers("clean", "yes", "parts_clean", "yes")})
	require.Equal(t, StepDisinfection, c.w.NextStep(c.w.Pieces["P18-1"]))
	progress := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress()
	require.False(t, progress.Wet.Conforms(), "the contact time was on a surface not clean")
}
