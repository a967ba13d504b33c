package sampling

import (
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
)

// Seed is what a draw is repeated from; it is recorded with the draw.
type Seed [32]byte

// ParseSeed reads 64 lower-case hexadecimal digits.
func ParseSeed(s string) (Seed, error) {
	var seed Seed
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(seed) || hex.EncodeToString(b) != s {
		return seed, fmt.Errorf("%q is not a seed of 64 hexadecimal digits in lower case", s)
	}
	copy(seed[:], b)
	return seed, nil
}

// String prints what ParseSeed reads.
func (s Seed) String() string { return hex.EncodeToString(s[:]) }

// Draw picks n different positions out of 0 to population-1, in the order drawn. The method
// must never change, or old draws cannot be repeated: the words are those of ChaCha8Rand
// (C2SP chacha8rand) from the seed; a number below k is the next word w < 2^64 - (2^64 mod k),
// others being passed over, taken mod k; the positions are the first n of a Fisher–Yates
// shuffle from the front, swapping place i with i + a number below population - i. Cost: n.
func Draw(seed Seed, population, n int64) ([]int64, error) {
	if population < 1 || population > MaxPopulation || n < 0 || n > population {
		return nil, fmt.Errorf("%d out of %d cannot be drawn; the population must be from 1 to"+
			" %d and the sample not larger", n, population, MaxPopulation)
	}
	source := rand.NewChaCha8(seed)
	moved := map[int64]int64{} // places of the shuffled row that no longer hold their own number
	out := make([]int64, 0, n)
	at := func(i int64) int64 {
		if v, found := moved[i]; found {
			return v
		}
		return i
	}
	for i := range n {
		j := i + below(source, population-i)
		out = append(out, at(j))
		moved[j] = at(i)
	}
	return out, nil
}

func below(source *rand.ChaCha8, k int64) int64 {
	n := uint64(k)
	over := (math.MaxUint64%n + 1) % n // 2^64 mod k
	for {
		if w := source.Uint64(); w <= math.MaxUint64-over {
			return int64(w % n)
		}
	}
}
