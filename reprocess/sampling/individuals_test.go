package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source: NIST/SEMATECH e-Handbook 6.3.2.2, "Individuals Control Charts", flow rates of ten
// batches: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041 (from memory).
func TestIndividualsOfTheHandbook(t *testing.T) {
	flow := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	centre, low, high, err := Individuals(flow)
	require.NoError(t, err)
	require.InDelta(t, 50.81, centre, 1e-9)
	require.InDelta(t, 45.8159, low, 1e-3)
	require.InDelta(t, 55.8041, high, 1e-3)
}

// Source: the definition: equal values do not move, so there is no room around the mean.
func TestIndividualsAtTheEdge(t *testing.T) {
	centre, low, high, err := Individuals([]float64{3, 3})
	require.NoError(t, err)
	require.Equal(t, []float64{3, 3, 3}, []float64{centre, low, high})
	for _, bad := range [][]float64{nil, {1}, {1, math.NaN()}, {math.Inf(1), 1}} {
		_, _, _, err := Individuals(bad)
		require.Error(t, err)
	}
}
