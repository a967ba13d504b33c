package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// The edges of a correction. Rules without a published source, as in rules_correct_test.go.

// One correction puts one kind of fact right, and the kind that its record holds.
func TestACorrectionIsOfOneKind(t *testing.T) {
	c := readyToRelease(t)
	c.oldTub()
	ada := c.actor("ada")
	worn := answers("sound", "worn")
	for name, x := range map[string]struct {
		step StepID
		kind RecordKind
		fix  Correct
	}{
		"answers of none":         {StepInspection, RecAnswer, Correct{}},
		"answers and a container": {StepInspection, RecAnswer, Correct{Answers: worn, Container: "B90"}},
		"answers and dry":         {StepInspection, RecAnswer, Correct{Answers: worn, Dry: true}},
		"a wetting and answers": {StepDisinfection, RecWetNow,
			Correct{Container: "B90", Answers: worn}},
		"answers of a wetting":   {StepDisinfection, RecWetNow, Correct{Answers: worn}},
		"a wetting and dry":      {StepDisinfection, RecWetNow, Correct{Container: "B90", Dry: true}},
		"nothing of a look":      {StepDisinfection, RecLooksWet, Correct{}},
		"a look and a container": {StepDisinfection, RecLooksWet, Correct{Dry: true, Container: "B90"}},
		"a look and answers":     {StepDisinfection, RecLooksWet, Correct{Dry: true, Answers: worn}},
	} {
		p := c.refused("not_correctable", ada, c.fix(x.step, x.kind, x.fix))
		require.Contains(t, p.Fix, "Record what is right as a new act", name)
	}
}

// What the test showed stands; what tells against it, or beside it, is put right.
func TestATestIsNotCorrectedForTheBetter(t *testing.T) {
	typed, noise := &Test{Kind: TestTyped}, fileTest("a", recording.Fail, "NOISE")
	tell := func(worn, signal, memory string) []string {
		return []string{"worn_by", worn, "signal", signal, "memory", memory}
	}
	worn := fileTest("b", recording.Pass)
	worn.Source = "person"
	for name, x := range map[string]struct {
		test     *Test
		was, now []string // worn_by, signal, memory
		ok       bool
	}{
		"failed, now usable": {noise, tell("bench", "no_signal", "yes"),
			tell("bench", "usable", "yes"), false},
		"typed, now usable": {typed, tell("bench", "not_arrived", "yes"),
			tell("bench", "usable", "yes"), false},
		"not empty, now empty": {typed, tell("bench", "usable", "again"),
			tell("bench", "usable", "yes"), false},
		"failed, on a person": {noise, tell("bench", "no_signal", "yes"),
			tell("person", "no_signal", "yes"), true},
		"failed, not empty": {typed, tell("bench", "no_signal", "yes"),
			tell("bench", "no_signal", "again"), true},
		"failed otherwise": {typed, tell("bench", "no_signal", "yes"),
			tell("bench", "not_arrived", "yes"), true},
		"passed, now failed": {fileTest("a", recording.Pass), tell("bench", "usable", "yes"),
			tell("bench", "no_signal", "yes"), true},
		"passed, on a person": {fileTest("a", recording.Pass), tell("bench", "usable", "yes"),
			tell("person", "usable", "yes"), true},
		"of a person, now bench": {worn, tell("person", "usable", "yes"),
			tell("bench", "usable", "yes"), false},
	} {
		c := newClinic(t)
		ada := c.toTest(false)
		c.do(ada, testStep(x.test, x.was...))
		_, p := c.try(ada, c.fix(StepFunction, RecAnswer, Correct{Answers: answers(x.now...)}))
		require.Equal(t, x.ok, p == nil, "%s: %v", name, p)
		if !x.ok {
			require.Equal(t, "test_stands", p.Rule, name)
		} else if x.now[1] == "person" {
			require.True(t, c.cycleOf("P18-1").Progress().Touched, name)
		}
	}
	c := readyToRelease(t) // a step without a test is put right both ways
	c.do(c.actor("ada"), c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "part")}))
	c.do(c.actor("ada"), c.fix(StepInspection, RecAnswer, Correct{Answers: answers("sound", "yes")}))
}

// Only what its wearer had told made a question of the skin, not what the next one tells.
func TestTheQuestionOfTheSkinIsOfItsDay(t *testing.T) {
	c, cycle := olderCycle(t)
	c.w.Kits["K18"].Return.Skin = "yes" // told at the return since
	whole := []string{"condition", "soiled", "recording", "arrived", "old_cell", "yes"}
	receipt := c.in(cycle, StepReceipt, RecAnswer, Correct{Answers: answers(whole...)})
	c.do(c.actor("ada"), receipt)

	c = newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Return: Return{Skin: "yes"}})
	c.do(c.actor("ada"), RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepReceipt,
		Answers: answers(append(whole, "skin", "redness")...)})
	c.w.Kits["K18"].Return.Skin = "no"
	fix := c.fix(StepReceipt, RecAnswer, Correct{Answers: answers("condition", "whole",
		"recording", "arrived", "old_cell", "yes")})
	p := c.refused("unanswered", c.actor("ada"), fix)
	require.Contains(t, p.Text, "Skin trouble was told")
	require.True(t, c.w.Kits["K18"].asAsked(Record{}).Return == nil)
	unknown := Record{Answers: answers("no_such_question", "yes")}
	require.Nil(t, c.w.Kits["K18"].asAsked(unknown).Return)
}

// The container that was used in truth is named with its lot and product, as far as they are
// known; the gate then says whether it was good enough.
func TestTheContainerThatWasUsed(t *testing.T) {
	for _, known := range []bool{true, false} {
		c := readyToRelease(t)
		c.oldTub()
		want := "D14"
		if !known {
			want = ""
			c.w.Lots["T90"].Product = "D99"
		}
		e := c.do(c.actor("ada"), c.fix(StepDisinfection, RecWetNow, Correct{Container: "B90"}))
		r := corrected(e).Record
		require.Equal(t, []string{"B90", "T90", want}, []string{r.Container, r.Lot, r.Product})
		c.refused(map[bool]string{true: "expired", false: "not_disinfectant"}[known],
			c.actor("ada"), ReleaseKit{Kit: "K18"})
	}
}

// An answer more, or one less, is a correction.
func TestAnAnswerMoreIsACorrection(t *testing.T) {
	a, b := Answer{Ask: "cell", Value: "T17"}, Answer{Ask: "cell_mv", Value: "1.550 V"}
	short, long := Record{Answers: []Answer{a}}, Record{Answers: []Answer{a, b}}
	require.True(t, long.same(long))
	require.False(t, long.same(short))
	require.False(t, short.same(long))
	other := long
	other.Answers = []Answer{a, {Ask: "cell_mv", Value: "1.560 V"}}
	require.False(t, other.same(long))
	other = long
	other.Container = "B16"
	require.False(t, other.same(long))
	other = long
	other.Kind = RecSeenDry
	require.False(t, other.same(long))
}

// What is stopped or called back already is not held on top of it, whatever is found.
func TestAStoppedPieceIsNotHeldOnTop(t *testing.T) {
	for _, x := range []struct {
		state State
		held  bool
	}{{Embargoed, false}, {Recalled, false}, {AwaitingRelease, true}, {Returned, true}} {
		c := readyToRelease(t)
		c.w.Pieces["P18-1"].State = x.state
		crack := Correct{Answers: answers("sound", "crack")}
		e := c.do(c.actor("ada"), c.fix(StepInspection, RecAnswer, crack))
		require.Equal(t, x.held, len(e.Events) > 1, "%s", x.state)
	}
}

// Of several grave answers the one for infection control speaks.
func TestTheGravestAnswer(t *testing.T) {
	grave := func(values ...string) string {
		r := Record{Answers: []Answer{{Ask: "skin", Value: "redness", Effect: EffectNote}}}
		for _, v := range values {
			r.Answers = append(r.Answers, Answer{Value: v, Effect: EffectHold})
		}
		r.Answers = append(r.Answers, Answer{Ask: "skin", Value: "skin_broken", Effect: EffectNote})
		return r.gravest()
	}
	require.Empty(t, grave())
	require.Equal(t, "cracked", grave("cracked"))
	require.Equal(t, "cracked", grave("cracked", "swollen"), "the first of equal ones")
	require.Equal(t, "skin_broken", grave("cracked", "skin_broken"))
	require.Equal(t, "skin_broken", grave("skin_broken", "cracked"))
}

// A phone has a charge and no cell: its released cycle passes after a correction of it.
func TestAPhoneNeedsNoCell(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	fix := Correct{Kit: "K18", Piece: "P18-2", Reason: "misread", Answers: answers("charge", "39"),
		Of: c.recordOf("P18-2", StepBattery, RecAnswer).Seq}
	e := c.do(c.actor("ada"), fix)
	require.Empty(t, corrected(e).Failed)
	require.Equal(t, Released, KitState(c.w.Kits["K18"], c.w.Pieces))
}

// What a correction names is loaded with it: its cycle and its container, when it names them.
func TestWhatACorrectionNeeds(t *testing.T) {
	n := Correct{Kit: "K", Piece: "P"}.Needs()
	require.Empty(t, n.Cycles)
	require.Empty(t, n.Containers)
	n = Correct{Kit: "K", Piece: "P", Cycle: "C", Container: "B"}.Needs()
	require.Equal(t, []string{"C"}, n.Cycles)
	require.Equal(t, []string{"B"}, n.Containers)
}
