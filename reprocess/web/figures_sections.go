package web

import (
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess"
	"handback/reprocess/figures"
)

// figureSections counts, section by section.
func (v *Visit) figureSections(f *figures.Facts, c figures.Choice) []figureSection {
	return []figureSection{turnaroundSection(f, c), yieldSection(f, c), writtenSection(f, c),
		refusedSection(f, c), returnsSection(f, c), limitSection(f, c)}
}

func turnaroundSection(f *figures.Facts, c figures.Choice) figureSection {
	t := f.Turnaround(c)
	s := figureSection{Heading: "From return to release", About: "Of kits released in the period.",
		Facts: []entryFact{{"All of it", spreadWords(t.All)},
			{"At the bench", spreadWords(t.Bench)}, {"On hold", spreadWords(t.Hold)},
			{"Waiting", spreadWords(t.Wait)}},
		Charts: chartsOf(f.TurnaroundChart(c))}
	if t.Unknown > 0 {
		s.Facts = append(s.Facts, entryFact{"Left out",
			fmt.Sprintf("%d released without a return on record", t.Unknown)})
	}
	if t.TargetHours == 0 {
		s.Last = "The clinic has set no time to aim at; a supervisor can, under Settings."
		return s
	}
	aim := hoursWords(float64(t.TargetHours))
	s.Facts = append(s.Facts, entryFact{"Longer than " + aim, ofCount(t.Over, t.All.N)})
	late := f.NowOver(c)
	s.Last = fmt.Sprintf("In the house for longer than %s now: %s.", aim, many(len(late), "kit"))
	for _, l := range late[:min(len(late), 12)] {
		s.Rows = append(s.Rows, link{To: "/kit/" + l.Kit, Words: "Kit " + l.Number,
			Note: hoursWords(l.Hours)})
	}
	return s
}

func yieldSection(f *figures.Facts, c figures.Choice) figureSection {
	y := f.Yield(c)
	s := figureSection{Heading: "Passed at the first try",
		About: "A cycle is first-pass when it was released and no step failed, was done again or was " +
			"accepted not as written. A test on a person and the disinfection after it are as written.",
		Facts: []entryFact{{"First-pass yield", ofCount(y.First, y.Ended)},
			{"Rolled yield", fmt.Sprintf("%.4f, the product of the steps below", y.Rolled)},
			{"Ended", fmt.Sprintf("%d, of them %d released", y.Ended, y.Released)}},
		Charts: chartsOf(f.FirstPassChart(c))}
	table := figureTable{Caption: "By step", Head: []string{"Step", "Tried", "First try", "Share"}}
	for _, x := range y.Steps {
		table.Rows = append(table.Rows, figureRow{stepWords(x.Step), []string{
			strconv.Itoa(x.Tried), strconv.Itoa(x.Passed), percent(x.Passed, x.Tried)}})
	}
	if len(table.Rows) > 0 {
		s.Tables = append(s.Tables, table)
	}
	return s
}

func stepWords(id reprocess.StepID) string {
	if step, ok := reprocess.FindStep(id); ok {
		return step.Words
	}
	return string(id)
}

// writtenSection is what was accepted not as written, and what only looks unusual.
func writtenSection(f *figures.Facts, c figures.Choice) figureSection {
	y := f.Yield(c)
	s := figureSection{Heading: "Not as written",
		Facts: []entryFact{{"Cycles with a step accepted", ofCount(y.Overridden, y.Ended)},
			{"Recorded together", ofCount(y.Together, y.Ended) + ", faster than is plausible"},
			{"Entered from paper", ofCount(y.Paper, y.Ended)},
			{"Out without a record", many(f.Returns(c).After, "loan") + ", entered after the fact"}},
		Charts: chartsOf(f.OverrideChart(c))}
	table := figureTable{Caption: "Accepted not as written, by step", Head: []string{"Step", "Times"}}
	for _, row := range reprocess.Steps() {
		if n := y.Overrides[row.ID]; n > 0 {
			table.Rows = append(table.Rows, figureRow{row.Words, []string{strconv.Itoa(n)}})
		}
	}
	if len(table.Rows) > 0 {
		s.Tables = append(s.Tables, table)
	}
	return s
}

// mostRefusals is how many lines the table of refusals shows.
const mostRefusals = 12

func refusedSection(f *figures.Facts, c figures.Choice) figureSection {
	list, n, desk := f.Refusals(c), 0, 0
	s := figureSection{Heading: "Refused", About: "Each refusal is a slip that was caught."}
	table := figureTable{Caption: "Most frequent", Head: []string{"Asked to, and the rule", "Times"}}
	for i, r := range list {
		n += r.N
		if r.Act == reprocess.ActIssue {
			desk += r.N
		}
		if i < mostRefusals {
			table.Rows = append(table.Rows, figureRow{capital(actWords(r.Act)) + ": " +
				strings.ReplaceAll(r.Rule, "_", " "), []string{strconv.Itoa(r.N)}})
		}
	}
	s.Facts = []entryFact{{"In all", strconv.Itoa(n)}, {"Of them hand-outs", strconv.Itoa(desk)}}
	if n > 0 {
		s.Tables = append(s.Tables, table)
	}
	if rest := len(list) - mostRefusals; rest > 0 {
		s.Last = fmt.Sprintf("%d rarer kinds are left out here; the trail has them all.", rest)
	}
	holds := figureTable{Caption: "Put on hold", Head: []string{"Reason", "Times"}}
	for _, h := range f.Holds(c) {
		holds.Rows = append(holds.Rows, figureRow{capital(reprocess.HoldWords(h.Reason)),
			[]string{strconv.Itoa(h.N)}})
	}
	if len(holds.Rows) > 0 {
		s.Tables = append(s.Tables, holds)
	}
	return s
}

func returnsSection(f *figures.Facts, c figures.Choice) figureSection {
	r := f.Returns(c)
	return figureSection{Heading: "Back in time?", About: "Loans that were due in the period, by their due day.",
		Facts: []entryFact{{"Due", strconv.Itoa(r.Due)}, {"By the day", ofCount(r.OnTime, r.Due)},
			{"Later", ofCount(r.Later, r.Due)}, {"Still out", ofCount(r.Still, r.Due)}}}
}

// mostLimits is how many pieces the table of limits shows.
const mostLimits = 10

func limitSection(f *figures.Facts, c figures.Choice) figureSection {
	list, open := f.Limits(c)
	s := figureSection{Heading: "Cycles against the maker’s limit",
		About: "Pieces in use, the nearest to their limit first."}
	table := figureTable{Caption: "Nearest to the limit", Head: []string{"Piece", "Cycles", "Limit"}}
	for _, l := range list[:min(len(list), mostLimits)] {
		cycles := strconv.Itoa(l.Cycles)
		if l.AtLeast {
			cycles = "≥ " + cycles
		}
		table.Rows = append(table.Rows, figureRow{pieceTitle(f.World, l.Piece),
			[]string{cycles, strconv.Itoa(l.Limit)}})
	}
	if len(table.Rows) > 0 {
		s.Tables = append(s.Tables, table)
	}
	s.Last = fmt.Sprintf("%s of models for which the maker states no limit.", many(open, "piece"))
	return s
}

// pieceTitle names a piece by kit, kind and serial.
func pieceTitle(w *reprocess.World, id string) string {
	p := w.Pieces[id]
	if p == nil {
		return id
	}
	name := capital(string(p.Kind)) + " " + p.Serial
	if k := w.Kits[p.Kit]; k != nil {
		return "Kit " + k.Number + ", " + string(p.Kind) + " " + p.Serial
	}
	return name
}

// chartView is a chart as paths of one drawing, with its table.
type chartView struct {
	chart figures.Chart // for paper

	Title, Says, Told string
	Box               string // of the view, empty: there is no drawing
	Data, Limits      string
	Centre, Axis      string
	Dots, Signals     string
	Texts             []chartText
	Table             figureTable
}

// chartText is one text of a drawing.
type chartText struct{ X, Y, Anchor, Text string }

func chartsOf(all ...figures.Chart) []chartView {
	var views []chartView
	for _, c := range all {
		views = append(views, viewChart(c))
	}
	return views
}

// viewChart turns a chart into paths; the dots are drawn as small filled squares, a signal as
// an empty square round its dot.
func viewChart(c figures.Chart) chartView {
	v := chartView{chart: c, Title: c.Title, Says: c.Says, Table: chartTable(c)}
	d, ok := c.Draw()
	if !ok {
		return v
	}
	v.Told = many(c.Signals(), "signal") + ". "
	if c.Signals() > 0 {
		v.Told += "A signal says: look for the cause."
	}
	v.Box = fmt.Sprintf("0 0 %g %g", d.W, d.H)
	v.Data, v.Axis = polyline(d.Data), polyline(d.Axis)
	v.Centre = polyline(d.Centre[:])
	for _, l := range d.Limits {
		v.Limits += polyline(l[:])
	}
	for _, s := range d.Data {
		v.Dots += square(s, 5)
	}
	for _, s := range d.Signal {
		v.Signals += square(s, 12)
	}
	for _, t := range d.Texts {
		anchor := "start"
		if t.Right {
			anchor = "end"
		}
		v.Texts = append(v.Texts, chartText{unit(t.X), unit(t.Y), anchor, t.Text})
	}
	return v
}

func unit(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

func polyline(spots []figures.Spot) string {
	var b strings.Builder
	for i, s := range spots {
		b.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + unit(s.X) + " " + unit(s.Y))
	}
	return b.String()
}

func square(s figures.Spot, side float64) string {
	return "M" + unit(s.X-side/2) + " " + unit(s.Y-side/2) + "h" + unit(side) + "v" + unit(side) +
		"h" + unit(-side) + "z"
}

// chartTable is the chart in figures.
func chartTable(c figures.Chart) figureTable {
	t := figureTable{Caption: c.Title, Head: []string{"", "Value, " + c.Unit, "Limits", ""}}
	if c.Kind == "p" {
		t.Head[3] = "Count"
	}
	for _, p := range c.Points {
		limits := "to " + figures.Figure(p.High)
		if p.Low > 0 {
			limits = figures.Figure(p.Low) + " " + limits
		}
		cells := []string{figures.Figure(p.Value), limits, ""}
		if c.Kind == "p" {
			cells[2] = fmt.Sprintf("%d of %d", p.Count, p.Size)
		}
		row := figureRow{p.Label, cells}
		if p.Signal != "" {
			row.Name += " (signal: " + p.Signal + ")"
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func sampleFigures() Page {
	p := figuresForm(reprocess.NewWorld(), figureKeys{From: "2026-01"})
	p.Told = "Jan 2026 to Nov 2026, all models"
	chart := figures.Chart{Kind: "p", Title: "Cycles", Says: "Share by month.", Unit: "%", Centre: 20,
		Points: []figures.Point{{Label: "Jan 2026", Value: 20, Low: 5, High: 35, Count: 10, Size: 50},
			{Label: "Feb 2026", Value: 50, Low: 5, High: 35, Count: 25, Size: 50, Signal: "beyond a limit"}}}
	p.Sections = []figureSection{{Heading: "From return to release", About: "Of kits.",
		Facts: []entryFact{{"All of it", "median 5 h"}}, Charts: chartsOf(chart), Last: "No target.",
		Tables: []figureTable{{Caption: "By step", Head: []string{"Step", "Tried"},
			Rows: []figureRow{{"Clean", []string{"12"}}}}},
		Rows: []link{{To: "/kit/K1", Words: "Kit 17", Note: "3 days"}}}}
	p.Links = []link{{To: "/figures/year", Words: "The year in figures", Note: "To print"}}
	return p
}
