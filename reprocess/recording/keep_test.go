package recording

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is kept of a test is enough to derive its judgement again, years later: a result that
// went through JSON judges the same, under either profile.
func TestKeptResultJudgesTheSame(t *testing.T) {
	for name, c := range edfCases() {
		if c.refused != "" {
			continue
		}
		r, err := Read(name, load(t, "edf/"+name), Options{})
		require.NoError(t, err)
		res := Measure(r, 0)
		kept, err := json.Marshal(res)
		require.NoError(t, err)
		var again Result
		require.NoError(t, json.Unmarshal(kept, &again))
		require.Equal(t, res, again)
		for _, p := range Profiles() {
			e := Expect{Rate: 60, Height: 1.2, Event: true}
			require.Equal(t, Judge(res, p, e), Judge(again, p, e), name)
		}
	}
}

// A profile is kept by value beside its version, so that an old one can be read again.
func TestKeptProfile(t *testing.T) {
	for _, p := range Profiles() {
		kept, err := json.Marshal(p)
		require.NoError(t, err)
		var again Profile
		require.NoError(t, json.Unmarshal(kept, &again))
		require.Equal(t, p, again)
	}
}

// Measuring changes nothing: twice is the same, and the recording stays as it was read.
func TestMeasuringTwice(t *testing.T) {
	r := excerpt(t)
	before := fmt.Sprint(r.Remarks, r.Events, r.Gaps)
	require.Equal(t, Measure(r, 0), Measure(r, 0))
	require.Equal(t, before, fmt.Sprint(r.Remarks, r.Events, r.Gaps))
}

// A lead without a label is named by its number.
func TestUnlabelledLead(t *testing.T) {
	r := inMillivolts(benchWave(250, 60, 1, 40), 250)
	r.Signals = append(r.Signals, r.Signals[0])
	r.Signals[1].Label = ""
	require.Equal(t, "ECG", Measure(r, 0).Lead)
	require.Equal(t, "signal 2", Measure(r, 1).Lead)
}

// Event marks outside the samples do not count as arrived.
func TestEventOutsideDoesNotCount(t *testing.T) {
	r := inMillivolts(benchWave(250, 60, 1, 40), 250)
	require.Equal(t, 1, Measure(r, 0).EventsInside)
	r.Events[0].Sample = nil
	res := Measure(r, 0)
	require.Zero(t, res.EventsInside)
	require.Equal(t, []Code{NoEvent}, Judge(res, Bench(), Expect{Event: true}).Codes)
	require.Empty(t, Judge(res, Bench(), Expect{}).Codes)
}

// A recording is read, its lead chosen, measured, judged and put into words.
func Example() {
	r, err := Read("bench.csv", csvOf("time [s],ECG II [mV]\n", 20*250, plainRow), Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	lead, _ := r.Lead(0)
	result := Measure(r, lead)
	want := Expect{Rate: 60, Event: true}
	judgement := Judge(result, Bench(), want)
	fmt.Println(judgement.Verdict, judgement.Profile)
	for _, c := range judgement.Codes {
		fmt.Println(c, Explain(c, result, want).Says)
	}
	// Output:
	// fail bench-1
	// TOO_SHORT Only 20.0 s were recorded.
	// NO_EVENT The event mark did not arrive.
}
