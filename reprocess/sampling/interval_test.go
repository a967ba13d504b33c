package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// 4 of 20 at 90 %: NIST/SEMATECH e-Handbook 7.2.4.2, whose spreadsheet ends at 0.071354 and
// 0.401029 (figures from memory). Solving the handbook's two sums to 40 places in another language
// gives 0.07135388 and 0.40102811: its last place is the spreadsheet's. The 95 % figures come from
// the same two sums (0.05733399, 0.43661400), Wilson's from the formula of 7.2.4.1 with
// z = 1.959963984540 (0.080657, 0.416017), none of them with this package.
func TestIntervalsFourOfTwenty(t *testing.T) {
	i, err := Exact(4, 20, 90*Percent)
	require.NoError(t, err)
	require.InDelta(t, .071354, i.Low, 5e-7)
	require.InDelta(t, .401028, i.High, 5e-7)
	i, err = Exact(4, 20, 95*Percent)
	require.NoError(t, err)
	require.InDelta(t, .0573, i.Low, 5e-5)
	require.InDelta(t, .4366, i.High, 5e-5)
	i, err = Wilson(4, 20, 95*Percent)
	require.NoError(t, err)
	require.InDelta(t, .0807, i.Low, 5e-5)
	require.InDelta(t, .4160, i.High, 5e-5)
}

// One-sided 95 % bounds: 1 - 0.05^(1/n) where nothing was found (0.0495076, 0.0950338), the sum of
// NIST/SEMATECH e-Handbook 7.2.4.2 with the whole doubt on one side for 1 of 59 (0.0778979), each
// in another language to 40 places; the rule of three gives 5.08 % for 59.
func TestUpperBounds(t *testing.T) {
	for _, c := range []struct {
		found, n int64
		want     float64
	}{{0, 59, .0495}, {0, 30, .0950}, {1, 59, .0779}} {
		u, err := ExactUpper(c.found, c.n, 95*Percent)
		require.NoError(t, err)
		require.InDelta(t, c.want, u, 5e-5)
	}
	for _, n := range []int64{1, 59, 1_000_000} {
		u, err := ExactUpper(0, n, 95*Percent)
		require.NoError(t, err)
		require.InEpsilon(t, -math.Expm1(math.Log(.05)/float64(n)), u, 1e-8)
	}
	i, err := Wilson(0, 59, 95*Percent)
	require.NoError(t, err)
	require.InDelta(t, .0611, i.High, 5e-5)
	require.Zero(t, i.Low)
}

func TestIntervalEnds(t *testing.T) {
	i, err := Exact(0, 10, 95*Percent)
	require.NoError(t, err)
	require.Zero(t, i.Low)
	i, err = Exact(10, 10, 95*Percent)
	require.NoError(t, err)
	require.Equal(t, 1.0, i.High)
	require.InDelta(t, math.Pow(.025, .1), i.Low, 1e-12)
	for _, c := range [][2]int64{{0, 0}, {-1, 5}, {6, 5}, {0, MaxPopulation + 1}} {
		_, err = Exact(c[0], c[1], 95*Percent)
		require.Error(t, err)
		_, err = ExactUpper(c[0], c[1], 95*Percent)
		require.Error(t, err)
		_, err = Wilson(c[0], c[1], 95*Percent)
		require.Error(t, err)
	}
	_, err = Exact(1, 5, 0)
	require.ErrorContains(t, err, "above 0%")
}

// NIST/SEMATECH e-Handbook 6.2.3.2, plan (52, 3), from memory and recomputed: .998, .980, .846,
// .738, .620, .394, .300, .223; average outgoing quality limit about .037 at p = .06.
func TestOperatingCharacteristic(t *testing.T) {
	for p, want := range map[float64]float64{.01: .998, .02: .980, .04: .846, .05: .738,
		.06: .620, .08: .394, .09: .300, .10: .223} {
		pa, err := Acceptance(52, 3, p)
		require.NoError(t, err)
		require.InDelta(t, want, pa, 6e-4, "p = %v", p)
	}
	worst, at := 0.0, 0.0
	for p := .01; p < .12; p += .01 {
		pa, err := Acceptance(52, 3, p)
		require.NoError(t, err)
		if pa*p > worst {
			worst, at = pa*p, p
		}
	}
	require.InDelta(t, .037, worst, 5e-4)
	require.InDelta(t, .06, at, 1e-9)
	for _, p := range []float64{-.1, 1.1, math.NaN()} {
		_, err := Acceptance(52, 3, p)
		require.Error(t, err)
	}
}

// The floating sum against fractions.
func TestAtMostAgreesWithFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 120).Draw(t, "n")
		c := rapid.Int64Range(0, n).Draw(t, "c")
		p := Share(rapid.Int64Range(1, int64(Whole)-1).Draw(t, "p"))
		want, _ := sumBinomial(n, int(c), p).Float64()
		require.InDelta(t, want, atMost(n, c, p.Float()), 1e-11)
	})
}

// A rate at the end of an exact interval leaves exactly half of the doubt outside.
func TestExactIntervalSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 2000).Draw(t, "n")
		found := rapid.Int64Range(0, n).Draw(t, "found")
		i, err := Exact(found, n, 95*Percent)
		require.NoError(t, err)
		if found < n {
			require.InDelta(t, .025, atMost(n, found, i.High), 1e-9)
		}
		if found > 0 {
			require.InDelta(t, .025, 1-atMost(n, found-1, i.Low), 1e-9)
		}
		p := float64(found) / float64(n)
		require.True(t, i.Low <= p && p <= i.High)
	})
}

// The record-review tables of the US Food and Drug Administration's guide to inspections of quality
// systems (1999), all 36 cells as printed.
func TestRecordReviewTable(t *testing.T) {
	printed := map[int][]int{
		95: {11, 13, 17, 23, 35, 72, 17, 20, 26, 35, 52, 115, 22, 27, 34, 46, 72, 157},
		99: {15, 19, 24, 35, 51, 107, 22, 27, 34, 47, 73, 161, 27, 34, 43, 59, 90, 190},
	}
	for confidence, cells := range printed {
		for i, want := range cells {
			n, ok := RecordReview(confidence, []int{30, 25, 20, 15, 10, 5}[i%6], i/6)
			require.True(t, ok)
			require.Equal(t, want, n)
		}
	}
	for _, c := range [][3]int{{90, 5, 0}, {95, 7, 0}, {95, 5, 3}, {95, 5, -1}} {
		_, ok := RecordReview(c[0], c[1], c[2])
		require.False(t, ok)
	}
}
