package recording

import (
	"encoding/binary"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Layout of a header: wfdb.io/spec/header-files.html; formats: signal-files.html.
func TestAHeaderAndASignalFileAreToldByTheirBytes(t *testing.T) {
	header := "r 1 250 500\nr.dat 16 200 12 0\n"
	for text, want := range map[string]Half{
		header:                           HeaderHalf,
		"# made on the bench\n" + header: HeaderHalf,
		"r 2 250\nr.dat 212 200\nr.dat 212 200\n": HeaderHalf,
		"r/3 2 250 500\nr_1 250\nr_2 250\n":       HeaderHalf,
		"r 1 250\n":                               Whole, // promises a signal and has none
		"r 1 250\nr.dat 17 200\n":                 Whole, // no such format
		"r 0 250\nr.dat 16 200\n":                 Whole,
		"r 65 250\nr.dat 16 200\n":                Whole,
		"0 1\n1 16\n2 16\n":                       Whole, // numbers in columns
		"time_s,ECG_mV\n0.000,0.1\n":              Whole,
		"a note\nabout nothing\n":                 Whole,
		"":                                        Whole,
		"%PDF-1.7 \x00\x01":                       Whole,
		"\xcf\x03\xd5\x03\xdb\x03":                SignalHalf, // the first three samples of record 208
	} {
		require.Equal(t, want, HalfOf([]byte(text)), "%q", text)
	}
	require.Equal(t, HeaderHalf, HalfOf(load(t, "ecg208_60s.hea")))
	require.Equal(t, SignalHalf, HalfOf(load(t, "ecg208_60s.i16")))
	require.Equal(t, Whole, HalfOf(load(t, "edf/good_c.edf")))
	require.Equal(t, Whole, HalfOf(load(t, "edf/good.bdf")))
	require.Equal(t, Whole, HalfOf(load(t, "edf/html.edf")))
}

// Base time and base date of the record line: HH:MM:SS, DD/MM/YYYY (header-files.html).
func TestAHeaderGivesItsStart(t *testing.T) {
	data := make([]byte, 1000)
	for i := range 500 {
		binary.LittleEndian.PutUint16(data[2*i:], uint16(i%50))
	}
	read := func(more string) *Recording {
		r, err := readRecord("r 1 250 500"+more+"\nr.dat 16 200\n", map[string][]byte{"r.dat": data})
		require.NoError(t, err)
		return r
	}
	r := read(" 10:00:01.5 24/11/2026")
	require.True(t, r.StartKnown)
	require.Equal(t, "2026-11-24 10:00:01.5", r.Start.Format("2006-01-02 15:04:05.9"))
	require.False(t, r.Mismatched)
	for more, remarks := range map[string]int{"": 0, " 10:00:00": 0, " 10:00:00 11/24/2026": 1,
		" 25:00:00 24/11/2026": 1, " 10:00:00 24/11/198": 1} {
		r := read(more)
		require.False(t, r.StartKnown, more)
		require.Len(t, r.Remarks, remarks, more)
	}
}

// The header of record 208's excerpt states first value 975 and checksum -13215 (PhysioNet, see
// testdata/recordings); one changed byte of the signal file breaks one of the two.
func TestASignalFileOfAnotherHeaderIsToldApart(t *testing.T) {
	head, raw := string(load(t, "ecg208_60s.hea")), load(t, "ecg208_60s.i16")
	for at, want := range map[int]bool{-1: false, 0: true, 1: true, 20000: true, len(raw) - 1: true} {
		data := append([]byte(nil), raw...)
		if at >= 0 {
			data[at] ^= 1
		}
		r, err := readRecord(head, map[string][]byte{"ecg208_60s.i16": data})
		require.NoError(t, err)
		require.Equal(t, want, r.Mismatched, fmt.Sprint(at))
	}
}
