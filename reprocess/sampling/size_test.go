package sampling

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func share(t require.TestingT, s string) Share {
	v, err := ParseShare(s)
	require.NoError(t, err)
	return v
}

// Published sample sizes: zero failures n = ln(1-C)/ln(R), reliability textbooks (95/90 → 29,
// 95/95 → 59, 95/99.9 → 2995); the rest by fractions in another language. The rows with failures are
// the exact binomial counterparts of the record-review table at half of 1 - confidence.
func TestOpenSizes(t *testing.T) {
	for _, c := range []struct {
		confidence, rate string
		failures         int
		want             int64
	}{
		{"95%", "5%", 0, 59}, {"95%", "10%", 0, 29}, {"95%", "1%", 0, 299},
		{"95%", "20%", 0, 14}, {"90%", "10%", 0, 22}, {"90%", "5%", 0, 45},
		{"99%", "5%", 0, 90}, {"99%", "1%", 0, 459}, {"95%", "0.1%", 0, 2995},
		{"97.5%", "10%", 0, 36}, {"97.5%", "10%", 1, 54}, {"97.5%", "10%", 2, 70},
		{"97.5%", "5%", 0, 72}, {"97.5%", "5%", 1, 110}, {"97.5%", "5%", 2, 142},
	} {
		p, err := Open(share(t, c.rate), share(t, c.confidence), c.failures)
		require.NoError(t, err)
		require.Equal(t, Plan{N: c.want}, p, "%s/%s with %d", c.confidence, c.rate, c.failures)
	}
}

// Limits met exactly, worked by hand: 0.9² = 0.81, 0.5¹ = 0.5, 0.5¹⁰ = 0.0009765625. A rule by
// logarithms that is a last place off answers one more.
func TestOpenMeetsItsLimitExactly(t *testing.T) {
	for _, c := range []struct {
		rate, confidence string
		want             int64
	}{{"10%", "19%", 2}, {"10%", "19.000001%", 3}, {"50%", "50%", 1}, {"50%", "50.000001%", 2},
		{"50%", "99.90234%", 10}, {"20%", "36%", 2}, {"99.999999%", "99.999999%", 1}} {
		p, err := Open(share(t, c.rate), share(t, c.confidence), 0)
		require.NoError(t, err)
		require.Equal(t, c.want, p.N, "%v", c)
	}
	p, err := Open(1, Whole-1, 0)
	require.NoError(t, err)
	require.Equal(t, int64(1_842_068_066), p.N, "ln(1e-8)/ln(1-1e-8), computed to 60 places")
}

// The next sample down must not be enough: P(n) <= alpha < P(n-1), by plain fractions.
func TestOpenIsTheSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Share(rapid.IntRange(int(Percent), int(99*Percent)).Draw(t, "rate"))
		c := Share(rapid.IntRange(int(Percent), int(99*Percent)).Draw(t, "confidence"))
		failures := rapid.IntRange(0, 3).Draw(t, "failures")
		plan, err := Open(p, c, failures)
		require.NoError(t, err)
		if plan.N > 400 {
			return
		}
		limit := (Whole - c).rat()
		require.LessOrEqual(t, sumBinomial(plan.N, failures, p).Cmp(limit), 0)
		if plan.N > int64(failures)+1 {
			require.Positive(t, sumBinomial(plan.N-1, failures, p).Cmp(limit))
		}
	})
}

func sumBinomial(n int64, c int, p Share) *big.Rat {
	sum := new(big.Rat)
	for i := int64(0); i <= int64(c); i++ {
		term := new(big.Rat).SetInt(new(big.Int).Binomial(n, i))
		up := new(big.Int).Exp(big.NewInt(int64(p)), big.NewInt(i), nil)
		rest := new(big.Int).Exp(big.NewInt(int64(Whole-p)), big.NewInt(n-i), nil)
		down := new(big.Int).Exp(big.NewInt(int64(Whole)), big.NewInt(n), nil)
		term.Mul(term, new(big.Rat).SetFrac(up.Mul(up, rest), down))
		sum.Add(sum, term)
	}
	return sum
}

// The smallest n with C(N-D, n)/C(N, n) <= 0.05, by fractions in another language: N = 100, D = 5 is
// .05073638 at 44 and .04620634 at 45. The last row has no closed form by hand: it is the open case.
func TestPoolSizes(t *testing.T) {
	for _, c := range []struct {
		population, bad int64
		rate            string
		want            int64
	}{
		{100, 5, "5%", 45}, {60, 3, "5%", 38}, {500, 25, "5%", 56}, {50, 5, "10%", 22},
		{100, 10, "10%", 25}, {50, 2, "5%", 39}, {50, 3, "6%", 31},
		{10_000_000, 500_000, "5%", 59},
	} {
		p, err := Pool(c.population, share(t, c.rate), share(t, "95%"), 0)
		require.NoError(t, err)
		require.Equal(t, Plan{c.want, c.bad, false}, p, "%d at %s", c.population, c.rate)
	}
}

// The record-review guide: review all of small populations, such as 28; and a pool in which
// nothing is tolerated is read completely.
func TestReviewAll(t *testing.T) {
	all := func(population int64, rate string, failures int) Plan {
		p, err := Pool(population, share(t, rate), share(t, "95%"), failures)
		require.NoError(t, err)
		return p
	}
	require.Equal(t, Plan{28, 1, true}, all(28, "5%", 0))
	require.Equal(t, Plan{30, 3, true}, all(30, "10%", 0))
	require.Equal(t, Plan{19, 3, false}, all(31, "10%", 0))
	require.Equal(t, Plan{99, 0, true}, all(99, "1%", 0))
	require.Equal(t, Plan{95, 1, false}, all(100, "1%", 0), "5 of 100 unread is .05 exactly")
	require.Equal(t, Plan{40, 2, true}, all(40, "5%", 2), "as many allowed as are tolerated")
	require.Equal(t, Plan{1, 0, true}, all(1, "5%", 0))
}

// floor(rate × population) in exact arithmetic: 0.29 × 100 is 28.999999999999996 in doubles,
// and 0.57 × 100 is 56.99999999999999.
func TestToleratedIsExact(t *testing.T) {
	for rate, want := range map[string]int64{"29%": 29, "57%": 57, "28.999999%": 28} {
		p, err := Pool(100, share(t, rate), share(t, "95%"), 0)
		require.NoError(t, err)
		require.Equal(t, want, p.Tolerated)
	}
}

// Every pool up to 60 against counting with whole numbers, term by term.
func TestPoolIsTheSmallest(t *testing.T) {
	for population := int64(smallPool + 1); population <= 60; population++ {
		for _, rate := range []Share{5 * Percent, 10 * Percent, 33 * Percent, 90 * Percent} {
			for failures := range 3 {
				p, err := Pool(population, rate, 95*Percent, failures)
				require.NoError(t, err)
				want := bruteForce(population, p.Tolerated, failures)
				require.Equal(t, want, p.N, "%d, %s, %d", population, rate, failures)
			}
		}
	}
}

func bruteForce(size, bad int64, c int) int64 {
	for n := int64(1); n < size; n++ {
		sum := new(big.Int)
		for i := int64(0); i <= min(int64(c), n); i++ {
			ways := new(big.Int).Binomial(bad, i)
			if n-i <= size-bad {
				sum.Add(sum, ways.Mul(ways, new(big.Int).Binomial(size-bad, n-i)))
			}
		}
		all := new(big.Int).Binomial(size, n)
		if int64(c) < bad && sum.Mul(sum, big.NewInt(20)).Cmp(all) <= 0 {
			return n
		}
	}
	return size
}

func TestPlansRefuse(t *testing.T) {
	for _, c := range []struct {
		rate, confidence Share
		failures         int
		population       int64
		says             string
	}{
		{0, 95 * Percent, 0, 100, "above 0%"}, {Whole, 95 * Percent, 0, 100, "below 100%"},
		{5 * Percent, 0, 0, 100, "above 0%"}, {5 * Percent, Whole, 0, 100, "below 100%"},
		{5 * Percent, 95 * Percent, -1, 100, "failures"},
		{5 * Percent, 95 * Percent, 101, 100, "failures"},
		{5 * Percent, 95 * Percent, 0, 0, "population"},
		{5 * Percent, 95 * Percent, 0, MaxPopulation + 1, "population"},
	} {
		_, err := Pool(c.population, c.rate, c.confidence, c.failures)
		require.ErrorContains(t, err, c.says)
	}
	_, err := Open(0, 95*Percent, 0)
	require.Error(t, err)
}

func TestParseShare(t *testing.T) {
	for s, want := range map[string]Share{"5%": 5 * Percent, "0,5 %": Percent / 2,
		"99.9%": 99_900_000, "0.000001%": 1, "99.999999%": Whole - 1, "005%": 5 * Percent} {
		got, err := ParseShare(s)
		require.NoError(t, err)
		require.Equal(t, want, got, s)
		again, err := ParseShare(got.String())
		require.NoError(t, err)
		require.Equal(t, got, again)
	}
	require.Equal(t, "5%", (5 * Percent).String())
	require.Equal(t, "10%", (10 * Percent).String())
	require.Equal(t, "0.5%", (Percent / 2).String())
	for _, s := range []string{"", "%", "5", "0.05", "0%", "100%", "-5%", "+5%", "5%%", "5 % ",
		"NaN%", "1e1%", "5.%", ".5%", "1.0000001%", "1,000.5%", "\u0665%", "\uff15%", "5\u066a"} {
		_, err := ParseShare(s)
		require.ErrorContains(t, err, "write it like 5%", "%q", s)
	}
}

func FuzzParseShare(f *testing.F) {
	for _, s := range []string{"5%", "0,5 %", "99.999999%", "%", "1e1%"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ParseShare(s)
		if err != nil {
			return
		}
		again, err := ParseShare(got.String())
		if err != nil || again != got || got.check() != nil {
			t.Fatalf("%q was read as %s", s, got)
		}
	})
}

// Both ways of summing must agree where both can be used.
func TestWholeAndFloatAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Int64Range(10, 500).Draw(t, "size")
		n := rapid.Int64Range(1, size).Draw(t, "n")
		bad := rapid.Int64Range(1, n).Draw(t, "bad")
		first := max(0, n+bad-size)
		h := hyper{size, bad, n, first, rapid.Int64Range(first, bad).Draw(t, "last")}
		limit := Share(rapid.Int64Range(1, int64(Whole)-2).Draw(t, "limit"))
		if h.whole(limit) == h.whole(limit+1) { // not on a knife's edge
			require.Equal(t, h.whole(limit), h.float(limit))
		}
	})
}

func BenchmarkPoolWorst(b *testing.B) {
	for b.Loop() {
		_, _ = Pool(MaxPopulation, Percent, 99*Percent, MaxFailures)
	}
}

func BenchmarkOpenWorst(b *testing.B) {
	for b.Loop() {
		_, _ = Open(1, Whole-1, MaxFailures)
	}
}
