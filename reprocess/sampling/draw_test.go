package sampling

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The published test words of C2SP chacha8rand for this seed (also in Go's own tests).
var c2sp = Seed([]byte("ABCDEFGHIJKLMNOPQRSTUVWXYZ123456"))

var c2spWords = []uint64{0xb773b6063d4616a5, 0x1160af22a66abc3c, 0x8c2599d9418d287c,
	0x7ee07e037edc5cd6}

// The draw worked by hand from those words, none of which lies in the passed-over end:
// a full row is written out and swapped, as a shuffle on paper would be.
func TestDrawFollowsThePublishedWords(t *testing.T) {
	const population = 1000
	row := make([]int64, population)
	for i := range row {
		row[i] = int64(i)
	}
	var want []int64
	for i, w := range c2spWords {
		j := i + int(w%uint64(population-i))
		row[i], row[j] = row[j], row[i]
		want = append(want, row[i])
	}
	got, err := Draw(c2sp, population, 4)
	require.NoError(t, err)
	require.Equal(t, want, got)
}

func TestDrawIsRepeatableAndDifferent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		population := rapid.Int64Range(1, 300).Draw(t, "population")
		n := rapid.Int64Range(0, population).Draw(t, "n")
		var seed Seed
		copy(seed[:], rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "seed"))
		got, err := Draw(seed, population, n)
		require.NoError(t, err)
		again, err := Draw(seed, population, n)
		require.NoError(t, err)
		require.Equal(t, got, again)
		all, err := Draw(seed, population, population)
		require.NoError(t, err)
		require.Equal(t, got, all[:n], "a larger sample begins with the smaller one")
		slices.Sort(all)
		for i, v := range all {
			require.Equal(t, int64(i), v)
		}
	})
}

// Chi-square with 19 degrees of freedom: 43.82 is the published 99.9 % point (NIST/SEMATECH
// e-Handbook 1.3.6.7.4). The seeds are fixed, so the test gives the same answer each time.
func TestDrawIsEven(t *testing.T) {
	counts := make([]float64, 20)
	source := rand.NewChaCha8(c2sp)
	const draws = 4000
	for range draws {
		var seed Seed
		_, _ = source.Read(seed[:])
		got, err := Draw(seed, 20, 5)
		require.NoError(t, err)
		for _, v := range got {
			counts[v]++
		}
	}
	square := 0.0
	for _, c := range counts {
		square += (c - draws/4) * (c - draws/4) / (draws / 4)
	}
	require.Less(t, square, 43.82)
}

func TestDrawRefuses(t *testing.T) {
	for _, c := range [][2]int64{{0, 0}, {5, 6}, {5, -1}, {MaxPopulation + 1, 1}} {
		_, err := Draw(c2sp, c[0], c[1])
		require.ErrorContains(t, err, "cannot be drawn")
	}
}

func TestSeed(t *testing.T) {
	s, err := ParseSeed(c2sp.String())
	require.NoError(t, err)
	require.Equal(t, c2sp, s)
	for _, bad := range []string{"", "00", strings.ToUpper(c2sp.String()), c2sp.String() + "0",
		c2sp.String() + "00", strings.Repeat("g", 64)} {
		_, err = ParseSeed(bad)
		require.ErrorContains(t, err, "64 hexadecimal digits")
	}
}
