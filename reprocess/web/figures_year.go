package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// yearPage is a year on one sheet: a line for each figure, a column for each month.
type yearPage struct {
	Base
	Facts  []entryFact
	Tables []figureTable
	Notes  []string
	Field  Field
	Pick   Pick
	Open   bool
	Sheet  string // address of the CSV
	How    string
}

// year reads which year of which model; the present year when none is given.
func (v *Visit) year(w *reprocess.World) (c figures.Choice, year int, err error) {
	year = figures.MonthOf(v.Now.UTC, v.Now.Zone).Year
	text, model := strings.TrimSpace(v.Query("year")), v.Query("model")
	if text != "" {
		year, err = strconv.Atoi(text)
		if err != nil || year < 1990 || year > 2199 || strconv.Itoa(year) != text {
			return c, 0, &reprocess.Problem{Code: reprocess.Invalid, Rule: "year",
				Text: fmt.Sprintf("%q is not a year like 2026.", text), Fix: "Type it with four figures."}
		}
	}
	if model != "" && w.Models[model] == nil {
		return c, year, unknownKey("model", model)
	}
	first := figures.Month{Year: year, Month: 1}
	return figures.Choice{From: first.Start(v.Now.Zone), To: first.Add(12).Start(v.Now.Zone),
		Model: model, Now: v.Now.UTC, Zone: v.Now.Zone}, year, nil
}

func showYear(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	c, year, err := v.year(w)
	p := &yearPage{Base: Titled("How was the pool used?"), Pick: pickOf("model", "Model", "All",
		v.Query("model"), modelChoices(w)), Field: TextField("year", "Year", v.Query("year"))}
	p.Field.Keys, p.Field.Hint = "numeric", "Four figures; empty: this year"
	if err != nil {
		p.Open = true
		return v.Refuse(err, p)
	}
	f, err := v.Store().Figures(v.Context(), c.From, c.To)
	if err != nil {
		return err
	}
	p.Title = fmt.Sprintf("How was the pool used in %d?", year)
	p.Facts = []entryFact{{"Site", w.Settings.Site}, {"Models", nameOfModel(w, c.Model)},
		{"Counted", v.zoned(v.Now.UTC) + " by " + v.Person.Name}}
	p.Tables = yearTables(f, c)
	p.Notes = yearNotes
	p.Sheet = trailFilter{}.address("/figures/year/file", "year", strconv.Itoa(year))
	if p.How, err = v.howChecked(); err != nil {
		return err
	}
	return v.Show(p)
}

func nameOfModel(w *reprocess.World, id string) string {
	if m := w.Models[id]; m != nil {
		return m.Name
	}
	return "all"
}

// yearNotes say how the lines are counted.
var yearNotes = []string{
	"Days are of 24 hours, cut at the ends of the months; what is still out or waiting counts until now.",
	"A kit that a ward keeps is handed out once, whoever wears it there.",
	"Share out: days out by days that kits belonged to the pool.",
	"Lost: pieces set to missing, and pieces that did not come back with their kit.",
	"Electrodes: as planned for the days of each hand-out by the figures of the model, spare sets included.",
	"Turnaround: from return to release, by the month of the release.",
}

// useLine is one line of the year: its words and how a period answers it.
type useLine struct {
	words string
	of    func(figures.Use) string
}

var useLines = []useLine{
	{"Handed out", func(u figures.Use) string { return strconv.Itoa(u.HandOuts) }},
	{"Days worn", func(u figures.Use) string { return fmt.Sprintf("%.0f", u.WearDays) }},
	{"Share out, %", func(u figures.Use) string { return fmt.Sprintf("%.0f", 100*u.OutShare()) }},
	{"Cycles", func(u figures.Use) string { return strconv.Itoa(u.Cycles) }},
	{"Turnaround, median h", func(u figures.Use) string { return hoursOf(u, u.Turnaround.Median) }},
	{"Turnaround, nine in ten, h", func(u figures.Use) string { return hoursOf(u, u.Turnaround.P90) }},
	{"To repair", func(u figures.Use) string { return strconv.Itoa(u.Repairs) }},
	{"Small repairs", func(u figures.Use) string { return strconv.Itoa(u.Small) }},
	{"Lost", func(u figures.Use) string { return strconv.Itoa(u.Losses) }},
	{"Lots used", func(u figures.Use) string { return strconv.Itoa(u.Lots) }},
	{"Electrodes", func(u figures.Use) string { return strconv.Itoa(u.Electrodes) }},
}

func hoursOf(u figures.Use, h float64) string {
	if u.Turnaround.N == 0 {
		return "–"
	}
	return figures.Figure(h)
}

// yearTables are the lines of use, and under them the days of waiting by reason.
func yearTables(f *figures.Facts, c figures.Choice) []figureTable {
	head := []string{"Month"}
	var uses []figures.Use
	for _, m := range c.Months() {
		head = append(head, figures.MonthOf(m.From, c.Zone).Short())
		uses = append(uses, f.Use(m))
	}
	whole := f.Use(c)
	head, uses = append(head, "Year"), append(uses, whole)
	use := figureTable{Caption: "Use of the pool", Head: head}
	for _, line := range useLines {
		row := figureRow{Name: line.words}
		for _, u := range uses {
			row.Cells = append(row.Cells, line.of(u))
		}
		use.Rows = append(use.Rows, row)
	}
	waits := figureTable{Caption: "Days of waiting, by reason", Head: head}
	for _, reason := range whole.Reasons() {
		row := figureRow{Name: capital(reprocess.WaitWords(reason))}
		for _, u := range uses {
			row.Cells = append(row.Cells, figures.Figure(u.WaitDays[reason]))
		}
		waits.Rows = append(waits.Rows, row)
	}
	if len(waits.Rows) == 0 {
		return []figureTable{use}
	}
	return []figureTable{use, waits}
}

// yearFile is the same year as CSV: a line for each month and model, and for all models.
// Columns are only added, at the end.
func yearFile(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	c, year, err := v.year(w)
	if err != nil {
		return err
	}
	f, err := v.Store().Figures(v.Context(), c.From, c.To)
	if err != nil {
		return err
	}
	models := []Choice{{Words: "all"}}
	for _, m := range modelChoices(w) {
		if c.Model == "" || c.Model == m.Value {
			models = append(models, m)
		}
	}
	b, err := yearCSV(f, c, w.Settings.Site, models)
	if err != nil {
		return err
	}
	return v.Download(fmt.Sprintf("figures-%d.csv", year), "text/csv; charset=utf-8", b)
}

func yearCSV(f *figures.Facts, c figures.Choice, site string, models []Choice) ([]byte, error) {
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.UseCRLF = true
	head := []string{"month", "site", "model", "hand_outs", "wear_days", "pool_days", "out_percent",
		"cycles", "turnaround_median_h", "turnaround_p90_h", "repairs", "small_repairs", "losses",
		"lots", "electrodes_planned", "hand_outs_without_plan"}
	for _, r := range reprocess.WaitReasons() {
		head = append(head, "waiting_"+r.ID+"_days")
	}
	rows := [][]string{head}
	for _, month := range c.Months() {
		for _, m := range models {
			month.Model = m.Value
			rows = append(rows, useRow(f.Use(month), figures.MonthOf(month.From, c.Zone).String(),
				plainCell(site), plainCell(m.Words)))
		}
	}
	err := out.WriteAll(rows)
	return b.Bytes(), err
}

func useRow(u figures.Use, first ...string) []string {
	figure := func(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) }
	median, p90 := "", ""
	if u.Turnaround.N > 0 {
		median, p90 = figure(u.Turnaround.Median), figure(u.Turnaround.P90)
	}
	row := slices.Concat(first, []string{strconv.Itoa(u.HandOuts), figure(u.WearDays),
		figure(u.PoolDays), figure(100 * u.OutShare()), strconv.Itoa(u.Cycles), median, p90,
		strconv.Itoa(u.Repairs), strconv.Itoa(u.Small), strconv.Itoa(u.Losses),
		strconv.Itoa(u.Lots), strconv.Itoa(u.Electrodes), strconv.Itoa(u.NoPlan)})
	for _, r := range reprocess.WaitReasons() {
		row = append(row, figure(u.WaitDays[r.ID]))
	}
	return row
}

// plainCell keeps a text that a spreadsheet would take for a formula from being one (CWE-1236).
func plainCell(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if strings.ContainsAny(s[:min(len(s), 1)], "=+-@") || strings.HasPrefix(s, "＝") {
		return "'" + s
	}
	return s
}

func sampleYear() Page {
	return &yearPage{Base: Titled("How was the pool used in 2026?"), Notes: yearNotes,
		Facts: []entryFact{{"Site", "Main building"}}, Field: TextField("year", "Year", "2026"),
		Pick: pickOf("model", "Model", "All", "", nil), Sheet: "/figures/year/file?year=2026",
		How: "How this was checked: …", Tables: []figureTable{{Caption: "Use of the pool",
			Head: []string{"Month", "Jan", "Year"}, Rows: []figureRow{{"Handed out", []string{"3", "3"}}}}}}
}
