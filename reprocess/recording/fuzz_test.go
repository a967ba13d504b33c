package recording

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// use does with a recording what a caller may do; nothing of it may panic.
func use(t *testing.T, r *Recording) {
	t.Helper()
	require.LessOrEqual(t, len(r.Signals), MaxSignals)
	require.LessOrEqual(t, len(r.Events), MaxAnnotations)
	require.LessOrEqual(t, len(r.Remarks), maxRemarks)
	require.Empty(t, r.names)
	for i := range r.Signals {
		s := &r.Signals[i]
		if s.Annotation || s.Unreadable != "" {
			continue
		}
		res := Measure(r, i)
		j := Judge(res, Bench(), Expect{Rate: 60, Event: true})
		require.NotEmpty(t, j.Verdict)
		for _, c := range append(append(j.Codes, j.AlsoSeen...), j.Noted...) {
			require.NotEmpty(t, Explain(c, res, Expect{Rate: 60}).Says)
		}
		if i == 0 && s.N%7 == 1 { // drawing takes longest: most inputs go without, the seeds have it
			_, _ = StripSVG(r, i, StripText{})
		}
	}
}

// try reads and uses data; the allocation of reading is bounded by the length of the file.
func try(t *testing.T, name string, data []byte, o Options, length int) {
	var r *Recording
	var err error
	got := allocated(func() { r, err = Read(name, data, o) })
	require.Less(t, got, uint64(64*length+1<<20))
	require.NotEqual(t, r == nil, err == nil)
	if err != nil {
		require.NotEmpty(t, err.Error())
		return
	}
	use(t, r)
}

func FuzzEDF(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(recordings, "edf", "*"))
	require.NoError(f, err)
	require.Len(f, files, 25, "the seeds are missing")
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(b[:min(len(b), 768+3*620)])
	}
	f.Add(withMarks("+0\x14\x14\x00+0.5\x150.1\x14a\x14b\x14\x00", "+9\x14\x14\x00").bytes())
	f.Fuzz(func(t *testing.T, data []byte) { try(t, "x.edf", data, Options{}, len(data)) })
}

func FuzzWFDB(f *testing.F) {
	for _, head := range []string{"r 1 250 3\nr.dat 16 200(5)/mV 16 0 1 6 0 ECG\n",
		"r 2 360\nr.dat 212 200 12 1024\nr.dat 212\n# Name: x\n", "r 1 100\nr.dat 16+1 0/uV\n"} {
		f.Add(head, []byte{1, 0, 2, 0, 3, 0})
	}
	f.Add(string(load(f, "ecg208_60s.hea")), load(f, "ecg208_60s.i16")[:7200])
	f.Fuzz(func(t *testing.T, head string, signal []byte) {
		o := Options{Sibling: func(base string) ([]byte, error) {
			if !plainName(base) {
				t.Fatalf("asked for %q", base)
			}
			if base == "missing" {
				return nil, errors.New("missing")
			}
			return signal, nil
		}}
		try(t, "x.hea", []byte(head), o, len(head)+len(signal))
	})
}

func FuzzCSV(f *testing.F) {
	for _, o := range []string{"", "mV", "counts"} {
		f.Add(csvOf("time [s],ECG [mV]\n", 60, plainRow), o, 250.0)
		f.Add([]byte("Zeit;EKG;Marker\r\n0,004;1,5;x\r\n0,008;-;\r\n"), o, 0.0)
		f.Add([]byte("\xff\xfe1\x00\n\x002\x00"), o, 100.0)
		f.Add([]byte("10:00:00.004\t1\n10:00:00.008\tNaN\n"), o, 0.0)
		f.Add([]byte("# Name: x\n\"a,b\",\"c\n1,2\n"), o, 0.0)
	}
	f.Fuzz(func(t *testing.T, data []byte, unit string, rate float64) {
		try(t, "x.csv", data, Options{CSVUnit: unit, CSVRate: rate}, len(data))
	})
}
