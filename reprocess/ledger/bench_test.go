package ledger

import (
	"crypto/sha256"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

// bigLog gives n entries of 200 devices without keeping them; every is 1 for all, 2 for each
// second. It watches the memory in use while it is read.
type bigLog struct {
	n, every int
	peak     uint64
}

func (l *bigLog) watch(i int) {
	if i%100_000 == 0 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		l.peak = max(l.peak, m.HeapInuse)
	}
}

func (l *bigLog) all(every int) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		buf := make([]byte, 0, 512)
		for i := range l.n {
			l.watch(i)
			if i%every != 0 {
				continue
			}
			buf = fmt.Appendf(buf[:0], `{"act":"clean","at":"2026-11-24T14:05:00.000Z","boot":"b-1a2b3c4d",`+
				`"by":"p7","events":[{"data":{"lot":"L-2209","product":"S-12","step":"clean","strength":`+
				`"70%%v/v"},"event":"step_done"}],"name":"Ines Marlow","result":"done","seq":%d,`+
				`"site":"s1"}`, i+1)
			if !yield(buf, nil) {
				return
			}
		}
	}
}

// noCSV leaves both tables empty, to time the file itself.
func noCSV(string, iter.Seq2[[]byte, error], io.Writer) error { return nil }

// evidence writes the log's file under a checkpoint and answers its name and size.
func (l *bigLog) evidence(b *testing.B, nodes store, root Hash, name string) int64 {
	s, _, vkey := testKey(b, 9, origin)
	msg, err := SignCheckpoint(Checkpoint{Origin: origin, Size: int64(l.n), Root: root, Site: "x"}, s)
	require.NoError(b, err)
	f, err := os.Create(name)
	require.NoError(b, err)
	require.NoError(b, WriteEvidence(f, Evidence{Signer: s, VKey: vkey, Checkpoint: msg,
		Scope:   "a test",
		Entries: func() iter.Seq2[[]byte, error] { return l.all(l.every) }, Nodes: nodes.read,
		CSV: noCSV}))
	size, err := f.Seek(0, io.SeekEnd)
	require.NoError(b, err)
	require.NoError(b, f.Close())
	return size
}

// BenchmarkEvidenceMillion writes and checks a million entries (and every second of them). The
// node table stands in memory here; peak-MB is the heap in use beyond it.
func BenchmarkEvidenceMillion(b *testing.B) {
	l := &bigLog{n: million, every: 1}
	var tree Tree
	nodes := make(store, 0, 2*million)
	for body := range l.all(1) {
		leaf := LeafHash(body)
		nodes = append(nodes, leaf)
		tree.add(leaf, func(h Hash) { nodes = append(nodes, h) })
	}
	for _, every := range []int{1, 2} {
		name := filepath.Join(b.TempDir(), "evidence.zip")
		report := func(b *testing.B, size int64) {
			b.SetBytes(size)
			b.ReportMetric(float64(l.peak)/1e6-float64(cap(nodes)*32)/1e6, "peak-MB")
		}
		var size int64
		l.every, l.peak = every, 0
		b.Run(fmt.Sprintf("write/every=%d", every), func(b *testing.B) {
			for b.Loop() {
				size = l.evidence(b, nodes, tree.Root(), name)
			}
			report(b, size)
		})
		l.peak = 0
		b.Run(fmt.Sprintf("check/every=%d", every), func(b *testing.B) {
			f, err := os.Open(name)
			require.NoError(b, err)
			defer f.Close()
			for b.Loop() {
				_, err := CheckEvidence(f, size, CheckOptions{CSV: noCSV})
				require.NoError(b, err)
				l.watch(0)
			}
			report(b, size)
		})
	}
}

func BenchmarkAppend(b *testing.B) {
	body, err := Canonical(benchEntry())
	require.NoError(b, err)
	var tree Tree
	b.SetBytes(int64(len(body)))
	b.ReportAllocs()
	for b.Loop() {
		tree.Append(body)
	}
}

const million = 1_000_000

// BenchmarkFoldMillion and BenchmarkHashMillion: the root of a million entries beside plain
// SHA-256 over the same bytes.
func BenchmarkFoldMillion(b *testing.B) {
	body, err := Canonical(benchEntry())
	require.NoError(b, err)
	b.SetBytes(int64(len(body)) * million)
	b.ReportAllocs()
	for b.Loop() {
		_, err := Fold(func(yield func([]byte, error) bool) {
			for range million {
				yield(body, nil)
			}
		})
		require.NoError(b, err)
	}
}

func BenchmarkHashMillion(b *testing.B) {
	body, err := Canonical(benchEntry())
	require.NoError(b, err)
	b.SetBytes(int64(len(body)) * million)
	b.ReportAllocs()
	for b.Loop() {
		h := sha256.New()
		for range million {
			h.Write(body)
		}
	}
}
