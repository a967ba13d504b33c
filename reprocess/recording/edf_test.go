package recording

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Column starts of a header with 2 signals: 256 + ns × offset (layout of the EDF text).
func TestColumnStarts(t *testing.T) {
	all := []field{cLabel, {16, 80}, cDimension, cPhysMin, cPhysMax, cDigMin, cDigMax, {136, 80},
		cSamples, {224, 32}}
	var starts []int
	for _, c := range all {
		starts = append(starts, columnAt(c, 2, 0))
	}
	require.Equal(t, []int{256, 288, 448, 464, 480, 496, 512, 528, 688, 704}, starts)
	require.Equal(t, 768, columnAt(field{224, 32}, 2, 1)+32)
}

// value = (digital − dmin) × (pmax − pmin) / (dmax − dmin) + pmin; 3274 of −32768..32767 on
// −10..10 mV is 0.999313 mV, a step 0.000305180 mV (formula of the EDF text).
func TestScaleFormula(t *testing.T) {
	m := newEDF(1)
	m.body[0], m.body[1] = byte(3274&0xff), byte(3274>>8)
	m.body[2], m.body[3] = byte(3275&0xff), byte(3275>>8)
	s := &m.read(t).Signals[0]
	require.InDelta(t, 0.999313, s.Samples(0, 1)[0], 1e-6)
	require.InDelta(t, 0.000305180, s.Physical(1)-s.Physical(0), 1e-9)
	require.Equal(t, int32(3274), s.Digital(0))
}

func TestNegativeSamples(t *testing.T) {
	m := newEDF(1)
	m.body[0], m.body[1] = 0xff, 0xff
	m.body[2], m.body[3] = 0x00, 0x80
	s := &m.read(t).Signals[0]
	require.Equal(t, int32(-1), s.Digital(0))
	require.Equal(t, int32(-32768), s.Digital(1))
	require.InDelta(t, -10, s.Physical(1), 1e-12)
}

// BDF: 24 bits, little-endian two's complement.
func TestBDFSamples(t *testing.T) {
	m := newEDF(1)
	m.version, m.reserved = "\xffBIOSEMI", "24BIT"
	m.signals = []edfSignal{{"ECG", "uV", "-8388608", "8388607", "-8388608", "8388607", "3"}}
	m.body = []byte{1, 0, 0, 0xff, 0xff, 0xff, 0, 0, 0x80}
	data := m.bytes()
	copy(data, "\xffBIOSEMI")
	r, err := Read("x.bdf", data, Options{})
	require.NoError(t, err)
	require.Equal(t, BDF, r.Format)
	s := &r.Signals[0]
	require.Equal(t, []int32{1, -1, -8388608}, []int32{s.Digital(0), s.Digital(1), s.Digital(2)})
	require.InDelta(t, 0.001, s.Samples(0, 1)[0], 1e-12)
}

// Samples per record are not the rate: a record of 0.5 s with 125 samples is 250 Hz, one of 2 s
// with 100 is 50 Hz (a published reader once got this wrong: pyedflib issue 199).
func TestRateDividesByDuration(t *testing.T) {
	for dur, want := range map[string]float64{"0.5": 200, "2": 50, "1": 100, "0,5": 200} {
		m := newEDF(3)
		m.duration = dur
		require.Equal(t, want, m.read(t).Signals[0].Rate, dur)
	}
	m := newEDF(3)
	m.duration = "1e-300"
	require.Zero(t, m.read(t).Signals[0].Rate)
}

// A decimal comma in the limits is read as a dot and remarked (mne-python pull 10754).
func TestDecimalComma(t *testing.T) {
	m := newEDF(1)
	m.signals[0].pmin, m.signals[0].pmax = "-1,5", "1,5"
	r := m.read(t)
	require.Contains(t, r.Remarks[0], "decimal comma")
	require.InDelta(t, -1.5, r.Signals[0].origin, 0)
	m.signals[0].pmin = "-1,5,5"
	require.Equal(t, "no usable scale", m.read(t).Signals[0].NoScale)
}

// Numbers are digits, signs, a dot and an exponent; nothing else that a parser might take.
func TestNumbersAreStrict(t *testing.T) {
	for _, s := range []string{"Inf", "NaN", "0x10", "1_0", "", "1 0", "٣", "1e999", "-", "+-1"} {
		_, ok := parseNumber(s)
		require.False(t, ok, s)
	}
	for s, want := range map[string]float64{"-1": -1, "+2.5": 2.5, "1e3": 1000, ".5": .5} {
		v, ok := parseNumber(s)
		require.True(t, ok, s)
		require.Equal(t, want, v)
	}
}

// A list of two fields: onset, duration, text; from the EDF+ text.
func TestAnnotationList(t *testing.T) {
	r := withMarks("+0\x14\x14\x00+0.345\x150.5\x14Event button\x14\x00").read(t)
	require.Equal(t, []Event{at(0.345, 0.5, "Event button")}, r.Events)
	require.Empty(t, r.Remarks)
}

// An event may be stored in another record than the one it belongs to.
func TestEventInAnotherRecord(t *testing.T) {
	r := withMarks("+0\x14\x14\x00", "+1\x14\x14\x00", "+2\x14\x14\x00+0.25\x14a\x14b\x14\x00").
		read(t)
	require.Equal(t, []Event{at(0.25, 0, "a"), at(0.25, 0, "b")}, r.Events)
}

// The first record time moves the start by its fraction and is no gap.
func TestFirstTimeIsNoGap(t *testing.T) {
	r := withMarks("+0.25\x14\x14\x00+0.75\x14a\x14\x00", "+1.25\x14\x14\x00").read(t)
	require.Empty(t, r.Gaps)
	require.InDelta(t, 0.5, *r.Events[0].Sample, 1e-12)
}

// A file that says continuous but whose record times jump has a gap (pyedflib issue 70).
func TestContinuousWithJump(t *testing.T) {
	r := withMarks("+0\x14\x14\x00", "+3\x14\x14\x00+2\x14in the gap\x14\x00").read(t)
	require.Equal(t, []Gap{{At: 1, Sample: 1, Seconds: 2}}, r.Gaps)
	require.Contains(t, strings.Join(r.Remarks, " "), "says continuous")
	require.Nil(t, r.Events[0].Sample)
	require.Contains(t, strings.Join(r.Remarks, " "), "1 event marks lie outside")
}

// Half a millisecond is rounding, one millisecond is a gap; backwards is only remarked.
func TestGapTolerance(t *testing.T) {
	require.Empty(t, withMarks("+0\x14\x14\x00", "+1.0005\x14\x14\x00").read(t).Gaps)
	require.Len(t, withMarks("+0\x14\x14\x00", "+1.001\x14\x14\x00").read(t).Gaps, 1)
	r := withMarks("+0\x14\x14\x00", "+0.5\x14\x14\x00").read(t)
	require.Empty(t, r.Gaps)
	require.Contains(t, strings.Join(r.Remarks, " "), "begins before")
}

// Lists that break the form are skipped and counted, the signal is read; bytes that are no
// UTF-8 are replaced and counted (mne-python issue 11135).
func TestBrokenLists(t *testing.T) {
	for _, bad := range []string{"1.5\x14x\x14\x00", "+1.5\x14x\x00", "+x\x14x\x14\x00",
		"+1\x15y\x14x\x14\x00", "+1.5\x00", "+\x14\x14\x00"} {
		r := withMarks("+0\x14\x14\x00" + bad + "+0.5\x14kept\x14\x00").read(t)
		require.Equal(t, []Event{at(0.5, 0, "kept")}, r.Events, "%q", bad)
		require.Contains(t, strings.Join(r.Remarks, " "), "1 annotation lists break", "%q", bad)
	}
	r := withMarks("+0\x14\x14\x00+0.5\x14a\xe8b\x14\x00").read(t)
	require.Equal(t, "a\uFFFDb", r.Events[0].Text)
	require.Contains(t, r.Remarks[0], "1 bytes of annotation text")
}

func TestAnnotationLimit(t *testing.T) {
	lists := make([]string, 1100)
	for i := range lists {
		lists[i] = fmt.Sprintf("+%d\x14\x14%s\x00", i, strings.Repeat("a\x14", 10))
	}
	r := withMarks(lists...).read(t)
	require.Len(t, r.Events, MaxAnnotations)
	require.Contains(t, r.Remarks[0], "Only the first 10000 annotations")
}

// A record count below what is there: the header's count is used; both are kept.
func TestMoreRecordsThanPromised(t *testing.T) {
	m := newEDF(5)
	m.records = "3"
	r := m.read(t)
	require.Equal(t, 3, *r.RecordsHeader)
	require.Equal(t, 5, *r.RecordsFound)
	require.Equal(t, 300, r.Signals[0].N)
	require.Contains(t, r.Remarks[0], "400 stray bytes")
	require.False(t, r.CutShort)
	for _, s := range []string{"0", "x", "-1", ""} {
		m.records = s
		require.Equal(t, 500, m.read(t).Signals[0].N, s)
	}
}

// A promise of a year or more, or a field of nines, proves nothing about the end of the file.
func TestBelievablePromise(t *testing.T) {
	for records, cut := range map[string]bool{"6": true, "31622400": true, "31622401": false,
		"99999": false} {
		m := newEDF(5)
		m.records = records
		r := m.read(t)
		require.Equal(t, cut, r.CutShort, records)
		require.Equal(t, 500, r.Signals[0].N)
	}
}

// Dates: 85 to 99 are 1985 to 1999, 00 to 84 are 2000 to 2084; the long date wins (from
// memory of the EDF+ text; two independent readers agree).
func TestStart(t *testing.T) {
	for _, c := range []struct{ short, clock, long, want string }{
		{"24.11.85", "10.00.00", "", "1985-11-24 10:00:00"},
		{"24.11.84", "10.00.00", "", "2084-11-24 10:00:00"},
		{"29.02.28", "23.59.59", "", "2028-02-29 23:59:59"},
		{"00.00.00", "10.00.00", "Startdate 24-nov-2026 X X X", "2026-11-24 10:00:00"},
		{"11.24.26", "10:00:00", "Startdate 24-NOV-2026 X X X", "2026-11-24 10:00:00"},
		{"24.11.26", "25.00.00", "Startdate broken X X X", "2026-11-24 00:00:00"},
	} {
		m := newEDF(1)
		m.date, m.clock, m.recording = c.short, c.clock, c.long
		r := m.read(t)
		require.True(t, r.StartKnown)
		require.Equal(t, c.want, r.Start.Format("2006-01-02 15:04:05"))
	}
	for _, s := range []string{"00.00.00", "30.02.26", "", "x"} {
		m := newEDF(1)
		m.date, m.recording = s, "Startdate X X X X"
		r := m.read(t)
		require.False(t, r.StartKnown, s)
		require.Equal(t, time.Time{}, r.Start)
		require.Contains(t, r.Remarks[0], "no date")
	}
}

// Who is a person and who is a placeholder.
func TestNameInside(t *testing.T) {
	for _, c := range []struct {
		patient, recording string
		plus, inside       bool
	}{
		{"X X X X", "Startdate 24-NOV-2026 X X X", true, false},
		{"X X X Vela_Ona", "Startdate 24-NOV-2026 X X X", true, true},
		{"4711 F 02-MAR-1970 X", "Startdate 24-NOV-2026 X NN X", true, false},
		{"X X X X", "Startdate 24-NOV-2026 X Brennholz X", true, true},
		{"", "", false, false},
		{"bench 0042", "", false, false},
		{"Vela Ona", "", false, true},
		{"O. Vela", "", false, true},
	} {
		m := newEDF(1)
		m.patient, m.recording = c.patient, c.recording
		if !c.plus {
			m.reserved = ""
		}
		require.Equal(t, c.inside, m.read(t).NameInside, "%v", c)
	}
}

// A name in the header is blanked out of labels and event texts as well.
func TestNameIsHiddenEverywhere(t *testing.T) {
	m := withMarks("+0\x14\x14\x00+0.5\x14call VELA now\x14\x00")
	m.patient, m.signals[0].label = "X X X Vela_Ona", "ECG Vela"
	r := m.read(t)
	require.True(t, r.NameInside)
	require.Equal(t, "ECG [name]", r.Signals[0].Label)
	require.Equal(t, "call [name] now", r.Events[0].Text)
	require.NotContains(t, strings.ToLower(fmt.Sprintf("%+v", r.Remarks)), "vela")
}

func TestEDFRefusals(t *testing.T) {
	for says, change := range map[string]func(*edfMaker){
		"out of range (1 to 64)":    func(m *edfMaker) { m.ns = "65" },
		"out of range":              func(m *edfMaker) { m.ns = "0" },
		"the file is damaged":       func(m *edfMaker) { m.ns = "x" },
		"ends inside its header":    func(m *edfMaker) { m.ns, m.body = "64", nil },
		"impossible number":         func(m *edfMaker) { m.signals[0].samples = "1.5" },
		"no signal has any samples": func(m *edfMaker) { m.signals[0].samples = "0" },
		"longer than 1 MiB":         func(m *edfMaker) { m.signals[0].samples = "524289" },
		"no complete data record":   func(m *edfMaker) { m.body = m.body[:199] },
		"not an EDF or BDF file":    func(m *edfMaker) { m.version = "1" },
	} {
		m := newEDF(1)
		change(m)
		_, err := Read("x.edf", m.bytes(), Options{})
		require.ErrorContains(t, err, says)
	}
}

func TestLeadChoice(t *testing.T) {
	m := newEDF(1)
	m.signals = []edfSignal{marks("10"), ecgSignal("10"), ecgSignal("10")}
	m.signals[1].label, m.signals[2].label = "Accel", "ekg 1"
	r := m.read(t)
	for want, index := range map[int]int{0: 2, 2: 1, 3: 2} {
		i, err := r.Lead(want)
		require.NoError(t, err)
		require.Equal(t, index, i)
	}
	for want, says := range map[int]string{1: "holds the event marks", 4: "there is no signal 4",
		-1: "there is no signal -1"} {
		_, err := r.Lead(want)
		require.ErrorContains(t, err, says)
	}
	m.signals = m.signals[:1]
	_, err := m.read(t).Lead(0)
	require.ErrorContains(t, err, "no signal")
	m.signals = []edfSignal{marks("10"), ecgSignal("10")}
	m.signals[1].label = "II"
	i, err := m.read(t).Lead(0)
	require.NoError(t, err)
	require.Equal(t, 1, i)
}

// allocated answers the bytes that f allocates in all.
func allocated(f func()) uint64 {
	var a, b runtime.MemStats
	runtime.ReadMemStats(&a)
	f()
	runtime.ReadMemStats(&b)
	return b.TotalAlloc - a.TotalAlloc
}

// A header may promise anything: what is allocated stays a small multiple of the file.
func TestMemoryIsBoundedByTheFile(t *testing.T) {
	for _, name := range []string{"ns_huge.edf", "ns_negative.edf", "nrec_huge.edf",
		"spr_negative.edf", "good_c.edf"} {
		data := load(t, "edf/"+name)
		got := allocated(func() { _, _ = Read(name, data, Options{}) })
		require.Less(t, got, uint64(4*len(data)+1<<16), name)
	}
	m := newEDF(1)
	m.records, m.signals[0].samples = "99999999", "100"
	m.ns, m.duration = "1", "1e-8"
	data := m.bytes()
	require.Less(t, allocated(func() { _, _ = Read("x.edf", data, Options{}) }), uint64(1<<16))
}

func TestVoltFactors(t *testing.T) {
	for unit, want := range map[string]float64{"mV": 1, "uV": 1e-3, "µV": 1e-3, "μV": 1e-3,
		"V": 1e3, "nV": 1e-6} {
		f, ok := voltFactor(unit)
		require.True(t, ok)
		require.Equal(t, want, f)
	}
	for _, unit := range []string{"", "MV", "mg", "counts", "v"} {
		_, ok := voltFactor(unit)
		require.False(t, ok, unit)
	}
	require.True(t, math.IsNaN(parseTime("25:61")))
}

// A record without its own time in a file with gaps is taken to follow the one before; a file
// that may have gaps but gives no times at all says so.
func TestMissingRecordTimes(t *testing.T) {
	m := withMarks("+0\x14\x14\x00", "", "+2\x14\x14\x00", "+9\x14\x14\x00")
	m.reserved = "EDF+D"
	require.Equal(t, []Gap{{At: 3, Sample: 3, Seconds: 6}}, m.read(t).Gaps)
	m = withMarks("", "")
	require.Empty(t, m.read(t).Gaps)
}

// More breaks than are followed: the file is read, and it says that it gave up counting.
func TestRecordTimesInDisorder(t *testing.T) {
	lists := make([]string, maxBreaks+50)
	for i := range lists {
		lists[i] = fmt.Sprintf("+%d\x14\x14\x00", 2*i)
	}
	r := withMarks(lists...).read(t)
	require.Len(t, r.Gaps, maxBreaks-1)
	require.Contains(t, strings.Join(r.Remarks, " "), "in disorder")
}

// Remarks are bounded and never repeated.
func TestRemarksAreBounded(t *testing.T) {
	r := &Recording{}
	for i := range 1000 {
		r.remark("repair %d", i/2)
	}
	require.Len(t, r.Remarks, maxRemarks)
	require.Equal(t, "repair 199", r.Remarks[199])
}
