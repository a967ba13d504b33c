package ledger

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"iter"
	"math/bits"
	"slices"
)

// Evidence is what an evidence file is written from. Entries is called several times and must
// give the same entries each time, in ascending seq: read them in one database snapshot that
// also holds every node of the checkpoint's tree. A body is used only until the next is asked
// for. To show progress, count in the iterator (it is run four times).
type Evidence struct {
	Signer     Signer
	VKey       string // public key that belongs to Signer
	Checkpoint []byte // signed by Signer, over the whole log
	At         int64  // Unix milliseconds, when the file is made
	Scope      string // ScopeEverything, or in words what was chosen
	Entries    func() iter.Seq2[[]byte, error]
	Nodes      HashReader // may be nil when the whole log is written
	CSV        CSVFunc
	Roll       *RollCallProof // nil for none
	Cuts       []int64        // sizes of earlier checkpoints a reader may hold, see below
	CheckText  string         // empty for the constant CheckText
}

// Cuts: what is left out of a part is given as hashes of the largest subtrees, and the root the
// log had at some earlier size can be computed only if no subtree reaches across that size.
// For each size in Cuts they are split there, some twenty lines more, so that whoever kept that
// checkpoint can compare it with a part, too.

// RollCallProof shows that a device's entries before entry Entry are complete. That entry must
// be among those written.
type RollCallProof struct {
	Entry int64
	RollProof
}

// WriteEvidence writes the file to w, which must stand at its beginning. Nothing it wrote is
// worth keeping after an error. Memory does not grow with the number of entries.
func WriteEvidence(w io.WriteSeeker, e Evidence) error {
	cp, err := e.prepare()
	if err != nil {
		return err
	}
	ew := evidenceWriter{Evidence: e, cp: cp, zip: zipWriter{w: w}}
	ew.man = manifest{origin: cp.Origin, at: e.At, scope: e.Scope}
	for i := range memberNames {
		if err := ew.member(i); err != nil {
			return fmt.Errorf("%s cannot be written: %w", memberNames[i], err)
		}
	}
	return ew.zip.finish()
}

// prepare checks what can be checked before the first byte.
func (e *Evidence) prepare() (Checkpoint, error) {
	if e.Entries == nil || e.CSV == nil || e.Signer == nil {
		return Checkpoint{}, errors.New("an evidence file needs entries, tables and a key")
	}
	if e.CheckText == "" {
		e.CheckText = CheckText
	}
	v, err := ParseVerifier(e.VKey)
	if err != nil {
		return Checkpoint{}, err
	}
	cp, err := OpenCheckpoint(e.Checkpoint, v)
	if err != nil {
		return Checkpoint{}, err
	}
	slices.Sort(e.Cuts)
	return cp, nil
}

// evidenceWriter is the work in progress.
type evidenceWriter struct {
	Evidence
	cp  Checkpoint
	zip zipWriter
	man manifest
	sum hash.Hash
}

// member writes one member and, for those the manifest lists, notes its size and hash.
func (e *evidenceWriter) member(i int) error {
	if err := e.zip.open(); err != nil {
		return err
	}
	e.sum = sha256.New()
	w := io.Writer(&e.zip)
	if i != memberCheck && i != memberManifest {
		w = io.MultiWriter(w, e.sum)
	}
	buf := newBlockWriter(w)
	if err := e.content(i, buf); err != nil {
		return err
	}
	if err := buf.Flush(); err != nil {
		return err
	}
	if i != memberCheck && i != memberManifest {
		e.man.members = append(e.man.members, memberSum{e.zip.size, Hash(e.sum.Sum(nil))})
	}
	return e.zip.close()
}

// content writes the bytes of one member.
func (e *evidenceWriter) content(i int, w io.Writer) (err error) {
	switch i {
	case memberCheck:
		if len(e.CheckText) > maxSmall {
			return errors.New("the page on how to check is too long")
		}
		_, err = io.WriteString(w, e.CheckText)
	case memberEntries:
		return e.writeEntries(w)
	case memberEntriesCSV, memberCyclesCSV:
		return e.CSV(memberNames[i], e.Entries(), w)
	case memberProof:
		return e.writeProof(w)
	case memberRoll:
		return e.writeRoll(w)
	case memberCheckpoint:
		_, err = w.Write(e.Checkpoint)
	case memberKey:
		_, err = io.WriteString(w, e.VKey+"\n")
	case memberManifest:
		return e.writeManifest(w)
	}
	return err
}

// writeEntries writes the bodies and counts them; order and place are held in writeProof.
func (e *evidenceWriter) writeEntries(w io.Writer) error {
	for body, err := range e.Entries() {
		if err != nil {
			return err
		}
		if _, err := w.Write(body); err != nil {
			return err
		}
		if _, err := w.Write([]byte{'\n'}); err != nil {
			return err
		}
		e.man.entries++
	}
	return nil
}

// writeProof goes through the entries once more, writes the subtrees between them and makes
// sure that all together are the checkpoint's tree and that the entries are the same as before.
func (e *evidenceWriter) writeProof(w io.Writer) error {
	var tree Tree
	again := sha256.New()
	for body, err := range e.Entries() {
		if err != nil {
			return err
		}
		env, err := ReadEnvelope(body)
		if err != nil {
			return fmt.Errorf("an entry after number %d: %w", tree.Size(), err)
		}
		if env.Seq <= tree.Size() || env.Seq > e.cp.Size {
			return fmt.Errorf("entry %d is out of order or newer than the checkpoint", env.Seq)
		}
		if err := e.writeGap(w, &tree, env.Seq-1); err != nil {
			return err
		}
		tree.Add(LeafHash(body))
		again.Write(body)
		again.Write([]byte{'\n'})
	}
	if err := e.writeGap(w, &tree, e.cp.Size); err != nil {
		return err
	}
	if Hash(again.Sum(nil)) != e.man.members[0].hash {
		return errors.New("the entries changed while they were written; read them in one snapshot")
	}
	if tree.Root() != e.cp.Root {
		return errors.New("the entries do not give the root of the checkpoint; run verify")
	}
	return nil
}

// writeGap writes the subtrees from the tree's size up to the given one and adds them.
func (e *evidenceWriter) writeGap(w io.Writer, tree *Tree, to int64) error {
	var lines []proofLine
	var at []int64
	for p := tree.Size(); p < to; {
		level := subtreeAt(p, e.cut(p, to))
		lines = append(lines, proofLine{first: p + 1, level: level})
		at = append(at, nodeIndex(level, p))
		p += 1 << level
	}
	if len(at) > 0 && e.Nodes == nil {
		return errors.New("to leave entries out, the hashes of the tree are needed")
	}
	hashes, err := e.Nodes.read(at)
	if err != nil {
		return err
	}
	for i, l := range lines {
		l.hash = hashes[i]
		if err := tree.AddSubtree(l.level, l.hash); err != nil {
			return err
		}
		if _, err := io.WriteString(w, l.String()); err != nil {
			return err
		}
	}
	return nil
}

// cut is the first of Cuts after p, or to if that comes first.
func (e *evidenceWriter) cut(p, to int64) int64 {
	i, _ := slices.BinarySearch(e.Cuts, p+1)
	if i < len(e.Cuts) {
		return min(e.Cuts[i], to)
	}
	return to
}

// subtreeAt is the level of the largest complete subtree that begins at leaf p (from 0) and
// ends at or before to.
func subtreeAt(p, to int64) int {
	level := bits.Len64(uint64(to-p)) - 1
	if p > 0 {
		level = min(level, bits.TrailingZeros64(uint64(p)))
	}
	return level
}

// writeRoll writes the line of the roll call, or nothing.
func (e *evidenceWriter) writeRoll(w io.Writer) error {
	if e.Roll == nil {
		return nil
	}
	p := e.Roll
	line := rollLine{Entry: p.Entry, Index: p.Index, Kit: p.Kit, KitSeq: p.Seq, Leaf: p.Leaf.String(),
		Path: []string{}}
	for _, h := range p.Path {
		line.Path = append(line.Path, h.String())
	}
	b, err := Canonical(line)
	if err != nil {
		return err
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// writeManifest signs what was noted.
func (e *evidenceWriter) writeManifest(w io.Writer) error {
	if err := e.man.check(); err != nil {
		return err
	}
	text := e.man.format()
	if _, err := parseManifest(text); err != nil {
		return err
	}
	msg, err := Sign(text, e.Signer)
	if err != nil {
		return err
	}
	v, err := ParseVerifier(e.VKey)
	if err != nil {
		return err
	}
	if _, err := Open(msg, v); err != nil {
		return err
	}
	_, err = io.Copy(w, bytes.NewReader(msg))
	return err
}
