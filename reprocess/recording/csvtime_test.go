package recording

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A time column without a unit is read as the only unit that gives a plausible rate; that it
// was milliseconds is remarked for the person to see.
func TestCSVTimeUnitIsShown(t *testing.T) {
	r := readTable(t, csvOf("time,ECG [mV]\n", 1000, plainRow), Options{})
	require.Equal(t, 250.0, r.Signals[0].Rate)
	require.Empty(t, r.Remarks)
	r = readTable(t, csvOf("time,ECG [mV]\n", 1000, func(i int, v float64) string {
		return fmt.Sprintf("%d,%.6f\n", i*4, v)
	}), Options{})
	require.Contains(t, r.Remarks[0], "read as milliseconds: about 250 Hz")
}

// A first column without a name that rises evenly is the time, never the ECG.
func TestCSVUnnamedTime(t *testing.T) {
	for _, head := range []string{"", "x,ECG\n"} {
		data := csvOf(head, 1000, plainRow)
		r := readTable(t, data, Options{CSVUnit: "mV", CSVRate: 250})
		require.Len(t, r.Signals, 1)
		r = readTable(t, data, Options{CSVUnit: "mV"})
		require.Equal(t, 250.0, r.Signals[0].Rate)
	}
	numbered := csvOf("", 1000, func(i int, v float64) string {
		return fmt.Sprintf("%d,%.6f\n", i, v)
	})
	_, err := Read("x.csv", numbered, Options{CSVUnit: "mV"})
	require.ErrorContains(t, err, "add --csv-rate")
	r := readTable(t, numbered, Options{CSVUnit: "mV", CSVRate: 250})
	require.Len(t, r.Signals, 1)
	two := csvOf("", 1000, func(_ int, v float64) string {
		return fmt.Sprintf("%.6f,%.6f\n", v, -v)
	})
	require.Len(t, readTable(t, two, Options{CSVUnit: "mV", CSVRate: 250}).Signals, 2)
}

// A clock in whole seconds asks for the rate; with it, holes cannot be seen, and it says so.
func TestCSVCoarseClock(t *testing.T) {
	data := csvOf("time,ECG [mV]\n", 1000, func(i int, v float64) string {
		return fmt.Sprintf("10:00:%02d,%.6f\n", i/250, v)
	})
	_, err := Read("x.csv", data, Options{})
	require.ErrorContains(t, err, "add --csv-rate")
	r := readTable(t, data, Options{CSVRate: 250})
	require.Contains(t, r.Remarks[0], "too coarse")
}

// Times rounded to milliseconds at 360 Hz step by 2 and 3 ms: the rate is the mean's.
func TestCSVRoundedTimes(t *testing.T) {
	var b strings.Builder
	b.WriteString("time [s],ECG [mV]\n")
	for i := range 3600 {
		fmt.Fprintf(&b, "%.3f,0.1\n", float64(i)/360)
	}
	r := readTable(t, []byte(b.String()), Options{})
	require.Equal(t, 360.0, r.Signals[0].Rate)
	require.Empty(t, r.Gaps)
}

// A jump of the time column is a hole of its length.
func TestCSVGap(t *testing.T) {
	data := csvOf("time [s],ECG [mV]\n", minute, func(i int, v float64) string {
		at := float64(i) / 250
		if i >= 2500 {
			at += 5
		}
		return fmt.Sprintf("%.3f,%.6f\n", at, v)
	})
	r := readTable(t, data, Options{})
	require.Len(t, r.Gaps, 1)
	require.InDelta(t, 10, r.Gaps[0].At, 1e-6)
	require.InDelta(t, 5, r.Gaps[0].Seconds, 1e-6)
	require.Equal(t, []Code{Gaps}, Judge(Measure(r, 0), Bench(), Expect{}).Codes)
}

// A time column that runs backwards now and then is remarked.
func TestCSVBackwards(t *testing.T) {
	data := csvOf("time [s],ECG [mV]\n", 1000, func(i int, v float64) string {
		if i == 500 {
			i -= 2
		}
		return plainRow(i, v)
	})
	r := readTable(t, data, Options{})
	require.Contains(t, r.Remarks[0], "runs backwards 1 times")
}

// Clock times with and without a date, hours and fractions.
func TestParseTime(t *testing.T) {
	for s, want := range map[string]float64{"00:00:01.5": 1.5, "10:00": 36000, "1.25": 1.25,
		"2026-11-24 10:00:00": 36000, "2026-11-24T00:01:00Z": 60, "0,5": 0.5} {
		require.InDelta(t, want, parseTime(s), 1e-9, s)
	}
	for _, s := range []string{"", "x", "1:2:3:4", "00:61", "-1:00", "24-11-2026"} {
		require.True(t, math.IsNaN(parseTime(s)), s)
	}
}
