package ledger

import (
	"bytes"
	"errors"
	"iter"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWriteEvidenceRefuses(t *testing.T) {
	w := newWorld(t, 5)
	_, _, foreign := testKey(t, 3, origin)
	calls := 0
	for what, c := range map[string]struct {
		want   string
		change func(*Evidence)
	}{
		"no key":     {"needs entries", func(e *Evidence) { e.Signer = nil }},
		"no entries": {"needs entries", func(e *Evidence) { e.Entries = nil }},
		"no tables":  {"needs entries", func(e *Evidence) { e.CSV = nil }},
		"bad vkey":   {"not a public key", func(e *Evidence) { e.VKey = "x" }},
		"other vkey": {"by a key that was not given", func(e *Evidence) { e.VKey = foreign }},
		"checkpoint": {"does not match the text",
			func(e *Evidence) {
				e.Checkpoint = bytes.Replace(e.Checkpoint, []byte("Ward"), []byte("Wart"),
					1)
			}},
		"older": {"newer than the checkpoint",
			func(e *Evidence) { e.Checkpoint = w.checkpoint(t, 4) }},
		"scope":    {"the scope is one line", func(e *Evidence) { e.Scope = "a\nb" }},
		"no scope": {"the scope is one line", func(e *Evidence) { e.Scope = "" }},
		"time":     {"one spelling", func(e *Evidence) { e.At = math.MaxInt64 / 2 }},
		"page": {"too long", func(e *Evidence) {
			e.CheckText = strings.Repeat("x",
				maxSmall+1)
		}},
		"no nodes": {"hashes of the tree are needed", func(e *Evidence) {
			*e = w.evidence(t,
				[]int64{1})
			e.Nodes = nil
		}},
		"nodes missing": {"there is no stored hash", func(e *Evidence) {
			*e = w.evidence(t,
				[]int64{1})
			e.Nodes = (&store{}).read
		}},
		"nodes wrong": {"do not give the root", func(e *Evidence) {
			*e = w.evidence(t, []int64{1})
			e.Nodes = func(at []int64) ([]Hash, error) { return make([]Hash, len(at)), nil }
		}},
		"nothing": {"at least one entry", func(e *Evidence) { *e = w.evidence(t, []int64{}) }},
		"order":   {"out of order", func(e *Evidence) { *e = w.evidence(t, []int64{2, 1}) }},
		"twice":   {"out of order", func(e *Evidence) { *e = w.evidence(t, []int64{2, 2}) }},
		"roll": {"not valid UTF-8",
			func(e *Evidence) { e.Roll = &RollCallProof{RollProof: RollProof{Head: Head{Kit: "\xff"}}} }},
		"changing": {"changed while they were written", func(e *Evidence) {
			all := e.Entries
			part := w.evidence(t, []int64{1, 2}).Entries
			e.Entries = func() iter.Seq2[[]byte, error] {
				if calls++; calls == 1 {
					return all()
				}
				return part()
			}
		}},
		"source": {"the disk is gone", func(e *Evidence) {
			e.Entries = func() iter.Seq2[[]byte, error] {
				return func(yield func([]byte, error) bool) { yield(nil, errors.New("the disk is gone")) }
			}
		}},
	} {
		e := w.evidence(t, nil)
		c.change(&e)
		err := WriteEvidence(&memFile{}, e)
		require.ErrorContains(t, err, c.want, what)
	}
	e := w.evidence(t, nil)
	e.CheckText = ""
	require.Contains(t, string(members(t, written(t, e))["CHECK.txt"]), "HOW TO CHECK")
}

// failAfter fails at the n-th call of Write or Seek.
type failAfter struct {
	memFile
	left int
}

func (f *failAfter) step() error {
	if f.left--; f.left < 0 {
		return errors.New("the disk is full")
	}
	return nil
}

func (f *failAfter) Write(b []byte) (int, error) {
	if err := f.step(); err != nil {
		return 0, err
	}
	return f.memFile.Write(b)
}

func (f *failAfter) Seek(to int64, whence int) (int64, error) {
	if err := f.step(); err != nil {
		return 0, err
	}
	return f.memFile.Seek(to, whence)
}

func TestWriteEvidenceFailsAtEveryCall(t *testing.T) {
	w := newWorld(t, 3)
	n := 0
	for ; n < 1000; n++ {
		if err := WriteEvidence(&failAfter{left: n}, w.evidence(t, nil)); err == nil {
			break
		} else {
			require.ErrorContains(t, err, "the disk is full", "call %d", n)
		}
	}
	require.Greater(t, n, 9*4)
	require.Less(t, n, 1000)
}
