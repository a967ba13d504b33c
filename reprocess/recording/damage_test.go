package recording

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every byte of a header, replaced by what breaks parsers: an answer or a sentence, never a
// panic, never more memory than a small multiple of the file.
func TestEveryHeaderByteDamaged(t *testing.T) {
	good := load(t, "edf/good_c.edf")[:768+5*620]
	for i := range 768 {
		for _, c := range []byte{0, ' ', '-', '9', 'e', '.', 0xff} {
			data := bytes.Clone(good)
			data[i] = c
			r, err := Read("x.edf", data, Options{})
			require.NotEqual(t, r == nil, err == nil)
			if err == nil && i%16 == 0 {
				use(t, r)
			}
		}
	}
	data := bytes.Clone(good)
	for i := 168; i < 768; i++ {
		data[i] = '9'
	}
	require.Less(t, allocated(func() { _, _ = Read("x.edf", data, Options{}) }), uint64(1<<17))
}

// Every byte of the annotation slot of a record damaged: the signal is read all the same.
func TestEveryAnnotationByteDamaged(t *testing.T) {
	good := withMarks("+0\x14\x14\x00+0.345\x150.5\x14Event\x14\x00", "+1\x14\x14\x00").bytes()
	slot := len(good) - 200 + 20
	for i := slot; i < slot+40; i++ {
		for _, c := range []byte{0, 0x14, 0x15, '+', '-', 'x', '9', 0xff} {
			data := bytes.Clone(good)
			data[i] = c
			r, err := Read("x.edf", data, Options{})
			require.NoError(t, err)
			require.Equal(t, 20, r.Signals[0].N)
			require.LessOrEqual(t, len(r.Events), 4)
		}
	}
}

// Every byte of a WFDB header damaged, and every length of it and of its signal file.
func TestWFDBDamaged(t *testing.T) {
	head := []byte("r 2 360/500(0) 3 10:00:00 24/11/2026\n" +
		"r.dat 212 200(1024)/mV 11 1024 1 2 0 ECG\nr.dat 212 200 11 0 1 2 0 b\n# note\n")
	signal := beside212(1, 2, 3, 4, 5, 6)
	files := map[string][]byte{"r.dat": signal}
	for i := range head {
		for _, c := range []byte{0, ' ', '\n', '/', '(', '-', '9', 'x', 0xff} {
			data := bytes.Clone(head)
			data[i] = c
			r, err := readRecord(string(data), files)
			require.NotEqual(t, r == nil, err == nil)
		}
		r, err := readRecord(string(head[:i]), files)
		require.NotEqual(t, r == nil, err == nil)
	}
	for n := range signal {
		r, err := readRecord(string(head), map[string][]byte{"r.dat": signal[:n]})
		require.NotEqual(t, r == nil, err == nil, n)
		if err == nil {
			require.True(t, r.CutShort)
			use(t, r)
		}
	}
}

// A table cut at every byte.
func TestCSVCutAnywhere(t *testing.T) {
	data := csvOf("# bench\ntime [s],ECG [mV],event\n", 20, func(i int, v float64) string {
		return fmt.Sprintf("%.3f,%.6f,%d\n", float64(i)/250, v, i%2)
	})
	for n := range data {
		r, err := Read("x.csv", data[:n], Options{})
		require.NotEqual(t, r == nil, err == nil, n)
		if err == nil {
			use(t, r)
		}
	}
}

// A record whose bytes are flipped stays readable and changes only the samples flipped.
func TestFlippedSample(t *testing.T) {
	data := load(t, "edf/plain.edf")
	a, err := Read("a.edf", data, Options{})
	require.NoError(t, err)
	before := a.Signals[0].Samples(0, a.Signals[0].N)
	data = bytes.Clone(data)
	data[512+2*1000+1] ^= 0x40
	b, err := Read("b.edf", data, Options{})
	require.NoError(t, err)
	after := b.Signals[0].Samples(0, b.Signals[0].N)
	changed := 0
	for i := range before {
		if before[i] != after[i] {
			changed++
			require.Equal(t, 1000, i)
		}
	}
	require.Equal(t, 1, changed)
}

// A rail in the middle of the file, in counts of the format: seen as such to the end.
func TestRailThroughTheReader(t *testing.T) {
	data := bytes.Clone(load(t, "edf/good_c.edf"))
	for rec := 10; rec < 16; rec++ {
		for i := range 250 {
			at := 768 + rec*620 + i*2
			data[at], data[at+1] = 0xff, 0x7f
		}
	}
	r, err := Read("x.edf", data, Options{})
	require.NoError(t, err)
	res := Measure(r, 0)
	require.Equal(t, 6.0, *res.Measures.FlatSeconds)
	j := Judge(res, Bench(), Expect{Rate: 60})
	require.Equal(t, []Code{FlatLine}, j.Codes)
	require.Equal(t, []Code{Jumps, Baseline}, j.AlsoSeen)
	require.InDelta(t, 60, *res.Measures.Rate, 1e-9)
}

// Two gaps, one of them within a beat: neither makes a jump nor a noise.
func TestGapsMakeNoFaultOfTheirOwn(t *testing.T) {
	var lists []string
	for i := range 40 {
		at := i
		if i >= 10 {
			at += 3
		}
		if i >= 20 {
			at += 4
		}
		lists = append(lists, fmt.Sprintf("+%d\x14\x14\x00", at))
	}
	m := withMarks(lists...)
	m.signals[0].samples = "250"
	m.body = nil
	wave := benchWave(250, 60, 1, 40)
	for rec, l := range lists {
		for _, v := range wave[rec*250 : (rec+1)*250] {
			d := int16(v*3276.75 + 1000*float64(rec/10)) // another offset after each gap
			m.body = append(m.body, byte(d), byte(uint16(d)>>8))
		}
		slot := make([]byte, 80)
		copy(slot, l)
		m.body = append(m.body, slot...)
	}
	m.reserved = "EDF+D"
	r := m.read(t)
	require.Equal(t, []Gap{{At: 10, Sample: 10, Seconds: 3}, {At: 23, Sample: 20, Seconds: 4}},
		r.Gaps)
	res := Measure(r, 0)
	require.Equal(t, 7.0, *res.Measures.GapSeconds)
	require.Equal(t, 40.0, *res.Seconds)
	require.Zero(t, *res.Measures.Jumps)
	require.Equal(t, 40, *res.Measures.Beats)
	require.Less(t, float64(*res.Measures.Noise), 1.0)
}
