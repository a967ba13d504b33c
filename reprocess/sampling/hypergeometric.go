package sampling

import "math/big"

// wholeUpTo is how many factors the coefficients may have to be compared in whole numbers.
// Above it the sum is taken to 320 binary places: a sum of such coefficients does not meet a
// limit of eight decimal places exactly but by cancellation.
const wholeUpTo = 1000

// hypergeometricWithin tells whether P(X <= c) <= limit, where X is the number of bad records
// among n drawn from a pool of size with bad ones. Drawn and bad are interchangeable in this
// distribution, so the smaller one bounds the work.
func hypergeometricWithin(size, bad, n, c int64, limit Share) bool {
	if n < bad {
		n, bad = bad, n
	}
	h := hyper{size, bad, n, max(0, n+bad-size), min(c, bad)}
	switch {
	case h.first > c:
		return true
	case bad <= wholeUpTo:
		return h.whole(limit)
	}
	return h.float(limit)
}

// hyper is one sum over term(i) = C(n, i) × C(size-n, bad-i), as a part of C(size, bad), for
// i from first to last.
type hyper struct{ size, bad, n, first, last int64 }

func (h hyper) whole(limit Share) bool {
	term := new(big.Int).Binomial(h.n, h.first)
	term.Mul(term, new(big.Int).Binomial(h.size-h.n, h.bad-h.first))
	sum := new(big.Int).Set(term)
	for i := h.first; i < h.last; i++ {
		up, down := h.step(i)
		term.Mul(term, big.NewInt(up)).Quo(term, big.NewInt(down)) // leaves no remainder
		sum.Add(sum, term)
	}
	all := new(big.Int).Binomial(h.size, h.bad)
	return sum.Mul(sum, big.NewInt(int64(Whole))).Cmp(all.Mul(all, big.NewInt(int64(limit)))) <= 0
}

func (h hyper) float(limit Share) bool {
	term := choose(h.n, h.first)
	term.Mul(term, choose(h.size-h.n, h.bad-h.first)).Quo(term, choose(h.size, h.bad))
	sum := number(0).Set(term)
	for i := h.first; i < h.last; i++ {
		up, down := h.step(i)
		term.Mul(term, number(up)).Quo(term, number(down))
		sum.Add(sum, term)
	}
	return sum.Mul(sum, number(int64(Whole))).Cmp(number(int64(limit))) <= 0
}

// step is term(i+1) / term(i); both parts stay below 10^14 for the largest pool.
func (h hyper) step(i int64) (up, down int64) {
	return (h.n - i) * (h.bad - i), (i + 1) * (h.size - h.n - h.bad + i + 1)
}

// choose is C(n, k), in k multiplications and as many divisions.
func choose(n, k int64) *big.Float {
	k = min(k, n-k)
	out := number(1)
	for j := int64(1); j <= k; j++ {
		out.Mul(out, number(n-k+j)).Quo(out, number(j))
	}
	return out
}

func number(n int64) *big.Float { return new(big.Float).SetPrec(places).SetInt64(n) }
