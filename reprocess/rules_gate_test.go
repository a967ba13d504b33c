package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// readyToRelease is a clinic whose kit only waits for its signature.
func readyToRelease(t *testing.T) *clinic {
	c := newClinic(t)
	c.goodSteps(c.actor("ada"))
	return c
}

// Each condition of the gate, broken alone, refuses the release by its own rule; mended, the
// same kit is released. Source: the release gate of the infection-control reference, 1.3.
func TestEveryConditionOfTheGate(t *testing.T) {
	for _, x := range []struct {
		name, rule string
		spoil      func(*clinic)
	}{
		{"open hold", "on_hold", func(c *clinic) {
			c.do(c.actor("dan"), PutOnHold{Kit: "K18", Piece: "P18-2", Reason: "cracked"})
		}},
		{"step undone", "steps", func(c *clinic) { c.spoilStep() }},
		{"recording not safe", "recording_first", func(c *clinic) {
			c.do(c.actor("dan"), SetRecording{Kit: "K18", Status: RecordingUnknown})
		}},
		{"lot stopped since", "lot_stopped", func(c *clinic) {
			c.do(c.actor("dan"), StopLot{Lot: "T15", Reason: "too weak"})
		}},
		{"cells stopped since", "lot_stopped", func(c *clinic) {
			c.do(c.actor("dan"), StopLot{Lot: "T17", Reason: "leaking"})
		}},
		{"cycle limit", "cycle_limit", func(c *clinic) { c.w.Pieces["P18-1"].Cycles = 100 }},
		{"part missing", "part_missing", func(c *clinic) {
			c.do(c.actor("dan"), Wait{Kit: "K18", Reason: "part"})
		}},
		{"label withdrawn since", "label_withdrawn", func(c *clinic) {
			c.do(c.actor("ada"), Reissue{Kit: "K18", Kind: CodePiece, Target: "P18-1",
				Code: "NEWCODE", Reason: "worn"})
		}},
		{"two people wanted", "second_person", func(c *clinic) { c.procedureOf("P18-1").TwoPeople = true }},
		{"competence lapsed", "competence_lapsed", func(c *clinic) { c.setCompetence("ada", Competence{From: "2026-01-01", Until: "2026-02-01"}) }},
		{"not competent", "not_competent", func(c *clinic) { c.w.People["ada"].Competences = nil }},
		{"learning staff", "learning", func(c *clinic) { c.setCompetence("ada", Competence{From: "2026-01-01", Learning: true}) }},
		{"product no longer compatible", "not_compatible", func(c *clinic) {
			p := testProduct()
			p.ID, p.Models = "D14", []string{"M11"}
			c.do(c.actor("boss"), SetProduct{p})
		}},
		{"claim corrected to longer", "contact_time", func(c *clinic) {
			p := testProduct()
			p.ID, p.Claims[0].Seconds = "D14", 62
			c.do(c.actor("boss"), SetProduct{p})
		}},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := readyToRelease(t)
			x.spoil(c)
			p := c.refused(x.rule, c.actor("ada"), ReleaseKit{Kit: "K18"})
			require.Equal(t, Refused, p.Code)
			require.NotEmpty(t, p.Fix)
			require.NotEqual(t, Released, KitState(c.w.Kits["K18"], c.w.Pieces))
		})
	}
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// spoilStep takes the inspection of one piece back by a small repair.
func (c *clinic) spoilStep() {
	c.do(c.actor("ada"), SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
}

func (c *clinic) procedureOf(piece string) *Procedure {
	return c.w.Procedures[c.w.Cycles[c.w.Pieces[piece].Cycle].Procedure]
}

func (c *clinic) setCompetence(person string, comp Competence) {
	rows := c.w.People[person].Competences
	c.w.People[person].Competences = nil
	for _, r := range rows {
		comp.Procedure = r.Procedure
		c.w.People[person].Competences = append(c.w.People[person].Competences, comp)
	}
}

func TestReleaseIsASignature(t *testing.T) {
	c := readyToRelease(t)
	unsigned := c.actor("ada")
	unsigned.Signed = false
	p := c.refused("signature", unsigned, ReleaseKit{Kit: "K18"})
	require.Equal(t, Forbidden, p.Code)
	c.refused("role", c.actor("boss"), ReleaseKit{Kit: "K18"})
	e := c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	v := e.Events[0].Event.(KitReleased)
	require.Equal(t, "Ada Bench", v.Name)
	require.Equal(t, Meaning, v.Meaning)
	require.Len(t, v.Cycles, 2)
	require.ElementsMatch(t, []string{"T15", "T17"}, v.Lots)
	c.refused("already_done", c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// A release lapses when it is read, on the moment; a re-check renews it without a cycle.
func TestALapseIsComputedWhenRead(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	k := c.w.Kits["K18"]
	c.now.UTC = k.Release.Until - 1
	require.True(t, CanHandOut(c.w, k, c.now).Released)
	c.now.UTC = k.Release.Until
	a := CanHandOut(c.w, k, c.now)
	require.False(t, a.Released)
	require.Equal(t, "lapsed", a.Rule)
	c.refused("not_released", c.actor("dan"), HandOut{Kit: "K18", Wearer: "w", Days: 1})
	c.do(c.actor("ada"), Recheck{Kit: "K18"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
}

// A lot that is stopped after the release shows at once at the desk, and its lift as well.
func TestAStoppedLotShowsAtTheDesk(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), StopLot{Lot: "T15", Reason: "found too weak"})
	a := CanHandOut(c.w, c.w.Kits["K18"], c.now)
	require.False(t, a.Released)
	require.Contains(t, a.Reason, "found too weak")
	c.refused("role", c.actor("ada"), LiftLot{Lot: "T15", Reason: "ok"})
	c.do(c.actor("ina"), LiftLot{Lot: "T15", Reason: "measured again, 70 % v/v"})
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
}

// Everything that is unknown is not released.
func TestUnknownIsNotReleased(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	k := *c.w.Kits["K18"]
	for name, edit := range map[string]func(*Kit){
		"no release":      func(k *Kit) { k.Release = nil },
		"no pieces":       func(k *Kit) { k.Pieces = nil },
		"a strange piece": func(k *Kit) { k.Pieces = append([]string{"P99"}, k.Pieces...) },
		"retired":         func(k *Kit) { k.Retired = true },
	} {
		odd := k
		edit(&odd)
		a := CanHandOut(c.w, &odd, c.now)
		require.False(t, a.Released, name)
		require.NotEmpty(t, a.Reason, name)
	}
}

// Undo: the same person, within 120 s, nothing later on the piece (P17).
func TestUndoBoundaries(t *testing.T) {
	start := func() (*clinic, int64) {
		c := newClinic(t)
		e := c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepReceipt,
			Answers: answers("condition", "cracked", "recording", "arrived", "old_cell", "yes")})
		return c, e.Seq
	}
	c, seq := start()
	require.Equal(t, Quarantined, c.w.Pieces["P18-1"].State)
	c.wait(120 * time.Second)
	c.do(c.actor("ada"), Undo{Kit: "K18", Of: seq})
	require.Equal(t, InReprocessing, c.w.Pieces["P18-1"].State)
	require.Empty(t, c.w.Pieces["P18-1"].Holds)
	require.False(t, c.w.Kits["K18"].Recording.Safe(), "what the undone answer said is unknown again")

	c, seq = start()
	c.wait(120*time.Second + time.Second)
	c.refused("undo_late", c.actor("ada"), Undo{Kit: "K18", Of: seq})
	c, seq = start()
	c.refused("undo_other", c.actor("boss"), Undo{Kit: "K18", Of: seq})
	c.refused("undo", c.actor("ada"), Undo{Kit: "K18", Of: seq - 1})

	c = newClinic(t)
	first := c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepCleaning, Answers: answers("clean", "yes", "parts_clean", "yes")})
	c.refused("undo_later", c.actor("ada"), Undo{Kit: "K18", Of: first.Seq})
}

// Holds are graded (P14): grave findings at once, other failures after two repeats, broken
// skin for infection control alone.
func TestHoldsAreGraded(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.goodSteps(ada)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Skin: "yes"}})
	c.refused("unanswered", ada, RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt, Answers: answers("condition", "whole",
		"recording", "arrived", "old_cell", "yes", "skin", "skin_broken")})
	h := c.w.Pieces["P18-1"].Holds[0]
	require.Equal(t, GradeInfection, h.Grade)
	require.Equal(t, Quarantined, KitState(c.w.Kits["K18"], c.w.Pieces))
	c.refused("role", c.actor("boss"), DecideHold{Kit: "K18", Piece: "P18-1", Hold: h.Seq, To: DecideGoOn, Reason: "x"})
	c.refused("declaration", c.actor("ina"), DecideHold{Kit: "K18", Piece: "P18-1", Hold: h.Seq, To: DecideRepair, Reason: "x"})
	c.do(c.actor("ina"), DecideHold{Kit: "K18", Piece: "P18-1", Hold: h.Seq, To: DecideGoOn, Reason: "skin looked at"})
	require.Equal(t, InReprocessing, c.w.Pieces["P18-1"].State)
}

func TestRednessIsANote(t *testing.T) {
	c := newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Skin: "yes"}})
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepReceipt, Answers: answers("condition",
		"whole", "recording", "arrived", "old_cell", "yes", "skin", "redness")})
	require.Empty(t, c.w.Pieces["P18-1"].Holds)
}

// The same failing answer three times (a try and two repeats) waits for the technician;
// another fault counts anew.
func TestTwoRepeatsThenTheTechnician(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.goodSteps(ada)
	c.do(ada, SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
	rec := []string{"P18-1"}
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepInspection, Answers: answers("sound", "yes")})
	test := func(signal string) {
		c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepFunction,
			Answers: answers("worn_by", "bench", "signal", signal, "memory", "yes")})
	}
	for _, signal := range []string{"no_signal", "not_arrived", "no_signal", "no_signal"} {
		test(signal)
		require.Empty(t, c.w.Pieces["P18-1"].Holds)
	}
	test("no_signal")
	h := c.w.Pieces["P18-1"].Holds[0]
	require.Equal(t, GradeTechnician, h.Grade)
	c.refused("on_hold", ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepFunction,
		Answers: answers("worn_by", "bench", "signal", "usable", "memory", "yes")})
	c.do(c.actor("boss"), TechnicianDone{Kit: "K18", Piece: "P18-1", Hold: h.Seq, Reason: "lead set changed"})
	test("usable")
}

// Overrides exist only where table and procedure allow them, show for ever, and bring a
// second person to the release.
func TestOverrides(t *testing.T) {
	c := newClinic(t)
	c.toWet()
	c.refused("no_override", c.actor("boss"), Override{Kit: "K18", Piece: "P18-1", Step: StepDisinfection, Reason: "in a hurry"})
	c = readyToRelease(t)
	ada, boss := c.actor("ada"), c.actor("boss")
	c.do(ada, SmallRepair{Kit: "K18", Piece: "P18-1", Part: "clip"})
	rec := []string{"P18-1"}
	c.do(ada, RecordStep{Kit: "K18", Pieces: rec, Step: StepInspection, Answers: answers("sound", "yes")})
	c.refused("role", ada, Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "source broken"})
	c.refused("empty", boss, Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "  "})
	c.do(boss, Override{Kit: "K18", Piece: "P18-1", Step: StepFunction, Reason: "bench source broken"})
	c.refused("steps", ada, ReleaseKit{Kit: "K18"}) // it was taken out of its pack
	c.do(ada, pack())
	c.refused("second_person", ada, ReleaseKit{Kit: "K18"})
	other := *c.w.People["ada"]
	other.ID, other.Name = "eva", "Eva Else"
	c.w.People["eva"] = &other
	c.refused("sign_alone", c.actor("eva"), ReleaseKit{Kit: "K18", List: true})
	c.do(c.actor("eva"), ReleaseKit{Kit: "K18"})
}

// A learner's steps are countersigned by somebody else who is competent (P19).
func TestLearners(t *testing.T) {
	c := newClinic(t)
	learner := *c.w.People["ada"]
	learner.ID, learner.Name = "leo", "Leo Learner"
	c.w.People["leo"] = &learner
	c.setCompetence("leo", Competence{From: "2026-01-01", Learning: true})
	c.goodSteps(c.actor("leo"))
	c.refused("learning", c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.refused("countersign", c.actor("leo"), Countersign{Kit: "K18"})
	c.do(c.actor("ada"), Countersign{Kit: "K18"})
	c.refused("already_done", c.actor("ada"), Countersign{Kit: "K18"})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
}

// Nothing is erased and no cell is pulled before the last recording is safe.
func TestTheRecordingComesFirst(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	first := func(status, cell string) RecordStep {
		return RecordStep{Kit: "K18", Step: StepReceipt, Answers: answers("condition", "whole",
			"recording", status, "old_cell", cell)}
	}
	c.refused("recording_first", ada, first("still_on_device", "yes"))
	c.refused("recording_first", ada, first("unknown", "yes"))
	c.do(ada, first("still_on_device", "stays"))
	c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning, Answers: answers("clean", "yes", "parts_clean", "yes")})
	c.wetNow(ada)
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
	c.dryDone(ada)
	c.do(ada, RecordStep{Kit: "K18", Step: StepInspection, Answers: answers("sound", "yes")})
	cell := RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepBattery, Answers: answers("cell", "T17", "latched", "yes")}
	c.refused("recording_first", ada, cell)
	c.refused("role", ada, GiveUpRecording{Kit: "K18", Reason: "card unreadable"})
	c.do(c.actor("boss"), GiveUpRecording{Kit: "K18", Reason: "card unreadable"})
	c.do(ada, cell)
}

// Cells must last beyond the longest wear of the model, that day included.
func TestCellsOutlastTheWear(t *testing.T) {
	c := newClinic(t)
	for days, rule := range map[int]string{14: "", 13: "cell_expiry"} {
		lot := c.w.Lots["T17"]
		lot.Expiry = c.now.Today().AddDays(days)
		cs := &Case{W: c.w, Now: c.now}
		p := cs.cells(c.w.Pieces["P18-1"], "T17")
		if rule == "" {
			require.Nil(t, p)
		} else {
			require.Equal(t, rule, p.Rule)
		}
	}
}

// The second phone gets "already done by … at …", not a second step.
func TestAlreadyDone(t *testing.T) {
	c := newClinic(t)
	c.toWet()
	p := c.refused("already_done", c.actor("boss"), RecordStep{Kit: "K18", Step: StepCleaning,
		Answers: answers("clean", "yes", "parts_clean", "yes")})
	require.Equal(t, Conflict, p.Code)
	require.Contains(t, p.Text, "already done by Ada Bench at 08:00")
}

func TestAnswersAreCheckedOnTheServer(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	good := answers("condition", "whole", "recording", "arrived", "old_cell", "yes")
	for rule, a := range map[string][]Answer{
		"answer":     answers("condition", "splendid", "recording", "arrived", "old_cell", "yes"),
		"unanswered": answers("condition", "whole", "old_cell", "yes"),
		"ask":        append(good, Answer{Ask: "sealed", Value: "yes"}),
	} {
		c.refused(rule, ada, RecordStep{Kit: "K18", Step: StepReceipt, Answers: a})
	}
	c.refused("step", ada, RecordStep{Kit: "K18", Step: "polish", Answers: good})
	c.refused("step", ada, RecordStep{Kit: "K18", Step: StepDisinfection, Answers: good})
	c.refused("unknown", ada, RecordStep{Kit: "K99", Step: StepReceipt, Answers: good})
}

func TestTextsAreShortAndClean(t *testing.T) {
	_, p := clean("x", strings.Repeat("a", 41), 40)
	require.Equal(t, "text", p.Rule)
	_, p = clean("x", "a\x00b", 40)
	require.Equal(t, "text", p.Rule)
	s, p := clean("x", "  two\n words ", 40)
	require.Nil(t, p)
	require.Equal(t, "two words", s)
}

// Given up by a signature before the first look: "nobody knows" there does not undo it.
func TestAGivenUpRecordingStaysGivenUp(t *testing.T) {
	for status, want := range map[RecordingStatus]RecordingStatus{RecordingUnknown: RecordingGivenUp,
		RecordingOnIt: RecordingGivenUp, RecordingArrived: RecordingArrived} {
		c := newClinic(t)
		c.do(c.actor("dan"), SetRecording{Kit: "K18", Status: RecordingUnknown})
		c.do(c.actor("boss"), GiveUpRecording{Kit: "K18", Reason: "card unreadable"})
		c.do(c.actor("ada"), RecordStep{Kit: "K18", Step: StepReceipt, Answers: answers("condition",
			"whole", "recording", string(status), "old_cell", "yes")})
		require.Equal(t, want, c.w.Kits["K18"].Recording.Status)
	}
}

// The signature also says where the kit goes, so that a released one does not seem to lie in
// the dirty box.
func TestAReleaseSaysWhereTheKitGoes(t *testing.T) {
	c := readyToRelease(t)
	c.refused("text", c.actor("ada"), ReleaseKit{Kit: "K18", Place: strings.Repeat("x", 41)})
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18", Place: "shelf B"})
	require.Equal(t, "shelf B", c.w.Kits["K18"].Place)
	require.True(t, CanHandOut(c.w, c.w.Kits["K18"], c.now).Released)
}
