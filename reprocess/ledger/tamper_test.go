package ledger

import (
	"fmt"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// tamperings are the kinds of attack on a list of entries (the list of 21 CFR 11.10(a) and
// RFC 6962 in our own words), at a position i. Each gives another list than it got, or nil
// where there is nothing to do it to.
var tamperings = []struct {
	name string
	do   func(leaves []Hash, i int) []Hash
}{
	{"edit", func(l []Hash, i int) []Hash { l[i][31] ^= 1; return l }},
	{"replace", func(l []Hash, i int) []Hash { l[i] = LeafHash([]byte("another")); return l }},
	{"delete", func(l []Hash, i int) []Hash { return slices.Delete(l, i, i+1) }},
	{"insert", func(l []Hash, i int) []Hash {
		return slices.Insert(l, i, LeafHash([]byte("one more")))
	}},
	{"repeat", func(l []Hash, i int) []Hash { return slices.Insert(l, i, l[i]) }},
	{"add at the end", func(l []Hash, i int) []Hash { return append(l, l[i]) }},
	{"reorder", func(l []Hash, i int) []Hash {
		j := (i + 1) % len(l)
		if i == j {
			return nil
		}
		l[i], l[j] = l[j], l[i]
		return l
	}},
	{"reverse", func(l []Hash, i int) []Hash {
		if len(l) < 2 {
			return nil
		}
		slices.Reverse(l)
		return l
	}},
	{"truncate", func(l []Hash, i int) []Hash { return l[:i] }},
	{"lose the beginning", func(l []Hash, i int) []Hash { return l[i+1:] }},
}

func leavesOf(n int) []Hash {
	leaves := make([]Hash, n)
	for i := range leaves {
		leaves[i] = LeafHash(fmt.Appendf(nil, `{"seq":%d}`, i+1))
	}
	return leaves
}

func rootOf(leaves []Hash) Hash {
	var t Tree
	for _, l := range leaves {
		t.Add(l)
	}
	return t.Root()
}

// tamperAll does every kind of tampering at some positions and demands another root for each.
func tamperAll(t *testing.T, leaves []Hash, at []int) (tried int) {
	root := rootOf(leaves)
	require.Equal(t, root, rootOf(leaves), "the same entries have the same root")
	for _, kind := range tamperings {
		for _, i := range at {
			changed := kind.do(slices.Clone(leaves), i)
			if changed == nil {
				continue
			}
			tried++
			if rootOf(changed) == root {
				require.Fail(t, "not noticed", "%s at %d of %d", kind.name, i, len(leaves))
			}
		}
	}
	return tried
}

// Every kind of tampering at every size up to 200: at every place of the small ones, at the
// first, the last and around the powers of two (where the tree's shape changes) of the others.
func TestEveryTamperingAtEverySize(t *testing.T) {
	const sizes, whole = 200, 33
	all, tried := leavesOf(sizes), 0
	for n := 1; n <= sizes; n++ {
		at := []int{0, n - 1, n / 2}
		for p := 1; p < n; p *= 2 {
			at = append(at, p)
		}
		if n <= whole {
			at = nil
			for i := range n {
				at = append(at, i)
			}
		}
		tried += tamperAll(t, all[:n], at)
	}
	require.Greater(t, tried, 15_000)
}

// The same above 200, at sizes and places drawn with a fixed seed.
func TestEveryTamperingAtDrawnSizes(t *testing.T) {
	draw := rand.New(rand.NewSource(7))
	all := leavesOf(5000)
	for range 12 {
		n := 201 + draw.Intn(len(all)-201)
		tamperAll(t, all[:n], []int{draw.Intn(n), draw.Intn(n)})
	}
}

// A tree that did not look at the order or the number of its leaves would be found out.
func TestTamperingIsFoundMissed(t *testing.T) {
	sum := func(leaves []Hash) (h Hash) {
		for _, l := range leaves {
			for i := range h {
				h[i] ^= l[i]
			}
		}
		return h
	}
	leaves, missed := leavesOf(9), map[string]bool{}
	for _, kind := range tamperings {
		missed[kind.name] = sum(kind.do(slices.Clone(leaves), 4)) == sum(leaves)
	}
	require.True(t, missed["reorder"] && missed["reverse"])
	require.False(t, missed["edit"] || missed["delete"] || missed["insert"])
}
