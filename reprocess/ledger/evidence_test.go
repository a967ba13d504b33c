package ledger

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestEvidenceOfEverything(t *testing.T) {
	w := newWorld(t, 10)
	file := written(t, w.evidence(t, nil))
	require.Equal(t, file, written(t, w.evidence(t, nil)), "the same facts give the same bytes")
	r, err := checkFile(file, CheckOptions{CSV: testCSV})
	require.NoError(t, err)
	require.False(t, r.KeyConfirmed)
	require.Contains(t, r.Lines()[0], "internally consistent, key not confirmed")
	require.True(t, r.Whole)
	require.True(t, r.CSVRecomputed)
	require.EqualValues(t, 12, r.Entries)
	require.EqualValues(t, 1, r.First)
	require.EqualValues(t, 12, r.Last)
	require.EqualValues(t, 1, r.RollCalls)
	require.Equal(t, ScopeEverything, r.Scope)
	require.EqualValues(t, 1795529999000, r.At)
	r, err = checkFile(file, CheckOptions{VKey: w.vkey})
	require.NoError(t, err)
	require.True(t, r.KeyConfirmed)
	require.False(t, r.CSVRecomputed)
	require.NotContains(t, r.Lines()[0], "not confirmed")
}

// The standard library's reader sees nine stored members whose contents are as documented.
func TestEvidenceIsAPlainZip(t *testing.T) {
	w := newWorld(t, 5)
	file := written(t, w.evidence(t, nil))
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		require.Equal(t, zip.Store, f.Method)
		require.Equal(t, "1980-01-01", f.Modified.Format("2006-01-02"))
		require.Equal(t, "-rw-r--r--", f.Mode().String())
	}
	require.Equal(t, memberNames[:], names)
	entries, err := z.Open("entries.ndjson")
	require.NoError(t, err)
	b, err := io.ReadAll(entries)
	require.NoError(t, err)
	require.Equal(t, append(bytes.Join(w.bodies, []byte("\n")), '\n'), b)
}

// Every subset of a log of 9 entries: its file checks, and the proof is as short as promised.
func TestEvidenceOfEveryPart(t *testing.T) {
	w := newWorld(t, 7)
	for mask := 1; mask < 1<<9; mask++ {
		var seqs []int64
		for i := range 9 {
			if mask>>i&1 == 1 {
				seqs = append(seqs, int64(i+1))
			}
		}
		r, err := checkFile(written(t, w.evidence(t, seqs)), CheckOptions{CSV: testCSV})
		require.NoError(t, err, "%v", seqs)
		require.EqualValues(t, len(seqs), r.Entries)
		require.Equal(t, len(seqs) == 9, r.Whole)
		require.Equal(t, seqs[0], r.First)
		require.Equal(t, seqs[len(seqs)-1], r.Last)
	}
}

// Every byte of two small files, two ways to change it: the check fails. That includes the frame of
// the zip and even CHECK.txt (whose damage the zip's own sum shows).
func TestEvidenceTamperEachByte(t *testing.T) {
	w := newWorld(t, 3)
	for name, ev := range map[string]Evidence{"whole": w.evidence(t, nil), "device": w.ofKit(t,
		"K-1")} {
		file := written(t, ev)
		_, err := checkFile(file, CheckOptions{VKey: w.vkey, CSV: testCSV})
		require.NoError(t, err, name)
		for i := range file {
			for _, flip := range []byte{0x01, 0x80} {
				file[i] ^= flip
				_, err := checkFile(file, CheckOptions{CSV: testCSV})
				require.Error(t, err, "%s: byte %d", name, i)
				var u *Unreadable
				require.False(t, errors.As(err, &u), "%s: byte %d is a difference: %v", name, i, err)
				file[i] ^= flip
			}
		}
		for cut := range file {
			_, err := checkFile(file[:cut], CheckOptions{CSV: testCSV})
			require.Error(t, err, "%s: cut at %d", name, cut)
		}
		_, err = checkFile(append(bytes.Clone(file), 0), CheckOptions{})
		require.ErrorContains(t, err, "goes on after its end (bytes more: 1)")
		_, err = checkFile(append([]byte{0}, file...), CheckOptions{})
		require.Error(t, err)
	}
}

func TestEvidenceOfADevice(t *testing.T) {
	w := newWorld(t, 10) // K-1 has 4 entries before the roll call and one after
	ev := w.ofKit(t, "K-1")
	file := written(t, ev)
	r, err := checkFile(file, CheckOptions{CSV: testCSV, VKey: w.vkey})
	require.NoError(t, err)
	require.Equal(t, "K-1", r.Kit)
	require.EqualValues(t, 4, r.KitEntries)
	require.EqualValues(t, w.rollAt, r.RollEntry)
	require.Contains(t, strings.Join(r.Lines(), "\n"),
		"device K-1: all its 4 entries before entry 11 are here")

	without := func(drop ...int64) error {
		var seqs []int64
		for _, s := range []int64{1, 4, 7, 10, 11, 12} {
			if !slices.Contains(drop, s) {
				seqs = append(seqs, s)
			}
		}
		short := w.evidence(t, seqs)
		short.Roll = ev.Roll
		_, err := checkFile(written(t, short), CheckOptions{CSV: testCSV})
		return err
	}
	require.NoError(t, without(12), "entries after the roll call are nobody's promise")
	require.ErrorContains(t, without(10), "incomplete: 3 entries shown, the roll call says 4")
	require.ErrorContains(t, without(1), "incomplete: 0 entries shown")
	require.ErrorContains(t, without(4), "incomplete: 1 entries shown")
	require.ErrorContains(t, without(11), "the roll call that rollcall.ndjson names is not there")
	for what, change := range map[string]func(*RollCallProof){
		"path":   func(p *RollCallProof) { p.Path[0][0] ^= 1 },
		"seq":    func(p *RollCallProof) { p.Seq-- },
		"leaf":   func(p *RollCallProof) { p.Leaf[0] ^= 1 },
		"place":  func(p *RollCallProof) { p.Index++ },
		"device": func(p *RollCallProof) { p.Kit = "K-2" },
		"entry":  func(p *RollCallProof) { p.Entry = 12 },
	} {
		bad := *ev.Roll
		bad.Path = slices.Clone(bad.Path)
		change(&bad)
		broken := ev
		broken.Roll = &bad
		_, err := checkFile(written(t, broken), CheckOptions{CSV: testCSV})
		require.Error(t, err, what)
	}
}

// A false roll call is somebody's entry: the whole log shows it.
func TestEvidenceFalseRollCall(t *testing.T) {
	w := newWorld(t, 4)
	w.roll["K-2"] = Head{Kit: "K-2", Seq: 1, Leaf: Hash{7}} // as if it had another newest entry
	w.callRoll(t)
	_, err := checkFile(written(t, w.evidence(t, nil)), CheckOptions{})
	require.ErrorContains(t, err, fmt.Sprintf("entry %d: its roll call is not what", w.rollAt))
}

func TestEvidenceRetained(t *testing.T) {
	w := newWorld(t, 9)
	whole := written(t, w.evidence(t, nil))
	part := written(t, w.evidence(t, []int64{2, 3}))
	cutEvidence := w.evidence(t, []int64{2, 3})
	cutEvidence.Cuts = []int64{9, 7, 5, 0, 100, 7}
	cut := written(t, cutEvidence)
	for _, c := range []struct {
		file []byte
		size int64
		want string
	}{
		{whole, 11, RetainedSame}, {whole, 10, RetainedExtended}, {whole, 1, RetainedExtended},
		{whole, 0, RetainedExtended}, {part, 11, RetainedSame}, {part, 3, RetainedExtended},
		{part, 4, RetainedExtended}, {part, 7, RetainedUnknown}, {part, 5, RetainedUnknown},
		{cut, 7, RetainedExtended}, {cut, 5, RetainedExtended}, {cut, 9, RetainedExtended},
		{cut, 6, RetainedExtended},
	} {
		r, err := checkFile(c.file, CheckOptions{Retained: w.checkpoint(t, c.size)})
		require.NoError(t, err)
		require.Equal(t, c.want, r.Retained, "size %d", c.size)
		require.Equal(t, retainedLines[c.want], r.Lines()[len(r.Lines())-1])
	}
	// The same key signed another history: the attack only a kept checkpoint shows.
	other := newWorld(t, 8)
	for _, size := range []int64{9, 10} {
		_, err := checkFile(whole, CheckOptions{Retained: other.checkpoint(t, size)})
		require.ErrorContains(t, err, "are not those of the checkpoint you kept")
	}
	_, err := checkFile(cut, CheckOptions{Retained: other.checkpoint(t, 9)})
	require.ErrorContains(t, err, "are not those of the checkpoint you kept")
	for len(other.bodies) < 11 {
		other.add(t, map[string]any{"act": "x"})
	}
	_, err = checkFile(whole, CheckOptions{Retained: other.checkpoint(t, 11)})
	require.ErrorContains(t, err, "is not the one of the checkpoint you kept")

	// A shorter log than the kept one: older file, or cut.
	old := newWorld(t, 20)
	r, err := checkFile(whole, CheckOptions{Retained: old.checkpoint(t, 20)})
	require.NoError(t, err)
	require.Equal(t, RetainedUnknown, r.Retained)
	root, err := RootAt(20, old.nodes.read)
	require.NoError(t, err)
	early, err := SignCheckpoint(Checkpoint{Origin: origin, Size: 20, Root: root, At: 1, Site: "x"},
		w.signer)
	require.NoError(t, err)
	_, err = checkFile(whole, CheckOptions{Retained: early})
	require.ErrorContains(t, err, "the log is shorter (11 entries) than in the checkpoint you kept")
}

func TestEvidenceKeysAndOtherFiles(t *testing.T) {
	w := newWorld(t, 4)
	file := written(t, w.evidence(t, nil))
	foreign, _, vkey := testKey(t, 3, origin)
	_, err := checkFile(file, CheckOptions{VKey: vkey})
	require.ErrorContains(t, err, "another key than the one you gave")
	cp, err := SignCheckpoint(goodCheckpoint(), foreign)
	require.NoError(t, err)
	_, err = checkFile(file, CheckOptions{Retained: cp})
	require.ErrorContains(t, err, "does not go with this file")
	var u *Unreadable
	require.False(t, errors.As(err, &u))
	for what, opt := range map[string]CheckOptions{
		"key": {VKey: "nonsense"}, "checkpoint": {Retained: []byte("nonsense\n")},
		"empty": {Retained: []byte{}},
	} {
		_, err := checkFile(file, opt)
		require.ErrorAs(t, err, &u, what)
	}
	for _, other := range [][]byte{nil, []byte("PK"), []byte("seq,at\n1,2\n"),
		bytes.Repeat([]byte{0}, 5000)} {
		_, err := checkFile(other, CheckOptions{})
		require.ErrorAs(t, err, &u)
		require.ErrorContains(t, err, "not an evidence file")
	}
	_, err = CheckEvidence(failing{bytes.NewReader(file), 3000}, int64(len(file)), CheckOptions{})
	require.ErrorAs(t, err, &u)
	require.ErrorContains(t, err, "the disk is gone")
}

// failing is a source that breaks off.
type failing struct {
	r    *bytes.Reader
	upTo int64
}

func (f failing) ReadAt(b []byte, at int64) (int, error) {
	if at+int64(len(b)) > f.upTo && at < f.upTo {
		return 0, errors.New("the disk is gone")
	}
	return f.r.ReadAt(b, at)
}
