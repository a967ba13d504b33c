package reprocess

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/recording"
)

// The edges of the evidence of a function test and of its figures. Sources: the function-test
// reference, 2 and 3, for what is judged; MIT's WFDB header format for the pair of files; which
// figure is shown beside which code is our own choice.

var hashA, hashB = strings.Repeat("a", 64), strings.Repeat("b", 64)

// Typed evidence has no file, and a photo one that is not judged.
func TestWhatEachEvidenceHolds(t *testing.T) {
	part := &TestPart{SHA256: hashB, Bytes: 1}
	for name, x := range map[string]struct {
		test Test
		ok   bool
	}{
		"typed":                {Test{Kind: TestTyped}, true},
		"a reference":          {Test{Kind: TestReference}, true},
		"typed, a hash":        {Test{Kind: TestTyped, SHA256: hashA}, false},
		"typed, a verdict":     {Test{Kind: TestTyped, Verdict: "pass"}, false},
		"typed, a signal file": {Test{Kind: TestTyped, Signal: part}, false},
		"a photo":              {Test{Kind: TestPhoto, SHA256: hashA, Bytes: 1}, true},
		"a photo, no hash":     {Test{Kind: TestPhoto, Bytes: 1}, false},
		"a photo, no bytes":    {Test{Kind: TestPhoto, SHA256: hashA}, false},
		"a photo, a verdict":   {Test{Kind: TestPhoto, SHA256: hashA, Bytes: 1, Verdict: "pass"}, false},
		"a photo, two files":   {Test{Kind: TestPhoto, SHA256: hashA, Bytes: 1, Signal: part}, false},
	} {
		require.Equal(t, x.ok, x.test.check() == nil, name)
	}
	for bytes, ok := range map[int64]bool{-1: false, 0: false, 1: true} {
		f := fileTest("a", recording.Pass)
		f.Bytes = bytes
		require.Equal(t, ok, f.check() == nil, "%d bytes", bytes)
		f = fileTest("a", recording.Pass)
		f.Signal = &TestPart{SHA256: hashB, Bytes: bytes}
		require.Equal(t, ok, f.check() == nil, "%d bytes of the signal", bytes)
	}
}

// Without a file there is no hash to be used twice, and nothing that failed.
func TestEvidenceWithoutAFile(t *testing.T) {
	require.Empty(t, (*Test)(nil).Hashes())
	require.Empty(t, (&Test{Kind: TestTyped}).Hashes())
	require.False(t, (*Test)(nil).Failed())
	for kind, failed := range map[TestKind]bool{TestFile: true, TestPhoto: false, TestTyped: false} {
		require.Equal(t, failed, (&Test{Kind: kind, Verdict: string(recording.Fail)}).Failed())
	}
	c := newClinic(t)
	cs := &Case{W: c.w, Actor: c.actor("ada"), Now: c.now}
	piece := c.w.Pieces["P18-1"] // no cycle is open, so its file cannot be used up
	_, p := testStep(fileTest("a", recording.Pass), "memory", "yes").withEvidence(cs, piece)
	require.Nil(t, p)
	piece.Model = "M99" // a model that is not known asks for no file
	_, p = testStep(nil, "worn_by", "bench", "signal", "usable").withEvidence(cs, piece)
	require.Nil(t, p)
}

// The verdict may be repeated by hand, and one that passes may be doubted.
func TestWhatIsToldBesideTheVerdict(t *testing.T) {
	for _, x := range []struct {
		verdict recording.Verdict
		told    string
		rule    string
	}{{recording.Pass, "usable", ""}, {recording.Pass, "no_signal", ""},
		{recording.Fail, "no_signal", ""},
		{recording.Fail, "usable", "test_failed"}, {recording.NotJudged, "no_signal", ""},
		{recording.NotJudged, "usable", "test_failed"}, {recording.Remark, "usable", ""}} {
		r := testStep(fileTest("a", x.verdict), "signal", x.told)
		p := r.byVerdict()
		require.Equal(t, x.rule == "", p == nil, "%+v", x)
		if p != nil {
			require.Equal(t, x.rule, p.Rule)
		}
		require.Equal(t, x.told, Record{Answers: r.Answers}.Answered("signal"))
	}
}

// A remark is noted at the signal, and only at one that is usable.
func TestARemarkIsOfTheSignal(t *testing.T) {
	remark := fileTest("a", recording.Remark)
	for _, x := range []struct {
		test   *Test
		before Effect
		after  Effect
	}{{remark, EffectOK, EffectNote}, {fileTest("a", recording.Pass), EffectOK, EffectOK},
		{remark, EffectAgain, EffectAgain}, {nil, EffectOK, EffectOK}} {
		a := []Answer{{"memory", "yes", EffectOK}, {"signal", "x", x.before}}
		x.test.remarked(a)
		require.Equal(t, []Effect{EffectOK, x.after}, []Effect{a[0].Effect, a[1].Effect})
	}
}

// What failed counts by the codes of its file; without one by its answers, the grave ones too.
func TestWhatARecordFailedBy(t *testing.T) {
	all := []Answer{{"signal", "no_signal", EffectAgain}, {"memory", "yes", EffectOK},
		{"sound", "crack", EffectHold}, {"skin", "redness", EffectNote}}
	typed := []string{"signal=no_signal sound=crack "}
	require.Equal(t, typed, Record{Answers: all}.reasons())
	require.Equal(t, typed, Record{Answers: all, Test: fileTest("a", recording.NotJudged)}.reasons())
	require.Equal(t, []string{"NOISE", "MAINS"},
		Record{Answers: all, Test: fileTest("a", recording.Fail, "NOISE", "MAINS")}.reasons())
	passed := fileTest("a", recording.Pass)
	passed.Codes = []string{"NOISE"}
	require.Equal(t, typed, Record{Answers: all, Test: passed}.reasons())
}

// --- options and figures ---

func TestTheOptionsOfATestAreBounded(t *testing.T) {
	for _, x := range []struct {
		o  TestOptions
		ok bool
	}{
		{TestOptions{}, true}, {TestOptions{Rate: -1}, false}, {TestOptions{Rate: 300}, true},
		{TestOptions{Rate: 301}, false}, {TestOptions{CSVRate: -1}, false},
		{TestOptions{CSVRate: 4000}, true}, {TestOptions{CSVRate: 4001}, false},
		{TestOptions{Lead: -1}, false}, {TestOptions{Lead: recording.MaxSignals}, true},
		{TestOptions{Lead: recording.MaxSignals + 1}, false}, {TestOptions{CSVUnit: "mV"}, true},
		{TestOptions{CSVUnit: "counts"}, true}, {TestOptions{CSVUnit: "mm"}, false},
	} {
		x.o.Source = "bench"
		_, _, p := x.o.profile()
		require.Equal(t, x.ok, p == nil, "%+v", x.o)
	}
	for _, x := range []struct {
		source string
		rate   int
		want   float64
	}{{"bench", 0, usualRate}, {"bench", 80, 80}, {"person", 80, 0}} {
		_, e, p := TestOptions{Source: x.source, Rate: x.rate, HeightUV: 1000}.profile()
		require.Nil(t, p)
		require.Equal(t, x.want, e.Rate)
		require.Equal(t, x.source == "bench", e.Height > 0)
	}
}

// A record in two files has one signal file, which may hold several leads; a second has no bytes.
func TestARecordHasOneSignalFile(t *testing.T) {
	_, signal := wfdbPair("")
	for second, readable := range map[string]bool{"bench.dat": true, "other.dat": false} {
		header := "bench 2 250 7500\nbench.dat 16 200\n" + second + " 16 200\n"
		j, p := JudgeTest([]byte(header), hashA,
			TestOptions{Source: "bench", Signal: signal, SignalSHA: hashB})
		require.Nil(t, p)
		require.NotNil(t, j.Recording)
		missing := strings.Contains(strings.Join(j.Test.Remarks, " "), "Signal 2 was not read")
		require.Equal(t, readable, !missing, "%s: %v", second, j.Test.Remarks)
	}
}

// codesAt are the codes that stand beside the figures of a result.
func codesAt(m recording.Measures, said ...recording.Code) map[string]string {
	out := map[string]string{}
	v := recording.Judgement{Codes: said}
	r := recording.Result{Measures: m}
	for _, row := range figures(r, recording.Bench(), recording.Expect{}, v) {
		out[row.ID] = row.Code
	}
	return out
}

// "No heartbeat" stands beside what fell short: too few beats, or beats that do not stand out.
func TestWhichFigureACodeStandsBeside(t *testing.T) {
	p := recording.Bench()
	least, out := p.LeastBeats, p.LeastStandsOut
	dead, code := []recording.Code{recording.NoHeartbeat}, "NO_HEARTBEAT"
	num := func(n int) *int { return &n }
	flt := func(x float64) *float64 { return &x }
	for name, x := range map[string]struct {
		beats       *int
		stands      *float64
		said        []recording.Code
		atBeats, at string
	}{
		"too few beats":  {num(least - 1), flt(out), dead, code, ""},
		"too low":        {num(least), flt(out - 0.1), dead, "", code},
		"both":           {num(0), flt(0), dead, code, code},
		"not judged":     {nil, nil, dead, "", ""},
		"another code":   {num(0), flt(0), []recording.Code{recording.FlatLine}, "", ""},
		"enough of each": {num(least), flt(out), nil, "", ""},
	} {
		m := recording.Measures{Beats: x.beats, StandsOut: x.stands}
		at := codesAt(m, x.said...)
		require.Equal(t, []string{x.atBeats, x.at}, []string{at["beats"], at["stands_out"]}, name)
	}
	uv := func(x float64) *recording.Microvolts { v := recording.Microvolts(x); return &v }
	for name, x := range map[string]struct {
		m50, m60 *recording.Microvolts
		at       string
	}{"50 larger": {uv(9), uv(8), "mains50_uv"}, "60 larger": {uv(8), uv(9), "mains60_uv"},
		"equal": {uv(8), uv(8), "mains50_uv"}, "only 60": {nil, uv(8), "mains60_uv"},
		"only 50": {uv(8), nil, "mains50_uv"}, "neither": {nil, nil, "mains50_uv"}} {
		at := codesAt(recording.Measures{Mains50: x.m50, Mains60: x.m60}, recording.Mains)
		for _, id := range []string{"mains50_uv", "mains60_uv"} {
			require.Equal(t, id == x.at, at[id] != "", "%s %s", name, id)
		}
	}
}

// A figure is shown with its unit and its limit; one that was not judged is empty, and what is
// not expected is not listed.
func TestHowFiguresRead(t *testing.T) {
	require.Equal(t, "at most 30 µV, remarked above 15 µV", mostWords([2]float64{15, 30}, "µV"))
	require.Equal(t, "at most 30 µV", mostWords([2]float64{30, 30}, "µV"))
	require.Equal(t, "at most 0", mostWords([2]float64{}, ""))
	require.Equal(t, "2.5 s", figure(2.5, "s"))
	require.Equal(t, "2.5", figure(2.5, ""))
	x, n := 1.25, 7
	require.Equal(t, []string{"1.2", "", "7", ""},
		[]string{fixed(&x, 1), fixed[float64](nil, 1), whole(&n), whole(nil)})
	rows := func(e recording.Expect) map[string]string {
		limits := map[string]string{}
		for _, row := range figures(recording.Result{}, recording.Bench(), e, recording.Judgement{}) {
			limits[row.ID] = row.Limit
		}
		return limits
	}
	none, some := rows(recording.Expect{}), rows(recording.Expect{Rate: 60, Height: 1.187})
	require.NotContains(t, none, "rate_per_minute")
	require.Equal(t, "within 2 % of 60 /min", some["rate_per_minute"])
	require.Equal(t, "from 0.5 to 5 mV", none["height_mv"])
	require.Equal(t, "within 10 % of 1.187 mV", some["height_mv"])
}
