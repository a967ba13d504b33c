package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// toTest brings kit K18 to its function test; the model can export a file if asked.
func (c *clinic) toTest(export bool) Actor {
	ada := c.actor("ada")
	both := []string{"P18-1", "P18-2"}
	c.w.Models["M10"].Export = export
	step := func(pieces []string, s StepID, pairs ...string) {
		c.t.Helper()
		c.wait(30 * time.Second)
		c.do(ada, RecordStep{Kit: "K18", Pieces: pieces, Step: s, Answers: answers(pairs...)})
	}
	step(both, StepReceipt, "condition", "whole", "recording", "arrived", "old_cell", "yes")
	step(both, StepCleaning, "clean", "yes", "parts_clean", "yes")
	c.do(ada, WetNow{Kit: "K18", Pieces: both, Container: "B16"})
	c.wait(61 * time.Second)
	c.do(ada, Look{Kit: "K18", Pieces: both, Saw: RecLooksWet})
	step(both, StepDrying, "dry", "yes")
	step(both, StepInspection, "sound", "yes")
	step(both[:1], StepBattery, "cell", "T17", "latched", "yes")
	step(both[:1], StepAssignment, "ended", "yes")
	return ada
}

// fileTest is evidence of a file whose hash is made of one letter.
func fileTest(letter string, verdict recording.Verdict, codes ...string) *Test {
	t := &Test{Kind: TestFile, SHA256: strings.Repeat(letter, 64), Bytes: 1000, Profile: "bench",
		Version: "bench-1", Verdict: string(verdict), Codes: codes, Source: "bench",
		Measures: []Measured{{ID: "noise_residual_uv", Words: "noise between beats", Value: "36.2",
			Unit: "µV", Limit: "at most 30 µV"}, {ID: "height_mv", Words: "beat height",
			Value: "1.187", Unit: "mV"}}}
	if len(codes) > 0 {
		t.Measures[0].Code = codes[0]
	}
	return t
}

func testStep(t *Test, pairs ...string) RecordStep {
	return RecordStep{Kit: "K18", Pieces: []string{"P18-1"}, Step: StepFunction, Test: t,
		Answers: answers(pairs...)}
}

func recordOf(e *Entry) Record { return e.Events[len(e.Events)-1].Event.(StepRecorded).Record }

// The verdict answers for the signal: pass and remark are usable, fail and not judged are not.
// Source: issue "Function test", the practice page P14.
func TestTheVerdictAnswersForTheSignal(t *testing.T) {
	for _, x := range []struct {
		verdict recording.Verdict
		codes   []string
		signal  string
		effect  Effect
	}{{recording.Pass, nil, "usable", EffectOK}, {recording.Remark, nil, "usable", EffectNote},
		{recording.Fail, []string{"NOISE"}, "no_signal", EffectAgain},
		{recording.NotJudged, nil, "no_signal", EffectAgain}} {
		c := newClinic(t)
		ada := c.toTest(true)
		r := recordOf(c.do(ada, testStep(fileTest("a", x.verdict, x.codes...), "memory", "yes")))
		require.Equal(t, x.signal, r.Answered("signal"), x.verdict)
		require.Equal(t, "bench", r.Answered("worn_by"))
		for _, a := range r.Answers {
			if a.Ask == "signal" {
				require.Equal(t, x.effect, a.Effect, x.verdict)
			}
		}
		require.Equal(t, x.codes, r.Test.Codes)
	}
}

// Called usable, a failed file is refused with its code and both figures.
func TestAFailedFileCannotBeCalledUsable(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(true)
	p := c.refused("test_failed", ada, testStep(fileTest("a", recording.Fail, "NOISE"),
		"signal", "usable", "memory", "yes"))
	require.Equal(t, Refused, p.Code)
	for _, part := range []string{"NOISE", "36.2 µV", "at most 30 µV"} {
		require.Contains(t, p.Text, part)
	}
	c.refused("test_failed", ada, testStep(fileTest("a", recording.NotJudged), "signal", "usable",
		"memory", "yes"))
	c.refused("test", ada, testStep(fileTest("a", recording.Pass), "signal", "not_arrived", "memory", "yes"))
	// A person may still call a file bad that the figures pass.
	r := recordOf(c.do(ada, testStep(fileTest("a", recording.Pass), "signal", "no_signal", "memory", "yes")))
	require.Equal(t, EffectAgain, r.worst())
}

// The source decides the limits and the disinfection after it: it cannot differ.
func TestTheSourceOfTheFileIsTheAnswer(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(true)
	c.refused("test_source", ada, testStep(fileTest("a", recording.Pass), "worn_by", "person", "memory", "yes"))
	worn := fileTest("a", recording.Pass)
	worn.Source = "person"
	c.do(ada, testStep(worn, "memory", "yes"))
	progress := c.w.Cycles[c.w.Pieces["P18-1"].Cycle].Progress()
	require.True(t, progress.Touched, "a test on a person calls for a disinfection after it")
}

// A first try and two repeats by the same code wait for the technician; another code between
// counts anew, and a code that comes each time counts whatever else is seen beside it.
func TestTheSameCodeThreeTimesIsTheTechnicians(t *testing.T) {
	for name, x := range map[string]struct {
		tries [][]string
		held  bool
	}{
		"two":               {[][]string{{"NOISE"}, {"NOISE"}}, false},
		"three":             {[][]string{{"NOISE"}, {"NOISE"}, {"NOISE"}}, true},
		"another between":   {[][]string{{"NOISE"}, {"MAINS"}, {"NOISE"}}, false},
		"with others":       {[][]string{{"MAINS", "NOISE"}, {"NOISE"}, {"NOISE", "JUMPS"}}, true},
		"always another":    {[][]string{{"NOISE"}, {"MAINS"}, {"JUMPS"}}, false},
		"begins in between": {[][]string{{"MAINS"}, {"NOISE"}, {"NOISE"}}, false},
	} {
		c := newClinic(t)
		ada := c.toTest(true)
		for i, codes := range x.tries {
			c.do(ada, testStep(fileTest(string(rune('a'+i)), recording.Fail, codes...), "memory", "yes"))
		}
		h := c.w.Pieces["P18-1"].Held(GradeTechnician)
		require.Equal(t, x.held, h != nil, name)
		if h != nil {
			require.Equal(t, "failed_twice", h.Reason)
			require.Contains(t, h.Note, "NOISE", "the codes are attached")
		}
	}
}

// After a pass the count begins anew.
func TestAPassEndsTheCount(t *testing.T) {
	p := newProgress()
	bad := Record{Step: StepFunction, Kind: RecAnswer, Test: fileTest("a", recording.Fail, "NOISE"),
		Answers: []Answer{{Ask: "signal", Value: "no_signal", Effect: EffectAgain}}}
	good := Record{Step: StepFunction, Kind: RecAnswer}
	for _, r := range []Record{bad, bad, good, bad, bad} {
		p.take(r)
	}
	require.Equal(t, 2, p.Tries[StepFunction])
}

// Where a model can export, "usable" asks for the file; where it cannot, each other kind of
// evidence stands and is told by its kind.
func TestWhichEvidenceAModelAsksFor(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(true)
	usable := []string{"worn_by", "bench", "signal", "usable", "memory", "yes"}
	photo := &Test{Kind: TestPhoto, SHA256: strings.Repeat("c", 64), Bytes: 1}
	c.refused("test_file", ada, testStep(nil, usable...))
	c.refused("test_file", ada, testStep(photo, usable...))
	c.do(ada, testStep(nil, "worn_by", "bench", "signal", "not_arrived", "memory", "yes"))
	for kind, cmd := range map[TestKind]RecordStep{TestTyped: testStep(nil, usable...),
		TestReference: testStep(nil, append([]string{"reference", "RP-1"}, usable...)...),
		TestPhoto:     testStep(photo, usable...)} {
		c := newClinic(t)
		r := recordOf(c.do(c.toTest(false), cmd))
		require.Equal(t, kind, r.Test.Kind)
	}
}

// Evidence that does not hold together is a fault of the program and never recorded.
func TestEvidenceHoldsTogether(t *testing.T) {
	for name, spoil := range map[string]func(*Test){
		"kind":            func(x *Test) { x.Kind = "hearsay" },
		"hash short":      func(x *Test) { x.SHA256 = x.SHA256[:63] },
		"hash capitals":   func(x *Test) { x.SHA256 = strings.Repeat("A", 64) },
		"no bytes":        func(x *Test) { x.Bytes = 0 },
		"verdict":         func(x *Test) { x.Verdict = "fine" },
		"fail, no code":   func(x *Test) { x.Verdict = "fail" },
		"pass, a code":    func(x *Test) { x.Codes = []string{"NOISE"} },
		"unknown code":    func(x *Test) { x.Verdict, x.Codes = "fail", []string{"DOG"} },
		"no profile":      func(x *Test) { x.Profile = "" },
		"no version":      func(x *Test) { x.Version = "" },
		"no source":       func(x *Test) { x.Source = "" },
		"typed with file": func(x *Test) { x.Kind = TestTyped },
		"photo judged":    func(x *Test) { x.Kind = TestPhoto },
	} {
		c := newClinic(t)
		ada := c.toTest(true)
		bad := fileTest("a", recording.Pass)
		spoil(bad)
		_, p := c.try(ada, testStep(bad, "memory", "yes"))
		require.NotNil(t, p, name)
		require.Equal(t, "test", p.Rule, name)
	}
	c := newClinic(t)
	ada := c.toTest(true)
	c.refused("name_inside", ada, testStep(fileTest("a", recording.Fail, "NAME_INSIDE"), "memory", "yes"))
	c.refused("test", ada, RecordStep{Kit: "K18", Pieces: []string{"P18-2"}, Step: StepBattery,
		Answers: answers("charge", "90"), Test: fileTest("a", recording.Pass)})
}

// One file counts once; taken back as a mistake it may be used again.
func TestOneFileCountsOnceInACycle(t *testing.T) {
	c := newClinic(t)
	ada := c.toTest(true)
	bad := testStep(fileTest("a", recording.Fail, "NOISE"), "memory", "yes")
	e := c.do(ada, bad)
	p := c.refused("test_used", ada, bad)
	require.Equal(t, Conflict, p.Code)
	c.do(ada, Undo{Kit: "K18", Of: e.Seq})
	c.do(ada, bad)
}

// The height is learnt from the bench, from a file that passes, from a device not on hold, by
// a technician or supervisor who signs, within the bounds of the profile; setting the model
// does not change it.
func TestTheHeightIsLearntByOneActOnly(t *testing.T) {
	learn := func(edit func(*LearnHeight)) LearnHeight {
		l := LearnHeight{Kit: "K18", Piece: "P18-1", Test: *fileTest("a", recording.Pass), Reason: "new"}
		if edit != nil {
			edit(&l)
		}
		return l
	}
	height := func(mv string) func(*LearnHeight) {
		return func(l *LearnHeight) { l.Test.Measures[1].Value = mv }
	}
	c := newClinic(t)
	boss := c.actor("boss")
	c.refused("role", c.actor("ada"), learn(nil))
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, learn(nil))
	c.refused("empty", boss, learn(func(l *LearnHeight) { l.Reason = " " }))
	c.refused("unknown", boss, learn(func(l *LearnHeight) { l.Piece = "P18-2" }))
	c.refused("not_bench", boss, learn(func(l *LearnHeight) { l.Test.Source = "person" }))
	c.refused("test_failed", boss, learn(func(l *LearnHeight) { l.Test = *fileTest("a", recording.Fail, "NOISE") }))
	for mv, ok := range map[string]bool{"0.499": false, "0.500": true, "5.000": true, "5.001": false,
		"": false, "1.2": false, "1,187": false, "-1.187": false} {
		_, p := c.try(boss, learn(height(mv)))
		require.Equal(t, ok, p == nil, mv)
	}
	c.do(boss, learn(nil))
	require.Equal(t, 1187, c.w.Models["M10"].ExpectedHeightUV)
	m := *c.w.Models["M10"]
	m.ExpectedHeightUV = 1
	c.do(boss, SetModel{m})
	require.Equal(t, 1187, c.w.Models["M10"].ExpectedHeightUV)
	c.do(boss, SetModel{Model{Name: "Recorder B", Kind: Recorder, ExpectedHeightUV: 7}})
	require.Zero(t, c.w.Models["M"+itoa(c.seq)].ExpectedHeightUV)
	c.do(c.actor("dan"), PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"})
	c.refused("not_known_good", boss, learn(nil))
}

func itoa(n int64) string { return strings.TrimPrefix(procedureRef("", int(n)), "@") }

// The voltage is judged by the chemistry of the model's cell (function-test reference, 5.2):
// at the limits and one millivolt to either side.
func TestTheVoltageOfTheNewCell(t *testing.T) {
	for _, x := range []struct {
		cell, volts, kept string
		effect            Effect
	}{
		{"LR03", "1.55V", "1.550 V", EffectOK}, {"LR03", "1549mV", "1.549 V", EffectNote},
		{"LR03", "1,50 V", "1.500 V", EffectNote}, {"LR03", "1.499V", "1.499 V", EffectAgain},
		{"CR2032", "3.00V", "3.000 V", EffectOK}, {"CR2032", "2.949V", "2.949 V", EffectAgain},
		{"PR44", "1.35V", "1.350 V", EffectOK}, {"PR44", "1.299V", "1.299 V", EffectAgain},
		{"SR44", "1.10V", "1.100 V", EffectNote}, // no limits are known
		{"", "0.90V", "0.900 V", EffectOK},       // the model states no cell
		{"LR03", "-1.58V", "-1.580 V", EffectAgain},
	} {
		c := newClinic(t)
		c.w.Models["M10"].Cell = x.cell
		a := Answer{Ask: "cell_mv", Value: x.volts}
		p := (&Case{W: c.w}).volts(c.w.Pieces["P18-1"], &a)
		require.Nil(t, p, x.volts)
		require.Equal(t, x.kept, a.Value)
		require.Equal(t, x.effect, a.Effect, "%s %s", x.cell, x.volts)
	}
	c := newClinic(t)
	for _, bad := range []string{"1.58", "high", "1.5801V", "1.58 A"} {
		p := (&Case{W: c.w}).volts(c.w.Pieces["P18-1"], &Answer{Value: bad})
		require.NotNil(t, p, bad)
		require.Equal(t, "volts", p.Rule)
	}
}

// A picture belongs to a piece of the kit, says what it shows and is at most 2 MB.
func TestAddingAPicture(t *testing.T) {
	c := newClinic(t)
	good := AddPicture{Kit: "K18", Piece: "P18-1", SHA256: strings.Repeat("a", 64),
		Bytes: MostPictureBytes, About: "crack  beside the door"}
	e := c.do(c.actor("dan"), good)
	require.Equal(t, "crack beside the door", e.Events[0].Event.(PictureAdded).About)
	for rule, spoil := range map[string]func(*AddPicture){
		"picture": func(a *AddPicture) { a.Bytes++ },
		"empty":   func(a *AddPicture) { a.About = "" },
		"unknown": func(a *AddPicture) { a.Piece = "P99" },
	} {
		bad := good
		spoil(&bad)
		c.refused(rule, c.actor("dan"), bad)
	}
}
