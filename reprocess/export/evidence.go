package export

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"handback/reprocess"
	"handback/reprocess/ledger"
)

// Evidence is what an evidence file is written from: one state of a log, its newest checkpoint
// and the key that signed it.
type Evidence struct {
	Entries    Entries // all of them, as far as the checkpoint goes; run several times
	Nodes      ledger.HashReader
	Checkpoint []byte
	Size       int64 // of the checkpoint
	Cuts       []int64
	Signer     ledger.Signer
	VKey       string
	At         reprocess.Instant // when the file is made
	Choice     Choice
}

// WriteEvidence writes an evidence file (package ledger) and gives the number of entries in
// it. A file for one kit and all times carries the newest roll call, which shows that none of
// the kit's entries up to there is held back.
func WriteEvidence(w io.WriteSeeker, v Evidence) (entries int64, err error) {
	all := upTo(v.Entries, v.Size)
	e := ledger.Evidence{Signer: v.Signer, VKey: v.VKey, Checkpoint: v.Checkpoint,
		At: int64(v.At), Scope: v.Choice.Words(), Nodes: v.Nodes, CSV: CSV, Cuts: v.Cuts}
	call := int64(0)
	if v.Choice.wholeKit() {
		if e.Roll, err = newestRollCall(all, v.Choice.Kit); err != nil {
			return 0, err
		}
		if e.Roll != nil {
			call = e.Roll.Entry
		}
	}
	part := withEntry(all, v.Choice, call)
	for _, err := range part {
		if err != nil {
			return 0, err
		}
		entries++
	}
	if entries == 0 {
		return 0, fmt.Errorf("there is no entry to show for: %s", v.Choice.Words())
	}
	e.Entries = func() Entries { return part }
	return entries, ledger.WriteEvidence(w, e)
}

func (c Choice) wholeKit() bool { return c.Kit != "" && c.From == 0 && c.To == 0 }

// upTo ends the entries with the checkpoint.
func upTo(entries Entries, size int64) Entries {
	return func(yield func([]byte, error) bool) {
		n := int64(0)
		for body, err := range entries {
			if n++; n > size || !yield(body, err) {
				return
			}
		}
	}
}

// withEntry chooses entries and one more by its number (0: none).
func withEntry(entries Entries, c Choice, seq int64) Entries {
	if c.All() {
		return entries
	}
	return func(yield func([]byte, error) bool) {
		n := int64(0)
		for body, err := range entries {
			keep := false
			if n++; err == nil {
				keep, err = c.keeps(body)
			}
			if err == nil && !keep && n != seq {
				continue
			}
			if !yield(body, err) || err != nil {
				return
			}
		}
	}
}

// newestRollCall finds the newest roll call after the kit's registration and proves the kit's
// place in it; nil when there is none. A roll call that is not true is an error: it would make
// a file that fails its own check.
func newestRollCall(entries Entries, kit string) (*ledger.RollCallProof, error) {
	roll, found := ledger.Roll{}, (*ledger.RollCallProof)(nil)
	for body, err := range entries {
		if err != nil {
			return nil, err
		}
		env, err := ledger.ReadEnvelope(body)
		if err != nil {
			return nil, err
		}
		if bytes.Contains(body, []byte(`"roll_called"`)) && roll[kit].Seq > 0 {
			if found, err = proveCall(body, env.Seq, roll, kit, found); err != nil {
				return nil, err
			}
		}
		if err := roll.Add(env, ledger.LeafHash(body), false); err != nil {
			return nil, err
		}
	}
	return found, nil
}

func proveCall(body []byte, seq int64, roll ledger.Roll, kit string,
	before *ledger.RollCallProof) (*ledger.RollCallProof, error) {
	called, err := ledger.ReadRollCalled(body)
	if called == nil || err != nil {
		return before, err
	}
	heads := roll.Heads()
	proof, err := ledger.ProveHead(heads, kit)
	if err == nil && (called.Kits != int64(len(heads)) || proof.Check(called.Root) != nil) {
		err = errors.New("it is not what the entries before it give; run verify")
	}
	if err != nil {
		return nil, fmt.Errorf("the roll call in entry %d: %w", seq, err)
	}
	return &ledger.RollCallProof{Entry: seq, RollProof: proof}, nil
}
