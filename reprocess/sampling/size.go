package sampling

import (
	"fmt"
	"math/big"
)

// Plan is how many records to read.
type Plan struct {
	N         int64
	Tolerated int64 // bad records that would still be tolerated in the pool; 0 without a pool
	ReviewAll bool  // every record of the pool is read
}

// The bounds of a plan; they keep every answer to a second or two.
const (
	MaxPopulation = 10_000_000
	MaxFailures   = 100
)

// smallPool is the size up to which a pool is read completely (record-review guide of the
// US regulator: review all of populations of about 30).
const smallPool = 30

// Open gives the smallest n that shows, with the confidence, that fewer than rate of all
// records are bad when at most failures of the n are: the least n with P(X <= failures) <=
// 1 - confidence for X binomial(n, rate). For an unlimited pool.
func Open(rate, confidence Share, failures int) (Plan, error) {
	if err := checkPlan(rate, confidence, failures); err != nil {
		return Plan{}, err
	}
	c := int64(failures)
	enough := func(n int64) bool { return binomialWithin(n, c, rate, Whole-confidence) }
	return Plan{N: gallop(c+1, 1<<60, enough)}, nil
}

// Pool is Open for a pool of a known size, by the hypergeometric distribution. The tolerated
// number is rate × population rounded down, the safe side. Pools of up to 30, pools where
// nothing is tolerated, and plans whose failures reach what is tolerated mean: read all.
func Pool(population int64, rate, confidence Share, failures int) (Plan, error) {
	if err := checkPlan(rate, confidence, failures); err != nil {
		return Plan{}, err
	}
	if population < 1 || population > MaxPopulation {
		return Plan{}, fmt.Errorf("the population must be from 1 to %d", MaxPopulation)
	}
	tolerated := population * int64(rate) / int64(Whole)
	c := int64(failures)
	if population <= smallPool || c >= tolerated {
		return Plan{population, tolerated, true}, nil
	}
	enough := func(n int64) bool {
		return hypergeometricWithin(population, tolerated, n, c, Whole-confidence)
	}
	n := gallop(c+1, population, enough)
	return Plan{n, tolerated, n == population}, nil
}

func checkPlan(rate, confidence Share, failures int) error {
	if err := rate.check(); err != nil {
		return err
	}
	if err := confidence.check(); err != nil {
		return err
	}
	if failures < 0 || failures > MaxFailures {
		return fmt.Errorf("the failures allowed must be from 0 to %d", MaxFailures)
	}
	return nil
}

// gallop finds the smallest n in [low, high] with ok(n); ok must be false, then true for good,
// and true at high. It doubles before it halves: ok is dear far above the answer.
func gallop(low, high int64, ok func(int64) bool) int64 {
	top := low
	for top < high && !ok(top) {
		low, top = top+1, min(high, 2*top)
	}
	for low < top {
		if mid := low + (top-low)/2; ok(mid) {
			top = mid
		} else {
			low = mid + 1
		}
	}
	return low
}

// exactUpTo is the sample size up to which the binomial sum is compared as a fraction. Above
// it a sum cannot meet a limit of eight decimal places exactly but by cancellation, and 320
// binary places decide.
const (
	exactUpTo = 128
	places    = 320
)

// binomialWithin tells whether P(X <= c) <= limit for X binomial(n, p).
func binomialWithin(n, c int64, p, limit Share) bool {
	if n <= c {
		return false
	}
	if n <= exactUpTo {
		return binomialExact(n, c, p).Cmp(limit.rat()) <= 0
	}
	odds := number(int64(p))
	odds.Quo(odds, number(int64(Whole-p)))
	q := number(int64(Whole - p))
	term := power(q.Quo(q, number(int64(Whole))), n)
	sum := number(0).Set(term)
	for i := range c {
		term.Mul(term, odds).Mul(term, number(n-i)).Quo(term, number(i+1))
		sum.Add(sum, term)
	}
	return sum.Mul(sum, number(int64(Whole))).Cmp(number(int64(limit))) <= 0
}

func binomialExact(n, c int64, p Share) *big.Rat {
	good, bad := (Whole - p).rat(), p.rat()
	term := big.NewRat(1, 1)
	for range n {
		term.Mul(term, good)
	}
	odds := new(big.Rat).Quo(bad, good)
	sum := new(big.Rat).Set(term)
	for i := range c {
		term.Mul(term, odds).Mul(term, big.NewRat(n-i, i+1))
		sum.Add(sum, term)
	}
	return sum
}

// power is x^n by squaring; the error grows with n and stays far below the last places used.
func power(x *big.Float, n int64) *big.Float {
	out := new(big.Float).SetPrec(places).SetInt64(1)
	for square := new(big.Float).SetPrec(places).Set(x); n > 0; n >>= 1 {
		if n&1 == 1 {
			out.Mul(out, square)
		}
		square.Mul(square, square)
	}
	return out
}
