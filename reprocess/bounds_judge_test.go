package reprocess

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of judging, undoing and answering. Source: P14 and P16 of the practice notes; the
// figures (two minutes, 0 to 100 %) are our own.

// One entry may set several holds: the gravest of them says who decides, and a decision on one
// entry leaves the holds of another.
func TestTheGravestHoldOfAnEntry(t *testing.T) {
	c := newClinic(t)
	p := c.w.Pieces["P18-1"]
	p.Holds = []Hold{{Seq: 7, Grade: GradeTechnician}, {Seq: 7, Grade: GradeHold}, {Seq: 8, Grade: GradeInfection}}
	cs := &Case{W: c.w, Actor: c.actor("ina"), Now: c.now}
	for seq, grade := range map[int64]Grade{7: GradeHold, 8: GradeInfection} {
		_, h, problem := cs.holdOf("K18", "P18-1", seq)
		require.Nil(t, problem)
		require.Equal(t, grade, h.Grade)
	}
	_, _, problem := cs.holdOf("K18", "P18-1", 9)
	require.Equal(t, "already_done", problem.Rule)
	p.Holds = []Hold{{Seq: 7, Grade: GradeTechnician}}
	_, h, _ := cs.holdOf("K18", "P18-1", 7)
	require.Equal(t, GradeTechnician, h.Grade)
}

// Only the tap that told of the recording makes it unknown again.
func TestUndoingTheRecordingAnswer(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	e := c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	c.do(ada, Undo{Kit: "K18", Of: e.Seq})
	require.Equal(t, RecordingUnknown, c.w.Kits["K18"].Recording.Status)

	c = newClinic(t)
	ada = c.toWet()
	last := c.cycleOf("P18-1").Records
	c.do(ada, Undo{Kit: "K18", Of: last[len(last)-1].Seq})
	require.Equal(t, RecordingArrived, c.w.Kits["K18"].Recording.Status)
	c.refused("undo", ada, Undo{Kit: "K18", Of: last[len(last)-1].Seq})
}

// Signed acts are not taken back like a tap.
func TestASignatureIsNotATap(t *testing.T) {
	for kind, rule := range map[RecordKind]string{RecOverride: "undo_signed",
		RecCountersign: "undo_signed", RecAnswer: ""} {
		c := newClinic(t)
		ada := c.toWet()
		cy := c.cycleOf("P18-1")
		cy.Records[len(cy.Records)-1].Kind = kind
		u := Undo{Kit: "K18", Of: cy.Records[len(cy.Records)-1].Seq}
		if rule == "" {
			c.do(ada, u)
			continue
		}
		c.refused(rule, ada, u)
	}
}

// A learner does not stand for a learner.
func TestALearnerSignsForNobody(t *testing.T) {
	c := newClinic(t)
	for _, id := range []string{"ada", "boss"} {
		c.setCompetence(id, Competence{From: "2026-01-01", Learning: true})
	}
	ada := c.toWet()
	c.refused("countersign", ada, Countersign{Kit: "K18"})
	c.refused("countersign", c.actor("boss"), Countersign{Kit: "K18"})
	c.setCompetence("boss", Competence{From: "2026-01-01"})
	c.do(c.actor("boss"), Countersign{Kit: "K18"})
	c.refused("already_done", c.actor("boss"), Countersign{Kit: "K18"})
}

// "Not as written" needs the table of steps and the procedure to allow it, both.
func TestOnlyWhatBothAllowIsOverridden(t *testing.T) {
	over := func(c *clinic, s StepID) *Problem {
		_, p := c.try(c.actor("boss"), Override{Kit: "K18", Piece: "P18-1", Step: s, Reason: "source broken"})
		return p
	}
	c := newClinic(t)
	c.beforePacking("P18-1")
	c.procedureOf("P18-1").Row(StepBattery).Override = false
	require.Equal(t, "no_override", over(c, StepBattery).Rule, "the procedure says no")
	c.procedureOf("P18-1").Row(StepBattery).Override = true
	c.w.Kits["K18"].Recording.Status = RecordingOnIt
	require.Equal(t, "recording_first", over(c, StepBattery).Rule)
	c.w.Kits["K18"].Recording.Status = RecordingArrived
	require.Nil(t, over(c, StepBattery))
	c.procedureOf("P18-1").Row(StepAssignment).Override = true
	require.Equal(t, "no_override", over(c, StepAssignment).Rule, "the table says no")
}

func TestPercentIsAWholeNumber(t *testing.T) {
	ask, _ := FindAsk("charge")
	for value, ok := range map[string]bool{"0": true, "1": true, "99": true, "100": true, "101": false,
		"-1": false, "": false, "5.5": false, "05": false, "+5": false, " 5": false, "1e1": false,
		"٥": false, "ninety": false} {
		require.Equal(t, ok, percent(ask, value) == nil, "%q", value)
	}
}

// What is optional may be left out and is still checked when it is given; what belongs to another
// step, or to none, is refused.
func TestAnswersThatBelongElsewhere(t *testing.T) {
	c := newClinic(t)
	c.beforePacking("P18-1")
	ada := c.actor("ada")
	battery := func(pairs ...string) RecordStep {
		return RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepBattery,
			Answers: answers(append([]string{"cell", "T17", "latched", "yes"}, pairs...)...)}
	}
	c.refused("ask", ada, battery("sound", "yes"))
	c.refused("ask", ada, battery("no_such", "yes"))
	_, p := c.try(ada, battery("cell_mv", "many"))
	require.NotNil(t, p)
	e := c.do(ada, battery())
	for _, a := range e.Events[0].Event.(StepRecorded).Record.Answers {
		require.NotEqual(t, "cell_mv", a.Ask)
	}
}

// A campaign's question is asked while a campaign wants it, whatever the procedure lists.
func TestAProcedureCannotAskForACampaign(t *testing.T) {
	c := newClinic(t)
	proc := c.w.Procedures["R12@1"]
	row := proc.Row(StepAssignment)
	row.Asks = append(row.Asks, "software")
	for _, a := range WantedAsks(c.w, c.w.Kits["K18"], c.w.Pieces["P18-1"], proc, StepAssignment) {
		require.NotEqual(t, "software", a.ID)
	}
	row.Asks = nil
	require.Empty(t, WantedAsks(c.w, c.w.Kits["K18"], c.w.Pieces["P18-1"], proc, StepAssignment))
}

// The label read back: ours, in force, of a piece, of this kit.
func TestWhichLabelIsReadBack(t *testing.T) {
	c := newClinic(t)
	cs := &Case{W: c.w, Actor: c.actor("ada"), Now: c.now}
	k := c.w.Kits["K18"]
	require.Nil(t, cs.scanBack(k, "CODE17R"))
	require.Nil(t, cs.scanBack(k, "CODE17P"))
	require.Equal(t, "label_unknown", cs.scanBack(k, "CODE99").Rule)
	c.w.Labels["SHELF"] = &Label{Code: "SHELF", Kind: CodePlace, Target: "P18-1"}
	require.Equal(t, "other_label", cs.scanBack(k, "SHELF").Rule)
	c.w.Labels["OTHER"] = &Label{Code: "OTHER", Kind: CodePiece, Target: "P99-1"}
	require.Equal(t, "other_label", cs.scanBack(k, "OTHER").Rule)
	c.w.Labels["CODE17R"].Withdrawn = c.now.UTC + 1
	require.Equal(t, "label_withdrawn", cs.scanBack(k, "CODE17R").Rule)
	cs.past = true // a sheet of an hour ago: it was in force then
	require.Nil(t, cs.scanBack(k, "CODE17R"))
	c.w.Labels["CODE17R"].Withdrawn = c.now.UTC
	require.Equal(t, "label_withdrawn", cs.scanBack(k, "CODE17R").Rule)
}

// --- where a kit stands, and the front desk ---

func TestTheDeskNamesBenchDayAndCell(t *testing.T) {
	require.Equal(t, "Ask the bench.", Settings{}.benchCall())
	require.Equal(t, "Ask: 3417", Settings{BenchCall: "3417"}.benchCall())

	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	k := c.w.Kits["K18"]
	k.Release.CellUntil = c.now.Today()
	require.True(t, CanHandOut(c.w, k, c.now).Released, "good on its last day")
	k.Release.CellUntil = c.now.Today().AddDays(-1)
	require.Equal(t, "cell_expired", CanHandOut(c.w, k, c.now).Rule)

	for _, x := range []struct {
		loan *Loan
		says string
	}{{nil, "It is out with a wearer."}, {&Loan{}, "It is out with a wearer."},
		{&Loan{Due: "2026-12-01"}, "It is out, due back 1 Dec 2026."}} {
		w := NewWorld()
		if x.loan != nil {
			w.Loans["L"] = x.loan
		}
		require.Equal(t, x.says, stateReason(w, &Kit{Loan: "L"}, Issued).Text)
	}
}

// A kit whose recorder is not known, or that has none, is missing, never released.
func TestAKitWithoutItsRecorder(t *testing.T) {
	rec, phone := &Piece{Kind: Recorder, State: Released}, &Piece{Kind: Phone, State: Released}
	k := &Kit{Pieces: []string{"a", "b"}, Release: &Release{}}
	require.Equal(t, Released, KitState(k, map[string]*Piece{"a": rec, "b": phone}))
	require.Equal(t, Missing, KitState(k, map[string]*Piece{"a": rec}))
	require.Equal(t, Missing, KitState(k, map[string]*Piece{"a": phone, "b": phone}))
	require.False(t, k.hasRecorder(map[string]*Piece{"b": phone}))
	require.True(t, k.hasRecorder(map[string]*Piece{"b": rec}))
}

func TestWhichLoanIsOut(t *testing.T) {
	require.False(t, (*Loan)(nil).Open())
	require.True(t, (&Loan{}).Open())
	require.False(t, (&Loan{Back: 1}).Open())
	require.False(t, (&Loan{Undone: true}).Open())
}

// A hand-out is undone only when the pack went out on this log's release and nobody wore it.
func TestWhichHandOutIsUndone(t *testing.T) {
	undo := UndoHandOut{Kit: "K18", Reason: "wrong kit"}
	for name, spoil := range map[string]func(*clinic, *Loan){
		"after the fact":  func(_ *clinic, l *Loan) { l.After = true },
		"taken over":      func(_ *clinic, l *Loan) { l.TakenOver = true },
		"no release":      func(c *clinic, _ *Loan) { c.w.Kits["K18"].Release = nil },
		"another release": func(_ *clinic, l *Loan) { l.Release++ },
	} {
		c := handedOut(t)
		spoil(c, c.w.Loans[c.w.Kits["K18"].Loan])
		p := c.refused("not_sealed", c.actor("dan"), undo)
		require.NotEmpty(t, p.Fix, name)
	}
	c := handedOut(t)
	require.Equal(t, "with a wearer", c.w.Kits["K18"].Place)
	c.wait(24 * time.Hour)
	c.do(c.actor("dan"), undo)
	require.Equal(t, "shelf A", c.w.Kits["K18"].Place, "it went nowhere")
	c = handedOut(t)
	c.wait(24*time.Hour + time.Millisecond)
	c.refused("undo_late", c.actor("dan"), undo)
}

func handedOut(t *testing.T) *clinic {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), HandOut{Kit: "K18", Wearer: "w1", Days: 7})
	return c
}

func TestOnlyAReleasedPackIsBroken(t *testing.T) {
	c := handedOut(t)
	c.refused("not_released", c.actor("dan"), BreakRelease{Kit: "K18", Why: "wet"})
	c = newClinic(t)
	c.refused("not_released", c.actor("dan"), BreakRelease{Kit: "K18", Why: "wet"})
	c.refused("why", c.actor("dan"), BreakRelease{Kit: "K18", Why: "ugly"})
	c = readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.do(c.actor("dan"), BreakRelease{Kit: "K18", Why: "wet"})
}

// A re-check holds as long as the shorter procedure says; unknown days give no re-check.
func TestHowLongARecheckHolds(t *testing.T) {
	for _, x := range []struct{ recorder, phone, days int }{{30, 10, 10}, {0, 12, 12}, {12, 0, 12}, {0, 0, 0}} {
		c := readyToRelease(t)
		c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
		for i, line := range c.w.Kits["K18"].Release.Cycles {
			proc := c.w.Procedures[c.w.Cycles[line.Cycle].Procedure]
			proc.ReleaseDays = []int{x.recorder, x.phone}[i]
		}
		c.wait(31 * 24 * time.Hour)
		if x.days == 0 {
			c.refused("unknown_days", c.actor("ada"), Recheck{Kit: "K18"})
			continue
		}
		c.do(c.actor("ada"), Recheck{Kit: "K18"})
		require.Equal(t, c.now.UTC.Add(time.Duration(x.days)*24*time.Hour), c.w.Kits["K18"].Release.Until)
	}
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	line := c.w.Kits["K18"].Release.Cycles[0]
	delete(c.w.Procedures, c.w.Cycles[line.Cycle].Procedure)
	c.wait(31 * 24 * time.Hour)
	c.do(c.actor("ada"), Recheck{Kit: "K18"})
}

// What comes back by hand: missing or from repair, and not while its whole kit is missing.
func TestWhatComesBackByHand(t *testing.T) {
	back := Aside{Kit: "K18", Piece: "P18-1", To: Returned, Reason: "found behind the shelf"}
	for state, rule := range map[State]string{Missing: "", OutForRepair: "", Returned: "not_aside",
		Issued: "not_aside", Released: "not_aside"} {
		c := newClinic(t)
		c.w.Pieces["P18-1"].State = state
		_, p := c.try(c.actor("boss"), back)
		require.Equal(t, rule == "", p == nil, "%s", state)
		if rule != "" {
			require.Equal(t, rule, p.Rule)
		}
	}
	c := newClinic(t)
	c.w.Kits["K18"].Loss = &Loss{}
	require.True(t, c.w.Kits["K18"].Loss.Open())
	c.w.Pieces["P18-1"].State = Missing
	c.refused("found", c.actor("boss"), back)
	c.w.Pieces["P18-1"].State = OutForRepair
	c.do(c.actor("boss"), back)
}

// A fresh cell at the counter is the recorder procedure's choice.
func TestACellAtTheCounter(t *testing.T) {
	c := handedOut(t)
	cs := &Case{W: c.w, Actor: c.actor("dan"), Now: c.now}
	k := c.w.Kits["K18"]
	proc := c.w.Procedures[c.w.InForce["M10"]]
	day, p := cs.cellAtOut(k, "")
	require.Nil(t, p)
	require.Equal(t, k.Release.CellUntil, day)
	for _, allowed := range []bool{false, true} {
		proc.CellAtOut = allowed
		_, p = cs.cellAtOut(k, "T17")
		require.Equal(t, allowed, p == nil)
		require.Equal(t, allowed, CellsAtOut(c.w, k))
	}
	slices.Reverse(k.Pieces) // the phone first: its procedure is not asked
	require.True(t, CellsAtOut(c.w, k))
	c.w.Procedures[c.w.InForce["M11"]].CellAtOut, proc.CellAtOut = true, false
	require.False(t, CellsAtOut(c.w, k))
	delete(c.w.Procedures, c.w.InForce["M10"])
	require.False(t, CellsAtOut(c.w, k))
	_, p = cs.cellAtOut(k, "T17")
	require.Equal(t, "cell_at_out", p.Rule)
	delete(c.w.Pieces, "P18-2")
	require.False(t, CellsAtOut(c.w, k))
}
