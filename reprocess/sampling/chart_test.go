package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// NIST/SEMATECH e-Handbook 6.3.3.2: 30 samples of 50, mean .2313, limits .0524 and .4102;
// samples 15 and 23 are outside. The counts are from memory and reproduce mean and limits.
var wafers = []int{12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20,
	18, 24, 15, 9, 12, 7, 13, 9, 6}

func same(n, times int) []int {
	out := make([]int, times)
	for i := range out {
		out[i] = n
	}
	return out
}

func TestPChart(t *testing.T) {
	centre, points, err := PChart(wafers, same(50, 30))
	require.NoError(t, err)
	require.InDelta(t, .2313, centre, 5e-5)
	var outside []int
	for i, p := range points {
		require.InDelta(t, .4102, p.High, 5e-5)
		require.InDelta(t, .0524, p.Low, 5e-5)
		if p.Outside {
			outside = append(outside, i+1)
		}
	}
	require.Equal(t, []int{15, 23}, outside)
	require.InDelta(t, .44, points[14].P, 1e-12)
	require.InDelta(t, .48, points[22].P, 1e-12)
}

// Eight in a row on one side: the run rule of NIST/SEMATECH e-Handbook 6.3.2 (Western Electric
// rules). Beyond a limit is beyond, not on it, and a share is never below 0: common practice.
func TestPChartLimitsAndRuns(t *testing.T) {
	_, points, err := PChart([]int{0, 1}, []int{10, 10})
	require.NoError(t, err)
	require.Zero(t, points[0].Low, "floored")
	_, points, err = PChart([]int{0, 0}, []int{10, 20})
	require.NoError(t, err)
	require.False(t, points[0].Outside, "on the limit is not beyond it")

	counts := append(same(6, 8), same(4, 8)...)
	_, points, err = PChart(counts, same(100, 16))
	require.NoError(t, err)
	for i, p := range points {
		require.Equal(t, i == 7 || i == 15, p.Run, "the eighth on one side, %d", i)
	}
	_, points, err = PChart([]int{5, 5, 5, 5, 5, 5, 5, 5, 5}, same(100, 9))
	require.NoError(t, err)
	require.False(t, points[8].Run, "on the centre is on no side")
	for _, bad := range [][2][]int{{nil, nil}, {{1}, {1, 2}}, {{2}, {1}}, {{-1}, {1}}, {{0}, {0}}} {
		_, _, err = PChart(bad[0], bad[1])
		require.Error(t, err)
	}
}

// n > 9 (1 - p) / p is the p-chart's lower limit of NIST/SEMATECH e-Handbook 6.3.3.2 put above 0:
// 9 · .95 / .05 = 171 exactly, so 172; 9 · .97 / .03 = 291 exactly, so 292; 9 exactly, so 10. The
// g-chart is that of the geometric count of good ones (mean (1 - p) / p, variance (1 - p) / p²;
// any table of distributions): at .02 it is 49 and 49 + 3 √2450 = 197.492, by hand.
func TestSmallRates(t *testing.T) {
	for p, want := range map[float64]int64{.05: 172, .03: 292, .5: 10} {
		n, err := LeastSubgroup(p)
		require.NoError(t, err)
		require.Equal(t, want, n)
	}
	centre, high, err := GChart(.02)
	require.NoError(t, err)
	require.InDelta(t, 49, centre, 1e-9)
	require.InDelta(t, 197.49242404917499, high, 1e-9)
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		_, err = LeastSubgroup(p)
		require.Error(t, err)
		_, _, err = GChart(p)
		require.Error(t, err)
	}
}

// 0.98 · 0.97 · 0.99 · 0.95 · 0.995 = 0.889580…, multiplied by hand; the product is the definition.
func TestYields(t *testing.T) {
	y, err := Rolled([]float64{.98, .97, .99, .95, .995})
	require.NoError(t, err)
	require.InDelta(t, .8896, y, 5e-5)
	for _, bad := range [][]float64{nil, {1.1}, {-.1}, {math.NaN()}} {
		_, err = Rolled(bad)
		require.Error(t, err)
	}
	f, err := FirstPass(3, 4)
	require.NoError(t, err)
	require.Equal(t, .75, f)
	for _, bad := range [][2]int{{0, 0}, {5, 4}, {-1, 4}} {
		_, err = FirstPass(bad[0], bad[1])
		require.Error(t, err)
	}
}

// NIST/SEMATECH e-Handbook 7.2.6.2 (from memory): twelve measurements, 90th percentile at rank
// 11.7, 95.1959 + 0.7 × 0.0031 = 95.19807.
func TestPercentile(t *testing.T) {
	values := []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195,
		95.1065, 95.0925, 95.1990, 95.1682}
	v, err := Percentile(values, 90*Percent)
	require.NoError(t, err)
	require.InDelta(t, 95.19807, v, 1e-9)
	require.Equal(t, 95.1772, values[0], "the values stay as they were")
	for want, list := range map[float64][]float64{2: {3, 1, 2}, 2.5: {4, 1, 2, 3}, 7: {7}} {
		m, err := Median(list)
		require.NoError(t, err)
		require.Equal(t, want, m)
	}
	low, err := Percentile([]float64{1, 2, 3}, Percent)
	require.NoError(t, err)
	require.Equal(t, 1.0, low)
	high, err := Percentile([]float64{1, 2, 3}, 99*Percent)
	require.NoError(t, err)
	require.Equal(t, 3.0, high)
	_, err = Percentile(nil, 50*Percent)
	require.Error(t, err)
	_, err = Percentile([]float64{math.NaN()}, 50*Percent)
	require.Error(t, err)
	_, err = Percentile([]float64{1}, 0)
	require.Error(t, err)
}
