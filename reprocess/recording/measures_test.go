package recording

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// The check values below belong to the published definition of the bench wave (wave_test.go);
// two implementations in two languages agreed on them within the tolerances stated, before
// this package was written. Where the position of a fault was not stated, ours is.

func TestBenchWaveMeasures(t *testing.T) {
	for fs, height := range map[float64]float64{250: 1.1872, 125: 1.1329, 1000: 1.1872} {
		r, j := benchJudged(benchWave(fs, 60, 1, 60), fs, Expect{Rate: 60, Event: true})
		m := r.Measures
		require.Equal(t, 60, *m.Beats)
		require.InDelta(t, 60, *m.Rate, 1e-3)
		require.InDelta(t, height, float64(*m.Height), 1e-3)
		require.Less(t, float64(*m.Noise), 0.1)
		require.InDelta(t, 0.0351, float64(*m.Baseline), 1e-3)
		require.Equal(t, 0.0, *m.FlatSeconds)
		require.Equal(t, 100.0, *m.Upright)
		require.Equal(t, 60.0, *r.Seconds)
		require.Equal(t, 60.0, *r.Analysed)
		require.Equal(t, Pass, j.Verdict)
		require.Equal(t, "bench-1", j.Profile)
	}
}

// White noise of 5, 10, 20, 50 µV rms reads 4.9, 9.4, 18.5, 45 µV, within 10 %.
func TestNoiseReading(t *testing.T) {
	b := benchWave(250, 60, 1, 60)
	for uv, want := range map[float64]float64{5: 4.9, 10: 9.4, 20: 18.5, 50: 45} {
		r, _ := benchJudged(add(b, benchNoise(len(b), uv/1000, 1)), 250, Expect{})
		require.InDelta(t, want, float64(*r.Measures.Noise), want*0.1)
		require.Equal(t, *r.Measures.Noise, *r.Measures.NoiseRest, "white noise is no mains")
	}
}

// 50 Hz of 100 µV p-p reads 98.1 at 50 and 2.0 at 60, within 3; and the other way round.
func TestMainsReading(t *testing.T) {
	b := benchWave(250, 60, 1, 60)
	for _, hz := range mainsHz {
		r, j := benchJudged(add(b, sine(len(b), 250, hz, 0.1)), 250, Expect{})
		own, other := r.Measures.Mains50, r.Measures.Mains60
		if hz == 60 {
			own, other = other, own
		}
		require.InDelta(t, 98.1, float64(*own), 3)
		require.InDelta(t, 2.0, float64(*other), 3)
		require.Less(t, float64(*r.Measures.NoiseRest), 15.0, "one fault, one message")
		require.Equal(t, []Code{Mains}, j.Noted)
	}
}

// At a rate that cannot hold 60 Hz only 50 Hz is judged; at 100 Hz neither.
func TestMainsNeedsRate(t *testing.T) {
	r, _ := benchJudged(benchWave(110, 60, 1, 60), 110, Expect{})
	require.NotNil(t, r.Measures.Mains50)
	require.Nil(t, r.Measures.Mains60)
	r, _ = benchJudged(benchWave(100, 60, 1, 60), 100, Expect{})
	require.Nil(t, r.Measures.Mains50)
}

// A drift of 0.2 Hz, 0.5 mV p-p reads 0.504 mV within 1 %; the height within 1.2 %.
func TestDriftReading(t *testing.T) {
	b := benchWave(250, 60, 1, 60)
	r, j := benchJudged(add(b, sine(len(b), 250, 0.2, 0.5)), 250, Expect{})
	require.InDelta(t, 0.504, float64(*r.Measures.Baseline), 0.00504)
	require.InDelta(t, 1.1872, float64(*r.Measures.Height), 1.1872*0.012)
	require.Equal(t, []Code{Baseline}, j.Noted)
	require.Equal(t, Remark, j.Verdict)
}

// A slow source has quiet seconds but no dead line.
func TestThirtyAMinutePasses(t *testing.T) {
	r, j := benchJudged(benchWave(250, 30, 1, 60), 250, Expect{Rate: 30})
	require.Equal(t, 0.0, *r.Measures.FlatSeconds)
	require.Equal(t, 30, *r.Measures.Beats)
	require.Equal(t, Pass, j.Verdict)
}

// 15 s held at 0.013 mV (from 20 s on): a dead line of 15 s, the rate still 60.00.
func TestHeldLine(t *testing.T) {
	x := benchWave(250, 60, 1, 60)
	hold(x, 20*250, 35*250, 0.013)
	r, j := benchJudged(x, 250, Expect{Rate: 60})
	require.Equal(t, 15.0, *r.Measures.FlatSeconds)
	require.InDelta(t, 60, *r.Measures.Rate, 1e-9)
	require.Equal(t, []Code{FlatLine}, j.Codes)
	require.Equal(t, Fail, j.Verdict)
}

func hold(x []float64, from, to int, v float64) {
	for i := from; i < to; i++ {
		x[i] = v
	}
}

// 15 s at 5 mV: the dead line is told; baseline 5.16 and 2 jumps are the same event.
func TestLineAtTheRail(t *testing.T) {
	x := benchWave(250, 60, 1, 60)
	hold(x, 20*250, 35*250, 5)
	r, j := benchJudged(x, 250, Expect{Rate: 60})
	require.Equal(t, 15.0, *r.Measures.FlatSeconds)
	require.InDelta(t, 5.16, float64(*r.Measures.Baseline), 0.01)
	require.Equal(t, 2, *r.Measures.Jumps)
	require.Equal(t, []Code{FlatLine}, j.Codes)
	require.Equal(t, []Code{Jumps, Baseline}, j.AlsoSeen)
	// jumps and a drift somewhere else stay messages of their own
	for k := range 3 {
		x[(45+4*k)*250] += 5
	}
	x = add(x, append(make([]float64, 40*250), sine(20*250, 250, 0.1, 3)...))
	_, j = benchJudged(x, 250, Expect{Rate: 60})
	require.Equal(t, []Code{FlatLine, Jumps, Baseline}, j.Codes)
}

// Six spikes of 3 mV and 2 samples, 0.2 s after a beat: 12 jumps, 60 beats, same height.
func TestSpikes(t *testing.T) {
	x := benchWave(250, 60, 1, 60)
	for k := range 6 {
		i := int((5.7 + 9*float64(k)) * 250)
		x[i] += 3
		x[i+1] += 3
	}
	r, j := benchJudged(x, 250, Expect{Rate: 60})
	require.Equal(t, 12, *r.Measures.Jumps)
	require.Equal(t, 60, *r.Measures.Beats)
	require.InDelta(t, 1.1872, float64(*r.Measures.Height), 1e-3)
	require.Equal(t, []Code{Jumps}, j.Codes)
}

// Noise of 100 µV rms, seed 7: beats of a kind, standing out 4.9 times.
func TestNoiseOnly(t *testing.T) {
	r, j := benchJudged(benchNoise(minute, 0.1, 7), 250, Expect{Rate: 60})
	require.Greater(t, *r.Measures.Beats, 60, "a rate alone proves nothing")
	require.InDelta(t, 4.9, *r.Measures.StandsOut, 0.2)
	require.Equal(t, []Code{NoHeartbeat}, j.Codes)
	require.Contains(t, j.AlsoSeen, Noise)
}

// 50 Hz of 1 mV p-p and nothing else: stands out 2.6 times, mains 972 to 981 µV within 2 %.
func TestMainsOnly(t *testing.T) {
	r, j := benchJudged(sine(minute, 250, 50, 1), 250, Expect{})
	require.InDelta(t, 2.6, *r.Measures.StandsOut, 0.1)
	require.Equal(t, []Code{NoHeartbeat, Mains}, j.Codes)
	require.InDelta(t, 976.5, float64(*r.Measures.Mains50), 976.5*0.02)
}

func TestAllZero(t *testing.T) {
	r, j := benchJudged(make([]float64, minute), 250, Expect{Rate: 60, Height: 1.2})
	require.Equal(t, 60.0, *r.Measures.FlatSeconds)
	require.Zero(t, *r.Measures.Beats)
	require.Nil(t, r.Measures.Rate)
	require.Nil(t, r.Measures.Height)
	require.Nil(t, r.Measures.StandsOut)
	require.Equal(t, []Code{FlatLine}, j.Codes)
}

// Upside down: the same values, none of the beats points up; a remark, no failure.
func TestUpsideDown(t *testing.T) {
	a, _ := benchJudged(benchWave(250, 60, 1, 60), 250, Expect{})
	r, j := benchJudged(scaled(benchWave(250, 60, 1, 60), -1), 250, Expect{Rate: 60})
	require.Equal(t, 0.0, *r.Measures.Upright)
	require.InDelta(t, float64(*a.Measures.Height), float64(*r.Measures.Height), 1e-9)
	require.Equal(t, *a.Measures.Rate, *r.Measures.Rate)
	require.Empty(t, j.Codes)
	require.Equal(t, []Code{UpsideDown}, j.Noted)
	require.Equal(t, Remark, j.Verdict)
}

func TestTwentySecondsAreTooShort(t *testing.T) {
	_, j := benchJudged(benchWave(250, 60, 1, 20), 250, Expect{Rate: 60})
	require.Equal(t, []Code{TooShort}, j.Codes)
	_, j = benchJudged(benchWave(250, 60, 1, 15), 250, Expect{Rate: 60})
	require.Equal(t, []Code{TooShort}, j.Codes)
	require.Equal(t, []Code{NoHeartbeat}, j.AlsoSeen, "fewer than 20 beats only for its length")
}

// The excerpt of record 208, 60 s: 109 beats, 1.815 mV, 19.56 µV within 3 %; a volunteer
// profile fails it on its baseline only.
func TestExcerptMeasures(t *testing.T) {
	r := Measure(excerpt(t), 0)
	m := r.Measures
	require.InDelta(t, 109, *m.Beats, 2)
	require.InDelta(t, 1.815, float64(*m.Height), 0.02)
	require.InDelta(t, 19.56, float64(*m.Noise), 19.56*0.03)
	require.InDelta(t, 3.97, float64(*m.Baseline), 0.04)
	j := Judge(r, Volunteer(), Expect{})
	require.Equal(t, []Code{Baseline}, j.Codes)
	require.Equal(t, Fail, j.Verdict)
}

// A dead line needs three quiet seconds in a row; a quiet second moves less than 20 µV.
func TestDeadLineBoundaries(t *testing.T) {
	for _, c := range []struct{ seconds, step, want float64 }{
		{2, 0, 0}, {3, 0, 3}, {4, 0.0199, 4}, {4, 0.0201, 0}} {
		x := benchWave(250, 60, 1, 60)
		hold(x, 20*250, 20*250+int(c.seconds*250), 0)
		for i := range int(c.seconds) {
			x[20*250+i*250+7] = c.step
		}
		r, _ := benchJudged(x, 250, Expect{})
		require.Equal(t, c.want, *r.Measures.FlatSeconds, "%v", c)
	}
}

// Without a scale, counts may flicker by one; numbers that are no counts must stand still.
func TestDeadLineInCounts(t *testing.T) {
	for _, c := range []struct{ beat, step, want float64 }{
		{400, 1, 5}, {400, 2, 0}, {0.5, 0, 5}, {0.5, 0.001, 0}} {
		x := scaled(benchWave(250, 60, 1, 60), c.beat)
		for i := range x {
			if c.beat > 1 {
				x[i] = math.Round(x[i])
			}
		}
		hold(x, 20*250, 25*250, 0)
		for i := 20 * 250; i < 25*250; i += 100 {
			x[i] = c.step
		}
		r := inMillivolts(x, 250)
		r.Signals[0].NoScale = "it has no unit"
		require.Equal(t, c.want, *Measure(r, 0).Measures.FlatSeconds, "%v", c)
	}
}

// A change of more than 320 mV/s is a jump: 1.28 mV per sample at 250 Hz.
func TestJumpBoundary(t *testing.T) {
	for step, want := range map[float64]int{1.279: 0, 1.281: 1} {
		x := make([]float64, minute)
		hold(x, 5000, minute, step)
		r, _ := benchJudged(x, 250, Expect{})
		require.Equal(t, want, *r.Measures.Jumps)
	}
}

// Tops cut off: the extreme value three times in a row, or an end value of the format.
func TestCutOffTops(t *testing.T) {
	x := benchWave(250, 60, 1, 60)
	for i := range x {
		x[i] = min(x[i], 0.8)
	}
	r, j := benchJudged(x, 250, Expect{})
	require.Equal(t, 100.0, *r.Measures.CutOff)
	require.Equal(t, []Code{Clipped}, j.Codes)
	m := &measurer{x: []float64{0, 1, 1, 0}}
	require.False(t, m.cutOff(0, 4, true))
	m.x = []float64{0, 1, 1, 1, 0}
	require.True(t, m.cutOff(0, 5, true))
	m = &measurer{x: []float64{0, 1, 0}, end: []bool{false, true, false}}
	require.True(t, m.cutOff(0, 3, true))
	require.False(t, m.cutOff(0, 3, false))
	m = &measurer{x: []float64{0, 1, 0, 1, 0, 1}}
	require.False(t, m.cutOff(0, 6, true), "in a row")
}

// A converter that ends at 0.9 mV cuts the tops off: seen by the end values of the format.
func TestFormatEnd(t *testing.T) {
	m := newEDF(60)
	m.signals[0] = edfSignal{"ECG", "mV", "-1", "1", "-1000", "1000", "250"}
	m.body = nil
	for _, v := range benchWave(250, 60, 1.05, 60) {
		d := int16(max(-1000, min(1000, math.Round(v*1000))))
		m.body = append(m.body, byte(d), byte(d>>8))
	}
	r := Measure(m.read(t), 0)
	require.Equal(t, 100.0, *r.Measures.CutOff)
	require.Equal(t, []Code{Clipped}, Judge(r, Bench(), Expect{}).Codes)
}

// A long file is looked at for ten minutes; its length is told whole.
func TestLongFile(t *testing.T) {
	x := benchWave(100, 60, 1, 700)
	r, j := benchJudged(x, 100, Expect{})
	require.Equal(t, 700.0, *r.Seconds)
	require.Equal(t, 600.0, *r.Analysed)
	require.Equal(t, 600, *r.Measures.Beats)
	require.Equal(t, Pass, j.Verdict)
}

// Below 100 Hz and above 4 kHz nothing is judged, and it is said so.
func TestRateBounds(t *testing.T) {
	for fs, judged := range map[float64]bool{99: false, 100: true, 4000: true, 4001: false} {
		r, j := benchJudged(benchWave(fs, 60, 1, 31), fs, Expect{})
		require.Equal(t, judged, r.Measures.Beats != nil, fs)
		require.Equal(t, judged, len(r.Remarks) == 0, fs)
		require.Equal(t, !judged, j.Verdict == NotJudged, fs)
	}
}

// No window of the noise reaches across a hole.
func TestNoiseKeepsOffJoints(t *testing.T) {
	require.True(t, crosses([]int{10}, 5, 15))
	require.False(t, crosses([]int{10}, 10, 15))
	require.False(t, crosses([]int{10}, 5, 10))
	require.False(t, crosses(nil, 5, 10))
}

func TestLargestSpan(t *testing.T) {
	y := []float64{0, 5, 1, 1, 9, 1, 0}
	require.Equal(t, 8.0, largestSpan(y, 2, nil))
	require.Equal(t, 9.0, largestSpan(y, 3, nil))
	require.Equal(t, 9.0, largestSpan(y, 7, nil))
	require.Equal(t, 0.0, largestSpan(y, 1, nil))
	require.Equal(t, 5.0, largestSpan(y, 3, []bool{4: true, 6: false}))
}
