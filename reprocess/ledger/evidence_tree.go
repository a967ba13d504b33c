package ledger

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// This file is the middle of CheckEvidence: entries and left-out subtrees become the tree of
// the checkpoint, and a roll call becomes "all entries of this device".

// treeCheck goes through entries.ndjson and proof.txt side by side.
type treeCheck struct {
	c     *evidenceReader
	tree  Tree
	roll  Roll
	proof *bufio.Reader
}

// tree builds the tree and holds its root against the checkpoint, and on the way against the
// retained one, where its size is reached.
func (c *evidenceReader) tree() error {
	if err := c.readRollLine(); err != nil {
		return err
	}
	t := treeCheck{c: c, roll: Roll{}, proof: bufio.NewReader(c.open(memberProof))}
	c.rep.Whole = c.sections[memberProof].size == 0
	for body, err := range c.entries() {
		if err == nil {
			err = t.entry(body)
		}
		if err != nil {
			return err
		}
	}
	size := c.rep.Checkpoint.Size
	if err := t.subtrees(size); err != nil {
		return err
	}
	if _, err := t.proof.Peek(1); err != io.EOF {
		return errors.New("proof.txt has more lines than are left out")
	}
	if t.tree.Root() != c.rep.Checkpoint.Root {
		return errors.New("the entries do not give the root in checkpoint.txt")
	}
	return c.counts()
}

// counts holds what was read against what manifest and retained checkpoint say.
func (c *evidenceReader) counts() error {
	if c.rep.Entries != c.man.entries {
		return fmt.Errorf("MANIFEST.txt lists %d entries, the file holds %d",
			c.man.entries, c.rep.Entries)
	}
	if c.rep.Scope == ScopeEverything && !c.rep.Whole {
		return errors.New("MANIFEST.txt says everything, but entries are left out")
	}
	if c.retained == nil {
		return nil
	}
	switch {
	case c.retained.Size == c.rep.Checkpoint.Size:
		c.rep.Retained = RetainedSame
	case c.matched || c.retained.Size == 0:
		c.rep.Retained = RetainedExtended
	default:
		c.rep.Retained = RetainedUnknown
	}
	return nil
}

// entry takes the next entry at its place.
func (t *treeCheck) entry(body []byte) error {
	env, err := ReadEnvelope(body)
	if err != nil {
		return fmt.Errorf("the entry in line %d of entries.ndjson: %w", t.c.rep.Entries+1, err)
	}
	if env.Seq <= t.tree.Size() || env.Seq > t.c.rep.Checkpoint.Size {
		return fmt.Errorf("entry %d: it is out of order or beyond the checkpoint", env.Seq)
	}
	if err := t.subtrees(env.Seq - 1); err != nil {
		return err
	}
	if err := t.rollCalled(body, env); err != nil {
		return err
	}
	leaf := LeafHash(body)
	if err := t.roll.Add(env, leaf, !t.c.rep.Whole); err != nil {
		return err
	}
	t.tree.Add(leaf)
	t.c.collect(env, leaf)
	if t.c.rep.Entries++; t.c.rep.First == 0 {
		t.c.rep.First = env.Seq
	}
	t.c.rep.Last = env.Seq
	return t.compareRetained()
}

// subtrees takes lines of proof.txt until the tree has the given size.
func (t *treeCheck) subtrees(to int64) error {
	for t.tree.Size() < to {
		text, err := t.proof.ReadSlice('\n')
		if err == io.EOF || err == bufio.ErrBufferFull {
			return fmt.Errorf("proof.txt does not say what stands at number %d", t.tree.Size()+1)
		} else if err != nil {
			return unreadable(err)
		}
		line, err := parseProofLine(string(text))
		if err != nil {
			return err
		}
		if line.first != t.tree.Size()+1 || t.tree.Size()+1<<line.level > to {
			return fmt.Errorf("proof.txt: the line for number %d stands where number %d is due",
				line.first, t.tree.Size()+1)
		}
		if err := t.tree.AddSubtree(line.level, line.hash); err != nil {
			return err
		}
		if err := t.compareRetained(); err != nil {
			return err
		}
	}
	return nil
}

// compareRetained compares roots when the size of the retained checkpoint is reached.
func (t *treeCheck) compareRetained() error {
	kept := t.c.retained
	if kept == nil || t.tree.Size() != kept.Size {
		return nil
	}
	if t.tree.Root() != kept.Root {
		return fmt.Errorf("the first %d entries are not those of the checkpoint you kept", kept.Size)
	}
	t.c.matched = true
	return nil
}

// rollCalled: in a whole log each roll call is computed again; in a part the one that the line
// in rollcall.ndjson names is kept for later.
func (t *treeCheck) rollCalled(body []byte, env Envelope) error {
	called, err := ReadRollCalled(body)
	if err != nil {
		return fmt.Errorf("entry %d: %w", env.Seq, err)
	}
	if called == nil {
		return nil
	}
	if t.c.line != nil && t.c.line.Entry == env.Seq {
		t.c.called = called
	}
	if !t.c.rep.Whole {
		return nil
	}
	heads := t.roll.Heads()
	root, err := RollRoot(heads)
	if err != nil || root != called.Root || int64(len(heads)) != called.Kits {
		return fmt.Errorf("entry %d: its roll call is not what the entries before it give", env.Seq)
	}
	t.c.rep.RollCalls++
	return nil
}

// readRollLine reads rollcall.ndjson: nothing, or one line.
func (c *evidenceReader) readRollLine() error {
	b, err := c.small(memberRoll)
	if err != nil || len(b) == 0 {
		return err
	}
	bad := errors.New("rollcall.ndjson is not one line as the format has it")
	var line rollLine
	if b[len(b)-1] != '\n' || Check(b[:len(b)-1]) != nil || json.Unmarshal(b, &line) != nil {
		return bad
	}
	again, err := Canonical(line)
	if err != nil || string(again)+"\n" != string(b) {
		return bad
	}
	c.line = &line
	return nil
}

// collect follows the one device of the roll call: only its newest entry before the roll call
// is kept, and whether its numbers ran without a gap.
func (c *evidenceReader) collect(env Envelope, leaf Hash) {
	if c.line == nil || env.Kit != c.line.Kit || env.Seq >= c.line.Entry {
		return
	}
	if env.KitSeq == c.kit.Seq+1 {
		c.kit = Head{Kit: env.Kit, Seq: env.KitSeq, Leaf: leaf}
	}
}

// rollCall holds the device's entries against its head, and the head against the roll call.
func (c *evidenceReader) rollCall() error {
	if c.line == nil {
		return nil
	}
	l := c.line
	if c.called == nil {
		return fmt.Errorf("entry %d: the roll call that rollcall.ndjson names is not there", l.Entry)
	}
	p := RollProof{Head: Head{Kit: l.Kit, Seq: l.KitSeq}, Index: l.Index, Size: c.called.Kits}
	var err error
	if p.Leaf, err = ParseHash(l.Leaf); err != nil {
		return err
	}
	for _, s := range l.Path {
		h, err := ParseHash(s)
		if err != nil {
			return err
		}
		p.Path = append(p.Path, h)
	}
	if err := p.Check(c.called.Root); err != nil {
		return err
	}
	if c.kit.Seq != l.KitSeq {
		return fmt.Errorf("device %s is incomplete: %d entries shown, the roll call says %d",
			l.Kit, c.kit.Seq, l.KitSeq)
	}
	if c.kit.Leaf != p.Leaf {
		return fmt.Errorf("device %s: its newest entry is not the one of the roll call", l.Kit)
	}
	c.rep.Kit, c.rep.KitEntries, c.rep.RollEntry = l.Kit, l.KitSeq, l.Entry
	return nil
}
