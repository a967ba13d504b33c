package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"iter"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// Hash is SHA-256: 32 bytes, printed as 64 lower-case hex digits.
type Hash [sha256.Size]byte

// String prints 64 lower-case hex digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// ParseHash reads exactly what String prints.
func ParseHash(s string) (Hash, error) {
	var h Hash
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(h) || hex.EncodeToString(b) != s {
		return h, fmt.Errorf("%q is not a hash of 64 lower-case hex digits", clip(s))
	}
	return Hash(b), nil
}

// EmptyRoot is the root of the tree without leaves: SHA-256 of nothing (RFC 6962 section 2.1).
var EmptyRoot = Hash(sha256.Sum256(nil))

// LeafHash is H(0x00 || body).
func LeafHash(body []byte) Hash { return Hash(tlog.RecordHash(body)) }

// nodeHash is H(0x01 || left || right).
func nodeHash(left, right Hash) Hash {
	return Hash(tlog.NodeHash(tlog.Hash(left), tlog.Hash(right)))
}

// Node is one stored hash: the hash of a complete subtree and its number in the one sequence
// that holds all of them (StoredHashIndex of golang.org/x/mod/sumdb/tlog). A table node(i, h)
// keeps them; for n leaves they are numbered 0 to NodeCount(n)-1 without gaps.
type Node struct {
	I int64
	H Hash
}

// NodeCount is the number of stored hashes for n leaves, a little less than 2n.
func NodeCount(n int64) int64 { return tlog.StoredHashCount(n) }

// HashReader answers the stored hashes with the given numbers, in the order asked; a missing
// one is an error.
type HashReader func(indexes []int64) ([]Hash, error)

// ReadHashes makes a HashReader what golang.org/x/mod/sumdb/tlog asks for.
func (r HashReader) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	hs, err := r.read(indexes)
	return toTlog(hs), err
}

// read calls r and holds it to the count.
func (r HashReader) read(indexes []int64) ([]Hash, error) {
	if len(indexes) == 0 {
		return nil, nil
	}
	hs, err := r(indexes)
	if err == nil && len(hs) != len(indexes) {
		err = fmt.Errorf("of %d stored hashes only %d were found", len(indexes), len(hs))
	}
	return hs, err
}

func toTlog(hs []Hash) []tlog.Hash {
	out := make([]tlog.Hash, len(hs))
	for i, h := range hs {
		out[i] = tlog.Hash(h)
	}
	return out
}

func fromTlog(hs []tlog.Hash) []Hash {
	out := make([]Hash, len(hs))
	for i, h := range hs {
		out[i] = Hash(h)
	}
	return out
}

// Tree is the growing tree, of which only the right edge is kept: one hash for each complete
// subtree, at most 63. The zero Tree is empty. Copy it with Clone before a batch that may be
// rolled back. Not safe for use by several goroutines.
type Tree struct {
	size int64
	edge []Hash // largest subtree first; one per 1 bit of size
}

// Resume gives the tree of the given size from its stored hashes; it reads at most 63.
func Resume(size int64, r HashReader) (*Tree, error) {
	if size < 0 {
		return nil, fmt.Errorf("a tree cannot have %d leaves", size)
	}
	var at []int64
	for rest, start := size, int64(0); rest > 0; {
		level := bits.Len64(uint64(rest)) - 1
		at = append(at, nodeIndex(level, start))
		start += 1 << level
		rest -= 1 << level
	}
	edge, err := r.read(at)
	if err != nil {
		return nil, fmt.Errorf("the tree of %d entries cannot be taken up: %w", size, err)
	}
	return &Tree{size: size, edge: edge}, nil
}

// Size is the number of leaves.
func (t *Tree) Size() int64 { return t.size }

// Clone is an independent copy.
func (t *Tree) Clone() *Tree {
	return &Tree{size: t.size, edge: append([]Hash(nil), t.edge...)}
}

// Append adds an entry. It answers the entry's leaf hash and the hashes to store, 1 + the
// number of subtrees it completes (on average 2), numbered on from NodeCount(Size()).
func (t *Tree) Append(body []byte) (leaf Hash, store []Node) {
	leaf = LeafHash(body)
	next := NodeCount(t.size)
	store = append(store, Node{next, leaf})
	t.add(leaf, func(h Hash) {
		next++
		store = append(store, Node{next, h})
	})
	return leaf, store
}

// Add adds a leaf by its hash when nothing is to be stored, as in recomputing a root.
func (t *Tree) Add(leaf Hash) { t.add(leaf, func(Hash) {}) }

// AddSubtree adds 1<<level leaves at once by the hash of their complete subtree. The size so
// far must be a multiple of that number, or the result would be another tree.
func (t *Tree) AddSubtree(level int, h Hash) error {
	if level < 0 || level > 52 || t.size&(1<<level-1) != 0 {
		return fmt.Errorf("no subtree of 2^%d entries begins after entry %d", level, t.size)
	}
	t.carry(level, h, func(Hash) {})
	return nil
}

// add adds one leaf.
func (t *Tree) add(leaf Hash, joined func(Hash)) { t.carry(0, leaf, joined) }

// carry joins equal subtrees along the right edge, as a binary counter carries.
func (t *Tree) carry(level int, h Hash, joined func(Hash)) {
	for n := t.size >> level; n&1 == 1; n >>= 1 {
		last := len(t.edge) - 1
		h = nodeHash(t.edge[last], h)
		t.edge = t.edge[:last]
		joined(h)
	}
	t.edge = append(t.edge, h)
	t.size += 1 << level
}

// Root is the root hash of all leaves so far: the edge joined from the right.
func (t *Tree) Root() Hash {
	if t.size == 0 {
		return EmptyRoot
	}
	last := len(t.edge) - 1
	root := t.edge[last]
	for i := last - 1; i >= 0; i-- {
		root = nodeHash(t.edge[i], root)
	}
	return root
}

// Fold recomputes the tree from entry bodies in order, with memory for the edge only. It stops
// at the first error of the source and answers the tree up to there.
func Fold(bodies iter.Seq2[[]byte, error]) (*Tree, error) {
	t := new(Tree)
	for body, err := range bodies {
		if err != nil {
			return t, err
		}
		t.Add(LeafHash(body))
	}
	return t, nil
}

// RootAt is the root the log had at an earlier size, from stored hashes.
func RootAt(size int64, r HashReader) (Hash, error) {
	t, err := Resume(size, r)
	if err != nil {
		return Hash{}, err
	}
	return t.Root(), nil
}

// nodeIndex is the number under which the hash of the complete subtree of 1<<level leaves
// beginning at leaf p (from 0) is stored.
func nodeIndex(level int, p int64) int64 { return tlog.StoredHashIndex(level, p>>level) }
