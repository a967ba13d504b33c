package ledger

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strings"
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
	m["seq"], m["at"], m["result"] = len(w.bodies)+1, FormatTime(1795529100000+int64(len(w.bodies))*1000), "done"
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
		At: 1795529999000, Scope: scope, Nodes: w.nodes.read, CSV: testCSV, CheckText: "see the documents\n",
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

// Every byte of two small files, every bit of it: the check fails. That includes the frame of
// the zip and even CHECK.txt (whose damage the zip's own sum shows).
func TestEvidenceTamperEachByte(t *testing.T) {
	w := newWorld(t, 3)
	for name, ev := range map[string]Evidence{"whole": w.evidence(t, nil), "device": w.ofKit(t, "K-1")} {
		file := written(t, ev)
		_, err := checkFile(file, CheckOptions{VKey: w.vkey, CSV: testCSV})
		require.NoError(t, err, name)
		for i := range file {
			for _, flip := range []byte{0x01, 0x20, 0x80, 0xff} {
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
		require.ErrorContains(t, err, "1 more byte")
		_, err = checkFile(append([]byte{0}, file...), CheckOptions{})
		require.Error(t, err)
	}
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
func (w *world) resigned(t testing.TB, file []byte, change func(m map[string][]byte, man *manifest)) []byte {
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

func TestEvidenceChangedMembers(t *testing.T) {
	w := newWorld(t, 6)
	file := written(t, w.evidence(t, nil))
	require.Equal(t, file, packed(t, members(t, file)), "what was read prints back")
	for name := range members(t, file) {
		m := members(t, file)
		m[name] = append(m[name], 'x')
		_, err := checkFile(packed(t, m), CheckOptions{})
		if name == "CHECK.txt" {
			require.NoError(t, err, "the page proves nothing and may be translated")
			continue
		}
		require.Error(t, err, name)
		m[name] = nil
		_, err = checkFile(packed(t, m), CheckOptions{})
		if name != "proof.txt" && name != "rollcall.ndjson" { // these are empty here
			require.Error(t, err, name)
		}
	}
	// Members left out, doubled, added, in another order, and a comment, by another writer.
	for what, names := range map[string][]string{
		"left out": memberNames[:8], "added": append(slices.Clone(memberNames[:]), "more.txt"),
		"twice": append(slices.Clone(memberNames[:]), "key.txt"), "folder": append([]string{"a/"}, memberNames[:]...),
		"order": append(slices.Clone(memberNames[1:]), "CHECK.txt"), "none": nil,
	} {
		var f bytes.Buffer
		z := zip.NewWriter(&f)
		for _, n := range names {
			e, err := z.CreateHeader(&zip.FileHeader{Name: n})
			require.NoError(t, err)
			_, err = e.Write(members(t, file)[n])
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		_, err := checkFile(f.Bytes(), CheckOptions{})
		require.Error(t, err, what)
	}
}

func sha(b []byte) Hash {
	var t Hash
	copy(t[:], sum256(b))
	return t
}

// Signed by the real key and yet wrong: each is found, with the number where there is one.
func TestEvidenceWrongThoughSigned(t *testing.T) {
	w := newWorld(t, 9)
	whole := written(t, w.evidence(t, nil))
	part := written(t, w.evidence(t, []int64{3, 4, 8}))
	lines := func(m map[string][]byte) [][]byte {
		return bytes.SplitAfter(bytes.TrimSuffix(m["entries.ndjson"], []byte("\n")), []byte("\n"))
	}
	for _, c := range []struct {
		what, want string
		file       []byte
		change     func(m map[string][]byte, man *manifest)
	}{
		{"edited", "do not give the root", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Replace(m["entries.ndjson"], []byte(`"seq":11}`), []byte(`"seq":11,"x":1}`), 1)
		}},
		{"edited, quoted later", "entry 4: it does not quote", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Replace(m["entries.ndjson"], []byte("ok"), []byte("no"), 1)
		}},
		{"one left out", "does not say what stands at number 1", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Join(lines(m)[1:], nil)
			m["entries.ndjson"] = append(m["entries.ndjson"], '\n')
		}},
		{"swapped", "does not say what stands at number 1", whole, func(m map[string][]byte, _ *manifest) {
			l := lines(m)
			l[0], l[1] = l[1], l[0]
			m["entries.ndjson"] = append(bytes.Join(l, nil), '\n')
		}},
		{"order", "entry 4: it is out of order", part, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Join([][]byte{lines(m)[0], lines(m)[1], lines(m)[1], {'\n'}}, nil)
		}},
		{"spelling", "the entry in line 1", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = append([]byte(" "), m["entries.ndjson"]...)
		}},
		{"no last LF", "does not end", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.TrimSuffix(m["entries.ndjson"], []byte("\n"))
		}},
		{"long line", "does not end", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.ndjson"] = bytes.Repeat([]byte("x"), MaxBytes+2)
		}},
		{"count", "MANIFEST.txt lists 13", whole, func(_ map[string][]byte, man *manifest) { man.entries = 13 }},
		{"scope", "entries are left out", part, func(_ map[string][]byte, man *manifest) { man.scope = ScopeEverything }},
		{"origin", "name different logs", whole, func(_ map[string][]byte, man *manifest) { man.origin = "site/x" }},
		{"proof more", "more lines than", part, func(m map[string][]byte, _ *manifest) {
			m["proof.txt"] = append(m["proof.txt"], m["proof.txt"]...)
		}},
		{"proof less", "does not say what stands at number 9", part, func(m map[string][]byte, _ *manifest) {
			m["proof.txt"] = m["proof.txt"][:bytes.LastIndexByte(bytes.TrimSuffix(m["proof.txt"], []byte("\n")), '\n')+1]
			m["proof.txt"] = bytes.TrimSuffix(m["proof.txt"], []byte("x"))
			m["proof.txt"] = m["proof.txt"][:bytes.Index(m["proof.txt"], []byte("9 "))]
		}},
		{"proof hash", "do not give the root", part, func(m map[string][]byte, _ *manifest) {
			b := m["proof.txt"]
			b[len(b)-2] ^= 1
		}},
		{"proof order", "stands where number 1 is due", part, func(m map[string][]byte, _ *manifest) {
			at := bytes.IndexByte(m["proof.txt"], '\n') + 1
			m["proof.txt"] = append(bytes.Clone(m["proof.txt"][at:]), m["proof.txt"][:at]...)
		}},
		{"proof spelling", "is not a line like", part, func(m map[string][]byte, _ *manifest) {
			m["proof.txt"] = append([]byte("0"), m["proof.txt"]...)
		}},
		{"table", "table entries.csv, row 1:", whole, func(m map[string][]byte, _ *manifest) {
			m["entries.csv"] = bytes.ToUpper(m["entries.csv"])
		}},
		{"table row", "table cycles.csv, row 3:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = bytes.Replace(m["cycles.csv"], []byte("\n2,"), []byte("\n7,"), 1)
		}},
		{"table more", "table cycles.csv, row 12:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = append(m["cycles.csv"], "9,\r\n"...)
		}},
		{"table less", "table cycles.csv, row 11:", whole, func(m map[string][]byte, _ *manifest) {
			m["cycles.csv"] = m["cycles.csv"][:len(m["cycles.csv"])-3]
		}},
		{"key without LF", "key.txt is not", whole, func(m map[string][]byte, _ *manifest) {
			m["key.txt"] = bytes.TrimSuffix(m["key.txt"], []byte("\n"))
		}},
		{"checkpoint", "checkpoint.txt: ", whole, func(m map[string][]byte, _ *manifest) { m["checkpoint.txt"][0] ^= 1 }},
		{"long key", "key.txt is longer", whole, func(m map[string][]byte, _ *manifest) {
			m["key.txt"] = bytes.Repeat([]byte("x"), maxSmall+1)
		}},
		{"long page", "CHECK.txt is longer", whole, func(m map[string][]byte, _ *manifest) {
			m["CHECK.txt"] = bytes.Repeat([]byte("x"), maxSmall+1)
		}},
		{"roll line", "rollcall.ndjson is not", whole, func(m map[string][]byte, _ *manifest) {
			m["rollcall.ndjson"] = []byte("{}\n")
		}},
	} {
		_, err := checkFile(w.resigned(t, c.file, func(map[string][]byte, *manifest) {}), CheckOptions{CSV: testCSV})
		require.NoError(t, err, "%s: unchanged", c.what)
		_, err = checkFile(w.resigned(t, c.file, c.change), CheckOptions{CSV: testCSV})
		require.ErrorContains(t, err, c.want, c.what)
		require.NotContains(t, err.Error(), "\n")
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
	require.Contains(t, strings.Join(r.Lines(), "\n"), "device K-1: all its 4 entries before entry 11 are here")

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
		{cut, 7, RetainedExtended}, {cut, 5, RetainedExtended}, {cut, 9, RetainedExtended}, {cut, 6, RetainedExtended},
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
	early, err := SignCheckpoint(Checkpoint{Origin: origin, Size: 20, Root: root, At: 1, Site: "x"}, w.signer)
	require.NoError(t, err)
	_, err = checkFile(whole, CheckOptions{Retained: early})
	require.ErrorContains(t, err, "the log is shorter (11 entries) than in the checkpoint you kept (20)")
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
		"key": {VKey: "nonsense"}, "checkpoint": {Retained: []byte("nonsense\n")}, "empty": {Retained: []byte{}},
	} {
		_, err := checkFile(file, opt)
		require.ErrorAs(t, err, &u, what)
	}
	for _, other := range [][]byte{nil, []byte("PK"), []byte("seq,at\n1,2\n"), bytes.Repeat([]byte{0}, 5000)} {
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

func TestWriteEvidenceRefuses(t *testing.T) {
	w := newWorld(t, 5)
	_, _, foreign := testKey(t, 3, origin)
	calls := 0
	for what, c := range map[string]struct {
		want   string
		change func(*Evidence)
	}{
		"no key":        {"needs entries", func(e *Evidence) { e.Signer = nil }},
		"no entries":    {"needs entries", func(e *Evidence) { e.Entries = nil }},
		"no tables":     {"needs entries", func(e *Evidence) { e.CSV = nil }},
		"bad vkey":      {"not a public key", func(e *Evidence) { e.VKey = "x" }},
		"other vkey":    {"by a key that was not given", func(e *Evidence) { e.VKey = foreign }},
		"checkpoint":    {"does not match the text", func(e *Evidence) { e.Checkpoint = bytes.Replace(e.Checkpoint, []byte("Ward"), []byte("Wart"), 1) }},
		"older":         {"newer than the checkpoint", func(e *Evidence) { e.Checkpoint = w.checkpoint(t, 4) }},
		"scope":         {"the scope is one line", func(e *Evidence) { e.Scope = "a\nb" }},
		"no scope":      {"the scope is one line", func(e *Evidence) { e.Scope = "" }},
		"time":          {"one spelling", func(e *Evidence) { e.At = math.MaxInt64 / 2 }},
		"page":          {"too long", func(e *Evidence) { e.CheckText = strings.Repeat("x", maxSmall+1) }},
		"no nodes":      {"hashes of the tree are needed", func(e *Evidence) { *e = w.evidence(t, []int64{1}); e.Nodes = nil }},
		"nodes missing": {"there is no stored hash", func(e *Evidence) { *e = w.evidence(t, []int64{1}); e.Nodes = (&store{}).read }},
		"nodes wrong": {"do not give the root", func(e *Evidence) {
			*e = w.evidence(t, []int64{1})
			e.Nodes = func(at []int64) ([]Hash, error) { return make([]Hash, len(at)), nil }
		}},
		"nothing": {"at least one entry", func(e *Evidence) { *e = w.evidence(t, []int64{}) }},
		"order":   {"out of order", func(e *Evidence) { *e = w.evidence(t, []int64{2, 1}) }},
		"twice":   {"out of order", func(e *Evidence) { *e = w.evidence(t, []int64{2, 2}) }},
		"roll":    {"not valid UTF-8", func(e *Evidence) { e.Roll = &RollCallProof{RollProof: RollProof{Head: Head{Kit: "\xff"}}} }},
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
