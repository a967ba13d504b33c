package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"handback/reprocess/export"
	"handback/reprocess/lookback"
	"handback/reprocess/sqlite"
)

func lookbackCommand() command {
	return command{
		name: "lookback",
		usage: "--data DIR | --records DIR [--lot] [--product] [--container] [--piece] [--model]" +
			" [--person] [--procedure] [--instrument] [--from] [--to] [--as-of T]",
		about: "which cycles a failure touched, who wore what, what to stop and call back",
		run:   runLookback,
	}
}

// lookbackAnswer is what lookback prints.
type lookbackAnswer struct {
	Cycles     []string            `json:"cycles"`
	Caught     []string            `json:"caught"`
	Exposed    []string            `json:"exposed"`
	Unreleased []string            `json:"unreleased"`
	Sources    map[string][]string `json:"sources"`
	Recall     []string            `json:"recall"`
	Embargo    []string            `json:"embargo"`
	Restart    []string            `json:"restart"`
	Unresolved []string            `json:"unresolved"`
	Wearers    int                 `json:"wearers"`
}

// lookbackSource answers a query from a folder; the folder's kind chooses it.
type lookbackSource func(ctx context.Context, q lookback.Query) (lookback.Result, error)

func runLookback(ctx context.Context, args []string, s streams) error {
	f := newFlags("lookback")
	data := f.String("data", "", "data folder")
	records := f.String("records", "", "folder with cycles.csv and loans.csv")
	var q lookback.Query
	var from, to, asOf string
	lookbackKeys(f, &q)
	f.StringVar(&from, "from", "", "start of the window, included")
	f.StringVar(&to, "to", "", "end of the window, not included")
	f.StringVar(&asOf, "as-of", "", "ignore what was entered later")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := lookbackTimes(f, &q, from, to, asOf); err != nil {
		return err
	}
	source, err := chooseSource(*data, *records, q)
	if err != nil {
		return err
	}
	r, err := source(ctx, q)
	if err != nil {
		return err
	}
	return printLookback(s, r, *asJSON)
}

func lookbackKeys(f *flags, q *lookback.Query) {
	f.StringVar(&q.Lot, "lot", "", "lot of the disinfectant")
	f.StringVar(&q.Product, "product", "", "disinfectant")
	f.StringVar(&q.Container, "container", "", "container of the disinfectant")
	f.StringVar(&q.Piece, "piece", "", "device")
	f.StringVar(&q.Model, "model", "", "model")
	f.StringVar(&q.Person, "person", "", "who did a step or released")
	f.StringVar(&q.Procedure, "procedure", "", "procedure version")
	f.StringVar(&q.Instrument, "instrument", "", "measuring instrument")
}

// lookbackTimes reads the moments, and refuses a key that was given empty: it would silently
// ask for everything.
func lookbackTimes(f *flags, q *lookback.Query, from, to, asOf string) error {
	for _, name := range []string{"lot", "product", "container", "piece", "model", "person",
		"procedure", "instrument", "data", "records"} {
		if f.given(name) && f.Lookup(name).Value.String() == "" {
			return fmt.Errorf("--%s is empty; give it a value or leave it out", name)
		}
	}
	for _, t := range []struct {
		name, text string
		into       *time.Time
	}{{"from", from, &q.From}, {"to", to, &q.To}, {"as-of", asOf, &q.AsOf}} {
		if !f.given(t.name) {
			continue
		}
		v, err := lookback.ParseTime(t.text)
		if err != nil {
			return err
		}
		*t.into = v
	}
	return q.Check()
}

func chooseSource(data, records string, q lookback.Query) (lookbackSource, error) {
	switch {
	case data != "" && records != "":
		return nil, errors.New("give either --data or --records, not both")
	case data != "":
		return ledgerSource(data), nil
	case records == "":
		return nil, errors.New("lookback: --data or --records is missing;" +
			" name the folder to look in")
	}
	if q.Product+q.Container+q.Model+q.Person+q.Procedure+q.Instrument != "" {
		return nil, errors.New("records hold only lots and devices; ask them by --lot," +
			" --piece and times, or use --data")
	}
	return recordSource(records), nil
}

// recordSource reads cycles.csv and loans.csv.
func recordSource(dir string) lookbackSource {
	return func(_ context.Context, q lookback.Query) (lookback.Result, error) {
		cycles, err := readRecords(filepath.Join(dir, "cycles.csv"), lookback.ReadCycles)
		if err != nil {
			return lookback.Result{}, err
		}
		loans, err := readRecords(filepath.Join(dir, "loans.csv"), lookback.ReadLoans)
		if err != nil {
			return lookback.Result{}, err
		}
		return lookback.Run(q, cycles, loans)
	}
}

func readRecords[T any](path string, read func(io.Reader) ([]T, error)) ([]T, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read; name a folder with cycles.csv and loans.csv",
			path)
	}
	defer func() { _ = f.Close() }()
	out, err := read(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return out, nil
}

// ledgerSource reads a data folder, also beside a running server.
func ledgerSource(dir string) lookbackSource {
	return func(ctx context.Context, q lookback.Query) (r lookback.Result, err error) {
		snap, err := sqlite.OpenSnapshot(ctx, dir)
		if err != nil {
			return r, err
		}
		defer snap.Close()
		references, err := snap.References(ctx)
		if err != nil {
			return r, err
		}
		if r, err = export.LookBack(q, snap.Bodies(ctx), references); err != nil {
			return r, err
		}
		return r, snap.Check()
	}
}

func printLookback(s streams, r lookback.Result, asJSON bool) error {
	if asJSON {
		return printJSON(s.out, lookbackAnswer{r.Cycles, r.Caught, r.Exposed, r.Unreleased,
			r.Sources, r.Recall, r.Embargo, r.Restart, r.Unresolved, r.Wearers})
	}
	var lines []string
	for _, l := range []struct {
		title string
		names []string
	}{{"cycles", r.Cycles}, {"caught before release", r.Caught}, {"call back", r.Recall},
		{"stop", r.Embargo}, {"restart", r.Restart}, {"went out unreleased", r.Unreleased},
		{"unresolved", r.Unresolved}, {"no conforming cycle before", r.Unbounded},
		{"prepared here from it, and counted", r.Batches}} {
		if len(l.names) > 0 {
			lines = append(lines, l.title+": "+strings.Join(l.names, ", "))
		}
	}
	for _, e := range r.Exposed {
		lines = append(lines, fmt.Sprintf("exposed: %s, after %s", e,
			strings.Join(append([]string{}, r.Sources[e]...), ", ")))
	}
	return printText(s.out, fmt.Sprintf("%d cycles affected, %d loans exposed, %d wearers",
		len(r.Cycles), len(r.Exposed), r.Wearers), append(lines,
		"For infection control; do not contact wearers from this list yourself.")...)
}
