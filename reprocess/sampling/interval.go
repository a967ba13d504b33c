package sampling

import (
	"fmt"
	"math"
)

// Interval is a range for a share that was estimated from a sample, from 0 to 1.
type Interval struct{ Low, High float64 }

// Exact is the two-sided interval of Clopper and Pearson for found out of n: each side keeps
// half of 1 - confidence. Published check: 4 of 20 at 90 % is 0.071354 to 0.401028.
func Exact(found, n int64, confidence Share) (Interval, error) {
	if err := checkFound(found, n, confidence); err != nil {
		return Interval{}, err
	}
	half := (Whole - confidence).Float() / 2
	return Interval{lower(found, n, half), upper(found, n, half)}, nil
}

// ExactUpper is the one-sided upper bound with the confidence.
func ExactUpper(found, n int64, confidence Share) (float64, error) {
	if err := checkFound(found, n, confidence); err != nil {
		return 0, err
	}
	return upper(found, n, (Whole - confidence).Float()), nil
}

// Wilson is the two-sided score interval of Wilson.
func Wilson(found, n int64, confidence Share) (Interval, error) {
	if err := checkFound(found, n, confidence); err != nil {
		return Interval{}, err
	}
	z := math.Sqrt2 * math.Erfinv(confidence.Float())
	size, p := float64(n), float64(found)/float64(n)
	centre := (p + z*z/(2*size)) / (1 + z*z/size)
	half := z / (1 + z*z/size) * math.Sqrt(p*(1-p)/size+z*z/(4*size*size))
	return Interval{max(0, centre-half), min(1, centre+half)}, nil
}

func checkFound(found, n int64, confidence Share) error {
	if n < 1 || n > MaxPopulation {
		return fmt.Errorf("the sample must have from 1 to %d records", MaxPopulation)
	}
	if found < 0 || found > n {
		return fmt.Errorf("%d found out of %d is not possible", found, n)
	}
	return confidence.check()
}

// upper solves P(X <= found) = alpha for the rate; it is 1 where everything was found.
func upper(found, n int64, alpha float64) float64 {
	if found == n {
		return 1
	}
	return bisect(func(p float64) bool { return atMost(n, found, p) > alpha })
}

// lower solves P(X >= found) = alpha for the rate; it is 0 where nothing was found.
func lower(found, n int64, alpha float64) float64 {
	if found == 0 {
		return 0
	}
	// P(X >= found) at p equals P(Y <= n-found) at 1-p
	return bisect(func(p float64) bool { return atMost(n, n-found, 1-p) < alpha })
}

// bisect finds where below turns false on [0, 1], to the last place of a float64.
func bisect(below func(float64) bool) float64 {
	low, high := 0.0, 1.0
	for range 1100 { // ends far earlier unless the root is denormal
		mid := low + (high-low)/2
		if mid == low || mid == high {
			break
		}
		if below(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// Acceptance is the chance that a lot with a share p of bad records passes the plan (n, c):
// the operating characteristic of binomial sampling.
func Acceptance(n, c int64, p float64) (float64, error) {
	if n < 1 || n > MaxPopulation || c < 0 || c > n || !(p >= 0 && p <= 1) {
		return 0, fmt.Errorf("a plan needs a sample of at least 1, failures from 0 to it," +
			" and a rate from 0 to 1")
	}
	return atMost(n, c, p), nil
}

// atMost is P(X <= c) for X binomial(n, p). Terms are summed downwards from the largest one in
// the tail, scaled by it, so that nothing underflows; relative error about 1e-13 at n = 1e6.
func atMost(n, c int64, p float64) float64 {
	switch {
	case c >= n || p <= 0:
		return 1
	case p >= 1:
		return 0
	}
	mode := int64(float64(n+1) * p)
	if c > mode { // the smaller tail is the exact one
		return 1 - tail(n, n-c-1, 1-p)
	}
	return tail(n, c, p)
}

// tail is P(X <= c) for c not above the mode: C(n,c) p^c q^(n-c) times a falling series.
func tail(n, c int64, p float64) float64 {
	sum, term := 1.0, 1.0
	for i := c; i > 0 && term > sum*1e-18; i-- {
		term *= float64(i) / float64(n-i+1) * (1 - p) / p
		sum += term
	}
	return sum * math.Exp(logTerm(n, c, p))
}

func logTerm(n, k int64, p float64) float64 {
	a, _ := math.Lgamma(float64(n) + 1)
	b, _ := math.Lgamma(float64(k) + 1)
	c, _ := math.Lgamma(float64(n-k) + 1)
	return a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p)
}
