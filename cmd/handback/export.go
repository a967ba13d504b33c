package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/export"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

func exportCommand() command {
	return command{
		name: "export",
		usage: "--data DIR --format csv|ndjson|fhir|evidence --out FILE [--table entries|cycles]" +
			" [--from T] [--to T] [--kit NUMBER] [--json] | --columns [--table entries|cycles]",
		about: "write the record to a file, for others to read",
		run:   runExport,
	}
}

// exportFlags is what the command line of export says.
type exportFlags struct {
	data, format, out, table, from, to, kit string
	json                                    bool
}

func runExport(ctx context.Context, args []string, s streams) error {
	f := newFlags("export")
	var o exportFlags
	f.StringVar(&o.data, "data", "", "data folder")
	f.StringVar(&o.format, "format", "", "csv, ndjson, fhir or evidence")
	f.StringVar(&o.out, "out", "", "file to write")
	f.StringVar(&o.table, "table", string(export.TableEntries), "table of a CSV file")
	f.StringVar(&o.from, "from", "", "start of the period, included")
	f.StringVar(&o.to, "to", "", "end of the period, not included")
	f.StringVar(&o.kit, "kit", "", "pool number or id of one kit")
	f.BoolVar(&o.json, "json", false, "one JSON object")
	columns := f.Bool("columns", false, "only list the columns of --table, with units")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if *columns {
		return o.columns(s)
	}
	if err := f.demand("data", "format", "out"); err != nil {
		return err
	}
	choice, err := o.check(f)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return o.export(ctx, s, choice)
}

// columns prints what the columns of a table mean.
func (o *exportFlags) columns(s streams) error {
	list := export.Columns(export.Table(o.table))
	if list == nil {
		return fmt.Errorf("export: there is no table %q; there are entries and cycles", o.table)
	}
	if o.json {
		return printJSON(s.out, list)
	}
	var lines []string
	for _, c := range list {
		lines = append(lines, fmt.Sprintf("%-18s %-4s %s", c.Name, c.Unit, c.About))
	}
	return printText(s.out, lines[0], lines[1:]...)
}

// check reads the flags; the kit is looked up later, in the folder.
func (o *exportFlags) check(f *flags) (c export.Choice, err error) {
	for _, name := range []string{"data", "out", "kit"} {
		if f.given(name) && f.Lookup(name).Value.String() == "" {
			return c, fmt.Errorf("--%s is empty; give it a value", name)
		}
	}
	if !slices.Contains(export.Formats(), o.format) {
		return c, fmt.Errorf("there is no format %q; there are %s", o.format,
			strings.Join(export.Formats(), ", "))
	}
	if export.Columns(export.Table(o.table)) == nil {
		return c, fmt.Errorf("there is no table %q; there are entries and cycles", o.table)
	}
	if f.given("table") && o.format != export.FormatCSV {
		return c, errors.New("--table goes with --format csv")
	}
	for _, t := range []struct {
		name, text string
		into       *reprocess.Instant
	}{{"from", o.from, &c.From}, {"to", o.to, &c.To}} {
		if !f.given(t.name) {
			continue
		}
		v, err := lookback.ParseTime(t.text)
		if err != nil {
			return c, fmt.Errorf("--%s: %w", t.name, err)
		}
		*t.into = reprocess.InstantOf(v)
	}
	if c.To != 0 && c.From >= c.To {
		return c, errors.New("the period holds nothing: --to must lie after --from")
	}
	return c, nil
}

// exportAnswer is what export prints.
type exportAnswer struct {
	Format  string  `json:"format"`
	Table   *string `json:"table"`
	Out     string  `json:"out"`
	Count   int64   `json:"count"` // rows, lines, or entries in the file
	Entries int64   `json:"entries"`
	Bytes   int64   `json:"bytes"`
	what    string  // of what Count is
}

func (o *exportFlags) export(ctx context.Context, s streams, c export.Choice) error {
	snap, err := sqlite.OpenSnapshot(ctx, o.data)
	if err != nil {
		return err
	}
	defer snap.Close()
	if o.kit != "" {
		if c.Kit, err = export.FindKit(snap.Bodies(ctx), o.kit); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	var a exportAnswer
	if o.format == export.FormatEvidence {
		a, err = o.exportEvidence(ctx, s, c, snap.Size())
	} else {
		a, err = o.exportPlain(ctx, s, snap, c)
	}
	if err != nil {
		return failure{fmt.Errorf("export: nothing was written: %w", err)}
	}
	return o.answer(s, a)
}

// exportPlain writes a format that needs nothing but reading.
func (o *exportFlags) exportPlain(ctx context.Context, s streams, snap *sqlite.Snapshot,
	c export.Choice) (a exportAnswer, err error) {
	a = exportAnswer{Format: o.format, Out: o.out, Entries: snap.Size()}
	a.Bytes, err = writeOrNothing(o.out, func(f io.WriteSeeker) error {
		w := bufio.NewWriterSize(f, 1<<16)
		var err error
		if a.Count, a.what, err = o.write(ctx, s, w, snap, c); err != nil {
			return err
		}
		return errors.Join(w.Flush(), snap.Check())
	})
	return a, err
}

// write writes entries and counts what was written.
func (o *exportFlags) write(ctx context.Context, s streams, w io.Writer, snap *sqlite.Snapshot,
	c export.Choice) (n int64, what string, err error) {
	entries := progress(s, snap.Bodies(ctx), snap.Size())
	switch o.format {
	case export.FormatNDJSON:
		n, err = export.WriteNDJSON(w, entries, c)
		return n, "entries", err
	case export.FormatFHIR:
		vkey, err := snap.VKey()
		if err != nil {
			return 0, "", err
		}
		origin, _, _ := strings.Cut(vkey, "+")
		n, err = export.WriteFHIR(w, origin, entries, c)
		return n, "resources", err
	}
	n, err = export.WriteCSV(w, export.Table(o.table), entries, c)
	return n, "rows of " + o.table, err
}

func (o *exportFlags) answer(s streams, a exportAnswer) error {
	if o.format == export.FormatCSV {
		a.Table = &o.table
	}
	if o.json {
		return printJSON(s.out, a)
	}
	return printText(s.out, fmt.Sprintf("%s: %d %s, %d bytes, from a log of %d entries", a.Out,
		a.Count, a.what, a.Bytes, a.Entries))
}

// writeOrNothing writes a file under a temporary name beside it and renames it when everything is
// on the disk, so that a broken export leaves nothing that looks like one.
func writeOrNothing(path string, write func(io.WriteSeeker) error) (size int64, err error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return 0, fmt.Errorf("%s is not a file; name one with --out", path)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return 0, fmt.Errorf("there cannot be written beside %s: %w", path, err)
	}
	defer func() {
		f.Close() // after a success it is closed already
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	if err := errors.Join(write(f), f.Sync()); err != nil {
		return 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	if err := f.Close(); err != nil {
		return 0, err
	}
	return info.Size(), os.Rename(f.Name(), path)
}

// progressStep is how many entries go by between two looks at the counter.
const progressStep = 5000

// progress counts on the terminal while entries go by; anywhere else it says nothing.
func progress(s streams, entries export.Entries, size int64) export.Entries {
	f, ok := s.err.(*os.File)
	if !ok {
		return entries
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return entries
	}
	return counted(f, entries, size)
}

// counted writes the number over itself while entries go by and wipes it at the end, whole or not.
func counted(f io.Writer, entries export.Entries, size int64) export.Entries {
	return func(yield func([]byte, error) bool) {
		n := int64(0)
		defer fmt.Fprint(f, "\r\033[K")
		for body, err := range entries {
			if n++; n%progressStep == 0 {
				fmt.Fprintf(f, "\r%d of %d entries", n, size)
			}
			if !yield(body, err) {
				return
			}
		}
	}
}
