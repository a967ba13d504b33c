package reprocess

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The edges of the steps and of what folds from their records. Source: the order and the loops
// of the practice notes (P10 to P16); the wordings are our own.

func saidAt(step StepID, pairs ...string) Record {
	return Record{Kind: RecAnswer, Step: step, Answers: answers(pairs...)}
}

func foldRecords(records ...Record) Progress { return (&Cycle{Records: records}).Progress() }

// longEnough are the records of a finished disinfection.
func longEnough() []Record {
	return []Record{wetted("B1", "D1", 0), looked(RecLooksWet, 61000)}
}

// Drying ends a running wet time; no other answer does.
func TestDryingEndsTheWetTime(t *testing.T) {
	require.True(t, foldRecords(longEnough()...).Wet.Open)
	require.False(t, foldRecords(append(longEnough(), saidAt(StepDrying, "dry", "yes"))...).Wet.Open)
	require.True(t, foldRecords(append(longEnough(), saidAt(StepBattery, "charge", "90"))...).Wet.Open)
}

// A first look or a cleaning done again undoes what came after; another step done again does not.
func TestWhatACleaningUndoes(t *testing.T) {
	all := append(longEnough(), saidAt(StepDrying, "dry", "yes"), saidAt(StepInspection, "sound", "yes"))
	for _, x := range []struct {
		step StepID
		left int
	}{{StepReceipt, 1}, {StepCleaning, 1}, {StepInspection, 3}, {StepBattery, 4}} {
		p := foldRecords(append(slices.Clone(all), saidAt(x.step))...)
		require.Len(t, p.Done, x.left, "%s", x.step)
		require.Equal(t, x.left > 1, p.Wet.Conforms(), "%s", x.step)
	}
	p := foldRecords(saidAt(StepReceipt), saidAt(StepCleaning))
	require.Len(t, p.Done, 2, "what came before a cleaning stands")
}

// A test on a person calls for a disinfection; the same words at another step do not.
func TestATestOnAPersonOnlyAtTheTest(t *testing.T) {
	all := append(longEnough(), saidAt(StepDrying, "dry", "yes"))
	worn := foldRecords(append(slices.Clone(all), saidAt(StepFunction, "worn_by", "person"))...)
	require.True(t, worn.Touched)
	require.Equal(t, []StepID{StepFunction}, keys(worn.Done))
	for _, r := range []Record{saidAt(StepFunction, "worn_by", "bench"), saidAt(StepInspection, "worn_by", "person")} {
		p := foldRecords(append(slices.Clone(all), r)...)
		require.False(t, p.Touched)
		require.Len(t, p.Done, 3)
	}
}

func keys(m map[StepID]Record) []StepID {
	var all []StepID
	for k := range m {
		all = append(all, k)
	}
	return all
}

// Wetting again, watched or by a sheet, undoes the drying; a look does not.
func TestWettingAgainUndoesTheDrying(t *testing.T) {
	all := append(longEnough(), saidAt(StepDrying, "dry", "yes"))
	for kind, dry := range map[RecordKind]bool{RecWetNow: false, RecPaperWet: false, RecLooksWet: true,
		RecNotWatched: true, RecSeenDry: true} {
		again := Record{Kind: kind, Step: StepDisinfection, Mark: at(90000), Container: "B1",
			Product: "D1", NeededS: 60, Paper: &Paper{}}
		_, still := foldRecords(append(slices.Clone(all), again)...).Done[StepDrying]
		require.Equal(t, dry, still, "%s", kind)
	}
}

// A learner's tap that was taken back waits for no signature.
func TestATapTakenBackWaitsForNoSignature(t *testing.T) {
	r := saidAt(StepReceipt)
	r.Seq, r.Learning = 7, true
	require.Len(t, foldRecords(r).Unsigned, 1)
	require.Empty(t, foldRecords(r, Record{Kind: RecCountersign, For: 7}).Unsigned)
	require.Len(t, foldRecords(r, Record{Kind: RecCountersign, For: 8}).Unsigned, 1)
	r.Undone = true
	require.Empty(t, foldRecords(r).Unsigned)
}

func TestNoAnswersForWhatIsNoQuestion(t *testing.T) {
	c := newClinic(t)
	for _, s := range []StepID{StepDisinfection, StepRelease, "polish"} {
		c.refused("step", c.actor("ada"), RecordStep{Kit: "K18", Step: s})
	}
}

// The maker's last cycle may begin, the one after it not; no limit is no limit.
func TestTheCycleAfterTheLast(t *testing.T) {
	first := RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")}
	for _, x := range []struct {
		limit, had int
		ok         bool
	}{{100, 99, true}, {100, 100, false}, {100, 101, false}, {0, 5000, true}} {
		c := newClinic(t)
		c.w.Models["M10"].CycleLimit, c.w.Pieces["P18-1"].Cycles = x.limit, x.had
		if !x.ok {
			c.refused("cycle_limit", c.actor("ada"), first)
			continue
		}
		c.do(c.actor("ada"), first)
		require.Equal(t, x.had+1, c.cycleOf("P18-1").Number)
	}
	require.Equal(t, 0, pieceIndex(&Kit{Pieces: []string{"a", "b"}}, "a"))
	require.Equal(t, 1, pieceIndex(&Kit{Pieces: []string{"a", "b"}}, "b"))
}

// The longest gap, to the minute that is over; unlimited when none is stated, and once packed.
func TestTheGapToTheMinute(t *testing.T) {
	done := map[StepID]Record{StepDisinfection: {}}
	proc := &Procedure{MaxGapMin: 120}
	p := Progress{Last: at(0), Done: done}
	require.Zero(t, GapPassed(p, proc, at(120*60000)))
	require.Zero(t, GapPassed(p, proc, at(121*60000-1)))
	require.Equal(t, 121, GapPassed(p, proc, at(121*60000)))
	require.Zero(t, GapPassed(p, &Procedure{}, at(900*60000)))
	require.Zero(t, GapPassed(Progress{Last: at(0)}, proc, at(900*60000)), "nothing was wiped yet")
	done[StepPacking] = Record{}
	require.Zero(t, GapPassed(p, proc, at(900*60000)))
}

// Faster than the procedure says anybody can: kept and marked; never the first record.
func TestTooFastToTheMillisecond(t *testing.T) {
	for _, x := range []struct {
		least int
		after time.Duration
		mark  bool
	}{{20, 20 * time.Second, false}, {20, 19999 * time.Millisecond, true}, {0, 0, false}} {
		c := newClinic(t)
		for _, id := range []string{"R12@1", "R13@1"} {
			c.w.Procedures[id].Row(StepReceipt).MinS = 20
			c.w.Procedures[id].Row(StepCleaning).MinS = x.least
		}
		ada := c.actor("ada")
		c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt,
			Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
		require.False(t, c.cycleOf("P18-1").Records[0].Together)
		c.wait(x.after)
		c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning, Answers: answers("clean", "yes", "parts_clean", "yes")})
		require.Equal(t, x.mark, c.cycleOf("P18-1").Records[1].Together, "%+v", x)
	}
}

// A cell is pulled only once the recording is safe: at the first look, out of a recorder.
func TestWhatPullsACell(t *testing.T) {
	k := &Kit{Recording: Recording{Status: RecordingOnIt}}
	rec, phone := &Piece{Kind: Recorder}, &Piece{Kind: Phone}
	receipt, _ := FindStep(StepReceipt)
	cleaning, _ := FindStep(StepCleaning)
	ask := func(s Step, p *Piece, cell string) *Problem {
		return RecordStep{Step: s.ID, Answers: answers("old_cell", cell)}.recordingFirst(k, s, p)
	}
	require.Equal(t, "recording_first", ask(receipt, rec, "yes").Rule)
	require.Nil(t, ask(receipt, rec, "stays"))
	require.Nil(t, ask(receipt, phone, "yes"))
	require.Nil(t, ask(cleaning, rec, "yes"))
	k.Recording.Status = RecordingArrived
	require.Nil(t, ask(receipt, rec, "yes"))
}

// Only a failed function test, and only one that may be tried again, leads to the technician.
func TestWhatLeadsToTheTechnician(t *testing.T) {
	c := newClinic(t)
	ada := c.actor("ada")
	c.do(ada, RecordStep{Kit: "K18", Step: StepReceipt,
		Answers: answers("condition", "whole", "recording", "arrived", "old_cell", "yes")})
	for range 5 {
		c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning,
			Answers: answers("clean", "again", "parts_clean", "again")})
	}
	require.Empty(t, c.w.Pieces["P18-1"].Holds)

	cs := &Case{W: c.w, Actor: ada, Now: c.now}
	grave := Record{Step: StepFunction, Answers: []Answer{{"signal", "no_signal", EffectHold}}}
	w := work{progress: newProgress()}
	w.progress.Tries[StepFunction] = 9
	w.progress.failed[StepFunction] = map[string]int{"signal=no_signal": 9}
	cs.judgeHolds(c.w.Pieces["P18-1"], grave, w)
	for _, e := range cs.events {
		require.NotEqual(t, GradeTechnician, e.(Held).Grade)
	}
	require.Equal(t, GradeInfection, holdGrade("skin_broken"))
	require.Equal(t, GradeHold, holdGrade("nobody knows"))
	for _, r := range holdReasons {
		require.NotEmpty(t, r.Grade, r.ID)
	}
}
