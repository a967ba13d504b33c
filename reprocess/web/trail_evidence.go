package web

import (
	"errors"
	"io"
	"os"
	"strings"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/sqlite"
)

// sendEvidence writes the whole file beside the data first: there is all of it or nothing.
func (v *Visit) sendEvidence(t *copyTicket, kind string) error {
	choice, _, err := v.choice(t.w, t.f)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp("", "evidence-*.zip")
	if err != nil {
		return err
	}
	if err := os.Remove(f.Name()); err != nil { // it goes when it is closed, however that comes
		return errors.Join(err, f.Close())
	}
	run := v.server.copies.begin(t, v.Now.UTC)
	size, err := v.evidenceInto(f, choice, run)
	if err != nil {
		return errors.Join(err, f.Close())
	}
	v.c.Set(fiber.HeaderContentType, kind)
	v.c.Set(fiber.HeaderContentDisposition, `attachment; filename="`+t.name()+`"`)
	v.c.Context().Response.SetBodyStream(run.sending(f, size), int(size))
	return nil
}

// evidence writes the file and gives its size, wound back to its beginning.
func (v *Visit) evidence(f *os.File, c export.Choice, run *copyRun) (int64, error) {
	ctx := v.Context()
	snap, err := sqlite.OpenSnapshot(ctx, v.Store().Dir())
	if err != nil {
		return 0, err
	}
	defer snap.Close()
	e := export.Evidence{Entries: run.entries(snap.Bodies(ctx)), Nodes: snap.Hashes(ctx), At: v.Now.UTC,
		Choice: c}
	if e.Checkpoint, e.Size, err = snap.Checkpoint(ctx); err != nil {
		return 0, err
	}
	if e.Cuts, err = snap.Cuts(ctx); err != nil {
		return 0, err
	}
	if e.VKey, err = snap.VKey(); err != nil {
		return 0, err
	}
	if e.Signer, err = snap.Signer(); err != nil {
		return 0, err
	}
	if _, err := export.WriteEvidence(f, e); err != nil {
		return 0, evidenceProblem(err)
	}
	if err := snap.Check(); err != nil {
		return 0, err
	}
	size, err := f.Seek(0, io.SeekEnd)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	return size, err
}

// evidenceProblem: an empty choice is the chooser's matter, all else is a fault.
func evidenceProblem(err error) error {
	if strings.HasPrefix(err.Error(), "there is no entry to show") {
		return &reprocess.Problem{Code: reprocess.Refused, Rule: "empty",
			Text: capital(err.Error()) + ".", Fix: "Choose a longer period."}
	}
	return err
}
