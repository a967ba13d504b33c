package export

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/ledger"
)

// site is a log in memory with its hashes and key.
type siteLog struct {
	text  strings.Builder
	tree  ledger.Tree
	nodes []ledger.Hash
	roll  ledger.Roll
	v     Evidence
}

func newSite(t testing.TB) *siteLog {
	t.Helper()
	s := &siteLog{roll: ledger.Roll{}}
	skey, vkey, err := ledger.NewKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)), "site/1")
	require.NoError(t, err)
	s.v.VKey = vkey
	s.v.Signer, err = ledger.ParseSigner(skey)
	require.NoError(t, err)
	return s
}

// add appends one entry; kit "" is about none.
func (s *siteLog) add(t testing.TB, kit, events string) {
	t.Helper()
	e := map[string]any{"seq": s.tree.Size() + 1, "at": fmt.Sprintf("2027-05-10T08:%02d:00.000Z",
		s.tree.Size()), "site": "A", "act": "step", "result": "done", "by": "S1", "name": "N"}
	if kit != "" {
		e["kit"], e["kit_seq"] = kit, s.roll[kit].Seq+1
		if s.roll[kit].Seq > 0 {
			e["kit_prev"] = s.roll[kit].Leaf.String()
		}
	}
	body, err := ledger.Canonical(e)
	require.NoError(t, err)
	body = append(bytes.TrimSuffix(body, []byte("}")), "}"...)
	if events != "" {
		body = []byte(strings.Replace(string(body), `"kit"`, `"events":[`+events+`],"kit"`, 1))
		if kit == "" {
			body = []byte(strings.Replace(string(body), `"name"`, `"events":[`+events+`],"name"`, 1))
		}
	}
	require.NoError(t, ledger.Check(body))
	env, err := ledger.ReadEnvelope(body)
	require.NoError(t, err)
	leaf, store := s.tree.Append(body)
	for _, n := range store {
		s.nodes = append(s.nodes, n.H)
	}
	require.NoError(t, s.roll.Add(env, leaf, false))
	s.text.Write(append(body, '\n'))
}

// call adds a roll call, true or with a root of the caller's.
func (s *siteLog) call(t testing.TB, root string) {
	t.Helper()
	heads := s.roll.Heads()
	if root == "" {
		h, err := ledger.RollRoot(heads)
		require.NoError(t, err)
		root = h.String()
	}
	s.add(t, "", fmt.Sprintf(`{"data":{"kits":%d,"root":"%s"},"event":"roll_called"}`, len(heads), root))
}

// write signs the log as it is and writes an evidence file of a choice.
func (s *siteLog) write(t testing.TB, c Choice) ([]byte, int64, error) {
	t.Helper()
	var err error
	s.v.Checkpoint, err = ledger.SignCheckpoint(ledger.Checkpoint{Origin: "site/1",
		Size: s.tree.Size(), Root: s.tree.Root(), At: 1_800_000_000_000, Site: "A"}, s.v.Signer)
	require.NoError(t, err)
	s.v.Size, s.v.At, s.v.Choice = s.tree.Size(), 1_800_000_000_000, c
	s.v.Entries = lines([]byte(s.text.String() + "an entry newer than the checkpoint\n"))
	s.v.Nodes = func(at []int64) (hs []ledger.Hash, _ error) {
		for _, i := range at {
			hs = append(hs, s.nodes[i])
		}
		return hs, nil
	}
	var f memory
	n, err := WriteEvidence(&f, s.v)
	return f.b, n, err
}

// memory is a file in memory.
type memory struct {
	b  []byte
	at int64
}

func (m *memory) Write(p []byte) (int, error) {
	if grow := int(m.at) + len(p) - len(m.b); grow > 0 {
		m.b = append(m.b, make([]byte, grow)...)
	}
	copy(m.b[m.at:], p)
	m.at += int64(len(p))
	return len(p), nil
}

func (m *memory) Seek(to int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		to += m.at
	case io.SeekEnd:
		to += int64(len(m.b))
	}
	m.at = to
	return to, nil
}

func check(file []byte) (*ledger.Report, error) {
	return ledger.CheckEvidence(bytes.NewReader(file), int64(len(file)), ledger.CheckOptions{CSV: CSV})
}

func filledSite(t testing.TB) *siteLog {
	s := newSite(t)
	for _, kit := range []string{"K1", "K2", "", "K1", "K2", "K1"} {
		s.add(t, kit, "")
	}
	return s
}

// TestEvidenceOfOneKit shows by the newest roll call that none of its entries is held back.
func TestEvidenceOfOneKit(t *testing.T) {
	s := filledSite(t)
	s.call(t, "")
	s.add(t, "K1", "")
	file, n, err := s.write(t, Choice{Kit: "K1"})
	require.NoError(t, err)
	require.EqualValues(t, 5, n, "four of the kit, and the roll call")
	r, err := check(file)
	require.NoError(t, err)
	require.Equal(t, "K1", r.Kit)
	require.EqualValues(t, 3, r.KitEntries)
	require.EqualValues(t, 7, r.RollEntry)
	require.True(t, r.CSVRecomputed)
	require.False(t, r.Whole)

	_, n, err = s.write(t, Choice{Kit: "K1", From: 1})
	require.NoError(t, err)
	require.EqualValues(t, 4, n, "a period shows no completeness")
}

func TestEvidenceOfEverything(t *testing.T) {
	s := filledSite(t)
	file, n, err := s.write(t, Choice{})
	require.NoError(t, err)
	require.EqualValues(t, 6, n)
	r, err := check(file)
	require.NoError(t, err)
	require.True(t, r.Whole)
	again, _, err := s.write(t, Choice{})
	require.NoError(t, err)
	require.Equal(t, file, again, "the same state gives the same bytes")
}

// TestEvidenceWithoutARollCall is written, and says that nothing shows completeness.
func TestEvidenceWithoutARollCall(t *testing.T) {
	s := filledSite(t)
	file, _, err := s.write(t, Choice{Kit: "K2"})
	require.NoError(t, err)
	r, err := check(file)
	require.NoError(t, err)
	require.Empty(t, r.Kit)
}

// TestAFalseRollCallIsNotCarriedOn: whoever can write entries can call a false roll.
func TestAFalseRollCallIsNotCarriedOn(t *testing.T) {
	s := filledSite(t)
	s.call(t, strings.Repeat("ab", 32))
	_, _, err := s.write(t, Choice{Kit: "K1"})
	require.ErrorContains(t, err, "roll call in entry 7: it is not what the entries before it give")
}

func TestEvidenceOfNothing(t *testing.T) {
	_, _, err := filledSite(t).write(t, Choice{Kit: "K9"})
	require.ErrorContains(t, err, "there is no entry to show for: kit K9")
}

// Benchmarks per entry of the frozen 202: see b.N and the metric ns/entry.
func benchmark(b *testing.B, run func(Entries) error) {
	text := frozen(b, "entries.ndjson")
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if err := run(lines(text)); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/202, "ns/entry")
}

func BenchmarkNDJSON(b *testing.B) {
	benchmark(b, func(e Entries) error {
		_, err := WriteNDJSON(io.Discard, e, Choice{})
		return err
	})
}

func BenchmarkEntriesCSV(b *testing.B) {
	benchmark(b, func(e Entries) error { return CSV(ledger.EntriesCSV, e, io.Discard) })
}

func BenchmarkCyclesCSV(b *testing.B) {
	benchmark(b, func(e Entries) error { return CSV(ledger.CyclesCSV, e, io.Discard) })
}

func BenchmarkFHIR(b *testing.B) {
	benchmark(b, func(e Entries) error {
		_, err := WriteFHIR(io.Discard, "o", e, Choice{})
		return err
	})
}
