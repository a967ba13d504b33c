package recording

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// errAskRate is what a table without a usable time column answers.
var errAskRate = errors.New("the table does not say how fast it was sampled; " +
	"add --csv-rate with the rate in Hz, such as --csv-rate 250")

// errCoarse: a clock in whole seconds says nothing about single samples.
var errCoarse = errors.New("the time column repeats its values, so it does not say how fast " +
	"the table was sampled; add --csv-rate with the rate in Hz, such as --csv-rate 250")

// guessTime takes an unnamed first column that rises evenly for the time: no ECG does, and
// judging it as one would be worse than asking.
func (t *table) guessTime() {
	if t.time >= 0 || t.event == 0 || len(t.cols) < 2 || t.cols[0].skip {
		return
	}
	v := t.cols[0].values
	_, _, err := evenStep(v)
	for i := 1; err == nil && i < len(v); i++ {
		if !(v[i] > v[i-1]) {
			return
		}
	}
	if err == nil {
		t.time = 0
	}
}

// timing works out the sampling rate and the gaps from the time column, or takes the rate
// that was given.
func (t *table) timing(given float64) (float64, error) {
	if t.time < 0 {
		if given == 0 {
			return 0, errAskRate
		}
		return given, nil
	}
	v := t.cols[t.time].values
	step, mean, err := evenStep(v)
	if errors.Is(err, errCoarse) && given > 0 {
		t.r.remark("The time column is too coarse to show holes; --csv-rate was taken.")
		return given, nil
	}
	if err != nil {
		return 0, err
	}
	factor, err := t.timeUnit(mean, given) // seconds per unit of the column
	if err != nil {
		return 0, err
	}
	rate := 1 / (mean * factor)
	if near := math.Round(rate); math.Abs(rate-near) <= near*1e-4 {
		rate = near
	}
	if given > 0 && math.Abs(rate-given) > given*0.01 {
		return 0, fmt.Errorf("the time column says %.4g Hz but --csv-rate says %.4g; "+
			"leave the flag out, or correct it", rate, given)
	}
	t.timeGaps(v, step, factor, rate)
	return rate, nil
}

// evenStep answers the middle step of the column and the mean of its even steps. A column in
// which one step in a hundred or more is uneven is no time column.
func evenStep(v []float64) (middle, mean float64, err error) {
	d := make([]float64, 0, len(v))
	for i := 1; i < len(v); i++ {
		if x := v[i] - v[i-1]; !math.IsNaN(x) {
			d = append(d, x)
		}
	}
	if len(d) < 10 {
		return 0, 0, errors.New("the table has too few rows with a time; " +
			"record for a minute and export again")
	}
	sorted := slices.Clone(d)
	slices.Sort(sorted)
	middle = sorted[len(sorted)/2]
	sum, even := 0.0, 0
	for _, x := range d {
		if x > 0 && x <= 1.75*middle {
			sum += x
			even++
		}
	}
	if middle == 0 {
		return 0, 0, errCoarse
	}
	if middle < 0 || even*100 < len(d)*99 || len(d)*100 < (len(v)-1)*99 {
		return 0, 0, errors.New("the time column does not rise evenly; export the table " +
			"again with one row per sample, or as EDF")
	}
	return middle, sum / float64(even), nil
}

// timeUnit tells seconds, milliseconds and sample numbers apart: by the header's words, else
// by the only reading that gives a rate between 100 and 4000 Hz, else by the given rate.
func (t *table) timeUnit(step, given float64) (float64, error) {
	name := ""
	if t.time < len(t.head) {
		name = t.head[t.time]
	}
	w := words(name)
	has := func(s ...string) bool {
		return slices.ContainsFunc(w, func(x string) bool { return slices.Contains(s, x) })
	}
	switch {
	case has("sample", "samples", "index"):
		if given == 0 {
			return 0, errAskRate
		}
		return 1 / given, nil
	case has("ms", "millisecond", "milliseconds", "msec"):
		return 1e-3, nil
	case has("us", "µs", "μs", "microseconds"):
		return 1e-6, nil
	case has("s", "sec", "second", "seconds"), strings.Contains(strings.ToLower(name), "hh:mm"):
		return 1, nil
	}
	return t.timeByRange(step, given)
}

// timeByRange takes seconds as the plain reading; milliseconds are remarked.
func (t *table) timeByRange(step, given float64) (float64, error) {
	if given > 0 {
		for _, f := range []float64{1, 1e-3, 1e-6, 1 / given} {
			if math.Abs(step*f*given-1) <= 0.01 {
				return f, nil
			}
		}
		return 0, fmt.Errorf("the time column does not fit --csv-rate %.4g; write its unit "+
			"into its header cell, such as time [s]", given)
	}
	if 1/step >= 100 && 1/step <= 4000 {
		return 1, nil
	}
	if step != 1 && 1e3/step >= 100 && 1e3/step <= 4000 {
		t.r.remark("The time column was read as milliseconds: about %.4g Hz.", 1e3/step)
		return 1e-3, nil
	}
	return 0, errAskRate
}

// timeGaps turns jumps of the column into holes; times that run backwards are remarked.
func (t *table) timeGaps(v []float64, step, factor, rate float64) {
	back := 0
	for i := 1; i < len(v) && len(t.r.Gaps) < maxBreaks; i++ {
		d := v[i] - v[i-1]
		if d > 1.75*step {
			t.r.Gaps = append(t.r.Gaps, Gap{At: (v[i-1] - v[0] + step) * factor,
				Sample: float64(i) / rate, Seconds: (d - step) * factor})
		} else if d <= 0 {
			back++
		}
	}
	if back > 0 {
		t.r.remark("The time column runs backwards %d times.", back)
	}
}

// finish makes the signals, scales them and gives events their time.
func (t *table) finish(rate float64, unit string) error {
	if t.bad > 0 {
		t.r.remark("%d cells hold no number and count as missing.", t.bad)
	}
	for i := range t.cols {
		if i == t.time || i == t.event || t.cols[i].skip {
			continue
		}
		if err := t.signal(&t.cols[i], rate, unit); err != nil {
			return err
		}
	}
	if len(t.r.Signals) == 0 {
		return errors.New("the table holds no column of samples; export the recording " +
			"with its ECG lead")
	}
	if t.bad*20 > t.rowsN*len(t.r.Signals) {
		return errors.New("too many cells of the table hold no number; export it again " +
			"with plain numbers, or as EDF")
	}
	for i := range t.r.Events {
		e := &t.r.Events[i]
		at := e.At / rate
		e.Sample, e.At = &at, at
		for _, g := range t.r.Gaps {
			if g.Sample <= at {
				e.At += g.Seconds
			}
		}
	}
	return nil
}

// signal makes one column a signal. Its unit is the header's or the given one; if both are
// there they must agree.
func (t *table) signal(c *column, rate float64, given string) error {
	unit := c.unit
	if strings.EqualFold(unit, "counts") || strings.EqualFold(unit, "adc") ||
		strings.EqualFold(unit, "raw") {
		unit = "counts"
	}
	a, known := voltFactor(unit)
	b, _ := voltFactor(given)
	switch {
	case unit == "" && given == "" && len(t.r.Signals) > 0 && t.r.Signals[0].NoScale == "":
		// a further column without a unit is kept as plain numbers: the lead has its unit
	case unit == "" && given == "":
		return errors.New("the table does not say the unit of its values; add --csv-unit " +
			"with mV, uV, V or counts")
	case unit == "":
		unit = given
	case given != "" && (known || unit == "counts") && a != b:
		return fmt.Errorf("the header says %s but --csv-unit says %s; leave the flag out, "+
			"or correct the table", unit, given)
	}
	s := Signal{Label: c.name, Rate: rate, N: len(c.values), values: c.values}
	s.setUnit(unit)
	t.r.Signals = append(t.r.Signals, s)
	return nil
}

// brokenTail notices a last row that ends in the middle: the file was cut off. (A missing cell
// elsewhere stays NaN; it is left out, and counted as a hole, when its lead is measured.)
func (t *table) brokenTail() {
	n := t.rowsN
	if n == 0 || bytesEndLine(t.text) {
		return
	}
	for i := range t.cols {
		c := &t.cols[i]
		if c.skip || i == t.event || len(c.values) < n || n < 2 {
			continue
		}
		if math.IsNaN(c.values[n-1]) && !math.IsNaN(c.values[n-2]) {
			t.r.CutShort = true
			t.r.remark("The last row is incomplete.")
			return
		}
	}
}

func bytesEndLine(b []byte) bool { return len(b) == 0 || b[len(b)-1] == '\n' }
