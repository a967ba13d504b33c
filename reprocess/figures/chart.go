package figures

import (
	"fmt"
	"math"

	"handback/reprocess"
	"handback/reprocess/sampling"
)

// Chart is a control chart with everything its table shows. A signal asks to look for the
// cause; it ranks nobody.
type Chart struct {
	Kind   string // "p", "g", "individuals"; empty: too little for a chart
	Title  string
	Says   string // in words: what is drawn, by which formula, or why nothing is
	Unit   string // of the values: "%", "cycles", "h"
	Centre float64
	Points []Point
}

// Point is one subgroup.
type Point struct {
	Label       string
	Value       float64
	Low, High   float64 // limits; Low 0 where none exists
	Count, Size int     // of a p-chart
	Signal      string  // why: empty for none
}

// Signals counts the points that ask for a cause.
func (c Chart) Signals() int {
	n := 0
	for _, p := range c.Points {
		n += one(p.Signal != "")
	}
	return n
}

// The two kinds of signals.
const (
	beyond = "beyond a limit"
	onSide = "eight in a row on one side"
)

// mostBetween is how many of the newest failures a count-between chart shows.
const mostBetween = 40

// FirstPassChart charts the cycles that were not first-pass, by month of their end.
func (f *Facts) FirstPassChart(c Choice) Chart {
	return f.rate(c, "Cycles that did not pass at the first try", func(x *reprocess.Cycle) bool {
		return !isFirst(x, f.firstTries(x))
	})
}

// OverrideChart charts the cycles in which a step was accepted not as written.
func (f *Facts) OverrideChart(c Choice) Chart {
	return f.rate(c, "Cycles with a step accepted not as written", func(x *reprocess.Cycle) bool {
		for _, r := range x.Records {
			if r.Kind == reprocess.RecOverride && !r.Undone {
				return true
			}
		}
		return false
	})
}

// rate draws a p-chart by month where every month is large enough for a lower limit above 0,
// and otherwise the count of good cycles between two bad ones.
func (f *Facts) rate(c Choice, title string, bad func(*reprocess.Cycle) bool) Chart {
	var marks []bool // of each cycle in the order they ended
	var months []Point
	for _, part := range c.Months() {
		p := Point{Label: part.month().Words()}
		for _, x := range f.cycles(part) {
			is := bad(x)
			marks = append(marks, is)
			p.Size, p.Count = p.Size+1, p.Count+one(is)
		}
		if p.Size > 0 {
			months = append(months, p)
		}
	}
	chart := Chart{Title: title}
	all, found := 0, 0
	for _, p := range months {
		all, found = all+p.Size, found+p.Count
	}
	switch {
	case all == 0:
		chart.Says = "No cycle ended in this period."
	case found == 0:
		chart.Says = fmt.Sprintf("None of %d cycles: there is nothing to chart.", all)
	case found == all:
		chart.Says = fmt.Sprintf("All of %d cycles: there is nothing to chart.", all)
	case len(months) > 1 && largeEnough(months, float64(found)/float64(all)):
		return proportions(chart, months)
	default:
		return between(chart, marks, float64(found)/float64(all))
	}
	return chart
}

func largeEnough(months []Point, p float64) bool {
	least, err := sampling.LeastSubgroup(p)
	for _, m := range months {
		if err != nil || int64(m.Size) < least {
			return false
		}
	}
	return true
}

// proportions is a p-chart (NIST/SEMATECH e-Handbook 6.3.3.2), in percent.
func proportions(chart Chart, months []Point) Chart {
	var counts, sizes []int
	for _, p := range months {
		counts, sizes = append(counts, p.Count), append(sizes, p.Size)
	}
	centre, points, err := sampling.PChart(counts, sizes)
	if err != nil {
		chart.Says = err.Error()
		return chart
	}
	chart.Kind, chart.Unit, chart.Centre = "p", "%", 100*centre
	chart.Says = "Share by month, with limits p ± 3 √(p (1 − p) / n) around the share of all."
	for i, x := range points {
		p := months[i]
		p.Value, p.Low, p.High = 100*x.P, 100*x.Low, 100*x.High
		p.Signal = signal(x.Outside, x.Run)
		chart.Points = append(chart.Points, p)
	}
	return chart
}

func signal(outside, run bool) string {
	switch {
	case outside:
		return beyond
	case run:
		return onSide
	}
	return ""
}

// between is a g-chart: the good cycles between two bad ones, in percent of nothing: a count.
// A point above the upper limit says that it got better; there is no lower limit, so a run of
// eight below the centre is the sign that it got worse.
func between(chart Chart, marks []bool, p float64) Chart {
	centre, upper, err := sampling.GChart(p)
	if err != nil {
		chart.Says = err.Error()
		return chart
	}
	chart.Kind, chart.Unit, chart.Centre = "g", "cycles", centre
	chart.Says = "The months are too small for shares, so this counts the good cycles before each " +
		"bad one: centre m = (1 − p) / p, upper limit m + 3 √(m (m + 1)); a lower limit does not exist."
	good, n, side, run := 0, 0, 0, 0
	for _, bad := range marks {
		if !bad {
			good++
			continue
		}
		n++
		v := float64(good)
		side, run = streak(v, centre, side, run)
		chart.Points = append(chart.Points, Point{Label: fmt.Sprintf("before no. %d", n), Value: v,
			High: upper, Signal: signal(v > upper, run >= 8)})
		good = 0
	}
	chart.Points = chart.Points[max(0, len(chart.Points)-mostBetween):]
	return chart
}

// streak counts values on one side of the centre; one on the centre ends it.
func streak(v, centre float64, side, run int) (int, int) {
	now := 0
	if v > centre {
		now = 1
	} else if v < centre {
		now = -1
	}
	if now == 0 || now != side {
		return now, one(now != 0)
	}
	return side, run + 1
}

// TurnaroundChart charts the median turnaround of each month as single values, in hours.
func (f *Facts) TurnaroundChart(c Choice) Chart {
	chart := Chart{Title: "Median hours from return to release"}
	s := f.spans()
	var values []float64
	for _, part := range c.Months() {
		if t := f.turnaround(part, s); t.All.N > 0 {
			values = append(values, t.All.Median)
			chart.Points = append(chart.Points, Point{Label: part.month().Words(),
				Value: t.All.Median, Size: t.All.N})
		}
	}
	centre, low, high, err := sampling.Individuals(values)
	if err != nil {
		chart.Points, chart.Says = nil, "There are too few months with a release for a chart."
		return chart
	}
	chart.Kind, chart.Unit, chart.Centre = "individuals", "h", centre
	chart.Says = "Each month is one value: limits mean ± 3 × mean step from month to month / 1.128."
	side, run := 0, 0
	for i := range chart.Points {
		p := &chart.Points[i]
		p.Low, p.High = math.Max(0, low), high
		side, run = streak(p.Value, centre, side, run)
		p.Signal = signal(p.Value > high || p.Value < low, run >= 8)
	}
	return chart
}
