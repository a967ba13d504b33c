package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/ledger"
	"handback/reprocess/sqlite"
)

// exportEvidence writes an evidence file. Where no server runs, the export itself becomes an
// entry, the roll of the kits is called and a checkpoint is signed first; beside a running
// server, which alone may write, its newest checkpoint is used.
func (o *exportFlags) exportEvidence(ctx context.Context, s streams, c export.Choice,
	size int64) (a exportAnswer, err error) {
	a = exportAnswer{Format: o.format, Out: o.out, what: "entries"}
	if size == 0 {
		return a, errors.New("the log is empty: set the site up first")
	}
	busy, err := o.sign(ctx, c, size)
	if err != nil {
		return a, err
	}
	snap, err := sqlite.OpenSnapshot(ctx, o.data)
	if err != nil {
		return a, err
	}
	defer snap.Close()
	v, err := evidenceFrom(ctx, s, snap, c)
	if p := reprocess.AsProblem(err); p != nil && p.Code == reprocess.NotFound && busy {
		return a, errors.New("a server is using this folder and has not signed a checkpoint yet:" +
			" export from its own page, or stop it first")
	}
	if err != nil {
		return a, err
	}
	a.Entries = v.Size
	a.Bytes, err = writeOrNothing(o.out, func(w io.WriteSeeker) error {
		var err error
		if a.Count, err = export.WriteEvidence(w, v); err != nil {
			return err
		}
		return snap.Check()
	})
	return a, err
}

// sign makes the newest state of a folder fit to be shown; busy tells that a server has it.
func (o *exportFlags) sign(ctx context.Context, c export.Choice, size int64) (busy bool,
	err error) {
	store, err := sqlite.Open(o.data, sqlite.Options{Clock: systemClock()})
	if p := reprocess.AsProblem(err); p != nil && p.Rule == "locked" {
		return true, nil
	}
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	heads, before, err := store.Heads(ctx)
	if err != nil {
		return false, err
	}
	root, err := ledger.RollRoot(heads)
	if err != nil {
		return false, err
	}
	for _, cmd := range []reprocess.Command{
		reprocess.RollCall{Kits: int64(len(heads)), Root: root.String(), Size: before},
		reprocess.RecordExport{Format: o.format, Scope: c.Words(), Size: size},
	} {
		if _, err := store.Do(ctx, sqlite.Request{Cmd: cmd, Actor: reprocess.Console()}); err != nil {
			return false, err
		}
	}
	_, err = store.Checkpoint(ctx)
	return false, err
}

// evidenceFrom reads what the file is written from.
func evidenceFrom(ctx context.Context, s streams, snap *sqlite.Snapshot,
	c export.Choice) (v export.Evidence, err error) {
	v = export.Evidence{Entries: progress(s, snap.Bodies(ctx), snap.Size()),
		Nodes: snap.Hashes(ctx), At: systemClock()().UTC, Choice: c}
	if v.Checkpoint, v.Size, err = snap.Checkpoint(ctx); err != nil {
		return v, err
	}
	if v.Cuts, err = snap.Cuts(ctx); err != nil {
		return v, err
	}
	if v.VKey, err = snap.VKey(); err != nil {
		return v, err
	}
	if v.Signer, err = snap.Signer(); err != nil {
		return v, fmt.Errorf("an evidence file is signed: %w", err)
	}
	return v, nil
}
