package sampling

import (
	"fmt"
	"math"
)

// Point is one subgroup of a p-chart. A signal asks to look for a cause; it ranks nobody.
type Point struct {
	P         float64
	Low, High float64 // limits for this subgroup's size
	Outside   bool    // beyond a limit
	Run       bool    // at least the eighth in a row on one side of the centre
}

// runLength is the run on one side that counts as a signal.
const runLength = 8

// PChart computes the chart of proportions: centre p = sum of counts / sum of sizes, limits
// p ± 3 √(p (1 - p) / n), not below 0 and not above 1 (NIST/SEMATECH e-Handbook 6.3.3.2).
func PChart(counts, sizes []int) (centre float64, points []Point, err error) {
	if len(counts) == 0 || len(counts) != len(sizes) {
		return 0, nil, fmt.Errorf("a chart needs subgroups, each with a count and a size")
	}
	found, all := 0, 0
	for i, n := range sizes {
		if n < 1 || n > MaxPopulation || counts[i] < 0 || counts[i] > n {
			return 0, nil, fmt.Errorf("subgroup %d: %d out of %d is not possible", i+1, counts[i], n)
		}
		found, all = found+counts[i], all+n
	}
	centre = float64(found) / float64(all)
	for i, n := range sizes {
		points = append(points, point(centre, counts[i], n))
	}
	markRuns(centre, points)
	return centre, points, nil
}

func point(centre float64, count, n int) Point {
	p, half := float64(count)/float64(n), 3*math.Sqrt(centre*(1-centre)/float64(n))
	low, high := max(0, centre-half), min(1, centre+half)
	return Point{P: p, Low: low, High: high, Outside: p < low || p > high}
}

// markRuns counts points on one side of the centre; one on the centre ends a run.
func markRuns(centre float64, points []Point) {
	side, run := 0, 0
	for i := range points {
		now := 0
		if points[i].P > centre {
			now = 1
		} else if points[i].P < centre {
			now = -1
		}
		if now != side {
			side, run = now, 0
		}
		run++
		points[i].Run = side != 0 && run >= runLength
	}
}

// LeastSubgroup is the smallest subgroup size whose lower limit is above 0: n > 9 (1 - p) / p.
// Below it pool several weeks, or chart the counts between failures.
func LeastSubgroup(p float64) (int64, error) {
	if !(p >= 1e-9 && p < 1) {
		return 0, fmt.Errorf("the rate must be above 0 and below 1")
	}
	return int64(math.Floor(9*(1-p)/p+1e-9)) + 1, nil
}

// GChart gives centre and upper limit for the count of good cycles between two failures:
// centre m = (1 - p) / p, upper limit m + 3 √(m (m + 1)). A lower limit above 0 never exists.
func GChart(p float64) (centre, upper float64, err error) {
	if !(p >= 1e-9 && p < 1) {
		return 0, 0, fmt.Errorf("the rate must be above 0 and below 1")
	}
	centre = (1 - p) / p
	return centre, centre + 3*math.Sqrt(centre*(centre+1)), nil
}

// FirstPass is the share of ended cycles that were released with no failed or repeated step.
func FirstPass(clean, ended int) (float64, error) {
	if ended < 1 || clean < 0 || clean > ended {
		return 0, fmt.Errorf("%d first-pass cycles out of %d ended is not possible", clean, ended)
	}
	return float64(clean) / float64(ended), nil
}

// Rolled is the product of step yields; each must be from 0 to 1 and there must be one.
func Rolled(yields []float64) (float64, error) {
	product := 1.0
	for _, y := range yields {
		if !(y >= 0 && y <= 1) {
			return 0, fmt.Errorf("%v is not a yield from 0 to 1", y)
		}
		product *= y
	}
	if len(yields) == 0 {
		return 0, fmt.Errorf("a rolled yield needs at least one step")
	}
	return product, nil
}
