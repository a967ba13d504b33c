package recording

import "math"

// The bench wave: per beat at 0.5 s + k × 60/rate a sum of Gaussians (height, offset, width),
// in mV and s.
var benchParts = [5][3]float64{{0.15, -0.2, 0.025}, {-0.1, -0.035, 0.01}, {1, 0, 0.012},
	{-0.2, 0.035, 0.01}, {0.3, 0.28, 0.045}}

// benchWave makes seconds of the wave at fs, in mV.
func benchWave(fs, perMinute, amp, seconds float64) []float64 {
	x := make([]float64, int(math.Round(fs*seconds)))
	for t0 := 0.5; t0 < seconds+1; t0 += 60 / perMinute {
		for _, p := range benchParts {
			from := max(0, int((t0+p[1]-8*p[2])*fs))
			to := min(len(x), int((t0+p[1]+8*p[2])*fs)+1)
			for i := from; i < to; i++ {
				d := float64(i)/fs - t0 - p[1]
				x[i] += amp * p[0] * math.Exp(-d*d/(2*p[2]*p[2]))
			}
		}
	}
	return x
}

// benchNoise is the published 32-bit generator: the sum of 12 uniform numbers less 6.
func benchNoise(n int, rms float64, seed uint32) []float64 {
	x := make([]float64, n)
	s := seed
	for i := range x {
		sum := 0.0
		for range 12 {
			s = 1664525*s + 1013904223
			sum += float64(s) / (1 << 32)
		}
		x[i] = (sum - 6) * rms
	}
	return x
}

func sine(n int, fs, hz, pp float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = pp / 2 * math.Sin(2*math.Pi*hz*float64(i)/fs)
	}
	return x
}

func add(a, b []float64) []float64 {
	x := make([]float64, len(a))
	for i := range a {
		x[i] = a[i] + b[i]
	}
	return x
}

func scaled(a []float64, f float64) []float64 {
	x := make([]float64, len(a))
	for i := range a {
		x[i] = a[i] * f
	}
	return x
}

// inMillivolts is a recording of these samples with one event in its middle.
func inMillivolts(x []float64, fs float64) *Recording {
	s := Signal{Label: "ECG", Rate: fs, N: len(x), values: x}
	s.setUnit("mV")
	at := float64(len(x)) / fs / 2
	return &Recording{Format: EDF, Signals: []Signal{s},
		Events: []Event{{At: at, Sample: &at, Text: "event"}}}
}

// benchJudged measures and judges samples with the bench profile.
func benchJudged(x []float64, fs float64, e Expect) (Result, Judgement) {
	r := Measure(inMillivolts(x, fs), 0)
	return r, Judge(r, Bench(), e)
}
