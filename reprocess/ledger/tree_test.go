package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"iter"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
)

// store is a node table in memory.
type store []Hash

func (s *store) put(t testing.TB, nodes []Node) {
	for _, n := range nodes {
		require.EqualValues(t, len(*s), n.I, "stored hashes are numbered without gaps")
		*s = append(*s, n.H)
	}
}

func (s *store) read(indexes []int64) ([]Hash, error) {
	out := make([]Hash, len(indexes))
	for i, at := range indexes {
		if at < 0 || at >= int64(len(*s)) {
			return nil, fmt.Errorf("there is no stored hash %d", at)
		}
		out[i] = (*s)[at]
	}
	return out, nil
}

// plainRoot is the definition of RFC 6962 section 2.1, written down as it stands there.
func plainRoot(leaves [][]byte) Hash {
	switch n := len(leaves); n {
	case 0:
		return sha256.Sum256(nil)
	case 1:
		return sha256.Sum256(append([]byte{0}, leaves[0]...))
	default:
		k := 1
		for k*2 < n {
			k *= 2
		}
		l, r := plainRoot(leaves[:k]), plainRoot(leaves[k:])
		return sha256.Sum256(append(append([]byte{1}, l[:]...), r[:]...))
	}
}

func unhex(t testing.TB, s string) []byte {
	b, err := hex.DecodeString(s)
	require.NoError(t, err)
	return b
}

// The eight leaves, roots and proofs of the Certificate Transparency reference tests
// (github.com/transparency-dev/merkle, testonly constants, Apache-2.0; the proofs have the
// shapes of the example in RFC 6962 section 2.1.3).
var ctLeaves = []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657",
	"606162636465666768696a6b6c6d6e6f"}

var ctRoots = []string{
	"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
	"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
	"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
	"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
	"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
	"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
	"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
	"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
	"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

func ctTree(t testing.TB) (leaves [][]byte, nodes store) {
	var tree Tree
	require.Equal(t, ctRoots[0], tree.Root().String())
	for i, l := range ctLeaves {
		leaves = append(leaves, unhex(t, l))
		_, n := tree.Append(leaves[i])
		nodes.put(t, n)
		require.Equal(t, ctRoots[i+1], tree.Root().String(), "root of %d", i+1)
	}
	return leaves, nodes
}

func TestTreeAgainstCertificateTransparency(t *testing.T) {
	leaves, nodes := ctTree(t)
	short := func(hs []Hash) (out []string) {
		for _, h := range hs {
			out = append(out, h.String()[:8])
		}
		return out
	}
	for seq, want := range map[int64][]string{
		1: {"96a296d2", "5f083f0a", "837dbb15"}, 4: {"0298d122", "fac54203", "837dbb15"},
		5: {"4271a26b", "b08693ec", "d37ee418"}, 7: {"0ebc5d34", "d37ee418"},
	} {
		p, err := ProveEntry(seq, 7, nodes.read)
		require.NoError(t, err)
		require.Equal(t, want, short(p), "PATH(%d, D[7])", seq-1)
		require.NoError(t, CheckEntry(p, seq, LeafHash(leaves[seq-1]), 7, plainRoot(leaves[:7])))
	}
	for old, want := range map[int64][]string{
		3: {"0298d122", "07506a85", "fac54203", "837dbb15"}, 4: {"837dbb15"},
		6: {"0ebc5d34", "b08693ec", "d37ee418"}, 7: nil,
	} {
		p, err := ProvePrefix(old, 7, nodes.read)
		require.NoError(t, err)
		require.Equal(t, want, short(p), "PROOF(%d, D[7])", old)
	}
	require.EqualValues(t, 11, NodeCount(7))
	require.EqualValues(t, 15, NodeCount(8))
	require.EqualValues(t, 1_999_993, NodeCount(1_000_000))
}

func TestProofsOutOfRange(t *testing.T) {
	_, nodes := ctTree(t)
	for _, c := range [][2]int64{{0, 7}, {8, 7}, {-1, 7}, {1, 0}, {1, -1}} {
		_, err := ProveEntry(c[0], c[1], nodes.read)
		require.Error(t, err, "%v", c)
		require.Error(t, CheckEntry(nil, c[0], Hash{}, c[1], Hash{}), "%v", c)
		_, err = ProvePrefix(c[0], c[1], nodes.read)
		require.Error(t, err, "%v", c)
		require.Error(t, CheckPrefix(nil, c[0], Hash{}, c[1], Hash{}), "%v", c)
	}
	_, err := ProveEntry(1, 100, nodes.read)
	require.ErrorContains(t, err, "there is no stored hash")
	_, err = ProvePrefix(50, 100, nodes.read)
	require.ErrorContains(t, err, "there is no stored hash")
	_, err = Resume(100, nodes.read)
	require.ErrorContains(t, err, "there is no stored hash")
	_, err = Resume(-1, nodes.read)
	require.Error(t, err)
	few := func([]int64) ([]Hash, error) { return nil, nil }
	_, err = RootAt(3, few)
	require.ErrorContains(t, err, "of 2 stored hashes only 0")
	_, err = ProveEntry(1, 3, few)
	require.ErrorContains(t, err, "of 2 stored hashes only 0")
}

// bodies gives n different entries.
func bodies(n int) (out [][]byte) {
	for i := range n {
		b, err := Canonical(map[string]any{"seq": i + 1, "at": FormatTime(int64(i) * 1000)})
		if err != nil {
			panic(err)
		}
		out = append(out, b)
	}
	return out
}

func grown(t testing.TB, all [][]byte) (*Tree, store) {
	var nodes store
	tree := new(Tree)
	for _, b := range all {
		leaf, n := tree.Append(b)
		require.Equal(t, LeafHash(b), leaf)
		nodes.put(t, n)
	}
	return tree, nodes
}

// Every size from 1 to 100: the root is that of the definition, the stored hashes are those of
// golang.org/x/mod, a tree taken up there grows on as the whole does, and so do clones.
func TestTreeAtEverySize(t *testing.T) {
	all := bodies(101)
	whole, nodes := grown(t, all)
	var theirs []tlog.Hash
	reader := tlog.HashReaderFunc(func(at []int64) (out []tlog.Hash, err error) {
		for _, i := range at {
			out = append(out, theirs[i])
		}
		return out, nil
	})
	for n := 1; n <= 100; n++ {
		more, err := tlog.StoredHashes(int64(n-1), all[n-1], reader)
		require.NoError(t, err)
		theirs = append(theirs, more...)
		require.Equal(t, fromTlog(theirs), []Hash(nodes[:NodeCount(int64(n))]))

		root, err := RootAt(int64(n), nodes.read)
		require.NoError(t, err)
		require.Equal(t, plainRoot(all[:n]), root)

		tree, err := Resume(int64(n), nodes.read)
		require.NoError(t, err)
		copied := tree.Clone()
		for _, b := range all[n:] {
			_, stored := tree.Append(b)
			for _, s := range stored {
				require.Equal(t, nodes[s.I], s.H)
			}
		}
		require.Equal(t, whole, tree)
		require.EqualValues(t, n, copied.Size())
		require.Equal(t, root, copied.Root(), "a clone does not follow")
	}
}

// breakEach calls f with every single damage to a proof: each hash with a bit flipped, one
// dropped, one doubled.
func breakEach(proof []Hash, f func(what string, p []Hash)) {
	for i := range proof {
		flipped := slices.Clone(proof)
		flipped[i][i%32] ^= 1 << (i % 8)
		f(fmt.Sprintf("bit of hash %d", i), flipped)
		f(fmt.Sprintf("without hash %d", i), slices.Delete(slices.Clone(proof), i, i+1))
		f(fmt.Sprintf("hash %d twice", i), slices.Insert(slices.Clone(proof), i, proof[i]))
	}
	f("one more", append(append([]Hash(nil), proof...), Hash{1}))
}

func TestEveryEntryProof(t *testing.T) {
	all := bodies(100)
	_, nodes := grown(t, all)
	for size := int64(1); size <= 100; size++ {
		root := plainRoot(all[:size])
		bad := root
		bad[31] ^= 1
		for seq := int64(1); seq <= size; seq++ {
			leaf := LeafHash(all[seq-1])
			p, err := ProveEntry(seq, size, nodes.read)
			require.NoError(t, err)
			require.NoError(t, CheckEntry(p, seq, leaf, size, root))
			require.Error(t, CheckEntry(p, seq, leaf, size, bad))
			require.Error(t, CheckEntry(p, seq, Hash{}, size, root))
			for other := int64(1); other <= size; other++ {
				require.Equal(t, other == seq, CheckEntry(p, other, leaf, size, root) == nil)
			}
			breakEach(p, func(what string, p []Hash) {
				require.Error(t, CheckEntry(p, seq, leaf, size, root), "%d of %d: %s", seq, size, what)
			})
		}
	}
}

func TestEveryPrefixProof(t *testing.T) {
	all := bodies(100)
	_, nodes := grown(t, all)
	roots := []Hash{EmptyRoot}
	for n := range all {
		roots = append(roots, plainRoot(all[:n+1]))
	}
	for size := int64(1); size <= 100; size++ {
		for old := int64(1); old <= size; old++ {
			p, err := ProvePrefix(old, size, nodes.read)
			require.NoError(t, err)
			require.NoError(t, CheckPrefix(p, old, roots[old], size, roots[size]))
			require.Error(t, CheckPrefix(p, old, roots[old-1], size, roots[size]))
			require.Error(t, CheckPrefix(p, old, roots[old], size, roots[size-1]))
			breakEach(p, func(what string, p []Hash) {
				require.Error(t, CheckPrefix(p, old, roots[old], size, roots[size]),
					"%d of %d: %s", old, size, what)
			})
		}
	}
}

// 20 hashes for one entry of a million, at most 21 for a prefix: the count of RFC 6962.
func TestMillion(t *testing.T) {
	const n = 1_000_000
	var tree Tree
	nodes := make(store, 0, NodeCount(n))
	var body [8]byte
	keep := func(h Hash) { nodes = append(nodes, h) }
	for i := range n {
		binary.BigEndian.PutUint64(body[:], uint64(i))
		leaf := LeafHash(body[:])
		keep(leaf)
		tree.add(leaf, keep)
	}
	require.Len(t, nodes, 1_999_993)
	p, err := ProveEntry(500_000, n, nodes.read)
	require.NoError(t, err)
	require.Len(t, p, 20)
	binary.BigEndian.PutUint64(body[:], 499_999)
	require.NoError(t, CheckEntry(p, 500_000, LeafHash(body[:]), n, tree.Root()))
	for _, old := range []int64{1, 524_288, 700_001, 999_999, n} {
		p, err = ProvePrefix(old, n, nodes.read)
		require.NoError(t, err)
		require.LessOrEqual(t, len(p), 21)
	}
	theirs, err := tlog.TreeHash(n, HashReader(nodes.read))
	require.NoError(t, err)
	require.Equal(t, Hash(theirs), tree.Root())
}

func TestFold(t *testing.T) {
	all := bodies(37)
	source := func(stop int) iter.Seq2[[]byte, error] {
		return func(yield func([]byte, error) bool) {
			for i, b := range all {
				if i == stop {
					yield(nil, errors.New("the disk is gone"))
					return
				}
				if !yield(b, nil) {
					return
				}
			}
		}
	}
	tree, err := Fold(source(-1))
	require.NoError(t, err)
	require.Equal(t, plainRoot(all), tree.Root())
	tree, err = Fold(source(20))
	require.EqualError(t, err, "the disk is gone")
	require.EqualValues(t, 20, tree.Size())
	require.Equal(t, plainRoot(all[:20]), tree.Root())
}

func TestParseHash(t *testing.T) {
	h := LeafHash(nil)
	back, err := ParseHash(h.String())
	require.NoError(t, err)
	require.Equal(t, h, back)
	for _, s := range []string{"", "6e", h.String() + "00", h.String()[1:] + "g",
		string(bytes.ToUpper([]byte(h.String())))} {
		_, err := ParseHash(s)
		require.Error(t, err, s)
	}
}

func sum256(b []byte) []byte {
	h := sha256.Sum256(b)
	return h[:]
}

func TestAddSubtree(t *testing.T) {
	all := bodies(40)
	_, nodes := grown(t, all)
	for from := range int64(40) {
		for to := from + 1; to <= 40; to++ {
			var tree Tree
			for _, b := range all[:from] {
				tree.Add(LeafHash(b))
			}
			for p := from; p < to; {
				level := subtreeAt(p, to)
				require.NoError(t, tree.AddSubtree(level, nodes[nodeIndex(level, p)]))
				p += 1 << level
			}
			for _, b := range all[to:] {
				tree.Add(LeafHash(b))
			}
			require.Equal(t, plainRoot(all), tree.Root(), "%d to %d left out", from, to)
		}
	}
	tree := Tree{}
	tree.Add(Hash{})
	for _, level := range []int{-1, 1, 2, 52, 53, 64} {
		require.Error(t, tree.AddSubtree(level, Hash{}))
	}
	require.EqualValues(t, 1, tree.Size())
}
