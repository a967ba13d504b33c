package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"handback/reprocess"
	"handback/reprocess/figures"
	"handback/reprocess/report"
	"handback/reprocess/sqlite"
)

// reportPage asks what the printed audit report covers.
type reportPage struct {
	Base
	Fields []Field
	Picks  []Pick
}

// reportKeys are what a report is made by, as typed.
type reportKeys struct {
	figureKeys
	Sample, Paper string
}

func readReport(value func(string) string) reportKeys {
	text := func(name string) string { return strings.TrimSpace(value(name)) }
	return reportKeys{figureKeys{text("from"), text("to"), text("model")}, text("sample"), text("paper")}
}

func (k reportKeys) address(path string) string {
	return trailFilter{}.address(path, "from", k.From, "to", k.To, "model", k.Model, "sample", k.Sample,
		"paper", k.Paper)
}

func showReport(v *Visit) error {
	p, err := v.reportPage(readReport(v.Query))
	if err != nil {
		return err
	}
	return v.Show(p)
}

func (v *Visit) reportPage(k reportKeys) (*reportPage, error) {
	w, err := v.setUp()
	if err != nil {
		return nil, err
	}
	runs, err := v.Store().Samples(v.Context(), 20)
	if err != nil {
		return nil, err
	}
	var samples []Choice
	for _, s := range runs {
		samples = append(samples, Choice{Value: s.ID, Words: fmt.Sprintf("%s, %s, %d of %d read", s.ID,
			samplePeriod(s), len(s.Reads), len(s.Cycles))})
	}
	p := &reportPage{Base: Titled("What does the report cover?"), Fields: figuresForm(w, k.figureKeys).Fields}
	p.Picks = []Pick{pickOf("model", "Model", "All", k.Model, modelChoices(w)),
		pickOf("sample", "Sample", "None", k.Sample, samples), paperPick(k.Paper)}
	return p, nil
}

func paperPick(picked string) Pick {
	return pickOf("paper", "Paper", "A4", picked, []Choice{{Value: string(report.Letter), Words: "Letter"}})
}

// reportPaper reads the paper; empty is A4.
func reportPaper(text string) (report.Paper, error) {
	switch text {
	case "", string(report.A4):
		return report.A4, nil
	case string(report.Letter):
		return report.Letter, nil
	}
	return "", unknownKey("paper", text)
}

// scope says what a report covers; the same keys always say the same.
func (v *Visit) scope(k reportKeys) (words string, c figures.Choice, err error) {
	w, err := v.setUp()
	if err != nil {
		return "", c, err
	}
	if c, err = v.choose(w, k.figureKeys); err != nil {
		return "", c, err
	}
	paper, err := reportPaper(k.Paper)
	if err != nil {
		return "", c, err
	}
	words = periodWords(w, c)
	if k.Sample != "" {
		if _, err = v.sampleOf(k.Sample); err != nil {
			return "", c, err
		}
		words += ", sample " + k.Sample
	}
	return words + ", " + string(paper), c, nil
}

func (v *Visit) sampleOf(id string) (*reprocess.Sample, error) {
	return sqlite.Get[reprocess.Sample](v.Context(), v.Store(), reprocess.TableSample, id)
}

// takeReport records that a report is taken out, then leads to the file.
func takeReport(v *Visit) error {
	k := readReport(v.Field)
	words, c, err := v.scope(k)
	var e *reprocess.Entry
	if err == nil {
		k.From = figures.MonthOf(c.From, c.Zone).String()
		k.To = figures.MonthOf(c.To-1, c.Zone).String()
		e, err = v.takeOut("report", words)
	}
	if err != nil {
		p, pageErr := v.reportPage(k)
		if pageErr != nil {
			return pageErr
		}
		return v.Refuse(err, p)
	}
	return v.Went(k.address(fmt.Sprintf("/figures/report/%d/report.pdf", e.Seq)), "")
}

// takeOut makes the entry that says that something is taken out on paper.
func (v *Visit) takeOut(format, scope string) (*reprocess.Entry, error) {
	size, err := v.Store().Size(v.Context())
	if err != nil {
		return nil, err
	}
	return v.Do(reprocess.RecordExport{Format: format, Scope: scope, Size: size})
}

// taken finds the entry of the address, by this visitor within the hour, and holds the address
// to what the entry says.
func (v *Visit) taken(format, scope string) (*reprocess.Entry, error) {
	e, err := v.Store().Entry(v.Context(), trailNumber(v.Param("seq")))
	if err != nil {
		return nil, missingEntry(err)
	}
	for _, b := range e.Events {
		x, ok := b.Event.(reprocess.Exported)
		if ok && x.Format == format && x.Scope == scope && e.By == v.Person.ID &&
			v.Now.UTC.Sub(e.At) <= copyLives {
			return e, nil
		}
	}
	return nil, &reprocess.Problem{Code: reprocess.Refused, Rule: "copy_again",
		Text: "This paper was not taken out by you within the last hour.",
		Fix:  "Choose it again: each one is an entry."}
}

// reportFile makes the report. What it counts is counted up to the moment of its entry.
func reportFile(v *Visit) error {
	k := readReport(v.Query)
	words, c, err := v.scope(k)
	if err != nil {
		return err
	}
	e, err := v.taken("report", words)
	if err != nil {
		return err
	}
	paper, err := reportPaper(k.Paper)
	if err != nil {
		return err
	}
	c.Now = e.At
	d, err := v.reportDocument(k, c, e)
	if err != nil {
		return err
	}
	pdf, err := report.PDF(d, paper, e.At.Time())
	if err != nil {
		return err
	}
	return v.pdf(fmt.Sprintf("audit-report-%s-%d.pdf", reprocess.DateIn(e.At, v.Now.Zone), e.Seq), pdf)
}

// pdf sends a paper to be shown or kept.
func (v *Visit) pdf(name string, content []byte) error {
	v.c.Set(fiber.HeaderContentDisposition, `inline; filename="`+name+`"`)
	v.c.Set(fiber.HeaderContentType, "application/pdf")
	return v.c.Send(content)
}

// reportDocument puts the report together.
func (v *Visit) reportDocument(k reportKeys, c figures.Choice, e *reprocess.Entry) (
	d report.Document, err error) {
	f, err := v.Store().Figures(v.Context(), c.From, c.To)
	if err != nil {
		return d, err
	}
	w := f.World
	d.Title = "Audit report"
	d.Foot = "Audit report, " + periodWords(w, c) + ", entry " + strconv.FormatInt(e.Seq, 10)
	d.Blocks = []report.Block{report.Terms{{Name: "Clinic", Value: orNot(w.Settings.Clinic)},
		{Name: "Site", Value: orNot(w.Settings.Site)}, {Name: "Period", Value: periodWords(w, c)},
		{Name: "Made for", Value: e.Name + ", " + v.zoned(e.At)},
		{Name: "Recorded as", Value: fmt.Sprintf("entry %d; numbers of entries lead into the audit trail", e.Seq)}},
		report.Text("These figures ask where to look. They count cycles and kits, never people.")}
	for _, s := range v.figureSections(f, c) {
		d.Blocks = append(d.Blocks, sectionBlocks(s)...)
	}
	if len(c.Months()) <= 12 {
		d.Blocks = append(d.Blocks, report.Heading("Use of the pool"))
		for _, t := range yearTables(f, c) {
			d.Blocks = append(d.Blocks, tableBlock(t))
		}
	}
	parts := []func() ([]report.Block, error){
		func() ([]report.Block, error) { return v.deviationBlocks(c, e) },
		func() ([]report.Block, error) { return v.sampleBlocks(k.Sample) },
		v.checkpointBlocks}
	for _, part := range parts {
		blocks, err := part()
		if err != nil {
			return d, err
		}
		d.Blocks = append(d.Blocks, blocks...)
	}
	return d, nil
}

// hasEvent tells whether an entry has an event that is meant.
func hasEvent(e *reprocess.Entry, meant func(reprocess.Event) bool) bool {
	return slices.ContainsFunc(e.Events, func(b reprocess.Box) bool { return meant(b.Event) })
}

func sampleReport() Page {
	return &reportPage{Base: Titled("What does the report cover?"), Picks: []Pick{paperPick("")},
		Fields: []Field{TextField("from", "From the month", "2026-01")}}
}
