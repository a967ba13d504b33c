package recording

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The general open converter of biosignal files from Debian's package biosig-tools (2.5.0 was
// at hand) is the independent reader here: rates, units, event marks from its account of the
// header, every physical value from its table. It reads EDF, EDF+, BDF and WFDB, not CSV.

// verdictOfConverter is what is known of one file before it is run.
type verdictOfConverter struct {
	// reads: it decodes the file, and everything but what the other fields say must agree.
	reads bool
	// why it cannot serve: it must then give no table. why of a file that it reads says
	// where it differs from the published layout, and what of it is therefore not compared.
	why string
	// noRun: it is not even started.
	noRun bool
	// noScale: it computes values although the scale is void; only their count is compared.
	noScale bool
	// noRate, noEvents: its rate, its marks are not compared.
	noRate, noEvents bool
}

func converterCases() map[string]verdictOfConverter {
	reads := verdictOfConverter{reads: true}
	void := verdictOfConverter{reads: true, noScale: true,
		why: "divides by the empty range, and says neither so nor why"}
	dies := verdictOfConverter{why: "ends by a fault of memory (signal 11)"}
	return map[string]verdictOfConverter{
		"good_c.edf": reads, "plain.edf": reads, "good.bdf": reads, "nrec_minus1.edf": reads,
		"trunc_last.edf": reads, "odd_bytes.edf": reads, "trailing_junk.edf": reads,
		"phys_inverted.edf": reads, "latin1.edf": reads, "date_colon.edf": reads,
		"recdur_05.edf": reads, "mixed_rates.edf": reads, "ecg208_60s.hea": reads,
		"disc_gap5.edf": reads, // joins the records, as our sample times do
		"date_us.edf": {reads: true, why: "complains of the short date and keeps it; " +
			"dates are not compared"},
		"uni_multi.edf": {reads: true, noEvents: true,
			why: "keeps the first of two texts in one list; the layout allows several"},
		"dur_zero.edf": {reads: true, noRate: true, noEvents: true,
			why: "puts every mark at 0 s where there is no rate"},
		"dig_equal.edf": void, "phys_equal.edf": void,
		"hdrbytes_wrong.edf": {why: "refuses a wrong size of the header, which can be recomputed"},
		"html.edf":           {why: "refuses an unknown format, as we do"},
		"spr_negative.edf":   {why: "refuses it, as we do"},
		"empty_records.edf":  dies, "ns_huge.edf": dies, "ns_negative.edf": dies,
		"nrec_huge.edf": {noRun: true, why: "does not end within 20 s: it believes the count"},
	}
}

// converted is what the converter tells of a file: a table of physical values, a column for
// each signal that is no list of marks, and its account of the header.
type converted struct {
	labels, units []string
	rates         []float64
	columns       [][]float64
	marks         [][2]float64 // second, duration
}

const converterMissing = "save2gdf is needed as the independent reader; install with: " +
	"apt-get install -y biosig-tools"

// convert runs it twice, for the table and for the header; ok is false where it gives no table.
func convert(t *testing.T, path string) (c converted, ok bool) {
	t.Helper()
	program, err := exec.LookPath("save2gdf")
	require.NoError(t, err, converterMissing)
	table := filepath.Join(t.TempDir(), "table.csv")
	run := exec.Command(program, "-CSV", path, table)
	if err := run.Run(); err != nil {
		return c, false
	}
	b, err := os.ReadFile(table)
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	require.NoError(t, err, path)
	heading := regexp.MustCompile(`^(.*) \[(.*)\]$`)
	for _, h := range rows[0] {
		parts := heading.FindStringSubmatch(h)
		require.NotNil(t, parts, h)
		c.labels, c.units = append(c.labels, parts[1]), append(c.units, parts[2])
		c.columns = append(c.columns, nil)
	}
	for _, row := range rows[1:] {
		for i, cell := range row {
			c.columns[i] = append(c.columns[i], number(t, strings.Replace(cell, "-nan", "nan", 1)))
		}
	}
	c.header(t, program, path)
	return c, true
}

// header reads rates and marks line by line: the account is no valid JSON where a number is
// infinite or a text is not UTF-8.
func (c *converted) header(t *testing.T, program, path string) {
	t.Helper()
	out, err := exec.Command(program, "-JSON", path).Output()
	require.NoError(t, err, path)
	line := regexp.MustCompile(`^\s*"(\w+)"\s*: (.*?),?$`)
	channel, at, length, text := false, 0.0, 0.0, ""
	for l := range strings.Lines(string(out)) {
		parts := line.FindStringSubmatch(strings.TrimRight(l, "\n"))
		if parts == nil {
			continue
		}
		switch key, value := parts[1], strings.Trim(parts[2], `"`); key {
		case "ChannelNumber":
			channel = true
		case "Samplingrate":
			if channel {
				c.rates = append(c.rates, number(t, value))
			}
		case "POS":
			at = number(t, value)
		case "DUR":
			length = number(t, value)
		case "Description":
			text = value
			if !strings.HasPrefix(text, "start of a new segment") {
				c.marks = append(c.marks, [2]float64{at, length})
			}
		}
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err, s)
	return v
}

// Every vendored recording is in the table, and every one that the converter reads agrees in
// rate, number of samples, unit, event marks and each single value.
func TestTheConverterAgrees(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(recordings, "edf", "*"))
	require.NoError(t, err)
	paths = append(paths, filepath.Join(recordings, "ecg208_60s.hea"))
	cases := converterCases()
	require.Len(t, cases, len(paths))
	values := 0
	for _, path := range paths {
		name := filepath.Base(path)
		want, known := cases[name]
		require.True(t, known, name)
		if want.noRun {
			continue
		}
		theirs, read := convert(t, path)
		require.Equal(t, want.reads, read, "%s: %s", name, want.why)
		if read {
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			r, err := Read(name, data, Options{Sibling: beside})
			require.NoError(t, err, name)
			values += want.compare(t, name, r, theirs)
		}
	}
	// 14 signals of 7500, two cut to 7250, 750 of the movement and 21600 of record 208: no
	// value was left out by mistake.
	require.Equal(t, 14*7500+2*7250+750+21600, values)
}

// compare counts the values that were compared one by one.
func (want verdictOfConverter) compare(t *testing.T, name string, r *Recording,
	theirs converted) (values int) {
	t.Helper()
	k := 0
	for i := range r.Signals {
		s := &r.Signals[i]
		if s.Annotation {
			continue
		}
		require.Less(t, k, len(theirs.columns), name)
		if !want.noRate {
			require.InDelta(t, theirs.rates[k], s.Rate, 1e-6, name)
		}
		// It writes one row for each sample of the fastest signal, and a slower one's value again.
		again := len(theirs.columns[0]) / s.N
		require.Equal(t, len(theirs.columns[k]), s.N*again, name)
		require.Equal(t, sameUnit(s.Unit), sameUnit(theirs.units[k]), name)
		if !want.noScale {
			values += s.N
			apart(t, fmt.Sprint(name, " ", theirs.labels[k]), s, theirs.columns[k], again)
		}
		k++
	}
	require.Len(t, theirs.columns, k, name)
	if !want.noEvents {
		require.Len(t, theirs.marks, len(r.Events), name)
		for i, e := range r.Events { // its places are whole samples, of 4 ms here
			require.InDelta(t, theirs.marks[i][0], *e.Sample, 0.004, name)
			if e.Duration != nil {
				require.InDelta(t, theirs.marks[i][1], *e.Duration, 0.004, name)
			}
		}
	}
	return values
}

// sameUnit writes the micro sign as the converter does.
func sameUnit(u string) string { return strings.NewReplacer("µ", "u", "μ", "u").Replace(u) }

// apart fails where a value is not the converter's. It prints six figures, so the nearest number
// it can print is at most half a unit of the sixth away; 24-bit steps are as fine as that.
func apart(t *testing.T, what string, s *Signal, theirs []float64, again int) {
	t.Helper()
	for i := range s.N {
		ours, other := s.Physical(i), theirs[i*again]
		sixth := 0.0
		if other != 0 {
			sixth = 0.501 * math.Pow(10, math.Floor(math.Log10(math.Abs(other)))-5)
		}
		if math.Abs(ours-other) > sixth+1e-12 {
			require.Failf(t, "values differ", "%s, sample %d: ours %v, theirs %v", what, i, ours, other)
		}
	}
}

// WFDB, odd and even lengths: format 212 with one to three signals, format 16 with one. With
// several signals in format 16 the converter leaves out values from the second frame on, where
// the published layout has one value of each signal in turn, without a rest; there the second
// reader alone is asked (TestASecondReaderAgreesOnWFDB). A damaged value is seen.
func TestTheConverterAgreesOnWFDB(t *testing.T) {
	for format, most := range map[string]int{"16": 1, "212": 3} {
		for ns := 1; ns <= most; ns++ {
			for _, n := range []int{2, 501} {
				head, data, _ := wfdbOf(format, ns, n)
				// It overlooks a baseline in brackets, which header(5) of the format defines;
				// without one the ADC zero stands for it there, and both read that.
				head = strings.ReplaceAll(head, "200(10)/uV 12 0", "200/uV 12 10")
				name := fmt.Sprintf("f%s-%d-%d", format, ns, n)
				path := writeRecord(t, name, head, data)
				theirs, ok := convert(t, path)
				require.True(t, ok, name)
				r, err := readRecord(head, map[string][]byte{"r.dat": data})
				require.NoError(t, err)
				require.Equal(t, ns*n, verdictOfConverter{}.compare(t, name, r, theirs), name)

				damaged := bytes.Clone(data)
				damaged[len(damaged)/2] ^= 0x40
				theirs, ok = convert(t, writeRecord(t, name, head, damaged))
				require.True(t, ok, name)
				require.False(t, equalEverywhere(r, theirs), "%s: one changed bit is a changed value", name)
			}
		}
	}
}

func writeRecord(t *testing.T, name, head string, data []byte) (path string) {
	t.Helper()
	dir := t.TempDir()
	path = filepath.Join(dir, name+".hea")
	head = strings.Replace(strings.ReplaceAll(head, "r.dat", name+".dat"), "r ", name+" ", 1)
	require.NoError(t, os.WriteFile(path, []byte(head), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".dat"), data, 0o600))
	return path
}

func equalEverywhere(r *Recording, theirs converted) bool {
	for k := range r.Signals {
		for i := range r.Signals[k].N {
			if math.Abs(r.Signals[k].Physical(i)-theirs.columns[k][i]) > 1e-3 {
				return false
			}
		}
	}
	return true
}
