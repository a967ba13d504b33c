package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// readsFigures may see what is counted.
var readsFigures = only(reprocess.RoleAuditor, reprocess.RoleSupervisor)

// figuresRoutes are the rows of the figures.
func figuresRoutes() []Route {
	return []Route{
		{Method: get, Path: "/figures", Who: readsFigures, Page: "figures", Sample: sampleFigures,
			Handle: showFigures, Place: "Figures", Question: "How is it going?"},
		{Method: get, Path: "/figures/year", Who: readsFigures, Page: "figures-year",
			Sample: sampleYear, Handle: showYear},
		{Method: get, Path: "/figures/year/file", Who: readsFigures, Handle: yearFile},
		{Method: get, Path: "/figures/report", Who: acts(reprocess.ActExport), Page: "figures-report",
			Sample: sampleReport, Handle: showReport},
		{Method: post, Path: "/figures/report", Who: acts(reprocess.ActExport), Page: "figures-report",
			Sample: sampleReport, Handle: takeReport},
		{Method: get, Path: "/figures/report/:seq/report.pdf", Who: acts(reprocess.ActExport),
			Handle: reportFile},
		{Method: get, Path: "/kit/:id/papers", Who: paperWho(), Page: "kit-papers", Sample: samplePapers,
			Handle: showPapers},
		{Method: post, Path: "/kit/:id/papers", Who: acts(reprocess.ActExport), Page: "kit-papers",
			Sample: samplePapers, Handle: takeDeviceRecord},
		{Method: get, Path: "/kit/:id/papers/:seq/record.pdf", Who: acts(reprocess.ActExport),
			Handle: deviceRecordFile},
		{Method: get, Path: "/kit/:id/papers/:seq/declaration.pdf", Who: paperWho(),
			Handle: declarationFile},
	}
}

// figuresPage is what was counted in a period, each figure with how it is defined, each chart
// with its numbers in a table. The address is the whole state.
type figuresPage struct {
	Base
	Told     string
	Fields   []Field
	Pick     Pick
	Open     bool
	Sections []figureSection
	Links    []link
	How      string
}

// figureSection is one heading with its figures.
type figureSection struct {
	Heading, About string
	Facts          []entryFact
	Tables         []figureTable
	Charts         []chartView
	Rows           []link
	Last           string
}

// figureTable is a table of texts; all columns but the first are figures.
type figureTable struct {
	Caption string
	Head    []string
	Rows    []figureRow
}

// figureRow is one line of it.
type figureRow struct {
	Name  string
	Cells []string
}

// figureKeys are the keys of the address, as typed.
type figureKeys struct{ From, To, Model string }

func (v *Visit) figureKeys() figureKeys {
	return figureKeys{strings.TrimSpace(v.Query("from")), strings.TrimSpace(v.Query("to")),
		v.Query("model")}
}

// choose reads the keys: whole months, by default the last twelve and this one's days so far.
func (v *Visit) choose(w *reprocess.World, k figureKeys) (c figures.Choice, err error) {
	this := figures.MonthOf(v.Now.UTC, v.Now.Zone)
	from, to := this.Add(-11), this
	for _, x := range []struct {
		text string
		into *figures.Month
	}{{k.From, &from}, {k.To, &to}} {
		if x.text == "" {
			continue
		}
		if *x.into, err = figures.ParseMonth(x.text); err != nil {
			return c, &reprocess.Problem{Code: reprocess.Invalid, Rule: "month", Err: err,
				Text: capital(err.Error()) + ".", Fix: "Type it like 2026-11."}
		}
	}
	c = figures.Choice{From: from.Start(v.Now.Zone), To: to.Add(1).Start(v.Now.Zone),
		Model: k.Model, Now: v.Now.UTC, Zone: v.Now.Zone}
	switch {
	case k.Model != "" && w.Models[k.Model] == nil:
		return c, unknownKey("model", k.Model)
	case c.From >= c.To:
		return c, &reprocess.Problem{Code: reprocess.Invalid, Rule: "window",
			Text: "The period ends before it begins.", Fix: "Put the earlier month first."}
	case len(c.Months()) > 36:
		return c, &reprocess.Problem{Code: reprocess.Invalid, Rule: "window",
			Text: "That is more than three years.", Fix: "Choose 36 months at most."}
	}
	return c, nil
}

func showFigures(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	k := v.figureKeys()
	p := figuresForm(w, k)
	c, err := v.choose(w, k)
	if err != nil {
		p.Open = true
		return v.Refuse(err, p)
	}
	f, err := v.Store().Figures(v.Context(), c.From, c.To)
	if err != nil {
		return err
	}
	p.Told = periodWords(w, c)
	p.Sections = v.figureSections(f, c)
	p.Links = figureLinks(k, c, v.may(reprocess.ActExport))
	return v.Show(p)
}

func figuresForm(w *reprocess.World, k figureKeys) *figuresPage {
	p := &figuresPage{Base: Titled("How is it going?")}
	month := func(name, label, value, hint string) Field {
		f := TextField(name, label, value)
		f.Kind, f.Hint = "month", hint
		return f
	}
	p.Fields = []Field{month("from", "From the month", k.From, "Such as 2026-01; empty: a year ago"),
		month("to", "To the month", k.To, "Included; empty: this month")}
	p.Pick = pickOf("model", "Model", "All", k.Model, modelChoices(w))
	p.How = "These figures ask where to look. They count cycles and kits, never people: a signal " +
		"means look for the cause, and most causes are in the work and not in who did it."
	return p
}

func periodWords(w *reprocess.World, c figures.Choice) string {
	months := c.Months()
	first := figures.MonthOf(c.From, c.Zone)
	last := figures.MonthOf(months[len(months)-1].From, c.Zone)
	words := first.Words() + " to " + last.Words()
	if first == last {
		words = first.Words()
	}
	if m := w.Models[c.Model]; m != nil {
		return words + ", " + m.Name
	}
	return words + ", all models"
}

func figureLinks(k figureKeys, c figures.Choice, takes bool) []link {
	year := strconv.Itoa(figures.MonthOf(min(c.To-1, c.Now), c.Zone).Year)
	links := []link{{To: trailFilter{}.address("/figures/year", "year", year, "model", k.Model),
		Words: "The year in figures", Note: "Hand-outs, days worn, waiting, lots; to print or as CSV"}}
	if takes {
		links = append(links, link{To: trailFilter{}.address("/figures/report", "from",
			figures.MonthOf(c.From, c.Zone).String(), "to", figures.MonthOf(c.To-1, c.Zone).String(),
			"model", k.Model), Words: "Audit report on paper",
			Note: "Figures, deviations, sample and checkpoint, as PDF"})
	}
	return links
}

// percent writes a share with one decimal.
func percent(part, of int) string {
	if of == 0 {
		return "–"
	}
	return figures.Figure(100*float64(part)/float64(of)) + " %"
}

// ofCount writes a share with what it is made of.
func ofCount(part, of int) string {
	return fmt.Sprintf("%s (%d of %d)", percent(part, of), part, of)
}

// hoursWords writes hours in the unit a person thinks in.
func hoursWords(h float64) string {
	switch {
	case h < 1:
		return fmt.Sprintf("%.0f min", h*60)
	case h < 48:
		return figures.Figure(h) + " h"
	}
	return figures.Figure(h/24) + " days"
}

func spreadWords(s figures.Spread) string {
	if s.N == 0 {
		return "none"
	}
	return fmt.Sprintf("median %s, nine in ten within %s (%d)", hoursWords(s.Median),
		hoursWords(s.P90), s.N)
}
