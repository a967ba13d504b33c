package recording

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What a writer of the published layout wrote, the reader gives back: any signals, any rates,
// any records, 16 and 24 bits.
func TestEDFGivesBackWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bdf := rapid.Bool().Draw(t, "24 bits")
		records := rapid.IntRange(1, 6).Draw(t, "records")
		per := rapid.SliceOfN(rapid.IntRange(1, 9), 1, 5).Draw(t, "samples per record")
		m := newEDF(records)
		m.signals, m.body, m.reserved = nil, nil, ""
		lo, hi, width := -1<<15, 1<<15-1, 2
		if bdf {
			lo, hi, width = -1<<23, 1<<23-1, 3
		}
		for _, n := range per {
			m.signals = append(m.signals, edfSignal{"ECG", "uV", fmt.Sprint(lo), fmt.Sprint(hi),
				fmt.Sprint(lo), fmt.Sprint(hi), fmt.Sprint(n)})
		}
		want := make([][]int32, len(per))
		for range records {
			for k, n := range per {
				for range n {
					v := int32(rapid.IntRange(lo, hi).Draw(t, "sample"))
					want[k] = append(want[k], v)
					m.body = append(m.body, []byte{byte(v), byte(v >> 8), byte(v >> 16)}[:width]...)
				}
			}
		}
		data := m.bytes()
		if bdf {
			data = append([]byte("\xffBIOSEMI"), m.bytes()[8:]...)
		}
		r, err := Read("x.edf", data, Options{})
		require.NoError(t, err)
		for k := range per {
			s := &r.Signals[k]
			require.Len(t, want[k], s.N)
			require.Equal(t, float64(per[k]), s.Rate)
			for i, v := range want[k] {
				require.Equal(t, v, s.Digital(i))
				require.InDelta(t, float64(v)/1000, s.Samples(i, i+1)[0], 1e-6)
			}
		}
	})
}

// An offset changes nothing but the offset; a factor changes only what carries millivolts.
func TestOffsetAndFactor(t *testing.T) {
	b := benchWave(250, 70, 1, 40)
	base, _ := benchJudged(add(b, benchNoise(len(b), 0.01, 5)), 250, Expect{})
	rapid.Check(t, func(t *rapid.T) {
		offset := rapid.Float64Range(-300, 300).Draw(t, "mV") // the input range of IEC 60601-2-47
		factor := rapid.Float64Range(0.5, 4).Draw(t, "factor")
		x := scaled(add(b, benchNoise(len(b), 0.01, 5)), factor)
		for i := range x {
			x[i] += offset
		}
		r, _ := benchJudged(x, 250, Expect{})
		m, o := r.Measures, base.Measures
		require.Equal(t, *o.Beats, *m.Beats)
		require.Equal(t, *o.Rate, *m.Rate)
		require.Equal(t, *o.Upright, *m.Upright)
		require.InDelta(t, *o.StandsOut, *m.StandsOut, *o.StandsOut*1e-6)
		for _, v := range [][2]float64{{val(o.Height), val(m.Height)}, {val(o.Noise), val(m.Noise)},
			{val(o.Mains50), val(m.Mains50)}, {val(o.Baseline), val(m.Baseline)}} {
			require.InEpsilon(t, v[0]*factor, v[1], 1e-6)
		}
	})
}

// Beats found in the first half do not depend on what comes after a quiet second half.
func TestBeatsAreCausal(t *testing.T) {
	x := benchWave(250, 60, 1, 40)
	first := findBeats(x, 250)
	longer := findBeats(append(slices.Clone(x), benchWave(250, 60, 0.9, 20)...), 250)
	require.Equal(t, first, longer[:len(first)])
}

// Nothing that is worse ever judges better.
func TestWorseIsNeverBetter(t *testing.T) {
	rank := map[Verdict]int{Pass: 0, Remark: 1, Fail: 2}
	worse := map[string]func(r *Result, v float64){
		"noise": func(r *Result, v float64) {
			r.Measures.Noise, r.Measures.NoiseRest = ptr(Microvolts(v)), ptr(Microvolts(v))
		},
		"mains":    func(r *Result, v float64) { r.Measures.Mains50 = ptr(Microvolts(2 * v)) },
		"baseline": func(r *Result, v float64) { r.Measures.Baseline = ptr(Millivolts(v / 50)) },
		"flat":     func(r *Result, v float64) { r.Measures.FlatSeconds = &v },
		"jumps":    func(r *Result, v float64) { r.Measures.Jumps = ptr(int(v)) },
		"cut":      func(r *Result, v float64) { r.Measures.CutOff = ptr(v) },
		"gaps":     func(r *Result, v float64) { r.Measures.GapSeconds = ptr(v / 10) },
		"length":   func(r *Result, v float64) { r.Seconds = ptr(60 - v) },
	}
	rapid.Check(t, func(t *rapid.T) {
		for _, name := range slices.Sorted(func(yield func(string) bool) {
			for k := range worse {
				if !yield(k) {
					return
				}
			}
		}) {
			a := rapid.Float64Range(0, 60).Draw(t, name)
			b := rapid.Float64Range(a, 60).Draw(t, name+", worse")
			for _, p := range Profiles() {
				x, y := good(), good()
				worse[name](&x, a)
				worse[name](&y, b)
				require.LessOrEqual(t, rank[Judge(x, p, Expect{}).Verdict],
					rank[Judge(y, p, Expect{}).Verdict], "%s %v %v", name, a, b)
			}
		}
	})
}

// Whatever fails, codes and folded ones never overlap, and a failure is never folded away.
func TestFoldingNeverHides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, most float64) float64 {
			return rapid.Float64Range(0, most).Draw(t, name)
		}
		r := good()
		m := &r.Measures
		m.Beats, m.StandsOut = ptr(int(f("beats", 100))), ptr(f("stands out", 20))
		m.FlatSeconds, m.CutOff, m.Upright = ptr(f("flat", 60)), ptr(f("cut", 100)), ptr(f("up", 100))
		m.Jumps, r.JumpsElsewhere = ptr(int(f("jumps", 9))), int(f("jumps elsewhere", 9))
		m.Baseline = ptr(Millivolts(f("baseline", 3)))
		r.BaselineElsewhere, r.DriftElsewhere = Millivolts(f("b", 3)), Millivolts(f("d", 3))
		m.Height, m.GapSeconds = ptr(Millivolts(f("height", 7))), ptr(f("gaps", 5))
		r.CutShort, r.PromisedSeconds = rapid.Bool().Draw(t, "cut"), f("promised", 90)
		r.Seconds = ptr(f("seconds", 60))
		g := grades(r, Bench(), Expect{Rate: 60, Event: true})
		j := Judge(r, Bench(), Expect{Rate: 60, Event: true})
		failing := 0
		for c, v := range g {
			shown := slices.Contains(j.Codes, c) || slices.Contains(j.AlsoSeen, c) ||
				slices.Contains(j.Noted, c)
			require.Equal(t, v != fine, shown, c)
			require.False(t, slices.Contains(j.Codes, c) && slices.Contains(j.AlsoSeen, c))
			if v == failed {
				failing++
			}
		}
		require.Equal(t, failing > 0, j.Verdict == Fail)
		require.Equal(t, failing > 0, len(j.Codes) > 0)
	})
}

// The 212 writer and the reader agree on any samples; so does the two-byte tail.
func TestFormat212GivesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Int16Range(-2048, 2047), 1, 50).Draw(t, "samples")
		r, err := readRecord("r 1 250\nr.dat 212 200\n", map[string][]byte{"r.dat": beside212(v...)})
		require.NoError(t, err)
		require.Equal(t, v, digitals(&r.Signals[0]))
	})
}

// Whatever number of samples, rate and part is asked for: the strip has its size and its rows.
func TestStripAlwaysHasItsSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fs := rapid.Float64Range(0.001, 5000).Draw(t, "Hz")
		n := rapid.IntRange(1, 3000).Draw(t, "samples")
		seconds := rapid.Float64Range(0.001, 60).Draw(t, "seconds")
		from := rapid.Float64Range(0, 100).Draw(t, "from")
		b, err := StripSVG(inMillivolts(benchNoise(n, 2, uint32(n)), fs), 0,
			StripText{From: from, Seconds: seconds})
		require.NoError(t, err)
		rows := int(math.Ceil(seconds/10 - 1e-9))
		require.True(t, bytes.Contains(b, fmt.Appendf(nil, `height="%dmm"`, rows*40)))
		require.Equal(t, rows, bytes.Count(b, []byte(`stroke-width=".25"`)))
		require.False(t, bytes.Contains(b, []byte("NaN")))
	})
}
