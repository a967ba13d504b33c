package sampling

import (
	"fmt"
	"math"
	"slices"
)

// Percentile is the value at share p of the sorted values, at rank p (N + 1) with linear
// interpolation, never outside the smallest and largest (NIST/SEMATECH e-Handbook 7.2.6.2).
// The values are not changed.
func Percentile(values []float64, p Share) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	if len(values) == 0 || slices.ContainsFunc(values, math.IsNaN) {
		return 0, fmt.Errorf("a percentile needs values, all of them numbers")
	}
	sorted := slices.Sorted(slices.Values(values))
	rank := int64(p) * int64(len(sorted)+1)
	k, part := rank/int64(Whole), float64(rank%int64(Whole))/float64(Whole)
	switch {
	case k < 1:
		return sorted[0], nil
	case k >= int64(len(sorted)):
		return sorted[len(sorted)-1], nil
	}
	if part == 0 {
		return sorted[k-1], nil
	}
	return sorted[k-1] + part*(sorted[k]-sorted[k-1]), nil
}

// Median is the 50th percentile: the middle value, or the mean of the two middle ones.
func Median(values []float64) (float64, error) { return Percentile(values, Whole/2) }
