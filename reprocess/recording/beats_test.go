package recording

import (
	"bufio"
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// annotated reads the reference beat positions of the excerpt.
func annotated(t *testing.T, file string) []int {
	t.Helper()
	var out []int
	for s := bufio.NewScanner(bytes.NewReader(load(t, file))); s.Scan(); {
		if !strings.HasPrefix(s.Text(), "#") {
			n, err := strconv.Atoi(s.Text())
			require.NoError(t, err)
			out = append(out, n)
		}
	}
	return out
}

// matched pairs each reference beat with at most one found beat within tol samples, in order.
func matched(ref, found []int, tol int) int {
	n, k := 0, 0
	for _, r := range ref {
		for k < len(found) && found[k] < r-tol {
			k++
		}
		if k < len(found) && found[k] <= r+tol {
			n++
			k++
		}
	}
	return n
}

// Against the published reference annotations of record 208, matched within 150 ms (the
// tolerance of AAMI EC57, from memory). The floor asked of any fair detector is a sensitivity
// of 97 % and a positive predictivity of 98 % over five minutes; of these 60 s, 109 of 112 were
// found by the detector that the description was measured with.
func TestBeatsAgainstAnnotations(t *testing.T) {
	ref := annotated(t, "ecg208_60s_beats.txt")
	require.Len(t, ref, 112)
	require.Equal(t, []int{125, 342, 551, 748, 944, 1131, 1316, 1501, 1690, 1879}, ref[:10])
	s := &excerpt(t).Signals[0]
	found := findBeats(s.Samples(0, s.N), s.Rate)
	right := matched(ref, found, int(0.150*s.Rate))
	require.InDelta(t, 109, len(found), 2)
	t.Logf("sensitivity %d/%d, positive predictivity %d/%d", right, len(ref), right, len(found))
	require.GreaterOrEqual(t, float64(right)/float64(len(ref)), 0.97)
	require.GreaterOrEqual(t, float64(right)/float64(len(found)), 0.98)
	// the matching itself fails when the beats are moved
	moved := make([]int, len(found))
	for i, b := range found {
		moved[i] = b + 60
	}
	require.Less(t, matched(ref, moved, int(0.150*s.Rate)), 90)
}

// Every beat of the bench wave lies at its R wave (within 10 ms plus the filter's delay of
// about 20 ms), at all rates.
func TestBeatPlaces(t *testing.T) {
	for _, fs := range []float64{125, 250, 360, 500, 1000} {
		found := findBeats(benchWave(fs, 60, 1, 60), fs)
		require.Len(t, found, 60)
		for k, b := range found {
			require.InDelta(t, 0.5+float64(k), float64(b)/fs, 0.04)
		}
	}
}

// Rates from 30 to 180 a minute are found to the beat.
func TestBeatRates(t *testing.T) {
	for _, rate := range []float64{30, 45, 60, 90, 120, 150, 180} {
		found := findBeats(benchWave(250, rate, 1, 60), 250)
		require.InDelta(t, rate, float64(len(found)), 1, rate)
	}
}

// Two seconds of double pulses: within the dead time only the larger counts.
func TestDeadTime(t *testing.T) {
	e := make([]float64, 1000)
	e[100], e[160], e[300] = 1, 2, 1
	require.Equal(t, []int{160, 300}, maxima(e, 62))
	require.Equal(t, []int{100, 160, 300}, maxima(e, 59))
	require.Equal(t, []int{160}, maxima(e, 140))
	e[160] = 1
	require.Equal(t, []int{100, 300}, maxima(e, 62), "of equals the first")
}

// A weak beat among strong ones is found by searching back.
func TestSearchBack(t *testing.T) {
	e := make([]float64, 20*250)
	for k := range 20 {
		e[125+k*250] = 1
	}
	e[125+10*250] = 0.2
	peaks := maxima(e, 62)
	require.Len(t, accept(e, peaks, 250), 20)
	e[125+10*250] = 0.05
	require.Len(t, accept(e, maxima(e, 62), 250), 19)
}

func TestNoBeatsInNothing(t *testing.T) {
	for _, x := range [][]float64{nil, {1}, {1, 2}, make([]float64, 5000)} {
		require.Empty(t, findBeats(x, 250))
	}
}

// The filters pass a constant (low) or stop it (high) from the first sample on, and have half
// the power at their corner (the definition of the corner for Q = 1/√2).
func TestFilters(t *testing.T) {
	flat := []float64{3, 3, 3, 3}
	require.InDeltaSlice(t, flat, lowPass(20, 250).run(flat), 1e-12)
	require.InDeltaSlice(t, []float64{0, 0, 0, 0}, highPass(8, 250).run(flat), 1e-12)
	for _, f := range []struct {
		q  biquad
		hz float64
	}{{lowPass(20, 250), 20}, {highPass(8, 250), 8}} {
		y := f.q.run(sine(2500, 250, f.hz, 2))
		peak := 0.0
		for _, v := range y[1250:] {
			peak = max(peak, math.Abs(v))
		}
		require.InDelta(t, math.Sqrt(0.5), peak, 0.01)
	}
	require.Empty(t, lowPass(20, 250).run(nil))
}
