package recording

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// fileCase is what one file of testdata/recordings/edf must give. The files were made for this
// project by a writer of its own, and their outcomes were written down together with them,
// before this reader existed.
type fileCase struct {
	refused       string // part of the sentence; everything else is then unused
	format        Format
	header, found int
	n             int     // samples of the lead
	rate          float64 // Hz
	peak          float64 // largest value in mV, 0 = there is none
	remarks       []string
	events        []Event
	codes         []Code
	verdict       Verdict
}

func at(sample, duration float64, text string) Event {
	e := Event{At: sample, Sample: &sample, Text: text}
	if duration > 0 {
		e.Duration = &duration
	}
	return e
}

// wave is the common content; change it where a file differs.
func wave(change func(*fileCase)) fileCase {
	c := fileCase{format: EDFPlusC, header: 30, found: 30, n: 7500, rate: 250, peak: 0.999313,
		events: []Event{at(12.345, 0.5, "Event button")}, verdict: Pass}
	change(&c)
	return c
}

func remarked(remarks ...string) func(*fileCase) {
	return func(c *fileCase) { c.remarks, c.verdict = remarks, Remark }
}

func edfCases() map[string]fileCase {
	noScale := wave(func(c *fileCase) {
		c.peak, c.verdict = 0, NotJudged
		c.remarks = []string{"no usable scale"}
	})
	refused := func(says string) fileCase { return fileCase{refused: says} }
	return map[string]fileCase{
		"good_c.edf": wave(func(*fileCase) {}),
		"plain.edf":  wave(func(c *fileCase) { c.format, c.events = EDF, nil }),
		"good.bdf": wave(func(c *fileCase) {
			c.format, c.events, c.peak = BDFPlusC, nil, 0.999344
		}),
		"nrec_minus1.edf": wave(func(c *fileCase) {
			remarked("(-1): the file was not closed; 30 records were found")(c)
			c.header = -1
		}),
		"nrec_huge.edf": wave(func(c *fileCase) {
			remarked("promises 99999999 records; 30 are complete")(c)
			c.header = 99999999
		}),
		"trunc_last.edf": wave(func(c *fileCase) {
			remarked("promises 30 records; 29 are", "497 of 620 bytes were dropped")(c)
			c.found, c.n, c.codes, c.verdict = 29, 7250, []Code{CutShort}, Fail
		}),
		"odd_bytes.edf": wave(func(c *fileCase) {
			remarked("promises 30 records; 29 are", "499 of 500 bytes were dropped")(c)
			c.format, c.events = EDF, nil
			c.found, c.n, c.codes, c.verdict = 29, 7250, []Code{CutShort}, Fail
		}),
		"trailing_junk.edf":  wave(remarked("37 stray bytes")),
		"hdrbytes_wrong.edf": wave(remarked("768 bytes were used")),
		"ns_huge.edf":        refused("out of range"),
		"ns_negative.edf":    refused("out of range"),
		"spr_negative.edf":   refused("impossible number of samples per record"),
		"empty_records.edf":  refused("no complete data record"),
		"html.edf":           refused("this is a web page"),
		"dig_equal.edf":      noScale,
		"phys_equal.edf":     noScale,
		"phys_inverted.edf": wave(func(c *fileCase) {
			remarked("upside down; they were kept as written")(c)
			c.peak = 0.187839
		}),
		"latin1.edf": wave(func(c *fileCase) {
			c.remarks = []string{"person's name"}
			c.codes, c.verdict = []Code{NameInside}, Fail
		}),
		"date_colon.edf": wave(remarked("read as 2026-11-24 10:00:00")),
		"date_us.edf":    wave(remarked("read as 2026-11-24 10:00:00")),
		"dur_zero.edf": wave(func(c *fileCase) {
			d := 0.5
			c.remarks, c.rate, c.verdict = []string{"record duration is 0"}, 0, NotJudged
			c.events = []Event{{At: 12.345, Duration: &d, Text: "Event button"}}
		}),
		"recdur_05.edf":   wave(func(c *fileCase) { c.header, c.found, c.events = 60, 60, nil }),
		"mixed_rates.edf": wave(func(c *fileCase) { c.events = nil }),
		"disc_gap5.edf": wave(func(c *fileCase) {
			s := 15.5
			c.format, c.codes, c.verdict = EDFPlusD, []Code{Gaps}, Fail
			c.events = []Event{{At: 20.5, Sample: &s, Text: "Event button"}}
		}),
		"uni_multi.edf": wave(func(c *fileCase) {
			c.events = []Event{at(7, 0, "Ereignis Ä"), at(7, 0, "second text")}
		}),
	}
}

const recordings = "../../testdata/recordings"

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(recordings, name))
	require.NoError(t, err)
	return b
}

// Every file is there, and there is no file without an expectation.
func TestEDFFilesAreComplete(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(recordings, "edf", "*"))
	require.NoError(t, err)
	require.Len(t, files, 25)
	require.Len(t, edfCases(), 25)
	for _, f := range files {
		require.Contains(t, edfCases(), filepath.Base(f))
	}
}

func TestEDFFiles(t *testing.T) {
	for name, want := range edfCases() {
		t.Run(name, func(t *testing.T) {
			r, err := Read(name, load(t, "edf/"+name), Options{})
			if want.refused != "" {
				require.ErrorContains(t, err, want.refused)
				require.Nil(t, r)
				return
			}
			require.NoError(t, err)
			checkFile(t, r, want)
		})
	}
}

func checkFile(t *testing.T, r *Recording, want fileCase) {
	t.Helper()
	require.Equal(t, want.format, r.Format)
	require.Equal(t, want.header, *r.RecordsHeader)
	require.Equal(t, want.found, *r.RecordsFound)
	require.Equal(t, "2026-11-24 10:00:00", r.Start.Format("2006-01-02 15:04:05"))
	require.Len(t, r.Remarks, len(want.remarks), "%v", r.Remarks)
	for i, s := range want.remarks {
		require.Contains(t, r.Remarks[i], s)
	}
	require.Equal(t, want.events, r.Events)
	lead, err := r.Lead(0)
	require.NoError(t, err)
	require.Zero(t, lead)
	s := &r.Signals[lead]
	require.Equal(t, want.n, s.N)
	require.Equal(t, want.rate, s.Rate)
	require.Equal(t, want.peak == 0, s.NoScale != "")
	if want.peak != 0 {
		require.InDelta(t, want.peak, slices.Max(s.Samples(0, s.N)), 1e-6)
	}
	res := Measure(r, lead)
	j := Judge(res, Bench(), Expect{})
	require.ElementsMatch(t, want.codes, j.Codes)
	require.Equal(t, want.verdict, j.Verdict)
	if want.peak == 0 {
		require.Nil(t, res.Measures.Height)
		require.Nil(t, res.Measures.Noise)
		require.Nil(t, res.Measures.Baseline)
	}
}

// A file with a signal of another rate: 250 and 25 Hz, 7500 and 750 samples in 30 s.
func TestMixedRates(t *testing.T) {
	r, err := Read("mixed_rates.edf", load(t, "edf/mixed_rates.edf"), Options{})
	require.NoError(t, err)
	i := slices.IndexFunc(r.Signals, func(s Signal) bool { return s.Label == "Accel X" })
	require.Positive(t, i)
	require.Equal(t, 25.0, r.Signals[i].Rate)
	require.Equal(t, 750, r.Signals[i].N)
	require.Equal(t, "mg", r.Signals[i].Unit)
	require.NotEmpty(t, r.Signals[i].NoScale, "mg is no voltage")
}

// A gap of 5 s after the tenth record: it is found at 10 s.
func TestGapIsFound(t *testing.T) {
	r, err := Read("disc_gap5.edf", load(t, "edf/disc_gap5.edf"), Options{})
	require.NoError(t, err)
	require.Equal(t, []Gap{{At: 10, Sample: 10, Seconds: 5}}, r.Gaps)
	require.Equal(t, 5.0, *Measure(r, 0).Measures.GapSeconds)
	require.Equal(t, 30.0, *Measure(r, 0).Seconds)
}

// The Latin-1 file: its label stays readable, its unit is µV, its name appears nowhere.
func TestLatin1(t *testing.T) {
	r, err := Read("latin1.edf", load(t, "edf/latin1.edf"), Options{})
	require.NoError(t, err)
	require.True(t, r.NameInside)
	require.Equal(t, "ECG Ableitung ä", r.Signals[0].Label)
	require.Equal(t, "µV", r.Signals[0].Unit)
	require.InDelta(t, 999.313, maxPhysical(&r.Signals[0]), 1e-3)
	require.Empty(t, r.names, "the parts of the name are gone after reading")
}

func maxPhysical(s *Signal) float64 {
	v := math.Inf(-1)
	for i := range s.N {
		v = max(v, s.Physical(i))
	}
	return v
}

// Every file cut at every length: an answer or a sentence, never a panic.
func TestEDFFilesCutAnywhere(t *testing.T) {
	for _, name := range []string{"good_c.edf", "good.bdf", "disc_gap5.edf"} {
		data := load(t, "edf/"+name)
		for n := 0; n < len(data); n += 1 + n/64 {
			r, err := Read(name, data[:n], Options{})
			require.Equal(t, err == nil, r != nil)
			if n < 768+620 {
				require.Error(t, err)
			}
		}
	}
}
