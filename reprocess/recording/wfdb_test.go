package recording

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// beside16 and beside212 write the signal files of a record, one sample of each signal in
// turn, as wfdb.io/spec/signal-files.html describes formats 16 and 212.
func beside16(samples ...int16) []byte {
	var b []byte
	for _, v := range samples {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	return b
}

func beside212(samples ...int16) []byte {
	var b []byte
	for i := 0; i < len(samples); i += 2 {
		a, c := uint16(samples[i])&0xfff, uint16(0)
		if i+1 < len(samples) {
			c = uint16(samples[i+1]) & 0xfff
		}
		b = append(b, byte(a), byte(a>>8|c>>8<<4))
		if i+1 < len(samples) {
			b = append(b, byte(c))
		}
	}
	return b
}

func sum16(samples []int16) int16 {
	var s int16
	for _, v := range samples {
		s += v
	}
	return s
}

// readRecord reads a header with its files.
func readRecord(head string, files map[string][]byte) (*Recording, error) {
	return Read("r.hea", []byte(head), Options{Sibling: func(base string) ([]byte, error) {
		if b, ok := files[base]; ok {
			return b, nil
		}
		return nil, errors.New("not there")
	}})
}

func digitals(s *Signal) []int16 {
	out := make([]int16, s.N)
	for i := range out {
		out[i] = int16(s.Digital(i))
	}
	return out
}

// Three bytes 06 38 E8 hold −2042 and 1000; five bytes one more, 1 (the format's text; the
// first is the published first value of a conformance set).
func TestFormat212Bytes(t *testing.T) {
	head := "r 1 250\nr.dat 212 200 12 0\n"
	r, err := readRecord(head, map[string][]byte{"r.dat": {0x06, 0x38, 0xe8}})
	require.NoError(t, err)
	require.Equal(t, []int16{-2042, 1000}, digitals(&r.Signals[0]))
	r, err = readRecord(head, map[string][]byte{"r.dat": {0x06, 0x38, 0xe8, 0x01, 0x00}})
	require.NoError(t, err)
	require.Equal(t, []int16{-2042, 1000, 1}, digitals(&r.Signals[0]))
	require.Empty(t, r.Remarks)
	r, err = readRecord(head, map[string][]byte{"r.dat": {0x06, 0x38, 0xe8, 0x01}})
	require.NoError(t, err)
	require.Equal(t, []int16{-2042, 1000}, digitals(&r.Signals[0]))
	require.Contains(t, r.Remarks[0], "no whole sample")
}

// Whatever the writer wrote comes back, for both formats, one and two signals, odd and even.
func TestWFDBRoundTrip(t *testing.T) {
	for _, format := range []string{"16", "212"} {
		for _, ns := range []int{1, 2, 3} {
			for _, n := range []int{1, 2, 3, 10, 501} {
				roundTrip(t, format, ns, n)
			}
		}
	}
}

// wfdbOf makes a record of so many signals with so many samples each, over the whole range.
func wfdbOf(format string, ns, n int) (head string, data []byte, per [][]int16) {
	all := make([]int16, ns*n)
	per = make([][]int16, ns)
	for i := range all {
		v := int16((i*1237+5)%4096 - 2048)
		if format == "16" {
			v *= 16
		}
		all[i], per[i%ns] = v, append(per[i%ns], v)
	}
	data = beside212(all...)
	if format == "16" {
		data = beside16(all...)
	}
	head = fmt.Sprintf("r %d 360 %d\n", ns, n)
	for k := range ns {
		head += fmt.Sprintf("r.dat %s 200(10)/uV 12 0 %d %d 0 lead %d\n", format, per[k][0],
			sum16(per[k]), k)
	}
	return head, data, per
}

func roundTrip(t *testing.T, format string, ns, n int) {
	t.Helper()
	head, data, per := wfdbOf(format, ns, n)
	r, err := readRecord(head, map[string][]byte{"r.dat": data})
	require.NoError(t, err)
	require.Empty(t, r.Remarks, "%s %d %d", format, ns, n)
	for k := range ns {
		s := &r.Signals[k]
		require.Equal(t, per[k], digitals(s))
		require.Equal(t, fmt.Sprintf("lead %d", k), s.Label)
		require.InDelta(t, (float64(per[k][0])-10)/200/1000, s.Samples(0, 1)[0], 1e-12)
	}
}

// The excerpt of record 208: count, first values, sums and statistics as published with it
// (README of the recordings; mean and deviation from the docstring of SciPy's excerpt).
func TestExcerpt208(t *testing.T) {
	raw := load(t, "ecg208_60s.i16")
	hash := sha256.Sum256(raw)
	require.Equal(t, "ea8dca30f983bfd8c65322ea63190fecc6a3f1e68eb2654773124749174e09eb",
		hex.EncodeToString(hash[:]))
	s := &excerpt(t).Signals[0]
	require.Equal(t, 21600, s.N)
	require.Equal(t, 360.0, s.Rate)
	require.Equal(t, "MLII", s.Label)
	d := digitals(s)
	require.Equal(t, []int16{975, 981, 987, 989, 990, 990, 987, 990}, d[:8])
	require.Equal(t, int16(-13215), sum16(d))
	total, x := 0, s.Samples(0, s.N)
	mean, sq, lo, hi := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	for i, v := range x {
		total += int(d[i])
		mean += v / float64(len(x))
		lo, hi = min(lo, v), max(hi, v)
	}
	for _, v := range x {
		sq += (v - mean) * (v - mean) / float64(len(x))
	}
	require.Equal(t, 21351521, total)
	require.InDelta(t, -0.177518, mean, 1e-6)
	require.InDelta(t, 0.678014, math.Sqrt(sq), 1e-6)
	require.InDelta(t, -1.855, lo, 1e-9)
	require.InDelta(t, 3.650, hi, 1e-9)
}

func excerpt(t testing.TB) *Recording { return record(t, "ecg208_60s") }

func record(t testing.TB, name string) *Recording {
	t.Helper()
	r, err := readRecord(string(load(t, name+".hea")),
		map[string][]byte{name + ".i16": load(t, name+".i16")})
	require.NoError(t, err)
	require.Empty(t, r.Remarks)
	return r
}

// A damaged signal file no longer matches its checksum or its first value.
func TestChecksumFindsDamage(t *testing.T) {
	files := map[string][]byte{"ecg208_60s.i16": load(t, "ecg208_60s.i16")}
	files["ecg208_60s.i16"][20000] ^= 1
	r, err := readRecord(string(load(t, "ecg208_60s.hea")), files)
	require.NoError(t, err)
	require.Equal(t, []string{"Signal 1 does not match its checksum: the file may be damaged."},
		r.Remarks)
	files["ecg208_60s.i16"][0] ^= 1
	r, err = readRecord(string(load(t, "ecg208_60s.hea")), files)
	require.NoError(t, err)
	require.Contains(t, strings.Join(r.Remarks, " "), "does not begin with the value")
}

// 65535 and −1 are the same checksum (wfdb-python pull 424).
func TestChecksumSign(t *testing.T) {
	for _, sum := range []string{"-1", "65535"} {
		r, err := readRecord("r 1 250 2\nr.dat 16 200 16 0 -2 "+sum+" 0\n",
			map[string][]byte{"r.dat": beside16(-2, 1)})
		require.NoError(t, err)
		require.Empty(t, r.Remarks, sum)
	}
}

// The defaults of the format are used, and each one is remarked: rate, gain; the baseline is
// the converter's zero.
func TestWFDBDefaults(t *testing.T) {
	r, err := readRecord("# a comment\nr 1\nr.dat 16\n", map[string][]byte{"r.dat": beside16(200)})
	require.NoError(t, err)
	s := &r.Signals[0]
	require.Equal(t, 250.0, s.Rate)
	require.InDelta(t, 1, s.Samples(0, 1)[0], 1e-12)
	require.Len(t, r.Remarks, 2)
	r, err = readRecord("r 1 250 0\nr.dat 16 0 16 1000\n",
		map[string][]byte{"r.dat": beside16(1200)})
	require.NoError(t, err)
	require.InDelta(t, 1, r.Signals[0].Samples(0, 1)[0], 1e-12)
	require.Contains(t, r.Remarks[0], "default of 200 per mV")
	require.Equal(t, 1, r.Signals[0].N, "a count of 0 is taken from the file")
}

// The file is shorter or longer than its header says.
func TestWFDBLength(t *testing.T) {
	r, err := readRecord("r 1 100 5\nr.dat 16 200\n", map[string][]byte{"r.dat": beside16(1, 2, 3)})
	require.NoError(t, err)
	require.True(t, r.CutShort)
	require.InDelta(t, 0.05, r.PromisedSeconds, 1e-12)
	require.Equal(t, 3, r.Signals[0].N)
	require.Contains(t, r.Remarks[0], "promises 5 samples; 3 are in the file")
	r, err = readRecord("r 1 100 2\nr.dat 16 200\n", map[string][]byte{"r.dat": beside16(1, 2, 3)})
	require.NoError(t, err)
	require.False(t, r.CutShort)
	require.Equal(t, 2, r.Signals[0].N)
	require.Contains(t, r.Remarks[0], "more samples than the header says")
}

// A byte offset before the first sample is honoured.
func TestWFDBOffset(t *testing.T) {
	r, err := readRecord("r 1 100\nr.dat 16+3 200\n",
		map[string][]byte{"r.dat": append([]byte("abc"), beside16(7)...)})
	require.NoError(t, err)
	require.Equal(t, []int16{7}, digitals(&r.Signals[0]))
}

// A record whose other signals are in other formats: what can be read is read, what cannot
// says so when it is chosen.
func TestWFDBMixedFormats(t *testing.T) {
	r, err := readRecord("r 3 100\na.dat 8 200\nb.dat 16 200\nc.dat 212 200\n",
		map[string][]byte{"b.dat": beside16(5)})
	require.NoError(t, err)
	require.Len(t, r.Remarks, 2)
	_, err = r.Lead(0)
	require.ErrorContains(t, err, "not stored in format 16 or 212; choose another with --lead")
	_, err = r.Lead(3)
	require.ErrorContains(t, err, "missing beside the header")
	i, err := r.Lead(2)
	require.NoError(t, err)
	require.Equal(t, 1, i)
}

func TestWFDBRefusals(t *testing.T) {
	file := map[string][]byte{"r.dat": beside16(1, 2), "d/r.dat": beside16(1), "-": beside16(1)}
	for head, says := range map[string]string{
		"":                               "the file is empty",
		"# nothing\n":                    "the .hea file is empty",
		"r\n":                            "no WFDB record line",
		"r/3 1 250\nr.dat 16\n":          "split into segments",
		"r 65 250\n":                     "out of range (1 to 64)",
		"r 0 250\n":                      "out of range",
		"r 2 250\nr.dat 16\n":            "promises 2 signals but describes 1",
		"r 1 x\nr.dat 16\n":              "sampling rate",
		"r 1 -1\nr.dat 16\n":             "sampling rate",
		"r 1 250 x\nr.dat 16\n":          "number of samples",
		"r 1 250\nr.dat\n":               "no signal line",
		"r 1 250\nr.dat 16 x\n":          "a number that cannot be read",
		"r 1 250\nr.dat 16 200(5\n":      "a number that cannot be read",
		"r 1 250\nr.dat 16 200 16 0 x\n": "a number that cannot be read",
		"r 1 250\nr.dat 8 200\n":         "not stored in format 16 or 212",
		"r 1 250\nr.dat 16x2 200\n":      "2 samples per frame",
		"r 1 250\nr.dat 16+9 200\n":      "too short",
		"r 1 250\nr.dat 16+3 200\n":      "no whole sample",
		"r 1 250\nr.dat 16+x 200\n":      "format cannot be read",
		"r 1 250\nother.dat 16 200\n":    "missing beside the header",
		"r 1 250\nd/r.dat 16 200\n":      "not a plain name",
		"r 1 250\n../r.dat 16 200\n":     "not a plain name",
		"r 1 250\n- 16 200\n":            "not a plain name",
		"r 2 250\nr.dat 16\nr.dat 212\n": "mixes formats",
	} {
		_, err := readRecord(head, file)
		require.ErrorContains(t, err, says, "%q", head)
	}
	_, err := Read("r.hea", []byte("r 1 250\nr.dat 16\n"), Options{})
	require.ErrorContains(t, err, "needs its signal file")
}

// The reader asks for nothing but plain base names.
func TestSiblingNamesArePlain(t *testing.T) {
	for _, name := range []string{"../x", "a/b", `a\b`, ".x", "~", "-", "c:x", "/etc/passwd"} {
		_, err := Read("r.hea", []byte("r 1 250\n"+name+" 16\n"), Options{
			Sibling: func(base string) ([]byte, error) {
				t.Fatalf("asked for %q", base)
				return nil, nil
			}})
		require.Error(t, err)
	}
}

func TestWFDBNameInComment(t *testing.T) {
	r, err := readRecord("r 1 250\nr.dat 16 200 16 0 1 1 0 ECG of Vela\n# Name: Ona Vela\n",
		map[string][]byte{"r.dat": beside16(1)})
	require.NoError(t, err)
	require.True(t, r.NameInside)
	require.Equal(t, "ECG of [name]", r.Signals[0].Label)
}

// A header that promises what is not there allocates nothing for it.
func TestWFDBMemory(t *testing.T) {
	head := "r 64 250 999999999999\n" + strings.Repeat("r.dat 16 200\n", 64)
	files := map[string][]byte{"r.dat": make([]byte, 1<<20)}
	got := allocated(func() {
		_, err := readRecord(head, files)
		require.NoError(t, err)
	})
	require.Less(t, got, uint64(1<<19))
}
