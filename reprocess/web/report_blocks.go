package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/figures"
	"handback/reprocess/report"
	"handback/reprocess/sqlite"
)

func orNot(s string) string {
	if s == "" {
		return "not recorded"
	}
	return s
}

// sectionBlocks is a section of the page of figures on paper: each chart with its table.
func sectionBlocks(s figureSection) []report.Block {
	blocks := []report.Block{report.Heading(s.Heading)}
	if s.About != "" {
		blocks = append(blocks, report.Text(s.About))
	}
	blocks = append(blocks, termBlock(s.Facts))
	for _, c := range s.Charts {
		blocks = append(blocks, report.Chart{Chart: c.chart})
		if len(c.Table.Rows) > 0 && c.Box != "" {
			blocks = append(blocks, tableBlock(c.Table))
		}
	}
	for _, t := range s.Tables {
		blocks = append(blocks, tableBlock(t))
	}
	if s.Last != "" {
		blocks = append(blocks, report.Text(s.Last))
	}
	var rows [][]string
	for _, r := range s.Rows {
		rows = append(rows, []string{r.Words, r.Note})
	}
	if len(rows) > 0 {
		blocks = append(blocks, report.Table{Head: []string{"Kit", "For"}, Rows: rows})
	}
	return blocks
}

func termBlock(facts []entryFact) report.Terms {
	var terms report.Terms
	for _, f := range facts {
		terms = append(terms, report.Term{Name: f.Name, Value: f.Value})
	}
	return terms
}

func tableBlock(t figureTable) report.Table {
	b := report.Table{Caption: t.Caption, Head: t.Head}
	for i := range t.Head {
		b.Right = append(b.Right, i > 0)
	}
	for _, r := range t.Rows {
		b.Rows = append(b.Rows, append([]string{r.Name}, r.Cells...))
	}
	return b
}

// mostDeviations is how many lines each list of deviations holds.
const mostDeviations = 200

// deviationBlocks list what was not as written, the newest first, by the numbers of entries.
func (v *Visit) deviationBlocks(c figures.Choice, e *reprocess.Entry) ([]report.Block, error) {
	blocks := []report.Block{report.Heading("Deviations, entry by entry"),
		report.Text("The newest first, for all models. Who did what stands in the audit trail, under the " +
			"number of the entry.")}
	for _, x := range []struct {
		title string
		f     sqlite.Filter
	}{{"Accepted not as written", sqlite.Filter{Act: reprocess.ActOverride, Result: reprocess.ResultDone}},
		{"Out without a record, entered after the fact",
			sqlite.Filter{Act: reprocess.ActIssueAfter, Result: reprocess.ResultDone}},
		{"Put on hold", sqlite.Filter{Ref: reprocess.Ref{Table: "event", ID: "held"}}},
		{"Decided on a hold", sqlite.Filter{Ref: reprocess.Ref{Table: "event", ID: "hold_ended"}}},
		{"Refused", sqlite.Filter{Result: reprocess.ResultRefused}}} {
		x.f.From, x.f.To = c.From, min(c.To, e.At+1)
		more, err := v.deviationTable(x.title, x.f, e.Seq)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, more...)
	}
	return blocks, nil
}

func (v *Visit) deviationTable(title string, f sqlite.Filter, before int64) ([]report.Block, error) {
	n, err := v.Store().Count(v.Context(), f)
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return []report.Block{report.Strong(title + ": none.")}, nil
	}
	list, err := v.Store().Entries(v.Context(), f, before, mostDeviations)
	if err != nil {
		return nil, err
	}
	rows, err := v.trailRows(list)
	if err != nil {
		return nil, err
	}
	t := report.Table{Caption: fmt.Sprintf("%s: %d", title, n), Head: []string{"Entry", "When", "Kit", "What"},
		Right: []bool{true}}
	for _, r := range rows {
		what := strings.Join(r.Lines, " ")
		if r.Refused != "" {
			what += " " + r.Refused
		}
		t.Rows = append(t.Rows, []string{r.Seq, r.When, strings.TrimPrefix(r.Kit, "kit "), what})
	}
	blocks := []report.Block{t}
	if n > mostDeviations {
		blocks = append(blocks, report.Text(fmt.Sprintf("The newest %d of %d; the trail has them all.",
			mostDeviations, n)))
	}
	return blocks, nil
}

// sampleBlocks are a sample with its result and its records.
func (v *Visit) sampleBlocks(id string) ([]report.Block, error) {
	blocks := []report.Block{report.Heading("Sample of the records")}
	if id == "" {
		return append(blocks, report.Text("No sample belongs to this report.")), nil
	}
	s, err := v.sampleOf(id)
	if err != nil {
		return nil, err
	}
	o, err := s.Outcome()
	if err != nil {
		return nil, err
	}
	again, err := v.drawnAgain(s)
	if err != nil {
		return nil, err
	}
	rows, err := v.sampleRows(s)
	if err != nil {
		return nil, err
	}
	t := report.Table{Caption: "The records in the order drawn", Head: []string{"Record", "Reading"}}
	for _, r := range rows {
		t.Rows = append(t.Rows, []string{r.Words, r.Note})
	}
	facts := v.sampleFacts(s, o)
	return append(blocks, report.Strong(o.Words), report.Text(shareWords(s, o)), report.Text(again),
		termBlock(facts[:len(facts)-1]), t), nil
}

// checkpointBlocks are the newest checkpoint, to compare with what the server says later.
func (v *Visit) checkpointBlocks() ([]report.Block, error) {
	blocks := []report.Block{report.Heading("Checkpoint of the record")}
	how, err := v.howChecked()
	if err != nil {
		return nil, err
	}
	notes, err := v.Store().Checkpoints(v.Context(), 1)
	if err != nil {
		return nil, err
	}
	if len(notes) > 0 {
		n, err := v.Store().CheckpointOf(v.Context(), notes[0].Size)
		if err != nil {
			return nil, err
		}
		matrix, err := labels.Matrix(n.Note, labels.LevelM)
		if err != nil {
			return nil, err
		}
		blocks = append(blocks, report.Terms{{Name: "Entries", Value: strconv.FormatInt(n.Size, 10)},
			{Name: "Root", Value: n.Root.String()}, {Name: "Signed", Value: v.zoned(n.At)},
			{Name: "Public key", Value: v.Store().VerifierKey()}}, report.Code(n.Note), report.QR(matrix))
	}
	return append(blocks, report.Text(how), report.Text("Whoever checks the record later compares this "+
		"checkpoint with what is there then: an older state has to be a beginning of the newer one.")), nil
}
