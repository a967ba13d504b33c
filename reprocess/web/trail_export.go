package web

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/export"
)

// copyLives is how long what was taken out can be fetched again under the same entry.
const copyLives = time.Hour

// mostPrinted is how many entries a printed list holds; about sixty pages.
const mostPrinted = 2000

// copyPage asks in which form a part of the record is taken out.
type copyPage struct {
	Base
	Told  string
	Kept  []Kept
	Forms Choices
	Back  string
}

// copyReadyPage leads to the file.
type copyReadyPage struct {
	Base
	Told  string
	Save  string // addresses
	Far   string // tells how far the file is
	Sheet string // with the mark that spreadsheets want; empty: no table
	Entry string
	Back  string
}

// The forms in which the record is taken out: value of the choice, format and table.
var copyForms = []struct{ value, format, table, words, note string }{
	{"entries", "csv", "entries", "Table of the entries", "CSV, one line for each entry"},
	{"cycles", "csv", "cycles", "Table of the cycles",
		"CSV, of the cycles that began in the period; knows period and kit only"},
	{"ndjson", "ndjson", "", "The entries as they were hashed", "NDJSON, one line for each"},
	{"evidence", "evidence", "", "Evidence file",
		"Can be checked without this server; knows period and kit only"},
	{"fhir", "fhir", "", "FHIR bundle", "R4, JSON, for other systems; knows period and kit only"},
	{"print", "print", "", "A list on paper", "A4 or Letter, two thousand entries at most"},
}

func showCopy(v *Visit) error {
	p, err := v.copyPage(v.trailFilter(), "")
	if p == nil {
		return err
	}
	if err != nil {
		return v.Refuse(err, p)
	}
	return v.Show(p)
}

func (v *Visit) copyPage(f trailFilter, picked string) (*copyPage, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	p := &copyPage{Base: Titled("Which copy do you take out?"), Kept: f.kept(),
		Back: f.address("/trail"), Forms: Choices{Name: "form", Legend: "As what",
			Hint: "Taking it out becomes an entry of its own, first.", Required: true}}
	for _, c := range copyForms {
		p.Forms.Options = append(p.Forms.Options, Choice{Value: c.value, Words: c.words, Note: c.note})
	}
	p.Forms = p.Forms.Pick(picked)
	chosen, err := v.chosen(w, f)
	if err != nil {
		return p, err
	}
	n, err := v.Store().Count(v.Context(), chosen)
	if err != nil {
		return nil, err
	}
	p.Told = entriesOf(n) + ": " + f.words(w) + "."
	return p, nil
}

// takeCopy records that somebody takes a copy, then leads to it.
func takeCopy(v *Visit) error {
	f, form := v.typedFilter(), v.Field("form")
	to, err := v.recordCopy(f, form)
	if err == nil {
		return v.Went(to, "")
	}
	p, pageErr := v.copyPage(f, form)
	if p == nil {
		return pageErr
	}
	return v.Refuse(err, p)
}

func (v *Visit) recordCopy(f trailFilter, form string) (to string, err error) {
	w, err := v.setUp()
	if err != nil {
		return "", err
	}
	cmd := reprocess.RecordExport{Scope: f.words(w)}
	for _, c := range copyForms {
		if c.value == form {
			cmd.Format, cmd.Table = c.format, c.table
		}
	}
	if err := v.copyFits(w, f, cmd); err != nil {
		return "", err
	}
	if cmd.Format == export.FormatEvidence {
		if err := v.Store().CallRoll(v.Context(), v.Actor()); err != nil {
			return "", err
		}
	}
	if cmd.Size, err = v.Store().Size(v.Context()); err != nil {
		return "", err
	}
	e, err := v.Do(cmd)
	if err != nil {
		return "", err
	}
	if cmd.Format == export.FormatEvidence { // the export itself is under it
		if _, err := v.Store().Checkpoint(v.Context()); err != nil {
			return "", err
		}
	}
	path := fmt.Sprintf("/trail/copy/%d", e.Seq)
	if cmd.Format == "print" {
		path += "/print"
	}
	return f.address(path), nil
}

// copyFits refuses what the form cannot show, before anything is recorded.
func (v *Visit) copyFits(w *reprocess.World, f trailFilter, cmd reprocess.RecordExport) error {
	chosen, err := v.chosen(w, f)
	if err != nil {
		return err
	}
	n, err := v.Store().Count(v.Context(), chosen)
	if err != nil {
		return err
	}
	if cmd.Format == "print" && n > mostPrinted {
		return &reprocess.Problem{Code: reprocess.Refused, Rule: "too_long",
			Text: fmt.Sprintf("%s do not go on paper well; %d do.", entriesOf(n), mostPrinted),
			Fix:  "Choose fewer, or take the table."}
	}
	if cmd.Table != "cycles" && cmd.Format != export.FormatEvidence &&
		cmd.Format != export.FormatFHIR {
		return nil
	}
	_, more, err := v.choice(w, f)
	if err == nil && more {
		err = &reprocess.Problem{Code: reprocess.Refused, Rule: "choice",
			Text: "This file can be cut by period and kit only.",
			Fix:  "Leave the other fields of the filter empty, or take the table of the entries."}
	}
	return err
}

// copyTicket is an entry that says that this visitor takes a copy out.
type copyTicket struct {
	seq   int64
	at    reprocess.Instant
	site  string
	event reprocess.Exported
	f     trailFilter
	w     *reprocess.World
}

// ticket finds the entry of the address and holds the address to what it says.
func (v *Visit) ticket() (*copyTicket, error) {
	t := &copyTicket{seq: trailNumber(v.Param("seq")), f: v.trailFilter()}
	e, err := v.Store().Entry(v.Context(), t.seq)
	if err != nil {
		return nil, missingEntry(err)
	}
	if t.w, err = v.setUp(); err != nil {
		return nil, err
	}
	found := false
	for _, b := range e.Events {
		if ev, ok := b.Event.(reprocess.Exported); ok {
			t.event, found = ev, true
		}
	}
	t.at, t.site = e.At, e.Site
	late := v.Now.UTC.Sub(e.At) > copyLives
	if !found || e.By != v.Person.ID || late || t.event.Scope != t.f.words(t.w) {
		return nil, &reprocess.Problem{Code: reprocess.Refused, Rule: "copy_again",
			Text: "This copy was not taken out by you within the last hour.",
			Fix:  "Choose it again in the trail: each copy is an entry."}
	}
	return t, nil
}

// name is the name of the file; the entry's number makes it one of a kind.
func (t *copyTicket) name() string {
	what := map[string]string{"csv": t.event.Table, "ndjson": "entries", "evidence": "evidence",
		"fhir": "fhir"}
	ending := map[string]string{"csv": "csv", "ndjson": "ndjson", "evidence": "zip",
		"fhir": "json"}
	return fmt.Sprintf("%s-%s-%d.%s", what[t.event.Format], reprocess.DateIn(t.at, nil), t.seq,
		ending[t.event.Format])
}

func showCopyReady(v *Visit) error {
	t, err := v.ticket()
	if err != nil {
		return err
	}
	path := fmt.Sprintf("/trail/copy/%d/file", t.seq)
	p := &copyReadyPage{Base: Titled("Where do you keep it?"), Save: t.f.address(path),
		Far:   t.f.address(fmt.Sprintf("/trail/copy/%d/far", t.seq)),
		Told:  exportedWords(t.event) + fmt.Sprintf(". Entry %d says so.", t.seq),
		Entry: fmt.Sprintf("/trail/%d", t.seq), Back: t.f.address("/trail")}
	if t.event.Format == export.FormatCSV {
		p.Sheet = t.f.address(path, "excel", "1")
	}
	return v.Show(p)
}

// sendCopy sends the file of a ticket.
func sendCopy(v *Visit) error {
	t, err := v.ticket()
	if err != nil {
		return err
	}
	kinds := map[string]string{"csv": "text/csv; charset=utf-8",
		"ndjson": "application/x-ndjson", "evidence": "application/zip",
		"fhir": "application/fhir+json"}
	kind, ok := kinds[t.event.Format]
	if !ok {
		return notFound("file")
	}
	if t.event.Format == export.FormatEvidence {
		return v.sendEvidence(t, kind)
	}
	run := v.server.copies.begin(t, v.Now.UTC)
	write, err := v.writer(t, run)
	if err != nil {
		return err
	}
	v.c.Set(fiber.HeaderContentType, kind)
	v.c.Set(fiber.HeaderContentDisposition, `attachment; filename="`+t.name()+`"`)
	if v.c.Method() == fiber.MethodHead {
		return nil
	}
	v.c.Context().Response.SetBodyStream(run.sending(stream(write), 0), -1)
	return nil
}

// byteOrderMark tells spreadsheets that a table is UTF-8.
const byteOrderMark = "\ufeff"

// writer gives what writes a table or the lines. It holds copies only: the request is over
// when it runs.
func (v *Visit) writer(t *copyTicket, run *copyRun) (func(io.Writer) error, error) {
	ctx, store, event := context.WithoutCancel(v.Context()), v.Store(), t.event
	mark := event.Format == export.FormatCSV && v.Query("excel") == "1"
	choice, err := v.fileChoice(t)
	if err != nil {
		return nil, err
	}
	return func(w io.Writer) error {
		if mark {
			if _, err := io.WriteString(w, byteOrderMark); err != nil {
				return err
			}
		}
		entries := run.entries(store.Bodies(ctx, 1, event.Size))
		if event.Format == export.FormatNDJSON {
			_, err := export.WriteNDJSON(w, entries, choice)
			return err
		}
		if event.Format == export.FormatFHIR {
			_, err := export.WriteFHIR(w, store.Origin(), entries, choice)
			return err
		}
		_, err := export.WriteCSV(w, export.Table(event.Table), entries, choice)
		return err
	}, nil
}

// fileChoice is what the file holds: entries by their numbers, cycles by period and kit.
func (v *Visit) fileChoice(t *copyTicket) (c export.Choice, err error) {
	if t.event.Table == string(export.TableCycles) || t.event.Format == export.FormatFHIR {
		c, _, err = v.choice(t.w, t.f)
		return c, err
	}
	if t.f.empty() {
		return c, nil
	}
	chosen, err := v.chosen(t.w, t.f)
	if err != nil {
		return c, err
	}
	list, err := v.Store().Numbers(v.Context(), chosen, t.event.Size)
	numbers := export.Numbers(list)
	c.Only = &numbers
	return c, err
}

// stream runs write in its own goroutine. Whatever goes wrong there, a panic as well, breaks
// the answer off, so that a part of a file never looks like the whole; when the reader goes
// away, write gets an error.
func stream(write func(io.Writer) error) io.ReadCloser {
	r, w := io.Pipe()
	go func() {
		err := errors.New("the file broke off")
		defer func() {
			_ = recover() // the reader is told; the process goes on
			w.CloseWithError(err)
		}()
		b := bufio.NewWriterSize(w, 1<<16)
		err = errors.Join(write(b), b.Flush())
	}()
	return r
}

func sampleCopy() Page {
	return &copyPage{Base: Titled("Which copy do you take out?"), Told: "2 entries: kit 17.",
		Kept: []Kept{{"kit", "17"}}, Back: "/trail?kit=17", Forms: Choices{Name: "form",
			Legend: "As what", Options: []Choice{{Value: "entries", Words: "Table", Note: "CSV"}}}}
}

func sampleCopyReady() Page {
	return &copyReadyPage{Base: Titled("Where do you keep it?"), Told: "Table of entries.",
		Save: "/trail/copy/12/file?kit=17", Far: "/trail/copy/12/far?kit=17", Sheet: "/trail/copy/12/file?excel=1&kit=17",
		Entry: "/trail/12", Back: "/trail?kit=17"}
}
