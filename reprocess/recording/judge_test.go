package recording

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
)

func ptr[T any](v T) *T { return &v }

// good is a result on which nothing is wrong for either profile.
func good() Result {
	return Result{Lead: "ECG", SampleRate: ptr(250.0), Seconds: ptr(60.0), Analysed: ptr(60.0),
		Scaled: true, EventsInside: 1, Measures: Measures{Beats: ptr(60), Rate: ptr(60.0),
			Height: ptr(Millivolts(1.2)), Noise: ptr(Microvolts(1)), NoiseRest: ptr(Microvolts(1)),
			Mains50: ptr(Microvolts(0)), Mains60: ptr(Microvolts(0)), StandsOut: ptr(1200.0),
			Baseline: ptr(Millivolts(0.03)), FlatSeconds: ptr(0.0), Jumps: ptr(0),
			CutOff: ptr(0.0), Upright: ptr(100.0), GapSeconds: ptr(0.0)}}
}

// Each limit of each profile, on its two sides. The limits are design values of this project;
// this table is their second copy, written from the text that states them.
func TestLimits(t *testing.T) {
	type set func(m *Result, v float64)
	noise := func(r *Result, v float64) {
		r.Measures.Noise, r.Measures.NoiseRest = ptr(Microvolts(v)), ptr(Microvolts(v))
	}
	mains := func(r *Result, v float64) { r.Measures.Mains60 = ptr(Microvolts(v)) }
	height := func(r *Result, v float64) { r.Measures.Height = ptr(Millivolts(v)) }
	base := func(r *Result, v float64) { r.Measures.Baseline = ptr(Millivolts(v)) }
	flat := func(r *Result, v float64) { r.Measures.FlatSeconds = &v }
	jumps := func(r *Result, v float64) {
		r.Measures.Jumps, r.JumpsElsewhere = ptr(int(v)), int(v)
	}
	cut := func(r *Result, v float64) { r.Measures.CutOff = &v }
	gap := func(r *Result, v float64) { r.Measures.GapSeconds = &v }
	for _, c := range []struct {
		code           Code
		set            set
		bench, student [2]float64 // last value that passes, last value that is only remarked
	}{
		{Noise, noise, [2]float64{15, 30}, [2]float64{25, 50}},
		{Mains, mains, [2]float64{50, 100}, [2]float64{50, 100}},
		{Baseline, base, [2]float64{0.3, 1}, [2]float64{0.5, 1.5}},
		{FlatLine, flat, [2]float64{0, 3}, [2]float64{0, 5}},
		{Jumps, jumps, [2]float64{0, 2}, [2]float64{0, 5}},
		{Clipped, cut, [2]float64{10, 50}, [2]float64{10, 50}},
		{Gaps, gap, [2]float64{0, 2}, [2]float64{0, 2}},
		{Gain, height, [2]float64{5, 5}, [2]float64{5, 5}},
	} {
		for p, limits := range map[string][2]float64{"bench": c.bench, "volunteer": c.student} {
			profile := Profiles()[map[string]int{"bench": 0, "volunteer": 1}[p]]
			graded := func(v float64) Judgement {
				r := good()
				c.set(&r, v)
				return Judge(r, profile, Expect{})
			}
			require.Equal(t, Pass, graded(limits[0]).Verdict, "%s %s", p, c.code)
			if limits[0] != limits[1] {
				require.Equal(t, []Code{c.code}, graded(limits[1]).Noted, "%s %s", p, c.code)
				require.Equal(t, Remark, graded(limits[1]).Verdict)
			}
			j := graded(limits[1] + 1)
			require.Equal(t, []Code{c.code}, j.Codes, "%s %s", p, c.code)
			require.Equal(t, Fail, j.Verdict)
		}
	}
}

// Limits that fail below.
func TestLowerLimits(t *testing.T) {
	for _, c := range []struct {
		code  Code
		set   func(r *Result, v float64)
		bench float64 // the last value that passes
		below float64
		other float64 // the same for the volunteer
	}{
		{TooShort, func(r *Result, v float64) { r.Seconds = &v }, 30, 29.99, 30},
		{NoHeartbeat, func(r *Result, v float64) { r.Measures.Beats = ptr(int(v)) }, 20, 19, 15},
		{NoHeartbeat, func(r *Result, v float64) { r.Measures.StandsOut = &v }, 8, 7.99, 8},
		{LowBeats, func(r *Result, v float64) { r.Measures.Height = ptr(Millivolts(v)) }, 0.5,
			0.499, 0.3},
	} {
		for i, p := range Profiles() {
			least, under := c.bench, c.below
			if i == 1 {
				least, under = c.other, c.other-(c.bench-c.below)
			}
			r := good()
			c.set(&r, least)
			require.Equal(t, Pass, Judge(r, p, Expect{}).Verdict, "%s %s", p.Name, c.code)
			c.set(&r, under)
			require.Equal(t, []Code{c.code}, Judge(r, p, Expect{}).Codes, "%s %s", p.Name, c.code)
		}
	}
}

// Rate: fails when more than 2 % off the set rate; without one, and for a volunteer, it is not
// judged. 61 at a set 60 is 1.6 % off.
func TestRateLimit(t *testing.T) {
	for rate, codes := range map[float64][]Code{61.2: {}, 61.21: {Rate}, 58.8: {}, 58.79: {Rate}} {
		r := good()
		r.Measures.Rate = &rate
		require.Equal(t, codes, Judge(r, Bench(), Expect{Rate: 60}).Codes, rate)
		require.Empty(t, Judge(r, Bench(), Expect{}).Codes)
		require.Empty(t, Judge(r, Volunteer(), Expect{Rate: 60}).Codes)
	}
	r, j := benchJudged(benchWave(250, 61, 1, 60), 250, Expect{Rate: 60})
	require.InDelta(t, 1.6, (*r.Measures.Rate/60-1)*100, 0.1)
	require.Equal(t, Pass, j.Verdict)
}

// Height: with an expected one, 10 % either way; the bounds of the profile then stand back.
func TestExpectedHeight(t *testing.T) {
	for h, codes := range map[Millivolts][]Code{1.3: {}, 1.33: {Gain}, 1.1: {}, 1.07: {Gain},
		0.2: {Gain}} {
		r := good()
		r.Measures.Height = &h
		require.Equal(t, codes, Judge(r, Bench(), Expect{Height: 1.2}).Codes, h)
	}
	r := good()
	r.Measures.Height = ptr(Millivolts(0.2))
	require.Empty(t, Judge(r, Bench(), Expect{Height: 0.21}).Codes)
}

// An event is demanded only when asked for; nothing else is wrong then.
func TestNoEvent(t *testing.T) {
	r := good()
	r.EventsInside = 0
	require.Equal(t, Pass, Judge(r, Bench(), Expect{}).Verdict)
	j := Judge(r, Bench(), Expect{Event: true})
	require.Equal(t, []Code{NoEvent}, j.Codes)
	require.Empty(t, j.AlsoSeen)
}

func TestFactsOfTheFile(t *testing.T) {
	r := good()
	r.NameInside, r.CutShort = true, true
	j := Judge(r, Bench(), Expect{ClockOff: -10.5})
	require.Equal(t, []Code{CutShort, Clock, NameInside}, j.Codes)
	require.Empty(t, Judge(good(), Bench(), Expect{ClockOff: 10}).Codes)
	r = good()
	r.Measures.Upright = ptr(19.9)
	require.Equal(t, []Code{UpsideDown}, Judge(r, Bench(), Expect{}).Noted)
	r.Measures.Upright = ptr(20.0)
	require.Equal(t, Pass, Judge(r, Bench(), Expect{}).Verdict)
	r.Remarks = []string{"repaired"}
	require.Equal(t, Remark, Judge(r, Bench(), Expect{}).Verdict)
}

// What is folded under what, and what is not.
func TestFolding(t *testing.T) {
	cut := good()
	cut.CutShort, cut.Seconds, cut.PromisedSeconds = true, ptr(29.0), 30
	require.Equal(t, []Code{CutShort}, Judge(cut, Bench(), Expect{}).Codes)
	require.Equal(t, []Code{TooShort}, Judge(cut, Bench(), Expect{}).AlsoSeen)
	cut.PromisedSeconds = 29.5
	require.Equal(t, []Code{CutShort, TooShort}, Judge(cut, Bench(), Expect{}).Codes)

	spikes := good()
	spikes.Measures.Jumps, spikes.JumpsElsewhere = ptr(9), 9
	spikes.Measures.Baseline, spikes.DriftElsewhere = ptr(Millivolts(2)), 0.1
	require.Equal(t, []Code{Jumps}, Judge(spikes, Bench(), Expect{}).Codes)
	spikes.DriftElsewhere = 2
	require.Equal(t, []Code{Jumps, Baseline}, Judge(spikes, Bench(), Expect{}).Codes)

	hum := good()
	hum.Measures.Noise, hum.Measures.NoiseRest = ptr(Microvolts(100)), ptr(Microvolts(100))
	hum.Measures.Mains50 = ptr(Microvolts(103)) // explains 14.9 % of the noise
	require.Equal(t, []Code{Mains}, Judge(hum, Bench(), Expect{}).AlsoSeen)
	hum.Measures.Mains50 = ptr(Microvolts(104)) // 15.1 %
	require.Equal(t, []Code{Mains, Noise}, Judge(hum, Bench(), Expect{}).Codes)

	low := good()
	low.Measures.CutOff, low.Measures.Height = ptr(60.0), ptr(Millivolts(0.2))
	require.Equal(t, []Code{Clipped}, Judge(low, Bench(), Expect{}).Codes)
	require.Equal(t, []Code{LowBeats}, Judge(low, Bench(), Expect{}).AlsoSeen)
}

// The mains is taken out of the noise from a share of 35 % on.
func TestWithoutMains(t *testing.T) {
	require.Equal(t, 10.0, withoutMains(10, 15.8)) // 34.9 %
	require.InDelta(t, 8.058, withoutMains(10, 15.83), 0.01)
	require.Equal(t, 0.0, withoutMains(10, 100))
}

// Every combination of two faults keeps the fixed order and shows no code twice.
func TestOrder(t *testing.T) {
	all := Codes()
	require.Len(t, all, 18)
	reversed := make([]Code, 0, 36)
	for i := len(all) - 1; i >= 0; i-- {
		reversed = append(reversed, all[i], all[i])
	}
	require.Equal(t, all, inOrder(reversed))
	require.Equal(t, []Code{}, inOrder(nil))
}

// Nothing measured, nothing failed: not judged. Lists are never nil.
func TestNotJudged(t *testing.T) {
	j := Judge(Result{Scaled: true}, Bench(), Expect{})
	require.Equal(t, Judgement{Verdict: NotJudged, Codes: []Code{}, AlsoSeen: []Code{},
		Noted: []Code{}, Profile: "bench-1"}, j)
	require.Equal(t, Fail, Judge(Result{Scaled: true}, Bench(), Expect{Event: true}).Verdict)
}

// Profiles carry distinct names and versions, and no limit is forgotten.
func TestProfiles(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Profiles() {
		require.False(t, seen[p.Name] || seen[p.Version])
		seen[p.Name], seen[p.Version] = true, true
		v := reflect.ValueOf(p)
		for i := range v.NumField() {
			name := v.Type().Field(i).Name
			if name == "RatePercent" && p.Name == "volunteer" {
				continue
			}
			require.False(t, v.Field(i).IsZero(), "%s %s", p.Name, name)
		}
	}
}
