package figures

import (
	"fmt"
	"math"
	"strings"
)

// Drawing is a chart as lines and texts, from the top left, in units of which a chart is 328
// wide and 180 high: black lines alone, so that screen and paper say the same.
type Drawing struct {
	W, H   float64
	Data   []Spot    // joined by a line
	Limits [][2]Spot // level strokes of the limits
	Centre [2]Spot
	Axis   []Spot // left edge and base line
	Signal []Spot // where an empty square stands round the dot
	Texts  []Label
}

// Spot is a place.
type Spot struct{ X, Y float64 }

// Label is a text; X is its left edge, or its right edge when Right.
type Label struct {
	Spot
	Text  string
	Right bool
}

const (
	chartW, chartH             = 328.0, 180.0
	plotL, plotR, plotT, plotB = 44.0, 320.0, 10.0, 158.0
)

// Draw lays a chart out; ok is false when there is nothing to draw.
func (c Chart) Draw() (d Drawing, ok bool) {
	if len(c.Points) == 0 || c.Kind == "" {
		return d, false
	}
	top := c.Centre
	for _, p := range c.Points {
		top = max(top, p.Value, p.High)
	}
	top = niceTop(top)
	y := func(v float64) float64 { return plotB - (plotB-plotT)*v/top }
	step := (plotR - plotL) / float64(len(c.Points))
	d = Drawing{W: chartW, H: chartH, Centre: [2]Spot{{plotL, y(c.Centre)}, {plotR, y(c.Centre)}},
		Axis: []Spot{{plotL, plotT}, {plotL, plotB}, {plotR, plotB}}}
	for i, p := range c.Points {
		x := plotL + step*float64(i)
		at := Spot{x + step/2, y(p.Value)}
		d.Data = append(d.Data, at)
		d.Limits = append(d.Limits, [2]Spot{{x, y(p.High)}, {x + step, y(p.High)}})
		if p.Low > 0 {
			d.Limits = append(d.Limits, [2]Spot{{x, y(p.Low)}, {x + step, y(p.Low)}})
		}
		if p.Signal != "" {
			d.Signal = append(d.Signal, at)
		}
	}
	d.texts(c, top, y)
	return d, true
}

func (d *Drawing) texts(c Chart, top float64, y func(float64) float64) {
	for _, v := range []float64{0, top} {
		d.Texts = append(d.Texts, Label{Spot{plotL - 4, y(v) + 4}, Figure(v), true})
	}
	if at := y(c.Centre); at < plotB-14 && at > plotT+14 {
		d.Texts = append(d.Texts, Label{Spot{plotL - 4, at + 4}, Figure(c.Centre), true})
	}
	first, last := c.Points[0].Label, c.Points[len(c.Points)-1].Label
	d.Texts = append(d.Texts, Label{Spot{plotL, plotB + 16}, first, false})
	if len(c.Points) > 1 {
		d.Texts = append(d.Texts, Label{Spot{plotR, plotB + 16}, last, true})
	}
}

// niceTop is the next of 1, 2, 2.5 and 5 times a power of ten.
func niceTop(v float64) float64 {
	if v <= 0 {
		return 1
	}
	unit := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 2.5, 5, 10} {
		if v <= m*unit*(1+1e-12) {
			return m * unit
		}
	}
	return 10 * unit
}

// Figure writes a value with one decimal, below 10 with two, without zeros at the end.
func Figure(v float64) string {
	text := fmt.Sprintf("%.1f", v)
	if math.Abs(v) < 9.995 {
		text = fmt.Sprintf("%.2f", v)
	}
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}
