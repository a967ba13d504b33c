package ledger

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"testing"

	"github.com/stretchr/testify/require"
)

// memFile is an io.WriteSeeker in memory.
type memFile struct {
	b  []byte
	at int64
}

func (m *memFile) Write(p []byte) (int, error) {
	if grow := m.at + int64(len(p)) - int64(len(m.b)); grow > 0 {
		m.b = append(m.b, make([]byte, grow)...)
	}
	copy(m.b[m.at:], p)
	m.at += int64(len(p))
	return len(p), nil
}

func (m *memFile) Seek(to int64, whence int) (int64, error) {
	if whence != io.SeekStart {
		return 0, errors.New("only from the start")
	}
	m.at = to
	return to, nil
}

// world is a small log: entries of three devices, a roll call as the last entry but one, and
// all that an evidence file is written from.
type world struct {
	bodies [][]byte
	nodes  store
	roll   Roll
	rollAt int64 // seq of the roll call
	heads  []Head
	signer Signer
	vkey   string
}

func newWorld(t testing.TB, n int) *world {
	w := &world{roll: Roll{}}
	w.signer, _, w.vkey = testKey(t, 9, origin)
	for i := range n {
		kit := []string{"K-1", "K-2", "K-3"}[i%3]
		w.add(t, map[string]any{"act": "clean", "kit": kit, "note": `strap "ok", dry`})
	}
	w.callRoll(t)
	w.add(t, map[string]any{"act": "clean", "kit": "K-1"})
	return w
}

func (w *world) add(t testing.TB, m map[string]any) {
	m["seq"], m["at"], m["result"] = len(w.bodies)+1,
		FormatTime(1795529100000+int64(len(w.bodies))*1000), "done"
	if kit, ok := m["kit"].(string); ok {
		last := w.roll[kit]
		m["kit_seq"] = last.Seq + 1
		if last.Seq > 0 {
			m["kit_prev"] = last.Leaf.String()
		}
	}
	body, err := Canonical(m)
	require.NoError(t, err)
	env, err := ReadEnvelope(body)
	require.NoError(t, err)
	tree, err := Resume(int64(len(w.bodies)), w.nodes.read)
	require.NoError(t, err)
	leaf, stored := tree.Append(body)
	require.NoError(t, w.roll.Add(env, leaf, false))
	w.nodes.put(t, stored)
	w.bodies = append(w.bodies, body)
}

func (w *world) callRoll(t testing.TB) {
	w.heads = w.roll.Heads()
	root, err := RollRoot(w.heads)
	require.NoError(t, err)
	w.rollAt = int64(len(w.bodies)) + 1
	w.add(t, map[string]any{"act": "roll_call", "events": []any{map[string]any{"event": "roll_called",
		"data": map[string]any{"kits": len(w.heads), "root": root.String()}}}})
}

// checkpoint signs the log as it was at a size.
func (w *world) checkpoint(t testing.TB, size int64) []byte {
	root, err := RootAt(size, w.nodes.read)
	require.NoError(t, err)
	msg, err := SignCheckpoint(Checkpoint{Origin: origin, Size: size, Root: root,
		At: 1795529100000 + size*1000, Site: "Ward 3"}, w.signer)
	require.NoError(t, err)
	return msg
}

// testCSV makes both tables: seq and time of all entries; seq of those with a device.
func testCSV(name string, entries iter.Seq2[[]byte, error], w io.Writer) error {
	fmt.Fprintf(w, "seq,at\r\n")
	for body, err := range entries {
		if err != nil {
			return err
		}
		e, err := ReadEnvelope(body)
		if err != nil {
			return err
		}
		if name == EntriesCSV || e.Kit != "" {
			fmt.Fprintf(w, "%d,%s\r\n", e.Seq, FormatTime(e.At))
		}
	}
	return nil
}

// evidence describes the file of the given entries (nil for all).
func (w *world) evidence(t testing.TB, seqs []int64) Evidence {
	scope := "entries chosen by hand"
	if seqs == nil {
		scope = ScopeEverything
		for i := range w.bodies {
			seqs = append(seqs, int64(i+1))
		}
	}
	return Evidence{Signer: w.signer, VKey: w.vkey, Checkpoint: w.checkpoint(t, int64(len(w.bodies))),
		At: 1795529999000, Scope: scope, Nodes: w.nodes.read, CSV: testCSV,
		CheckText: "see the documents\n",
		Entries: func() iter.Seq2[[]byte, error] {
			return func(yield func([]byte, error) bool) {
				for _, s := range seqs {
					if !yield(w.bodies[s-1], nil) {
						return
					}
				}
			}
		}}
}

// ofKit is a device's file: its entries, the roll call and the proof.
func (w *world) ofKit(t testing.TB, kit string) Evidence {
	var seqs []int64
	for i, b := range w.bodies {
		e, err := ReadEnvelope(b)
		require.NoError(t, err)
		if e.Kit == kit || int64(i+1) == w.rollAt {
			seqs = append(seqs, e.Seq)
		}
	}
	p, err := ProveHead(w.heads, kit)
	require.NoError(t, err)
	ev := w.evidence(t, seqs)
	ev.Scope, ev.Roll = "device "+kit, &RollCallProof{Entry: w.rollAt, RollProof: p}
	return ev
}

func written(t testing.TB, e Evidence) []byte {
	var f memFile
	require.NoError(t, WriteEvidence(&f, e))
	return f.b
}

func checkFile(b []byte, opt CheckOptions) (*Report, error) {
	return CheckEvidence(bytes.NewReader(b), int64(len(b)), opt)
}

// members reads a file's members by the standard library.
func members(t testing.TB, file []byte) map[string][]byte {
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	require.NoError(t, err)
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		out[f.Name], err = io.ReadAll(r)
		require.NoError(t, err)
	}
	return out
}

// packed writes members in the right frame, whatever they hold.
func packed(t testing.TB, m map[string][]byte) []byte {
	var f memFile
	z := zipWriter{w: &f}
	for _, name := range memberNames {
		require.NoError(t, z.open())
		_, err := z.Write(m[name])
		require.NoError(t, err)
		require.NoError(t, z.close())
	}
	require.NoError(t, z.finish())
	return f.b
}

// resigned packs changed members under a manifest signed with the real key: what somebody who
// has the key, or a faulty program, could write.
func (w *world) resigned(t testing.TB, file []byte, change func(m map[string][]byte,
	man *manifest)) []byte {
	m := members(t, file)
	_, v, _ := testKey(t, 9, origin)
	text, err := Open(m["MANIFEST.txt"], v)
	require.NoError(t, err)
	man, err := parseManifest(text)
	require.NoError(t, err)
	change(m, &man)
	for i := range man.members {
		b := m[memberNames[i+memberEntries]]
		man.members[i] = memberSum{int64(len(b)), sha(b)}
	}
	m["MANIFEST.txt"], err = Sign(man.format(), w.signer)
	require.NoError(t, err)
	return packed(t, m)
}

func sha(b []byte) Hash {
	var t Hash
	copy(t[:], sum256(b))
	return t
}
