package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"unicode"

	"handback/reprocess/export"
	"handback/reprocess/ledger"
	"handback/reprocess/sqlite"
)

func verifyCommand() command {
	return command{
		name: "verify",
		usage: "--data DIR [--files] | --evidence FILE  [--key VKEY] [--checkpoint FILE]" +
			" [--json]",
		about: "recompute everything from the entries and name the first difference",
		run:   runVerify,
	}
}

// verifyFlags is what the command line of verify says.
type verifyFlags struct {
	data, evidence, key, checkpoint string
	files, json                     bool
	kept                            []byte // the checkpoint that was kept elsewhere
}

func runVerify(ctx context.Context, args []string, s streams) error {
	f := newFlags("verify")
	var o verifyFlags
	f.StringVar(&o.data, "data", "", "data folder")
	f.StringVar(&o.evidence, "evidence", "", "evidence file")
	f.StringVar(&o.key, "key", "", "public key, from paper")
	f.StringVar(&o.checkpoint, "checkpoint", "", "file with a checkpoint kept elsewhere")
	f.BoolVar(&o.files, "files", false, "hash the files too")
	f.BoolVar(&o.json, "json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := o.check(f); err != nil {
		return fmt.Errorf("verify: %w", err)
	}
	if o.evidence != "" {
		return o.verifyEvidence(s)
	}
	return o.verifyData(ctx, s)
}

// check refuses what would silently check less than was asked for.
func (o *verifyFlags) check(f *flags) (err error) {
	for _, name := range []string{"data", "evidence", "key", "checkpoint"} {
		if f.given(name) && f.Lookup(name).Value.String() == "" {
			return fmt.Errorf("--%s is empty; give it a value or leave it out", name)
		}
	}
	switch {
	case o.data != "" && o.evidence != "":
		return errors.New("give either --data or --evidence, not both")
	case o.data == "" && o.evidence == "":
		return errors.New("--data or --evidence is missing; name what is to be checked")
	case o.evidence != "" && o.files:
		return errors.New("--files goes with --data; an evidence file holds no other files")
	}
	if o.key != "" {
		if _, err := ledger.ParseVerifier(o.key); err != nil {
			return fmt.Errorf("%w; give the whole line as it was printed", err)
		}
	}
	if o.checkpoint != "" {
		if o.kept, err = os.ReadFile(o.checkpoint); err != nil {
			return fmt.Errorf("the checkpoint cannot be read: %w", err)
		}
		if len(o.kept) == 0 {
			return fmt.Errorf("the checkpoint %s is empty; give the file as it was kept", o.checkpoint)
		}
	}
	return nil
}

// verifyAnswer is what verify --json prints.
type verifyAnswer struct {
	Entries       int64           `json:"entries"`
	Root          string          `json:"root"`
	Difference    *string         `json:"difference"`
	Recomputed    []string        `json:"recomputed"`
	NotRecomputed []notRecomputed `json:"not_recomputed"`
	Checkpoints   int             `json:"checkpoints"`
	Newest        int64           `json:"newest_checkpoint"`
	KeyConfirmed  bool            `json:"key_confirmed"`
	Files         *int            `json:"files"`
	Unnamed       []string        `json:"files_unnamed,omitempty"`
}

type notRecomputed struct {
	Table  string `json:"table"`
	Reason string `json:"reason"`
}

func (o *verifyFlags) verifyData(ctx context.Context, s streams) error {
	r, err := sqlite.Verify(ctx, o.data,
		sqlite.VerifyOptions{Key: o.key, Checkpoint: o.kept, Files: o.files})
	if err != nil {
		return err
	}
	r.Difference = shown(r.Difference)
	if o.json {
		err = o.printData(s, r)
	} else {
		err = printText(s.out, dataLines(r)[0], dataLines(r)[1:]...)
	}
	if err == nil && r.Difference != "" {
		err = errDifference
	}
	return err
}

// shown makes what was found in a damaged file fit for a line on a screen.
func shown(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return unicode.ReplacementChar
	}, text)
}

func (o *verifyFlags) printData(s streams, r sqlite.Report) error {
	a := verifyAnswer{Entries: r.Entries, Root: r.Root.String(), Recomputed: []string{},
		NotRecomputed: []notRecomputed{}, Checkpoints: r.Checkpoints, Newest: r.Newest,
		KeyConfirmed: r.KeyGiven && r.Difference == ""}
	if r.Difference != "" {
		a.Difference = &r.Difference
	} else {
		a.Recomputed = append(a.Recomputed, r.Tables...)
	}
	for _, n := range r.NotFolded {
		a.NotRecomputed = append(a.NotRecomputed, notRecomputed(n))
	}
	if o.files {
		a.Files, a.Unnamed = &r.Files, r.Unnamed
	}
	return printJSON(s.out, a)
}

// dataLines is the report for people; the first line is the result.
func dataLines(r sqlite.Report) []string {
	if r.Difference != "" {
		return []string{r.Difference, fmt.Sprintf("the check stopped there; %d entries before it "+
			"were read", r.Entries)}
	}
	lines := []string{fmt.Sprintf("%d entries, no difference", r.Entries),
		"root " + r.Root.String()}
	for _, t := range r.Tables {
		lines = append(lines, "recomputed: "+t)
	}
	for _, n := range r.NotFolded {
		lines = append(lines, "not recomputed: "+n.Table+": "+n.Reason)
	}
	lines = append(lines, fmt.Sprintf("%d checkpoints, the newest over %d entries", r.Checkpoints,
		r.Newest))
	if r.Files > 0 {
		lines = append(lines, fmt.Sprintf("%d files agree with their names", r.Files))
	}
	for _, name := range r.Unnamed {
		lines = append(lines, "no entry names the file "+name+", or its removal is recorded")
	}
	switch {
	case r.KeyGiven:
		return append(lines, "signed with the key you gave")
	case r.KeyUsed:
		return append(lines, "internally consistent, key not confirmed: give the one on paper "+
			"with --key")
	}
	return append(lines, "no key: signatures were not checked; give the one on paper with --key")
}

// evidenceAnswer is what verify --evidence --json prints.
type evidenceAnswer struct {
	Consistent    bool    `json:"consistent"`
	Difference    *string `json:"difference"`
	KeyConfirmed  bool    `json:"key_confirmed"`
	Key           *string `json:"key"`
	Origin        *string `json:"origin"`
	Entries       int64   `json:"entries"`
	First         int64   `json:"first"`
	Last          int64   `json:"last"`
	Whole         bool    `json:"whole"`
	Scope         *string `json:"scope"`
	Size          int64   `json:"checkpoint_entries"`
	Recomputed    bool    `json:"tables_recomputed"`
	Kit           *string `json:"complete_kit"`
	KitEntries    int64   `json:"complete_kit_entries"`
	CheckpointWas string  `json:"kept_checkpoint"`
}

func (o *verifyFlags) verifyEvidence(s streams) error {
	file, err := os.Open(o.evidence)
	if err != nil {
		return fmt.Errorf("the evidence file cannot be read: %w", err)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil || info.IsDir() {
		return fmt.Errorf("%s is not an evidence file; choose the .zip as exported", o.evidence)
	}
	r, err := ledger.CheckEvidence(file, info.Size(),
		ledger.CheckOptions{VKey: o.key, Retained: o.kept, CSV: export.CSV})
	var unreadable *ledger.Unreadable
	switch {
	case errors.As(err, &unreadable):
		return err
	case err != nil:
		return o.differs(s, err)
	case o.json:
		return printJSON(s.out, evidenceOf(r))
	}
	return printText(s.out, r.Lines()[0], r.Lines()[1:]...)
}

func (o *verifyFlags) differs(s streams, found error) error {
	text, err := shown(found.Error()), error(nil)
	if o.json {
		err = printJSON(s.out, evidenceAnswer{Difference: &text, CheckpointWas: ledger.RetainedNone})
	} else {
		err = printText(s.out, text)
	}
	if err != nil {
		return err
	}
	return errDifference
}

func evidenceOf(r *ledger.Report) evidenceAnswer {
	a := evidenceAnswer{Consistent: true, KeyConfirmed: r.KeyConfirmed, Key: &r.VKey,
		Origin: &r.Checkpoint.Origin, Entries: r.Entries, First: r.First, Last: r.Last,
		Whole: r.Whole, Scope: &r.Scope, Size: r.Checkpoint.Size, Recomputed: r.CSVRecomputed,
		KitEntries: r.KitEntries, CheckpointWas: r.Retained}
	if r.Kit != "" {
		a.Kit = &r.Kit
	}
	return a
}
