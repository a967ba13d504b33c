package figures

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// cyclesOf makes cycles in one month each: bad of size fail a step.
func cyclesOf(f *Facts, month Month, bad, size int) {
	for i := range size {
		x := &reprocess.Cycle{ID: fmt.Sprint(month, i), Piece: "P1", Ended: month.Start(nil) + reprocess.Instant(i),
			End: reprocess.EndReleased, Records: []reprocess.Record{record(1, reprocess.StepCleaning, "")}}
		if i < bad {
			x.Records = append(x.Records, record(2, reprocess.StepDrying, reprocess.EffectAgain))
		}
		f.Cycles = append(f.Cycles, x)
	}
}

// Source: NIST/SEMATECH e-Handbook 6.3.3.2, 30 samples of 50 wafers: mean share .2313, limits
// .0524 and .4102, samples 15 and 23 beyond (counts from memory; they reproduce the mean).
func TestTheChartOfTheHandbook(t *testing.T) {
	counts := []int{12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18,
		24, 15, 9, 12, 7, 13, 9, 6}
	f, c := facts()
	f.Cycles = nil
	first := Month{2024, 1}
	for i, n := range counts {
		cyclesOf(f, first.Add(i), n, 50)
	}
	c.From, c.To = first.Start(nil), first.Add(30).Start(nil)
	chart := f.FirstPassChart(c)
	require.Equal(t, "p", chart.Kind)
	require.InDelta(t, 23.13, chart.Centre, 0.005)
	require.Len(t, chart.Points, 30)
	var out []int
	for i, p := range chart.Points {
		require.InDelta(t, 5.24, p.Low, 0.01)
		require.InDelta(t, 41.02, p.High, 0.01)
		if p.Signal == beyond {
			out = append(out, i+1)
		}
	}
	require.Equal(t, []int{15, 23}, out)
	require.Equal(t, 44.0, chart.Points[14].Value)
}

// Small months: the count between. p = 1/50: centre 49, upper limit 49 + 3 √2450 = 197.492 (the
// mean and variance of the geometric count, from any table of distributions, by hand).
func TestSmallMonthsAreCountedBetween(t *testing.T) {
	f, c := facts()
	f.Cycles = nil
	month := Month{2024, 1}
	for i := range 20 {
		cyclesOf(f, month.Add(i), 1, 50)
	}
	c.From, c.To = month.Start(nil), month.Add(20).Start(nil)
	chart := f.FirstPassChart(c)
	require.Equal(t, "g", chart.Kind)
	require.InDelta(t, 49, chart.Centre, 1e-9)
	require.InDelta(t, 197.5, chart.Points[0].High, 0.05)
	require.Len(t, chart.Points, 20)
	require.Zero(t, chart.Points[0].Value, "the first of all was bad")
	require.Equal(t, 49.0, chart.Points[1].Value)
	require.Zero(t, chart.Signals())
}

func TestAGapOfGoodOnesIsASignal(t *testing.T) {
	f, c := facts()
	f.Cycles = nil
	month := Month{2024, 1}
	for i := range 10 {
		cyclesOf(f, month.Add(i), 5, 6)
	}
	cyclesOf(f, month.Add(10), 0, 30)
	cyclesOf(f, month.Add(11), 1, 1)
	c.From, c.To = month.Start(nil), month.Add(12).Start(nil)
	chart := f.FirstPassChart(c)
	require.Equal(t, "g", chart.Kind)
	last := chart.Points[len(chart.Points)-1]
	require.Equal(t, beyond, last.Signal)
	require.LessOrEqual(t, len(chart.Points), mostBetween)
}

func TestChartsOfTooLittleSaySo(t *testing.T) {
	f, c := facts()
	f.Cycles = nil
	for _, chart := range []Chart{f.FirstPassChart(c), f.OverrideChart(c), f.TurnaroundChart(c)} {
		require.Empty(t, chart.Kind)
		require.NotEmpty(t, chart.Says)
		_, ok := chart.Draw()
		require.False(t, ok)
	}
	cyclesOf(f, Month{1970, 1}, 3, 3)
	c = Choice{To: Month{1970, 2}.Start(nil), Now: 1 << 50}
	require.Contains(t, f.FirstPassChart(c).Says, "All of 3 cycles")
	require.Contains(t, f.OverrideChart(c).Says, "None of 3 cycles")
}

// Every spot lies inside the drawing, whatever the values are.
func TestADrawingStaysInsideItsFrame(t *testing.T) {
	for _, top := range []float64{0, 1e-9, 0.3, 1, 99.9, 12345} {
		c := Chart{Kind: "p", Title: "t", Unit: "%", Centre: top / 2}
		for i := range 36 {
			c.Points = append(c.Points, Point{Label: "Nov 2026", Value: top * float64(i%3) / 2,
				Low: top / 9, High: top, Signal: map[bool]string{true: beyond}[i == 3]})
		}
		d, ok := c.Draw()
		require.True(t, ok)
		require.Len(t, d.Signal, 1)
		spots := append(append([]Spot{}, d.Data...), d.Axis...)
		for _, l := range d.Limits {
			spots = append(spots, l[:]...)
		}
		for _, s := range spots {
			require.True(t, s.X >= 0 && s.X <= d.W && s.Y >= 0 && s.Y <= d.H, "%v at %v", s, top)
		}
	}
}

func TestNiceTops(t *testing.T) {
	for v, want := range map[float64]float64{0: 1, 1: 1, 1.1: 2, 2.4: 2.5, 3: 5, 6: 10, 41.02: 50, 100: 100, 101: 200, 0.03: 0.05} {
		require.InDelta(t, want, niceTop(v), 1e-12, v)
	}
}

func TestFigures(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 0.4: "0.4", 0.456: "0.46", 9.99: "9.99", 10: "10",
		9.999: "10", 10.04: "10", 99.96: "100", 100: "100", 1200: "1200", 3: "3", -0.5: "-0.5"} {
		require.Equal(t, want, Figure(v), v)
	}
}
