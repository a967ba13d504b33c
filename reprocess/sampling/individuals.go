package sampling

import (
	"fmt"
	"math"
)

// Individuals computes the chart of single values: centre = mean, limits = mean ± 3 × mean
// moving range / 1.128 (NIST/SEMATECH e-Handbook 6.3.2.2). Two values are the least. The unit
// is that of the values; the lower limit is not floored.
func Individuals(values []float64) (centre, low, high float64, err error) {
	if len(values) < 2 {
		return 0, 0, 0, fmt.Errorf("a chart of single values needs at least two")
	}
	sum, moves := 0.0, 0.0
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, 0, 0, fmt.Errorf("value %d is not a number", i+1)
		}
		sum += v
		if i > 0 {
			moves += math.Abs(v - values[i-1])
		}
	}
	centre = sum / float64(len(values))
	half := 3 * moves / float64(len(values)-1) / 1.128
	return centre, centre - half, centre + half, nil
}
