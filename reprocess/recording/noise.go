package recording

import (
	"math"
	"slices"
)

// Noise is measured between beats, in windows of 100 ms: that holds a whole number of periods
// of both 50 Hz and 60 Hz, so that the two are told apart. A parabola is taken out of each
// window (the slow part of the heartbeat), and of all windows between two beats the one at the
// lower quartile speaks: the quietest would read too low, the middle one hears the T wave.

// window holds orthonormal parabolas and the two mains waves, the parabolas taken out, for a
// window of w samples. A residual's component is then one product with the raw samples.
type window struct {
	w     int
	flat  [3][]float64 // orthonormal polynomials of degree 0, 1, 2
	mains [2][2][]float64
	has   [2]bool // the rate is fast enough to see 50 Hz, 60 Hz
}

// mainsHz are the two mains frequencies of the world.
var mainsHz = [2]float64{50, 60}

func newWindow(rate float64) *window {
	n := &window{w: max(4, int(math.Round(0.1*rate)))}
	for d := range n.flat {
		p := make([]float64, n.w)
		for i := range p {
			p[i] = math.Pow(float64(i)-float64(n.w-1)/2, float64(d))
		}
		n.takeOut(p, d)
		scale := 1 / math.Sqrt(dot(p, p))
		for i := range p {
			p[i] *= scale
		}
		n.flat[d] = p
	}
	for k, hz := range mainsHz {
		n.has[k] = rate > 2*hz
		for q := range n.mains[k] {
			p := make([]float64, n.w)
			for i := range p {
				p[i] = math.Cos(2*math.Pi*hz*float64(i)/rate - float64(q)*math.Pi/2)
			}
			n.takeOut(p, 3)
			n.mains[k][q] = p
		}
	}
	return n
}

// takeOut removes the first d polynomials from p.
func (n *window) takeOut(p []float64, d int) {
	for _, f := range n.flat[:d] {
		c := dot(f, p)
		for i := range p {
			p[i] -= c * f[i]
		}
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// variance is the residual variance of one window: sum of squares / (w − 3). buf holds the
// window less its first value, so that an offset costs no digits.
func (n *window) variance(x, buf []float64) float64 {
	sum := 0.0
	for i, v := range x {
		buf[i] = v - x[0]
		sum += buf[i] * buf[i]
	}
	for _, f := range n.flat {
		c := dot(f, buf)
		sum -= c * c
	}
	return max(sum, 0) / float64(n.w-3)
}

// humPP is the peak-to-peak size of one mains frequency in a window.
func (n *window) humPP(x, buf []float64, k int) float64 {
	for i, v := range x {
		buf[i] = v - x[0]
	}
	re, im := dot(n.mains[k][0], buf), dot(n.mains[k][1], buf)
	return 4 / float64(n.w) * math.Hypot(re, im)
}

// noiseResult is in the unit of the samples; ok is false without two beats apart enough.
type noiseResult struct {
	rms, pp50, pp60 float64
	ok              bool
}

// betweenBeats measures noise and mains between consecutive beats. joints are the samples
// before which something is missing; no window reaches across one.
func betweenBeats(x []float64, beats, joints []int, rate float64) noiseResult {
	n := newWindow(rate)
	away, step := int(math.Round(0.1*rate)), max(1, int(math.Round(0.01*rate)))
	var vars []float64
	var hum [2][]float64
	buf := make([]float64, n.w)
	type place struct {
		v  float64
		at int
	}
	var ws []place
	for b := 1; b < len(beats); b++ {
		ws = ws[:0]
		for at := beats[b-1] + away; at+n.w <= beats[b]-away; at += step {
			if !crosses(joints, at, at+n.w) {
				ws = append(ws, place{n.variance(x[at:at+n.w], buf), at})
			}
		}
		if len(ws) == 0 {
			continue
		}
		slices.SortFunc(ws, func(a, b place) int {
			switch {
			case a.v < b.v:
				return -1
			case a.v > b.v:
				return 1
			}
			return a.at - b.at
		})
		q := ws[(len(ws)-1)/4]
		vars = append(vars, q.v)
		for k := range hum {
			hum[k] = append(hum[k], n.humPP(x[q.at:q.at+n.w], buf, k))
		}
	}
	if len(vars) == 0 {
		return noiseResult{}
	}
	return noiseResult{math.Sqrt(median(vars)), median(hum[0]), median(hum[1]), true}
}

// crosses tells whether a joint lies inside from..to.
func crosses(joints []int, from, to int) bool {
	i, found := slices.BinarySearch(joints, from+1)
	return found || i < len(joints) && joints[i] < to
}

// median sorts v and answers its middle value.
func median(v []float64) float64 {
	slices.Sort(v)
	m := len(v) / 2
	if len(v)%2 == 1 {
		return v[m]
	}
	return (v[m-1] + v[m]) / 2
}
