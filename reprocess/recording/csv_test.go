package recording

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
)

// csvOf writes the bench wave as a table. row builds one line from the sample's number and
// value in mV.
func csvOf(head string, n int, row func(i int, mv float64) string) []byte {
	var b strings.Builder
	b.WriteString(head)
	for i, v := range benchWave(250, 60, 1, float64(n)/250) {
		b.WriteString(row(i, v))
	}
	return []byte(b.String())
}

func plainRow(i int, v float64) string { return fmt.Sprintf("%.3f,%.6f\n", float64(i)/250, v) }

const minute = 250 * 60

func readTable(t *testing.T, data []byte, o Options) *Recording {
	t.Helper()
	r, err := Read("x.csv", data, o)
	require.NoError(t, err)
	require.Equal(t, CSV, r.Format)
	return r
}

// The same wave in many spellings: always 250 Hz, 60 beats, the height of the published wave.
func TestCSVSpellings(t *testing.T) {
	german := func(i int, v float64) string {
		return strings.ReplaceAll(fmt.Sprintf("%.3f;%.6f\r\n", float64(i)/250, v), ".", ",")
	}
	for name, c := range map[string]struct {
		data []byte
		o    Options
	}{
		"bracket": {csvOf("time [s],ECG II [mV]\n", minute, plainRow), Options{}},
		"suffix":  {csvOf("time_s,ecg_mV\n", minute, plainRow), Options{}},
		"german":  {csvOf("Zeit [s];EKG (mV)\r\n", minute, german), Options{}},
		"tab, ms": {csvOf("time [ms]\tECG [uV]\n", minute, func(i int, v float64) string {
			return fmt.Sprintf("%d\t%.3f\n", i*4, v*1000)
		}), Options{}},
		"micro sign U+00B5": {csvOf("t [s],ECG [µV]\n", minute, func(i int, v float64) string {
			return plainRow(i, v*1000)
		}), Options{}},
		"micro sign U+03BC": {csvOf("t [s],ECG [μV]\n", minute, func(i int, v float64) string {
			return plainRow(i, v*1000)
		}), Options{}},
		"Latin-1 micro sign": {csvOf("t [s],ECG [\xb5V]\n", minute, func(i int, v float64) string {
			return plainRow(i, v*1000)
		}), Options{}},
		"volts": {csvOf("t [s],ECG [V]\n", minute, func(i int, v float64) string {
			return fmt.Sprintf("%.3f,%.9f\n", float64(i)/250, v/1000)
		}), Options{}},
		"no header": {csvOf("", minute, func(_ int, v float64) string {
			return fmt.Sprintf("%.6f\n", v)
		}), Options{CSVUnit: "mV", CSVRate: 250}},
		"sample number": {csvOf("sample,ECG [mV]\n", minute, func(i int, v float64) string {
			return fmt.Sprintf("%d,%.6f\n", i, v)
		}), Options{CSVRate: 250}},
		"clock": {csvOf("clock,ECG [mV]\n", minute, func(i int, v float64) string {
			return fmt.Sprintf("2026-11-24 10:00:%06.3f,%.6f\n", float64(i)/250, v)
		}), Options{}},
		"quotes, mark, preamble": {csvOf("\xef\xbb\xbf# made for a test\nExport of a bench\n"+
			"\"time, [s]\",\"ECG [mV]\"\n", minute, func(i int, v float64) string {
			return fmt.Sprintf("\"%.3f\",\"%.6f\"\n", float64(i)/250, v)
		}), Options{}},
	} {
		r := readTable(t, c.data, c.o)
		require.Equal(t, 250.0, r.Signals[0].Rate, name)
		res := Measure(r, 0)
		require.Equal(t, 60, *res.Measures.Beats, name)
		require.InDelta(t, 1.1872, float64(*res.Measures.Height), 1e-3, name)
		require.Equal(t, Pass, Judge(res, Bench(), Expect{Rate: 60}).Verdict, "%s %v", name,
			res.Remarks)
	}
}

func TestCSVInUTF16(t *testing.T) {
	text := string(csvOf("time [s],ECG [mV]\n", minute, plainRow))
	for _, big := range []bool{false, true} {
		data := []byte{0xff, 0xfe}
		if big {
			data = []byte{0xfe, 0xff}
		}
		for _, u := range utf16.Encode([]rune(text)) {
			if big {
				data = append(data, byte(u>>8), byte(u))
			} else {
				data = append(data, byte(u), byte(u>>8))
			}
		}
		r := readTable(t, data, Options{})
		require.Equal(t, minute, r.Signals[0].N)
	}
}

// A unit is asked for, never guessed; so is a rate.
func TestCSVAsks(t *testing.T) {
	noUnit := csvOf("time [s],ECG\n", 100, plainRow)
	_, err := Read("x.csv", noUnit, Options{})
	require.ErrorContains(t, err, "add --csv-unit")
	noRate := csvOf("ECG [mV]\n", 100, func(_ int, v float64) string {
		return fmt.Sprintf("%.6f\n", v)
	})
	_, err = Read("x.csv", noRate, Options{})
	require.ErrorContains(t, err, "add --csv-rate")
	_, err = Read("x.csv", csvOf("sample,ECG [mV]\n", 100, func(i int, v float64) string {
		return fmt.Sprintf("%d,%.6f\n", i, v)
	}), Options{})
	require.ErrorContains(t, err, "add --csv-rate")
}

// A flag that contradicts the table is refused, one that agrees is welcome.
func TestCSVContradictions(t *testing.T) {
	data := csvOf("time [s],ECG [mV]\n", 1000, plainRow)
	_, err := Read("x.csv", data, Options{CSVUnit: "uV"})
	require.ErrorContains(t, err, "the header says mV but --csv-unit says uV")
	_, err = Read("x.csv", data, Options{CSVRate: 500})
	require.ErrorContains(t, err, "the time column says 250 Hz but --csv-rate says 500")
	readTable(t, data, Options{CSVUnit: "mV", CSVRate: 250})
	_, err = Read("x.csv", data, Options{CSVUnit: "kV"})
	require.ErrorContains(t, err, "no unit for a CSV")
	_, err = Read("x.csv", data, Options{CSVRate: -1})
	require.ErrorContains(t, err, "rate in Hz")
	_, err = Read("x.csv", csvOf("time,ECG [mV]\n", 1000, plainRow), Options{CSVRate: 999})
	require.ErrorContains(t, err, "does not fit --csv-rate")
}

// Counts without a gain: only what needs no unit is judged.
func TestCSVCounts(t *testing.T) {
	data := csvOf("time [s],ECG\n", minute, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%.0f\n", float64(i)/250, 2048+v*400)
	})
	res := Measure(readTable(t, data, Options{CSVUnit: "counts"}), 0)
	require.Equal(t, 60, *res.Measures.Beats)
	require.Nil(t, res.Measures.Height)
	require.Nil(t, res.Measures.Noise)
	require.Nil(t, res.Measures.Jumps)
	require.Contains(t, res.Remarks[0], "amplitude and noise were not judged")
	require.Equal(t, NotJudged, Judge(res, Bench(), Expect{Rate: 60}).Verdict)
	j := Judge(res, Bench(), Expect{Rate: 75})
	require.Equal(t, []Code{Rate}, j.Codes)
	require.Equal(t, Fail, j.Verdict)
}

// A beat height outside 0.05 to 20 mV is a question about the unit, not a verdict.
func TestCSVUnitDoubt(t *testing.T) {
	data := csvOf("time [s],ECG\n", minute, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%.3f\n", float64(i)/250, v*1000)
	})
	res := Measure(readTable(t, data, Options{CSVUnit: "mV"}), 0)
	require.True(t, res.UnitDoubt)
	require.Contains(t, strings.Join(res.Remarks, " "), "is the unit of the table right?")
	j := Judge(res, Bench(), Expect{})
	require.Equal(t, NotJudged, j.Verdict)
	require.Empty(t, j.Codes)
}

// Missing values are missing, never zero: they count as a hole.
func TestCSVMissing(t *testing.T) {
	for _, cell := range []string{"", "NaN", "-", "∞", "n/a"} {
		data := csvOf("time [s],ECG [mV]\n", minute, func(i int, v float64) string {
			if i >= 5000 && i < 5500 {
				return fmt.Sprintf("%.3f,%s\n", float64(i)/250, cell)
			}
			return plainRow(i, v)
		})
		r := readTable(t, data, Options{})
		require.True(t, math.IsNaN(r.Signals[0].Physical(5000)))
		require.Empty(t, r.Remarks)
		res := Measure(r, 0)
		require.Equal(t, 2.0, *res.Measures.GapSeconds)
		require.Equal(t, 58.0, *res.Seconds)
		require.Zero(t, *res.Measures.Jumps)
		require.Equal(t, Remark, Judge(res, Bench(), Expect{}).Verdict)
	}
}

// An event column, as 0 and 1 or as text, gives one event per run.
func TestCSVEvents(t *testing.T) {
	data := csvOf("time [s],ECG [mV],event\n", minute, func(i int, v float64) string {
		e := "0"
		if i >= 1000 && i < 1100 {
			e = "1"
		}
		return fmt.Sprintf("%.3f,%.6f,%s\n", float64(i)/250, v, e)
	})
	r := readTable(t, data, Options{})
	require.Equal(t, []Event{at(4, 0, "event")}, r.Events)
	require.Len(t, r.Signals, 1)
	data = csvOf("time [s],ECG [mV],Marker\n", minute, func(i int, v float64) string {
		e := ""
		if i == 1000 {
			e = "button"
		}
		return fmt.Sprintf("%.3f,%.6f,%s\n", float64(i)/250, v, e)
	})
	require.Equal(t, []Event{at(4, 0, "button")}, readTable(t, data, Options{}).Events)
}

func TestCSVName(t *testing.T) {
	r := readTable(t, csvOf("# Name: Ona Vela\ntime [s],ECG Vela [mV]\n", 100, plainRow), Options{})
	require.True(t, r.NameInside)
	require.Equal(t, "ECG [name]", r.Signals[0].Label)
	r = readTable(t, csvOf("Patient;Ona Vela\ntime [s],ECG [mV]\n", 100, plainRow), Options{})
	require.True(t, r.NameInside)
	r = readTable(t, csvOf("time [s],ECG [mV]\n", 100, plainRow), Options{})
	require.False(t, r.NameInside)
}

// A table that ends in the middle of a row was cut off.
func TestCSVCut(t *testing.T) {
	data := csvOf("time [s],ECG [mV]\n", 100, plainRow)
	require.False(t, readTable(t, data, Options{}).CutShort)
	cut := append(data, "0.400,"...)
	require.True(t, readTable(t, cut, Options{}).CutShort)
}

func TestCSVRefusals(t *testing.T) {
	head := "time [s],ECG [mV]\n"
	for _, c := range []struct{ data, says string }{
		{"hello\nworld\n", "no table of numbers"},
		{head + strings.Repeat("0.1,0.2\n", 5), "too few rows"},
		{head + strings.Repeat("0.1,0.2\n", 50), "repeats its values"},
		{head + strings.Repeat("0.1,0.2\n0.2,1\n", 50), "does not rise evenly"},
		{string(csvOf(head, 100, plainRow)) + "1,2,3\n", "cells instead of 2"},
		{head + strings.Repeat("1", MaxLineBytes+1), "longer than 64 KiB"},
		{strings.Repeat("1,", 70) + "1\n", "more than 64 columns"},
		{strings.Repeat("1,", 60) + "1\n" + strings.Repeat("1\n", 500), "cells of the table are"},
		{string(csvOf(head, 100, func(i int, v float64) string {
			if i%10 == 5 {
				return fmt.Sprintf("%.3f,1.2.3\n", float64(i)/250)
			}
			return plainRow(i, v)
		})), "hold no number"},
	} {
		_, err := Read("x.csv", []byte(c.data), Options{CSVUnit: "mV"})
		require.ErrorContains(t, err, c.says)
	}
}

// Allocation stays a small multiple of the table, also for a hostile one.
func TestCSVMemory(t *testing.T) {
	data := csvOf("time [s],ECG [mV]\n", minute, plainRow)
	require.Less(t, allocated(func() { _, _ = Read("x.csv", data, Options{}) }),
		uint64(8*len(data)))
	hostile := []byte(strings.Repeat("1,", 63) + "1\n" + strings.Repeat("1\n", 1<<18))
	require.Less(t, allocated(func() { _, _ = Read("x.csv", hostile, Options{}) }),
		uint64(16*len(hostile)))
}

// Columns of text are left out with a remark; one that is headed as a name is a name.
func TestCSVTextColumns(t *testing.T) {
	data := csvOf("time [s],ECG [mV],lead,name\n", 100, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%.6f,II,Vela\n", float64(i)/250, v)
	})
	r := readTable(t, data, Options{})
	require.Len(t, r.Signals, 1)
	require.True(t, r.NameInside)
	require.Contains(t, strings.Join(r.Remarks, " "), "Column 3 holds text and was left out.")
	require.NotContains(t, strings.Join(r.Remarks, " "), "Vela")
}

// Line ends of every kind, and a delimiter at the end of each row.
func TestCSVLineEnds(t *testing.T) {
	data := string(csvOf("time [s],ECG [mV]\n", 100, plainRow))
	for _, end := range []string{"\n", "\r\n", "\r", ",\n", "\n\n"} {
		r := readTable(t, []byte(strings.ReplaceAll(data, "\n", end)), Options{})
		require.Equal(t, 100, r.Signals[0].N, "%q", end)
		require.Len(t, r.Signals, 1, "%q", end)
	}
}

// Several leads: a further column without a unit is kept but has no millivolts.
func TestCSVSeveralLeads(t *testing.T) {
	data := csvOf("time [s],Accel,ECG I [mV],ECG II [uV]\n", 100, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%d,%.6f,%.3f\n", float64(i)/250, i%7, v, v*1000)
	})
	_, err := Read("x.csv", data, Options{})
	require.ErrorContains(t, err, "add --csv-unit", "the first column of values has no unit")
	data = csvOf("time [s],ECG I [mV],ECG II [uV],Accel\n", 100, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%.6f,%.3f,%d\n", float64(i)/250, v, v*1000, i%7)
	})
	r := readTable(t, data, Options{})
	require.Len(t, r.Signals, 3)
	require.InDeltaSlice(t, r.Signals[0].Samples(0, 100), r.Signals[1].Samples(0, 100), 1e-5)
	require.NotEmpty(t, r.Signals[2].NoScale)
	lead, err := r.Lead(0)
	require.NoError(t, err)
	require.Zero(t, lead)
}

// Header cells and their units.
func TestSplitUnit(t *testing.T) {
	for cell, want := range map[string][2]string{"ECG II [mV]": {"ECG II", "mV"},
		"ECG (uV)": {"ECG", "uV"}, "ecg_mV": {"ecg", "mV"}, "mV": {"", "mV"}, "V": {"V", ""},
		"ECG V": {"ECG V", ""}, "V1 [V]": {"V1", "V"}, "ECG [counts]": {"ECG", "counts"},
		"]x[": {"]x[", ""}, "": {"", ""}} {
		name, unit := splitUnit(cell)
		require.Equal(t, want, [2]string{name, unit}, cell)
	}
}
