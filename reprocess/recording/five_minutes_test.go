package recording

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// The five-minute excerpt of record 208 of the MIT-BIH Arrhythmia Database, as SciPy 1.10.1
// distributes it, with the database's own reference annotations (README of the recordings).

// Mean and deviation stand in the documentation of SciPy's excerpt; sum, first values, least and
// greatest were computed from SciPy's file by another program.
func TestFiveMinutes208(t *testing.T) {
	s := &record(t, "ecg208_300s").Signals[0]
	require.Equal(t, 108000, s.N)
	require.Equal(t, 360.0, s.Rate)
	d, x := digitals(s), s.Samples(0, s.N)
	require.Equal(t, []int16{975, 981, 987, 989, 990, 990, 987, 990}, d[:8])
	total, mean, sq := 0, 0.0, 0.0
	for i, v := range x {
		total += int(d[i])
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sq += (v - mean) * (v - mean) / float64(len(x))
	}
	require.Equal(t, 107025651, total)
	require.InDelta(t, -0.16510875, mean, 1e-7)
	require.InDelta(t, 0.5992474, math.Sqrt(sq), 1e-7)
	require.InDelta(t, -3.485, slices.Min(x), 1e-9)
	require.InDelta(t, 3.650, slices.Max(x), 1e-9)
}

// 509 annotated beats, minute by minute as published with them; matched within 150 ms (the
// tolerance of AAMI EC57, from memory). At least 97 % found and 98 % of the found right is what
// any fair detector reaches on this excerpt.
func TestBeatsOfFiveMinutes(t *testing.T) {
	ref := annotated(t, "ecg208_300s_beats.txt")
	perMinute := make([]int, 5)
	for _, b := range ref {
		perMinute[b/(60*360)]++
	}
	require.Equal(t, []int{112, 97, 100, 101, 99}, perMinute)
	s := &record(t, "ecg208_300s").Signals[0]
	found := findBeats(s.Samples(0, s.N), s.Rate)
	right := matched(ref, found, int(0.150*s.Rate))
	t.Logf("found %d; sensitivity %d/%d, positive predictivity %d/%d", len(found), right, len(ref),
		right, len(found))
	require.GreaterOrEqual(t, float64(right)/float64(len(ref)), 0.97)
	require.GreaterOrEqual(t, float64(right)/float64(len(found)), 0.98)
	require.InDelta(t, 501, len(found), 2, "the detector as the description fixes it")
}

// Count, rate and height that the same description gives, measured by its author.
func TestMeasuresOfFiveMinutes(t *testing.T) {
	m := Measure(record(t, "ecg208_300s"), 0).Measures
	require.InDelta(t, 501, *m.Beats, 2)
	require.InDelta(t, 104.35, *m.Rate, 0.5)
	require.InDelta(t, 1.880, float64(*m.Height), 0.02)
}
