package recording

import (
	"math"
	"slices"
)

// The detector is of the common kind (band-pass, slope, energy, adaptive threshold, dead time,
// search-back; Pan and Tompkins 1985 and its followers). It finds what stands out; it does not
// prove a heartbeat, which is why the verdict rests on how far the beats stand out.
const (
	bandLow, bandHigh = 8.0, 20.0 // Hz
	energySeconds     = 0.100
	deadSeconds       = 0.250
	backSeconds       = 0.160 // a beat lies at most this long before its energy's maximum
	learnSeconds      = 2.0
	thresholdPart     = 0.3
	missedFactor      = 1.66 // search back after this many mean intervals
)

// biquad is a second-order filter with Q = 1/√2 (bilinear transform; the widely published
// audio cookbook form).
type biquad struct{ b0, b1, b2, a1, a2, dc float64 }

func lowPass(hz, rate float64) biquad {
	c, alpha := biquadTerms(hz, rate)
	a0 := 1 + alpha
	return biquad{(1 - c) / 2 / a0, (1 - c) / a0, (1 - c) / 2 / a0, -2 * c / a0,
		(1 - alpha) / a0, 1}
}

func highPass(hz, rate float64) biquad {
	c, alpha := biquadTerms(hz, rate)
	a0 := 1 + alpha
	return biquad{(1 + c) / 2 / a0, -(1 + c) / a0, (1 + c) / 2 / a0, -2 * c / a0,
		(1 - alpha) / a0, 0}
}

func biquadTerms(hz, rate float64) (c, alpha float64) {
	w := 2 * math.Pi * hz / rate
	return math.Cos(w), math.Sin(w) / math.Sqrt2
}

// run filters x into a new slice, started in the steady state of its first value.
func (f biquad) run(x []float64) []float64 {
	y := make([]float64, len(x))
	if len(x) == 0 {
		return y
	}
	x1, x2 := x[0], x[0]
	y1, y2 := x[0]*f.dc, x[0]*f.dc
	for i, v := range x {
		w := f.b0*v + f.b1*x1 + f.b2*x2 - f.a1*y1 - f.a2*y2
		x2, x1, y2, y1 = x1, v, y1, w
		y[i] = w
	}
	return y
}

// findBeats answers the sample index of each beat in x, ascending.
func findBeats(x []float64, rate float64) []int {
	band := lowPass(bandHigh, rate).run(highPass(bandLow, rate).run(x))
	e := energy(band, rate)
	peaks := maxima(e, int(math.Round(deadSeconds*rate)))
	return locate(band, accept(e, peaks, rate), int(math.Round(backSeconds*rate)))
}

// energy is the root of the mean square of the slope over the last 100 ms. The slope is scaled
// so that a sine in the middle of the band keeps its size.
func energy(band []float64, rate float64) []float64 {
	w := max(1, int(math.Round(energySeconds*rate)))
	scale := rate / (2 * math.Pi * math.Sqrt(bandLow*bandHigh))
	sq := make([]float64, len(band))
	out := make([]float64, len(band))
	sum := 0.0
	for i := 1; i < len(band); i++ {
		d := (band[i] - band[i-1]) * scale
		sq[i] = d * d
		sum += sq[i]
		if i >= w {
			sum -= sq[i-w]
		}
		out[i] = math.Sqrt(max(sum, 0) / float64(w))
	}
	return out
}

// maxima answers the local maxima that have no larger one within the dead time.
func maxima(e []float64, dead int) []int {
	var local, out []int
	for i := 1; i+1 < len(e); i++ {
		if e[i] > 0 && e[i] > e[i-1] && e[i] >= e[i+1] {
			local = append(local, i)
		}
	}
	for k, i := range local {
		// the nearest neighbours first: that ends nearly every search at once
		top := (k == 0 || i-local[k-1] > dead || e[local[k-1]] < e[i]) &&
			(k+1 == len(local) || local[k+1]-i > dead || e[local[k+1]] <= e[i])
		for j := k - 1; top && j >= 0 && i-local[j] <= dead; j-- {
			top = e[local[j]] < e[i]
		}
		for j := k + 1; top && j < len(local) && local[j]-i <= dead; j++ {
			top = e[local[j]] <= e[i]
		}
		if top {
			out = append(out, i)
		}
	}
	return out
}

// tracker follows the levels of beats and of what lies between them.
type tracker struct {
	e             []float64
	signal, noise float64
	beats         []int // accepted maxima
	rejected      []int // since the last beat
}

func (t *tracker) threshold() float64 {
	return t.noise + thresholdPart*(t.signal-t.noise)
}

// accept decides which maxima are beats. The start values come from the first two seconds;
// both levels follow by an eighth.
func accept(e []float64, peaks []int, rate float64) []int {
	t := &tracker{e: e}
	first := e[:min(len(e), int(learnSeconds*rate))]
	for _, v := range first {
		t.signal = max(t.signal, 0.6*v)
		t.noise += 0.5 * v / float64(len(first))
	}
	for _, p := range peaks {
		t.searchBack(p)
		if e[p] > t.threshold() {
			t.signal += (e[p] - t.signal) / 8
			t.beats, t.rejected = append(t.beats, p), t.rejected[:0]
			continue
		}
		t.noise += (e[p] - t.noise) / 8
		t.rejected = append(t.rejected, p)
	}
	t.searchBack(len(e))
	return t.beats
}

// searchBack looks at the rejected maxima once the next beat is overdue at sample now, and
// takes the largest above half the threshold.
func (t *tracker) searchBack(now int) {
	for {
		mean, ok := t.meanInterval()
		if !ok || float64(now-t.beats[len(t.beats)-1]) <= missedFactor*mean {
			return
		}
		best := -1
		for k, p := range t.rejected {
			if t.e[p] > t.threshold()/2 && (best < 0 || t.e[p] > t.e[t.rejected[best]]) {
				best = k
			}
		}
		if best < 0 {
			return
		}
		p := t.rejected[best]
		t.signal += (t.e[p] - t.signal) / 4
		t.beats = append(t.beats, p)
		t.rejected = slices.Delete(t.rejected, 0, best+1)
	}
}

// meanInterval averages the last 8 intervals; it needs at least 4.
func (t *tracker) meanInterval() (float64, bool) {
	n := min(8, len(t.beats)-1)
	if n < 4 {
		return 0, false
	}
	last := len(t.beats) - 1
	return float64(t.beats[last]-t.beats[last-n]) / float64(n), true
}

// locate moves each beat from its energy's maximum to the largest deflection before it.
func locate(band []float64, peaks []int, back int) []int {
	out := make([]int, 0, len(peaks))
	for _, p := range peaks {
		best := p
		for i := max(0, p-back); i <= p; i++ {
			if math.Abs(band[i]) > math.Abs(band[best]) {
				best = i
			}
		}
		if len(out) == 0 || best > out[len(out)-1] {
			out = append(out, best)
		}
	}
	return out
}
